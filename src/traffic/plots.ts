/** Drawings of the traffic. */
import { coordinate, lineChart, niceTicks, svgDocument, svgLine, svgText } from '../plot/index.js'
import { formatNumber, formatTimeUs } from '../units/index.js'
import type { CaseResult } from './case.js'
import type { CaseSummary } from './compare.js'
import { CONTENTS, REASONS } from './station-run.js'
import type { StopFigures, StopShot } from './stopping.js'

const ROWS = 30
const TIMELINE_NS = 600e6

/** The first packets by address: who hears what when. */
export function timelinePlot(result: CaseResult): string {
  const { trace, names } = result
  const from = trace.count > 0 ? trace.startNs[0]! : 0
  const shown: number[] = []
  for (let i = 0; i < trace.count && trace.startNs[i]! - from < TIMELINE_NS; i++) shown.push(i)
  const addresses = [...new Set(shown.map((i) => trace.address[i]!))]
  // Locomotives in their order, then accessories, idle last.
  addresses.sort((a, b) => (a < 0 ? 1 : b < 0 ? -1 : a - b))
  const rows = addresses.slice(0, ROWS)
  const place = new Map(rows.map((a, k) => [a, k]))
  const left = 170
  const width = 900
  const row = 20
  const top = 64
  const bottom = top + rows.length * row
  const lastEnd = shown.length > 0 ? trace.endNs[shown.at(-1)!]! : from + 1
  const px = (ns: number) => left + ((ns - from) / (lastEnd - from)) * (width - left - 24)
  const parts = [svgText(16, 24, `Packets by address, policy ${result.policy}`, { class: 'head' })]
  CONTENTS.forEach((name, c) => {
    parts.push(`<rect class="f${c}" x="${170 + c * 110}" y="34" width="12" height="12"/>`)
    parts.push(svgText(188 + c * 110, 45, name))
  })
  parts.push(svgText(188 + 4 * 110, 45, 'high bar: change or repeat', { class: 'faint' }))
  for (const t of niceTicks(0, (lastEnd - from) / 1e6)) {
    parts.push(svgLine(px(from + t * 1e6), top, px(from + t * 1e6), bottom, 'grid'))
    parts.push(
      svgText(px(from + t * 1e6), bottom + 18, formatNumber(t), { anchor: 'middle', class: 'faint' }),
    )
  }
  rows.forEach((a, k) => {
    const name = a < 0 ? 'idle' : names[a]!
    parts.push(svgText(left - 8, top + k * row + 15, name.slice(0, 22), { anchor: 'end' }))
  })
  for (const i of shown) {
    const k = place.get(trace.address[i]!)
    if (k === undefined) continue
    const fresh = trace.reason[i]! <= 1
    const y = top + k * row + (fresh ? 1 : 8)
    const a = px(trace.startNs[i]!)
    const b = px(trace.endNs[i]!)
    parts.push(
      `<rect class="f${trace.content[i]!}" x="${coordinate(a)}" y="${y}" width="${coordinate(Math.max(1, b - a - 0.5))}" height="${fresh ? row - 3 : row - 10}"/>`,
    )
  }
  parts.push(svgText((left + width) / 2, bottom + 38, 'time (ms)', { anchor: 'middle' }))
  const more = addresses.length > rows.length ? `, ${addresses.length - rows.length} addresses more` : ''
  return svgDocument({
    id: 'traffic-timeline',
    title: 'Packets by address',
    description: `${shown.length} packets to ${rows.length} addresses${more}; ${REASONS.slice(0, 2).join(' and ')} packets are drawn high.`,
    width,
    height: bottom + 52,
    body: parts.join(''),
  })
}

/** Share of commands that were heard within a time. */
export function latencyPlot(result: CaseResult, limitUs: number): string {
  const kinds = result.latency.filter((l) => l.first.curve.length > 0)
  const says = kinds.map((l) => `95 % of ${l.kind} within ${formatTimeUs(l.first.p95Us.value, 3)}`)
  return lineChart({
    id: 'traffic-latency',
    title: `From arrival to the first packet heard, policy ${result.policy}`,
    description: `${says.join(', ')}.`,
    x: { label: 'time', unit: 'ms', scale: 'log' },
    y: { label: 'commands heard', unit: '%', min: 0, max: 100 },
    series: kinds.map((l) => ({
      label: l.kind,
      points: l.first.curve.map(([us, share]) => [us / 1000, share * 100] as const),
    })),
    rules: [{ axis: 'x', at: limitUs / 1000, label: 'wanted' }],
  })
}

