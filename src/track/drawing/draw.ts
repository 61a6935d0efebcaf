/** The railroad drawn: each section in the colour, width and pattern of its grade, with its figure beside it. */
import { coordinate, drawnText, svgDocument, svgText, textWidth } from '../../plot/index.js'
import { formatNumber } from '../../units/index.js'
import type { TrackLayout } from '../layout/layout.js'
import { trackName } from '../layout/names.js'
import { findPhases } from '../layout/phase.js'
import { opposedGaps } from '../polarity/opposed-gaps.js'
import { Labels, type Placed, type Spot } from './labels.js'
import { bounds, layOutTracks, lengthOf, pointAt } from './lay-out.js'

export type Grade = 'good' | 'fair' | 'poor' | 'none'

/** What a section shows. */
export interface MapValue {
  grade: Grade
  /** Short, `12.4 V`. */
  label: string
}

export interface TrackMap {
  id: string
  title: string
  description: string
  /** By track number of the plan. */
  values: readonly MapValue[]
  legend: Readonly<Record<Grade, string>>
  width?: number
  /** Write the name of each turnout beside it. */
  namesTurnouts?: boolean
}

/** Dash pattern and width by grade: colour is never the only sign. */
const LOOK: Record<Grade, { colour: string; dash: string; width: number }> = {
  good: { colour: 'var(--s2)', dash: '', width: 4 },
  fair: { colour: 'var(--s4)', dash: '10 4', width: 5 },
  poor: { colour: 'var(--bad)', dash: '3 3', width: 7 },
  none: { colour: 'var(--faint)', dash: '1 5', width: 3 },
}

/** Size of the figures, px, and of a character of theirs. */
const FONT = 11
const CHARACTER = 6.6
/** More sections than these are too many to read: the worst of them get their figure. */
const MOST_LABELS = 150
/** Figures without room on the map that are listed below it. */
const MOST_LISTED = 40

/** Where a rail meets its opposite: a cross, so that colour is not alone. */
function cross(x: number, y: number): string {
  const [l, r, t, b] = [x - 8, x + 8, y - 8, y + 8].map(coordinate)
  return `<path d="M${l} ${t}L${r} ${b}M${l} ${b}L${r} ${t}" fill="none" stroke="var(--bad)" stroke-width="3"/>`
}

/**
 * @returns the SVG text. Sections without coordinates are drawn as rows below. Figures stand off all lines and off each
 * other; those without room are listed below the map.
 */
export function drawTrack(plan: TrackLayout, map: TrackMap): string {
  const lines = layOutTracks(plan)
  const all = lines.flatMap((l) => l.points)
  const [minX, maxX] = bounds(all.map((p) => p[0]))
  const [minY, maxY] = bounds(all.map((p) => p[1]))
  const width = map.width ?? (plan.tracks.length > 24 ? 1200 : 960)
  const margin = 72
  const top = 52
  const scale = Math.min((width - 2 * margin) / Math.max(1, maxX - minX), 900 / Math.max(1, maxY - minY))
  const px = (x: number) => margin + (x - minX) * scale
  const py = (y: number) => top + margin / 2 + (y - minY) * scale
  const bottom = py(maxY) + margin / 2
  const parts: string[] = [svgText(16, 26, map.title, { class: 'head' })]
  const labels = new Labels(width, 36, bottom + 4)
  const drawn = lines.map((l) => l.points.map(([x, y]): [number, number] => [px(x), py(y)]))
  drawn.forEach((points, t) => {
    const value = map.values[t]!
    const look = LOOK[value.grade]
    const d = points.map(([x, y], i) => `${i === 0 ? 'M' : 'L'}${coordinate(x)} ${coordinate(y)}`).join('')
    const dash = look.dash ? ` stroke-dasharray="${look.dash}"` : ''
    const title = drawnText(`${trackName(plan.tracks[t]!)}: ${value.label}`)
    parts.push(
      `<path d="${d}" fill="none" stroke="${look.colour}" stroke-width="${look.width}"${dash}><title>${title}</title></path>`,
    )
    labels.addLine(points, look.width / 2)
  })
  const meets = new Set(findPhases(plan).conflicts)
  const opposed = new Set(opposedGaps(plan).map((g) => g.joint))
  plan.joints.forEach((j, i) => {
    const wrong = meets.has(i)
      ? 'a rail meets its opposite'
      : opposed.has(j.name)
        ? 'the opposite polarity beyond the gaps'
        : undefined
    if (!(j.gapL || j.gapR || wrong)) return
    const line = drawn[j.a >> 1]!
    const [x, y] = (j.a & 1) === 0 ? line[0]! : line.at(-1)!
    const cut = j.gapL && j.gapR ? 'both rails are cut' : j.gapL || j.gapR ? 'one rail is cut' : undefined
    const title = drawnText(`${j.name}: ${[cut, wrong].filter(Boolean).join('; ')}`)
    if (cut) {
      labels.addBox({ x, y, w: 8, h: 14 })
      parts.push(
        `<rect class="paper" x="${coordinate(x - 4)}" y="${coordinate(y - 7)}" width="8" height="14" stroke="var(--ink)"><title>${title}</title></rect>`,
      )
    }
    if (wrong) {
      labels.addBox({ x, y, w: 20, h: 20 })
      parts.push(`<g>${cross(x, y)}<title>${title}</title></g>`)
    }
  })
  const homeless = addFigures(plan, map, drawn, labels, parts)
  let y = bottom + 24
  let legendX = margin
  for (const grade of ['good', 'fair', 'poor', 'none'] as const) {
    if (!map.values.some((v) => v.grade === grade)) continue
    const look = LOOK[grade]
    const dash = look.dash ? ` stroke-dasharray="${look.dash}"` : ''
    const room = 64 + textWidth(map.legend[grade])
    if (legendX > margin && legendX + room > width) {
      legendX = margin
      y += 22
    }
    parts.push(
      `<path d="M${coordinate(legendX)} ${coordinate(y)}h36" fill="none" stroke="${look.colour}" stroke-width="${look.width}"${dash}/>`,
    )
    parts.push(svgText(legendX + 44, y + 4, map.legend[grade]))
    legendX += room
  }
  if (meets.size > 0 || opposed.size > 0) {
    y += 24
    parts.push(cross(margin + 18, y - 4))
    parts.push(
      svgText(margin + 44, y, 'polarity: a rail meets its opposite, at once or when a train bridges gaps'),
    )
  }
  for (const row of rowsOf(homeless, (width - 2 * margin) / CHARACTER)) {
    y += 20
    parts.push(`<text x="${margin}" y="${coordinate(y)}" font-size="${FONT}">${drawnText(row)}</text>`)
  }
  return svgDocument({
    id: map.id,
    title: map.title,
    description: map.description,
    width,
    height: Math.ceil(y + 24),
    body: parts.join(''),
  })
}

