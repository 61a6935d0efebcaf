/** Horizontal bars: a comparison, or a waterfall when bars start where the one before ends. */
import { formatNumber } from '../units/index.js'
import { coordinate, svgDocument, svgLine, svgText, textWidth } from './frame.js'
import { makeScale } from './ticks.js'

export interface Bar {
  label: string
  value: number
  /** Where the bar starts; 0 when absent. */
  from?: number
  /** Printed behind the bar; the value with the unit when absent. */
  note?: string
  /** `total` is filled solid, `part` lighter with a border. */
  kind?: 'part' | 'total'
}

export interface BarChart {
  id: string
  title: string
  description: string
  unit: string
  bars: readonly Bar[]
  /** Limits across all bars. */
  rules?: readonly { at: number; label: string }[]
  width?: number
}

/** @returns the SVG text. Bars of a `part` kind stand where `from` says, so that a waterfall adds up. */
export function barChart(c: BarChart): string {
  const width = c.width ?? 720
  const row = 28
  const rules = (c.rules ?? []).filter((r) => Number.isFinite(r.at))
  const top = 44 + rules.length * 16
  const bottom = top + c.bars.length * row
  const notes = c.bars.map((b) => b.note ?? `${formatNumber(b.value)} ${c.unit}`)
  const left = 16 + Math.min(260, Math.max(60, ...c.bars.map((b) => textWidth(b.label))))
  const right = width - 16 - Math.min(200, Math.max(50, ...notes.map(textWidth)))
  const ends = c.bars.flatMap((b) => [b.from ?? 0, (b.from ?? 0) + b.value])
  const scale = makeScale('linear', Math.min(0, ...ends), Math.max(0, ...ends, ...rules.map((r) => r.at)))
  const px = (v: number) => scale.place(v, left, right)
  const parts: string[] = [svgText(16, 24, c.title, { class: 'head' })]
  for (const t of scale.ticks) {
    parts.push(svgLine(px(t), top, px(t), bottom, 'grid'))
    parts.push(svgText(px(t), bottom + 18, formatNumber(t, 6), { anchor: 'middle', class: 'faint' }))
  }
  rules.forEach((rule, i) => {
    const at = px(rule.at)
    const flip = at + textWidth(rule.label) > width - 8
    parts.push(svgLine(at, 34 + i * 16, at, bottom, 'rule'))
    parts.push(svgText(at + (flip ? -5 : 5), 44 + i * 16, rule.label, { anchor: flip ? 'end' : 'start' }))
  })
  c.bars.forEach((bar, i) => {
    const y = top + i * row
    const from = bar.from ?? 0
    const [a, b] = [px(Math.min(from, from + bar.value)), px(Math.max(from, from + bar.value))]
    const fill = bar.kind === 'part' ? ' fill-opacity="0.45"' : ''
    parts.push(svgText(left - 8, y + 18, bar.label, { anchor: 'end' }))
    parts.push(
      `<rect class="f0" x="${coordinate(a)}" y="${y + 5}" width="${coordinate(Math.max(1, b - a))}" height="${row - 10}"${fill}/>`,
    )
    parts.push(svgText(b + 6, y + 18, notes[i]!, { class: 'faint' }))
  })
  parts.push(svgLine(px(0), top, px(0), bottom, 'axis'))
  parts.push(svgText((left + right) / 2, bottom + 38, c.unit, { anchor: 'middle' }))
  const height = bottom + 50
  return svgDocument({
    id: c.id,
    title: c.title,
    description: c.description,
    width,
    height,
    body: parts.join(''),
  })
}

/** Bars of a waterfall: each part starts where the one before ended, and the total closes it. */
export function waterfall(
  parts: readonly { label: string; value: number; note?: string }[],
  total: string,
): Bar[] {
  let from = 0
  const bars = parts.map((p): Bar => {
    const bar: Bar = { ...p, from, kind: 'part' }
    from += p.value
    return bar
  })
  return [...bars, { label: total, value: from, kind: 'total' }]
}
