/** The proof as Markdown (tables as in GitHub Flavored Markdown 0.29). */
import { ORIGINS, type Proof } from './proof.js'
import {
  cellText,
  countText,
  inputText,
  placeText,
  plain,
  rowName,
  sentence,
  troubles,
  valueText,
  verdictText,
} from './words.js'

export function proofMarkdown(proof: Proof): string {
  const { about, profile } = proof
  const lines = [
    `# Proof of ${plain(about.name)}`,
    '',
    `**${verdictText(proof)}**`,
    '',
    `- standard: ${plain(`${profile.title}, edition ${profile.edition} (${profile.documents})`)}, scale ${plain(profile.scale)}`,
    ...about.inputs.map((input) => `- ${plain(inputText(input))}`),
    `- made by halfbit ${plain(about.version)}${about.date === undefined ? '' : `, ${plain(about.date)}`}`,
    '',
    `| clause | limit | ${ORIGINS.join(' | ')} | source |`,
    `|---|---|${'---|'.repeat(ORIGINS.length)}---|`,
    ...proof.rows.map((row) => {
      const cells = ORIGINS.map((origin) => cellText(row.cells[origin]))
      return `| ${[rowName(row), row.limits, ...cells, row.source].map(plain).join(' | ')} |`
    }),
    '',
    'The figure is the margin: 1 in the centre of the window, 0 at its limit, below 0 outside. What is not shown is not met.',
  ]
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
  lines.push('', '## Reasons', '')
  for (const row of proof.rows) {
    for (const origin of ORIGINS) {
      for (const e of row.cells[origin]?.evidence ?? []) {
        if (e.verdict === 'met') lines.push(`- ${plain(rowName(row))}, ${origin}: ${plain(e.because)}`)
      }
    }
  }
  if (about.notes?.length) lines.push('', '## Notes', '', ...about.notes.map((note) => `- ${plain(note)}`))
  if (about.cautions?.length)
    lines.push('', '## Care', '', ...about.cautions.map((caution) => `- ${plain(caution)}`))
  return `${lines.join('\n')}\n`
}
