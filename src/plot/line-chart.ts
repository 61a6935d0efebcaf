/** A chart of lines over two axes, each line labelled at its end, with limits as labelled rules. */
import { formatNumber } from '../units/index.js'
import { type Chart, chartData } from './chart-data.js'
import {
  coordinate,
  DASHES,
  drawnText,
  ROLES,
  type Role,
  roleClass,
  svgDocument,
  svgLine,
  svgText,
  textWidth,
} from './frame.js'
import { type Frame, keyOfTags, labelsInside, type Rule, TAG_ROW, tagColumns } from './line-labels.js'
import type { Segment } from './place-labels.js'
import { makeScale, type Scale } from './ticks.js'

export interface Axis {
  label: string
  /** Printed behind the label: `ms`. */
  unit: string
  scale?: 'linear' | 'log'
  /** The range; from the data when absent. */
  min?: number
  max?: number
  /** A value in words, with its unit: `10 ms`. Plain numbers when absent. */
  says?: (value: number) => string
}

export interface Series {
  label: string
  /** What the line stands for; lines without are told apart by their order. */
  role?: Role
  /** In the order to be joined; points that are not finite break the line. */
  points: readonly (readonly [number, number])[]
  /** Drawn as steps: the value holds until the next point. */
  steps?: boolean
}

/** A shaded region, such as what is not covered: the corners of a polygon. */
export interface Area {
  label: string
  points: readonly (readonly [number, number])[]
}

export type { Rule } from './line-labels.js'

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
/** Where ticks are said with their unit. */
const WIDE_LEFT = 84
const KEY_HEIGHT = 26
/** A chart that is narrower has no room beside it: every label is inside. */
const LEAST_WIDE = 560

/** @returns the SVG text. */
export function lineChart(c: LineChart): string {
  const width = c.width ?? 720
  const roles = ROLES.filter(
    (role) => c.series.some((s) => s.role === role) || c.rules?.some((r) => r.role === role),
  )
  const plain = (c.height ?? 400) + (roles.length > 0 ? KEY_HEIGHT : 0)
  const x = scaleOf(c, 'x')
  const y = scaleOf(c, 'y')
  const isLog = c.y.scale === 'log'
  const seenOf = c.series.map((s) => ({ ...s, points: s.points.filter(isWithin(x, y, isLog)) }))
  const atEnd = width < LEAST_WIDE ? [] : c.series.filter((_, i) => isAtEnd(seenOf[i]!.points, x))
  const right = 24 + Math.min(200, Math.max(0, ...atEnd.map((s) => textWidth(s.label))))
  const bottom = plain - MARGIN.bottom - (roles.length > 0 ? KEY_HEIGHT : 0)
  const left = c.y.says ? WIDE_LEFT : MARGIN.left
  const box: Frame = { left, top: MARGIN.top, right: width - right, bottom }
  const px = (v: number) => x.place(v, box.left, box.right)
  const py = (v: number) => y.place(v, box.bottom, box.top)
  const parts: string[] = [svgText(width < LEAST_WIDE ? 10 : box.left, 24, c.title, { class: 'head' })]
  for (const t of x.ticks) {
    parts.push(svgLine(px(t), box.top, px(t), box.bottom, 'grid'))
    const says = c.x.says?.(t) ?? formatNumber(t, 6)
    parts.push(svgText(px(t), box.bottom + 18, says, { anchor: 'middle', class: 'faint' }))
  }
  for (const t of y.ticks) {
    parts.push(svgLine(box.left, py(t), box.right, py(t), 'grid'))
    const says = c.y.says?.(t) ?? formatNumber(t, 6)
    parts.push(svgText(box.left - 8, py(t) + 4, says, { anchor: 'end', class: 'faint' }))
  }
  parts.push(svgLine(box.left, box.bottom, box.right, box.bottom, 'axis'))
  parts.push(svgLine(box.left, box.top, box.left, box.bottom, 'axis'))
  parts.push(svgText((box.left + box.right) / 2, bottom + 40, axisLabel(c.x), { anchor: 'middle' }))
  const middle = (box.top + box.bottom) / 2
  parts.push(svgText(16, middle, axisLabel(c.y), { anchor: 'middle', turn: -90 }))
  for (const area of c.areas ?? []) {
    const corners = area.points.map(([a, b]) => `${coordinate(px(a))},${coordinate(py(b))}`)
    parts.push(
      `<polygon class="gap" points="${corners.join(' ')}"><title>${drawnText(area.label)}</title></polygon>`,
    )
  }
  const rules = (c.rules ?? []).filter(({ axis, at }) => {
    const scale = axis === 'x' ? x : y
    return at >= scale.min && at <= scale.max
  })
  for (const { axis, at, role } of rules)
    parts.push(
      axis === 'y'
        ? svgLine(box.left, py(at), box.right, py(at), ruleClass(role))
        : svgLine(px(at), box.top, px(at), box.bottom, ruleClass(role)),
    )
  const labels: { y: number; text: string; look: string }[] = []
  const inside: { text: string; look: string; points: [number, number][] }[] = []
  const lines: Segment[] = []
  const upright: Rule[] = []
  c.series.forEach((s, i) => {
    const tone = i % DASHES.length
    parts.push(pathOf(s, px, py, tone, y))
    const seen = seenOf[i]!.points
    const last = seen.at(-1)
    const look = s.role ? roleClass(s.role) : `f${tone}`
    const drawn = seen.map(([a, b]): [number, number] => [px(a), py(b)])
    // From and to a point that is held at the rim, too: the line is drawn there.
    const isShown = isWithin(x, y, isLog)
    for (let k = 1; k < s.points.length; k++) {
      const [a, b] = [s.points[k - 1]!, s.points[k]!]
      if (![...a, ...b].every(Number.isFinite) || !(isShown(a) || isShown(b))) continue
      lines.push([px(a[0]), py(a[1]), px(b[0]), py(b[1])])
    }
    if (!last) {
      const at = jumpOf(s.points, y)
      if (at !== undefined && at > x.min && at < x.max)
        upright.push({ axis: 'x', at, label: s.label, ...(s.role ? { role: s.role } : {}) })
      return
    }
    if (atEnd.includes(s)) labels.push({ y: py(last[1]) + 4, text: s.label, look })
    else inside.push({ text: s.label, look, points: drawn })
  })
  for (const l of spread(labels, box.top, box.bottom))
    parts.push(svgText(box.right + 8, l.y, l.text, { class: l.look }))
  const named = labelsInside([...rules, ...upright], inside, lines, box, px, py)
  parts.push(named.svg)
  // Without room for it, the label of each line has to do.
  const key = keyOf(roles, box.left, plain - 14)
  const hasKey = roles.length > 0 && key.right <= width
  if (hasKey) parts.push(key.svg)
  const tagTop = bottom + MARGIN.bottom + (hasKey ? KEY_HEIGHT : 0)
  const tagLeft = width < LEAST_WIDE ? 10 : box.left
  const tagWide = width - tagLeft - 10
  parts.push(keyOfTags(named.tags, tagLeft, tagWide, tagTop))
  const tagRows = Math.ceil(named.tags.length / tagColumns(named.tags, tagWide))
  const height = Math.max(plain, tagTop + TAG_ROW * tagRows + (tagRows > 0 ? 10 : 0))
  const chart: Chart = { c, x, y, box, width, height }
  return svgDocument({
    id: c.id,
    title: c.title,
    description: c.description,
    width,
    height,
    body: `${chartData(chart)}${parts.join('')}`,
  })
}