/** 95th percentile of the latency against the number of locomotives. */
export function loadPlot(points: readonly CaseSummary[], limitUs: number): string {
  const lines = new Map<string, [number, number][]>()
  for (const p of [...points].sort((a, b) => a.locomotives - b.locomotives)) {
    const key = `${p.policy}${p.lost > 0 ? `, ${formatNumber(p.lost * 100, 2)} % lost` : ''}`
    // What gets through while most is lost is no latency to show.
    const y = p.lostShare > 0.05 ? Number.NaN : p.p95Us / 1000
    lines.set(key, [...(lines.get(key) ?? []), [p.locomotives, y]])
  }
  return lineChart({
    id: 'traffic-load',
    title: 'Latency of 95 of 100 commands, slowest kind',
    description: `${lines.size} lines over 1 to ${Math.max(1, ...points.map((p) => p.locomotives))} locomotives; a line ends where more than 5 % of commands are lost.`,
    x: { label: 'locomotives', unit: '', scale: 'log' },
    y: { label: 'latency', unit: 'ms', scale: 'log' },
    series: [...lines].map(([label, list]) => ({ label, points: list })),
    rules: [{ axis: 'y', at: limitUs / 1000, label: 'wanted' }],
  })
}

/**
 * Where the fronts of trains came to stand, one row for each place.
 * @param policy said in the title, where drawings of several stand side by side.
 */
export function stopPlot(
  figures: readonly StopFigures[],
  shots: readonly StopShot[],
  policy?: string,
): string {
  const under = policy === undefined ? '' : `, policy ${policy}`
  const left = 150
  const width = 820
  const row = 46
  const top = 50
  const bottom = top + figures.length * row
  const ends = [...figures.map((f) => f.lengthMm), ...shots.map((s) => s.frontMm)]
  const most = Math.max(1, ...ends) * 1.04
  const px = (mm: number) => left + (Math.min(mm, most) / most) * (width - left - 30)
  const parts = [svgText(16, 24, `Where trains stop, front behind the detector${under}`, { class: 'head' })]
  for (const t of niceTicks(0, most)) {
    parts.push(svgLine(px(t), top, px(t), bottom, 'grid'))
    parts.push(svgText(px(t), bottom + 18, formatNumber(t), { anchor: 'middle', class: 'faint' }))
  }
  figures.forEach((f, k) => {
    const y = top + k * row
    parts.push(svgText(left - 10, y + 20, f.name.slice(0, 20), { anchor: 'end' }))
    parts.push(svgText(left - 10, y + 36, f.verdict, { anchor: 'end', class: 'faint' }))
    parts.push(svgLine(px(f.lengthMm), y + 2, px(f.lengthMm), y + row - 4, 'rule'))
  })
  shots.forEach((s, i) => {
    // Spread over the row by the golden ratio, so that equal places do not hide each other.
    const y = top + s.stop * row + 8 + ((i * 0.61803398875) % 1) * (row - 18)
    parts.push(
      `<circle class="f0" cx="${coordinate(px(s.frontMm))}" cy="${coordinate(y)}" r="2" fill-opacity="0.5"/>`,
    )
  })
  parts.push(svgText((left + width) / 2, bottom + 38, 'mm', { anchor: 'middle' }))
  return svgDocument({
    id: 'traffic-stops',
    title: `Where trains stop${under}`,
    description: figures
      .map(
        (f) =>
          `${f.name}: 99 % within ${formatNumber(f.p99Mm, 3)} mm of ${formatNumber(f.lengthMm)} mm, ${f.verdict}.`,
      )
      .join(' '),
    width,
    height: bottom + 52,
    body: parts.join(''),
  })
}
