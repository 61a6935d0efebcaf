/** Corners, yields, gaps of protection and what a trip reaches, as lines for a terminal. */
import { wrapText } from '../plot/index.js'
import {
  type CornerReport,
  type FaultReport,
  gapInWords,
  type PowerReport,
  unprotected,
} from '../power/index.js'
import { marginText, type Proposal } from '../proof/index.js'
import { formatShare } from '../units/index.js'

export function cornerLines(report: PowerReport, width: number): string[] {
  const lines: string[] = []
  const told = (text: string) => lines.push(...wrapText(text, width - 4, '  ').map((l) => `  ${l}`))
  const reach = report.tripReach.flatMap((t) => [
    ...[...t.stops, ...t.sags].map((s) => `${s.because.sentence}.`),
    ...(t.freePins
      ? [`  Free pins that could enable the driver of ${t.district} apart: ${t.freePins.join(', ')}.`]
      : []),
  ])
  if (reach.length > 0) {
    lines.push('', 'What else a trip switches off:')
    for (const text of reach) told(text)
  }
  const gaps =
    report.protection?.flatMap((p) => p.gaps.map((g) => `District ${p.district}: ${gapInWords(g)}`)) ?? []
  if (gaps.length > 0) {
    lines.push('', 'Not covered, from continuous to short:')
    for (const text of gaps) told(text)
  }
  const faults = report.faults ?? []
  if (faults.length > 0) {
    lines.push('', 'Single faults of the power stage (they break no clause):')
    for (const text of faultTexts(faults)) told(text)
  }
  const corners = report.corners ?? []
  if (corners.length > 0) {
    lines.push(
      '',
      'Builds that meet everything, with every value in its interval equally likely (the corners decide, not this):',
    )
    for (const c of corners) told(yieldText(c))
  }
  return lines
}

/** Faults with which protection does not hold, those that do the same together; the others are counted. */
function faultTexts(faults: readonly FaultReport[]): string[] {
  const failing = unprotected(faults)
  const held = faults.filter((f) => f.holds === 'yes')
  const by = (who: FaultReport['by']) => held.filter((f) => f.by === who).length
  const how = [
    [by('trip'), 'by the trip'],
    [by('fuse'), 'by a fuse'],
    [by('supply'), 'by a supply that switches off'],
    [by('limit'), 'as every part carries what can flow'],
    [by('open'), 'as nothing flows any more'],
  ] as const
  return [
    ...failing.map((which) => {
      const { words, finding } = which[0]!
      return `${which.map((f) => f.words).join('; ')}${finding.sentence.slice(words.length)}.`
    }),
    ...(held.length > 0
      ? [
          `With ${failing.length > 0 ? 'the other ' : 'each of the '}${held.length} protection still holds: ${how.flatMap(([n, says]) => (n > 0 ? [`${n} ${says}`] : [])).join(', ')}.`,
        ]
      : []),
  ]
}

/** What can be changed safely, numbered for `--apply`. */
export function proposalLines(proposals: readonly Proposal[], width: number): string[] {
  if (proposals.length === 0) return []
  const lines = ['', 'What to change; no verdict gets worse (--apply N writes change N):']
  proposals.forEach((p, i) => {
    const verdicts = p.before === p.after ? `stays ${p.after}` : `${p.before} becomes ${p.after}`
    const { narrows } = p
    const less = narrows
      ? `; ${narrows.clause}, ${narrows.about} stays met with a margin of ${marginText(narrows.after)}, now ${marginText(narrows.before)}`
      : ''
    const text = `${i + 1}. ${p.finding.sentence}: ${p.clause}, ${p.about}: ${verdicts}${less}`
    lines.push(...wrapText(text, width - 4, '   ').map((l) => `  ${l}`))
  })
  return lines
}

function yieldText(c: CornerReport): string {
  const share = c.yield
    ? `in ${formatShare(c.yield.share)} of ${c.yield.builds} builds`
    : 'not simulated, as a quantity has no upper limit'
  const [most] = c.tornado
  return `${c.clause}, ${c.about}: ${share}${most ? `; most depends on the ${most.quantity}` : ''}.`
}