const ruleClass = (role: Role | undefined) => (role ? `line ${roleClass(role)}` : 'rule')

/** Points that are on the chart, not held at its rim. */
function isWithin(x: Scale, y: Scale, isLog: boolean) {
  return ([a, b]: readonly [number, number]) =>
    Number.isFinite(a) &&
    Number.isFinite(b) &&
    a >= x.min &&
    a <= x.max &&
    (isLog ? b > y.min && b < y.max : b >= y.min && b <= y.max)
}

/** Where a line that is never between the rims goes from one to the other. */
function jumpOf(points: Series['points'], y: Scale): number | undefined {
  const rim = (v: number) => (v >= y.max ? 1 : v <= y.min ? -1 : 0)
  return points.find(([, v], i) => i > 0 && rim(v) * rim(points[i - 1]![1]) < 0)?.[0]
}

/** Whether the line goes on to the right rim, where its label is. */
function isAtEnd(points: Series['points'], x: Scale): boolean {
  const last = points.at(-1)
  return last !== undefined && x.place(last[0], 0, 1) > 0.97
}

/** What each kind of line stands for, and how far it reaches. */
function keyOf(roles: readonly Role[], left: number, y: number): { svg: string; right: number } {
  let x = left
  const svg = roles
    .map((role) => {
      const at = x
      x += 46 + textWidth(role) + 14
      return `${svgLine(at, y - 4, at + 36, y - 4, `line ${roleClass(role)}`)}${svgText(at + 42, y, role, { class: 'faint' })}`
    })
    .join('')
  return { svg, right: x }
}

function axisLabel(axis: Axis): string {
  return axis.unit && !axis.says ? `${axis.label} (${axis.unit})` : axis.label
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

function pathOf(
  s: Series,
  px: (v: number) => number,
  py: (v: number) => number,
  tone: number,
  scale: Scale,
): string {
  let d = ''
  let down = false
  let before = 0
  let rim = 0
  for (const [vx, vy] of s.points) {
    if (!Number.isFinite(vx) || !Number.isFinite(vy)) {
      down = false
      continue
    }
    const at = `${coordinate(px(vx))} ${coordinate(py(vy))}`
    // What is held at a rim says nothing: a line that runs along it would look like a value.
    const held = vy >= scale.max ? 1 : vy <= scale.min ? -1 : 0
    if (held !== 0 && held === rim && !s.steps) down = false
    rim = held
    if (down && s.steps) d += `L${coordinate(px(vx))} ${coordinate(before)}`
    d += `${down ? 'L' : 'M'}${at}`
    before = py(vy)
    down = true
  }
  if (s.role) return `<path class="line ${roleClass(s.role)}" d="${d}"/>`
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
