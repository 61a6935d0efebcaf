/** The proof as Markdown (tables as in GitHub Flavored Markdown 0.29). */
import { changeText, sinceText } from './baseline/changes.js'
import { ORIGINS, type Proof } from './proof.js'
import {
  cellText,
  countText,
  evidenceOf,
  inputText,
  missingText,
  placeText,
  plain,
  rowName,
  sentence,
  silences,
  staleText,
  stationName,
  troubles,
  valueText,
  verdictText,
} from './words.js'

export function proofMarkdown(proof: Proof): string {
  const { about, profile } = proof
  const lines = [
    `# Proof of ${plain(stationName(about))}`,
    '',
    ...(proof.stale ? [`**${plain(staleText(proof))}**`, ''] : []),
    `**${verdictText(proof)}**`,
    '',
    `- standard: ${plain(`${profile.title}, edition ${profile.edition} (${profile.documents})`)}, scale ${plain(profile.scale)}`,
    ...about.inputs.map((input) => `- ${plain(inputText(input))}`),
    `- made by halfbit ${plain(about.version)}${about.date === undefined ? '' : `, ${plain(about.date)}`}`,
    '',
    `| clause | limit | ${ORIGINS.join(' | ')} | source |`,
    `|---|---|${'---|'.repeat(ORIGINS.length)}---|`,
    ...proof.rows.map((row) => {
      const cells = ORIGINS.map((origin) => cellText(row, origin))
      return `| ${[rowName(row), row.limits, ...cells, row.source].map(plain).join(' | ')} |`
    }),
    '',
    'The figure is the margin: 1 in the centre of the window, 0 at its limit, below 0 outside. What is not shown is not met. In brackets: calculated only, so not counted as met. A dash: this origin cannot show the clause.',
  ]
  if (proof.since) {
    const { worse, better, others } = proof.since
    lines.push('', '## Since the accepted proof', '', `**${plain(sinceText(proof.since))}**`, '')
    lines.push(...worse.map((c) => `- **worse**: ${plain(changeText(c))}`))
    lines.push(...better.map((c) => `- better: ${plain(changeText(c))}`))
    lines.push(...others.map((c) => `- neither: ${plain(changeText(c))}`))
  }
  const missing = missingText(proof)
  if (missing.length > 0)
    lines.push('', '## Required, and not shown', '', ...missing.map((m) => `- ${plain(m)}`))
  const list = troubles(proof)
  if (list.length > 0) lines.push('', '## What is broken or undecided', '')
  for (const { row, origin, evidence } of list) {
    const found = [valueText(evidence), countText(evidence)].filter(Boolean).join(', ')
    const place = placeText(evidence)
    const tail = [row.demand, row.source, place].filter(Boolean).map(plain).join(' ')
    lines.push(
      `- **${evidence.verdict}: ${plain(rowName(row))}**, ${origin}: ${plain(found)}. ${plain(sentence(evidence.because))} ${tail}`,
    )
  }
  const silent = silences(proof)
  if (silent.length > 0) lines.push('', '## Not shown', '')
  for (const { because, rows } of silent)
    lines.push(`- ${rows.map(plain).join(', ')}: ${plain(sentence(because))}`)
  lines.push('', '## Reasons', '')
  for (const row of proof.rows) {
    for (const origin of ORIGINS) {
      for (const e of evidenceOf(row.cells[origin])) {
        if (e.verdict === 'met') lines.push(`- ${plain(rowName(row))}, ${origin}: ${plain(e.because)}`)
      }
    }
  }
  if (about.notes?.length)
    lines.push('', '## Notes', '', ...about.notes.map((note) => `- ${plain(note.sentence)}`))
  if (about.cautions?.length)
    lines.push('', '## Care', '', ...about.cautions.map((caution) => `- ${plain(caution.sentence)}`))
  return `${lines.join('\n')}\n`
}
