/** The proof as Markdown. */
import { ORIGINS, type Proof } from './proof.js'
import { cellText, inputText, placeText, rowName, troubles, valueText, verdictText } from './words.js'

export function proofMarkdown(proof: Proof): string {
  const { about, profile } = proof
  const lines = [
    `# Proof of ${plain(about.name)}`,
    '',
    `**${verdictText(proof)}**`,
    '',
    `- standard: ${profile.title}, edition ${profile.edition} (${profile.documents}), scale ${profile.scale}`,
    ...inputText(proof).map((text) => `- ${plain(text)}`),
    `- Halfbit ${about.version}${about.date ? `, ${about.date}` : ''}`,
    '',
    `| clause | limit | ${ORIGINS.join(' | ')} | source |`,
    `|---|---|${ORIGINS.map(() => '---|').join('')}---|`,
    ...proof.rows.map((row) => {
      const cells = ORIGINS.map((origin) => cellText(row.cells[origin]))
      return `| ${[plain(rowName(row)), row.limits, ...cells, row.source].join(' | ')} |`
    }),
    '',
    'The figure is the margin: 1 in the centre of the window, 0 at its limit, below 0 outside.',
  ]
  const list = troubles(proof)
  if (list.length > 0) lines.push('', '## What is broken or undecided', '')
  for (const { row, origin, evidence } of list) {
    const place = placeText(evidence)
    lines.push(
      `- **${evidence.verdict}: ${plain(rowName(row))}**, ${origin}: ${valueText(evidence)}. ${plain(evidence.because)}.${place ? ` (${plain(place)})` : ''}`,
    )
  }
  if (about.notes?.length) lines.push('', ...about.notes.map((note) => `Note: ${plain(note)}`))
  return `${lines.join('\n')}\n`
}

/** File and output names are the user's: nothing in them is markup. */
function plain(text: string): string {
  return text.replace(/[\\`*_{}[\]<>#|]/g, '\\$&').replace(/\s+/g, ' ')
}
