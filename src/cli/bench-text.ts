/** What the coupled bench found, as lines for a terminal. */
import type { Heard, ScenarioResult } from '../bench/index.js'
import { wrapText } from '../plot/index.js'
import { formatTimeUs } from '../units/index.js'
import { VERDICT_COLUMN } from './evidence-text.js'

export interface BenchTextOptions {
  timeline: boolean
  heard: boolean
}

export function scenarioLines(result: ScenarioResult, width: number, show: BenchTextOptions): string[] {
  const { name, ranUs, statements, findings, timeline, outcomes, scenario } = result
  const said = new Set<string>()
  const lines = [`${name}${ranUs > 0 ? ` (${formatTimeUs(ranUs, 3)})` : ''}`]
  const add = (sign: string, text: string) =>
    lines.push(
      ...wrapText(text, Math.min(width, 100) - 12).map((l, i) => `  ${i === 0 ? sign : '         '} ${l}`),
    )
  for (const { verdict, key, finding } of outcomes) {
    said.add(finding.sentence)
    add(VERDICT_COLUMN[verdict], `${key}: ${finding.sentence}`)
  }
  // What is met of the clauses of the signal is one outcome above; what is not has a line of its own.
  for (const s of statements) {
    if (said.has(s.because) || (scenario && s.verdict === 'met')) continue
    said.add(s.because)
    add(VERDICT_COLUMN[s.verdict], `${s.clause}${s.about ? ` (${s.about})` : ''}: ${s.because}`)
  }
  for (const f of findings) {
    if (said.has(f.sentence)) continue
    said.add(f.sentence)
    add(f.code === 'bench/never-happened' ? VERDICT_COLUMN['not shown'] : 'note     ', f.sentence)
  }
  if (show.heard) lines.push(...heardLines(result.heard))
  if (show.timeline)
    for (const e of timeline)
      lines.push(`  ${(e.timeUs / 1000).toFixed(2).padStart(10)} ms  ${e.about}: ${e.sentence}`)
  return [...lines, '']
}

function heardLines(heard: readonly Heard[]): string[] {
  if (heard.length === 0) return ['  no command for a train came in']
  return heard.map((h) => {
    const at = `${(h.timeUs / 1000).toFixed(2).padStart(10)} ms`
    const what =
      h.actedUs === undefined
        ? `never: ${h.why}`
        : h.already
          ? 'was so already'
          : `after ${formatTimeUs(h.actedUs - h.timeUs)}`
    return `  ${at}  ${h.command}  ${h.decoder}: ${what}`
  })
}
