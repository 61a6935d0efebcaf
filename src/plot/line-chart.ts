/** A chart of lines over two axes, each line labelled at its end, with limits as labelled rules. */
import { formatNumber } from '../units/index.js'
import { coordinate, DASHES, escapeXml, svgDocument, svgLine, svgText, textWidth } from './frame.js'
import { makeScale, type Scale } from './ticks.js'

export interface Axis {
  label: string
  /** Printed behind the label: `ms`. */
  unit: string
  scale?: 'linear' | 'log'
  /** The range; from the data when absent. */
  min?: number
  max?: number
}

export interface Series {
  label: string
  /** In the order to be joined; points that are not finite break the line. */
  points: readonly (readonly [number, number])[]
  /** Drawn as steps: the value holds until the next point. */
  steps?: boolean
}

/** A limit: a line across the chart with its label. */
export interface Rule {
  axis: 'x' | 'y'
  at: number
  label: string
}

/** A shaded region, such as what is not covered: the corners of a polygon. */
export interface Area {
  label: string
  points: readonly (readonly [number, number])[]
}

export interface LineChart {
  id: string
  title: string
  description: string
  x: Axis
  y: Axis
  series: readonly Series[]
  rules?: readonly Rule[]
  areas?: readonly Area[]
  width?: number
  height?: number
}

const MARGIN = { left: 66, top: 44, bottom: 52 }

/** @returns the SVG text. */
export function lineChart(c: LineChart): string {
  const width = c.width ?? 720
  const height = c.height ?? 400
  const right = 24 + Math.min(200, Math.max(0, ...c.series.map((s) => textWidth(s.label))))
  const box = { left: MARGIN.left, top: MARGIN.top, right: width - right, bottom: height - MARGIN.bottom }
  const x = scaleOf(c, 'x')
  const y = scaleOf(c, 'y')
  const px = (v: number) => x.place(v, box.left, box.right)
  const py = (v: number) => y.place(v, box.bottom, box.top)
  const parts: string[] = [svgText(box.left, 24, c.title, { class: 'head' })]
  for (const t of x.ticks) {
    parts.push(svgLine(px(t), box.top, px(t), box.bottom, 'grid'))
    parts.push(svgText(px(t), box.bottom + 18, formatNumber(t, 6), { anchor: 'middle', class: 'faint' }))
  }
  for (const t of y.ticks) {
    parts.push(svgLine(box.left, py(t), box.right, py(t), 'grid'))
    parts.push(svgText(box.left - 8, py(t) + 4, formatNumber(t, 6), { anchor: 'end', class: 'faint' }))
  }
  parts.push(svgLine(box.left, box.bottom, box.right, box.bottom, 'axis'))
  parts.push(svgLine(box.left, box.top, box.left, box.bottom, 'axis'))
  parts.push(svgText((box.left + box.right) / 2, height - 12, axisLabel(c.x), { anchor: 'middle' }))
  const middle = (box.top + box.bottom) / 2
  parts.push(svgText(18, middle, axisLabel(c.y), { anchor: 'middle', turn: -90 }))
  for (const area of c.areas ?? []) {
    const corners = area.points.map(([a, b]) => `${coordinate(px(a))},${coordinate(py(b))}`)
    parts.push(
      `<polygon class="gap" points="${corners.join(' ')}"><title>${escapeXml(area.label)}</title></polygon>`,
    )
  }
  c.rules?.forEach((rule, i) => {
    const inside =
      rule.axis === 'x' ? rule.at >= x.min && rule.at <= x.max : rule.at >= y.min && rule.at <= y.max
    if (!inside) return
    if (rule.axis === 'y') {
      parts.push(svgLine(box.left, py(rule.at), box.right, py(rule.at), 'rule'))
      parts.push(svgText(box.left + 6, py(rule.at) - 5, rule.label))
    } else {
      const at = px(rule.at)
      const left = at + textWidth(rule.label) > box.right
      parts.push(svgLine(at, box.top, at, box.bottom, 'rule'))
      parts.push(
        svgText(at + (left ? -5 : 5), box.top + 14 + 16 * (i % 8), rule.label, {
          anchor: left ? 'end' : 'start',
        }),
      )
    }
  })
  const labels: { y: number; text: string; tone: number }[] = []
  c.series.forEach((s, i) => {
    const tone = i % DASHES.length
    parts.push(pathOf(s, px, py, tone))
    const last = s.points.findLast(([a, b]) => Number.isFinite(a) && Number.isFinite(b))
    if (last) labels.push({ y: py(last[1]) + 4, text: s.label, tone })
  })
  for (const l of spread(labels, box.top, box.bottom)) {
    parts.push(svgText(box.right + 8, l.y, l.text, { class: `f${l.tone}` }))
  }
  return svgDocument({
    id: c.id,
    title: c.title,
    description: c.description,
    width,
    height,
    body: parts.join(''),
  })
}

function axisLabel(axis: Axis): string {
  return axis.unit ? `${axis.label} (${axis.unit})` : axis.label
}

function scaleOf(c: LineChart, name: 'x' | 'y'): Scale {
  const axis = c[name]
  const kind = axis.scale ?? 'linear'
  let low = Number.POSITIVE_INFINITY
  let high = Number.NEGATIVE_INFINITY
  for (const s of c.series)
    for (const point of s.points) {
      const v = point[name === 'x' ? 0 : 1]
      if (!Number.isFinite(v) || (kind === 'log' && v <= 0)) continue
      low = Math.min(low, v)
      high = Math.max(high, v)
    }
  if (!(high >= low)) [low, high] = kind === 'log' ? [1, 10] : [0, 1]
  return makeScale(kind, axis.min ?? low, axis.max ?? high)
}

function pathOf(s: Series, px: (v: number) => number, py: (v: number) => number, tone: number): string {
  let d = ''
  let down = false
  let before = 0
  for (const [vx, vy] of s.points) {
    if (!Number.isFinite(vx) || !Number.isFinite(vy)) {
      down = false
      continue
    }
    const at = `${coordinate(px(vx))} ${coordinate(py(vy))}`
    if (down && s.steps) d += `L${coordinate(px(vx))} ${coordinate(before)}`
    d += `${down ? 'L' : 'M'}${at}`
    before = py(vy)
    down = true
  }
  const dash = DASHES[tone] ? ` stroke-dasharray="${DASHES[tone]}"` : ''
  return `<path class="line s${tone}" d="${d}"${dash}/>`
}

/** Labels moved apart so that none covers another. */
function spread<T extends { y: number }>(labels: T[], top: number, bottom: number): T[] {
  const sorted = [...labels].sort((a, b) => a.y - b.y)
  let free = top + 8
  for (const l of sorted) {
    l.y = Math.max(l.y, free)
    free = l.y + 16
  }
  let limit = bottom + 4
  for (const l of sorted.reverse()) {
    l.y = Math.min(l.y, limit)
    limit = l.y - 16
  }
  return sorted
}
