/** What the coupled bench found, as lines for a terminal. */
import type { ScenarioResult } from '../bench/index.js'
import { wrapText } from '../plot/index.js'
import { formatTimeUs } from '../units/index.js'
import { VERDICT_COLUMN } from './evidence-text.js'

export function scenarioLines(result: ScenarioResult, width: number, withTimeline: boolean): string[] {
  const { name, ranUs, statements, findings, timeline } = result
  const said = new Set(statements.map((s) => s.because))
  const lines = [`${name}${ranUs > 0 ? ` (${formatTimeUs(ranUs, 3)})` : ''}`]
  const add = (sign: string, text: string) =>
    lines.push(
      ...wrapText(text, Math.min(width, 100) - 12).map((l, i) => `  ${i === 0 ? sign : '         '} ${l}`),
    )
  for (const s of statements)
    add(VERDICT_COLUMN[s.verdict], `${s.clause}${s.about ? ` (${s.about})` : ''}: ${s.because}`)
  for (const f of findings) if (!said.has(f.sentence)) add('note     ', f.sentence)
  if (withTimeline)
    for (const e of timeline)
      lines.push(`  ${(e.timeUs / 1000).toFixed(2).padStart(10)} ms  ${e.about}: ${e.sentence}`)
  return [...lines, '']
}
