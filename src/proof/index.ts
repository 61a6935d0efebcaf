export * from './baseline/changes.js'
export { readBaseline } from './baseline/read.js'
export { sinceBaseline } from './baseline/since.js'
export * from './bench-evidence.js'
export * from './bench-notes.js'
export * from './bench-notes-words.js'
export * from './bench-setup.js'
export * from './campaign.js'
export * from './capture-evidence.js'
export * from './compare.js'
export * from './compare-plots.js'
export * from './compare-report.js'
export { dependsOn } from './depends-on.js'
export * from './design-evidence.js'
export * from './design-proof.js'
export * from './evidence-set.js'
export * from './explain/explain.js'
export { PROOF_FINDINGS } from './findings.data.js'
export * from './findings.js'
export * from './firmware-run.js'
export * from './html.js'
export { pageText } from './html-page.js'
export * from './junit.js'
export * from './key-figures.js'
export * from './markdown.js'
export { matrixJunit } from './matrix/junit.js'
export * from './matrix/matrix.js'
export * from './matrix/report.js'
export { agreeWithPower, agreeWithTrack } from './one-verdict.js'
export * from './outputs.js'
export { powerInput } from './power-input.js'
export * from './proof.js'
export * from './proposals.js'
export * from './railroad.js'
export * from './reader-options.js'
export * from './refresh-evidence.js'
export * from './run-evidence.js'
export * from './text.js'
export {
  cellText,
  countText,
  evidenceOf,
  inputText,
  marginText,
  missingText,
  placeText,
  reasonsNotShown,
  rowName,
  sentence,
  sentences,
  silences,
  staleText,
  stationName,
  valueText,
  verdictText,
  verdictWord,
} from './words.js'