/** Writes the figures of the sections, the worst first. @returns those without room. */
function addFigures(
  plan: TrackLayout,
  map: TrackMap,
  drawn: readonly [number, number][][],
  labels: Labels,
  parts: string[],
): string[] {
  // The leg at the points stands for its turnout.
  const named = (t: number) =>
    map.namesTurnouts === true && plan.tracks[t]!.kind === 'turnout' && plan.tracks[t]!.leg === 'points'
  const order = drawn
    .map((points, t) => ({ t, length: lengthOf(points) }))
    .filter(({ t }) => {
      const { kind } = plan.tracks[t]!
      return named(t) || (map.values[t]!.label !== '' && (kind === 'section' || kind === 'turntable'))
    })
    .sort(
      (a, b) =>
        Number(named(a.t)) - Number(named(b.t)) ||
        rank(map.values[a.t]!.grade) - rank(map.values[b.t]!.grade) ||
        a.length - b.length ||
        a.t - b.t,
    )
  const write = (text: string, { x, y, leader }: Placed) => {
    if (leader) {
      const [x1, y1, x2, y2] = leader.map(coordinate)
      parts.push(`<line x1="${x1}" y1="${y1}" x2="${x2}" y2="${y2}" stroke="var(--ink)" stroke-width="0.8"/>`)
    }
    parts.push(
      `<text x="${coordinate(x)}" y="${coordinate(y + FONT / 3)}" text-anchor="middle" font-size="${FONT}">${drawnText(text)}</text>`,
    )
  }
  // All that fit beside their lines first; thin lines only for what is left.
  const left: { text: string; spots: Spot[] }[] = []
  for (const { t, length } of order.slice(0, MOST_LABELS)) {
    const text = named(t)
      ? `turnout ${plan.tracks[t]!.name}`
      : `${trackName(plan.tracks[t]!)} ${map.values[t]!.label}`
    const spots = (named(t) ? [1, 0.8, 0.5] : [0.5, 0.35, 0.65, 0.2, 0.8]).map((share) =>
      spotAt(drawn[t]!, length * share, length),
    )
    const placed = labels.placeBeside(spots, text.length * CHARACTER, FONT + 1)
    if (placed) write(text, placed)
    else left.push({ text, spots })
  }
  return left.flatMap(({ text, spots }) => {
    const placed = labels.placeNear(spots, text.length * CHARACTER, FONT + 1)
    if (!placed) return [text]
    write(text, placed)
    return []
  })
}

/** Texts in rows of so many characters; too many end in a count. */
function rowsOf(texts: readonly string[], characters: number): string[] {
  if (texts.length === 0) return []
  const rows: string[] = []
  let row = 'No room on the map for: '
  texts.slice(0, MOST_LISTED).forEach((text, i) => {
    const more = i === 0 ? text : `, ${text}`
    if (row.length + more.length > characters) {
      rows.push(`${row},`)
      row = text
    } else row += more
  })
  rows.push(texts.length > MOST_LISTED ? `${row} and ${texts.length - MOST_LISTED} more` : row)
  return rows
}

function rank(grade: Grade): number {
  return { poor: 0, fair: 1, good: 2, none: 3 }[grade]
}

/** A place along a line and the unit normal there. */
function spotAt(points: [number, number][], along: number, total: number): Spot {
  const [x, y] = pointAt(points, along)
  const [ax, ay] = pointAt(points, Math.max(0, along - total / 50))
  const [bx, by] = pointAt(points, Math.min(total, along + total / 50))
  const size = Math.hypot(bx - ax, by - ay) || 1
  return { x, y, nx: (by - ay) / size, ny: -(bx - ax) / size }
}

/** Volts with few digits, `12.4 V`, and `13.0 V` beside it. */
export function voltLabel(volt: number): string {
  return `${Math.abs(volt) >= 10 && Math.abs(volt) < 100 ? volt.toFixed(1) : formatNumber(volt, 3)} V`
}
