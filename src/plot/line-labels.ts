/**
 * The labels inside a chart of lines: in full where that covers no other label and hides little, else as a letter at
 * the line, which a key under the chart spells out.
 */
import { coordinate, type Role, roleClass, svgText, textWidth } from './frame.js'
import { type Candidate, placeLabels, type Segment } from './place-labels.js'

/** A limit: a line across the chart with its label. */
export interface Rule {
  axis: 'x' | 'y'
  at: number
  label: string
  role?: Role
}

export interface Frame {
  left: number
  top: number
  right: number
  bottom: number
}

/** A line that only a letter names on the chart. */
export interface Tag {
  letter: string
  text: string
  look: string
}

interface Line {
  text: string
  /** Class of its colour. */
  look: string
  points: [number, number][]
}

/** Of a label, px. */
const HIGH = 16
/** A letter is worse than a label in a free place, better than one that hides a line or lies on a label. */
const AS_LETTER = 15
/** Between columns of the key, px. */
const APART = 14
/** Of a row of the key, px. */
export const TAG_ROW = 18

const lookOf = (role: Role | undefined) => (role ? roleClass(role) : 'ruled')

/** Labels of rules along them, those of lines beside them, on ground of their own. */
export function labelsInside(
  rules: readonly Rule[],
  series: readonly Line[],
  lines: readonly Segment[],
  box: Frame,
  px: (v: number) => number,
  py: (v: number) => number,
): { svg: string; tags: Tag[] } {
  const ruled = rules.map(
    ({ axis, at }): Segment =>
      axis === 'x' ? [px(at), box.top, px(at), box.bottom] : [box.left, py(at), box.right, py(at)],
  )
  const wishes = [
    ...rules.map((rule) => ({
      text: rule.label,
      look: lookOf(rule.role),
      isTurned: rule.axis === 'x',
      at: (label: string) =>
        rule.axis === 'x' ? alongX(px(rule.at), label, box) : alongY(py(rule.at), label, box),
    })),
    ...series.map(({ text, look, points }) => ({
      text,
      look,
      isTurned: false,
      at: (label: string) => besideLine(points, label, box),
    })),
  ]
  const places = placeLabels(
    wishes.map(({ text, at }) => [
      ...at(text),
      ...at('m').map((place) => ({ ...place, isLetter: true, cost: place.cost + AS_LETTER })),
    ]),
    [...lines, ...ruled],
  )
  const tags: Tag[] = []
  const svg = places.map((place, i) => {
    const { text, look, isTurned } = wishes[i]!
    const { x, y, width, height } = place
    const ground = `<rect class="ground" x="${coordinate(x)}" y="${coordinate(y)}" width="${coordinate(width)}" height="${coordinate(height)}"/>`
    if ('isLetter' in place) {
      const letter = String.fromCharCode(97 + tags.length)
      tags.push({ letter, text, look })
      return (
        ground +
        svgText(x + width / 2, y + height / 2 + 4, letter, { anchor: 'middle', class: `${look} tag` })
      )
    }
    return (
      ground +
      (isTurned
        ? svgText(x + 12, y + height - 4, text, { class: look, turn: -90 })
        : svgText(x + 4, y + 12, text, { class: look }))
    )
  })
  return { svg: svg.join(''), tags }
}

const tagWidth = ({ text }: Tag) => 20 + textWidth(text)

/** @returns how many columns the key has, at least one. */
export function tagColumns(tags: readonly Tag[], width: number): number {
  const widest = Math.max(1, ...tags.map(tagWidth)) + APART
  return Math.max(1, Math.min(tags.length, Math.floor(width / widest)))
}

/** What each letter stands for, under the chart. */
export function keyOfTags(tags: readonly Tag[], left: number, width: number, top: number): string {
  const columns = tagColumns(tags, width)
  const wide = width / columns
  return tags
    .map(({ letter, text, look }, i) => {
      const x = left + wide * (i % columns)
      const y = top + TAG_ROW * Math.floor(i / columns) + 12
      return svgText(x, y, letter, { class: `${look} tag` }) + svgText(x + 16, y, text, { class: look })
    })
    .join('')
}

const STEPS = 12
/** Tried along a line. */
const PLACES = 24

/** Upright beside a rule across the x axis, left of it before right of it. */
function alongX(at: number, label: string, box: Frame): Candidate[] {
  const height = Math.min(textWidth(label) + 8, box.bottom - box.top)
  return [at - HIGH - 2, at + 2].flatMap((x, side) =>
    Array.from({ length: STEPS }, (_, i) => ({
      x,
      y: box.top + 4 + ((box.bottom - box.top - height - 8) * i) / (STEPS - 1),
      width: HIGH,
      height,
      cost: side + i / STEPS + (x < box.left || x + HIGH > box.right ? 500 : 0),
    })),
  )
}

/** Over or under a rule across the y axis. */
function alongY(at: number, label: string, box: Frame): Candidate[] {
  const width = Math.min(textWidth(label) + 8, box.right - box.left)
  return [at - HIGH - 1, at + 2].flatMap((y, side) =>
    Array.from({ length: STEPS }, (_, i) => ({
      x: box.left + 4 + ((box.right - box.left - width - 8) * i) / (STEPS - 1),
      y,
      width,
      height: HIGH,
      cost: side + i / STEPS + (y < box.top || y + HIGH > box.bottom ? 500 : 0),
    })),
  )
}

/** Places along a line at equal distances, from its end backwards. */
function along(points: readonly [number, number][]): [number, number][] {
  const lengths = points.map(([x, y], i) =>
    i === 0 ? 0 : Math.hypot(x - points[i - 1]![0], y - points[i - 1]![1]),
  )
  const step = lengths.reduce((sum, l) => sum + l, 0) / PLACES
  if (step === 0) return [points.at(-1)!]
  const found: [number, number][] = [points.at(-1)!]
  let due = step
  for (let i = points.length - 1; i > 0; i--) {
    const [[x1, y1], [x2, y2]] = [points[i]!, points[i - 1]!]
    for (; due <= lengths[i]!; due += step) {
      const share = due / lengths[i]!
      found.push([x1 + share * (x2 - x1), y1 + share * (y2 - y1)])
    }
    due -= lengths[i]!
  }
  return found
}

/** On either side of a line, from its end backwards. */
function besideLine(points: readonly [number, number][], label: string, box: Frame): Candidate[] {
  const width = textWidth(label) + 8
  return along(points).flatMap(([x, y], i) =>
    [
      [x + 6, y - HIGH / 2],
      [x - width - 6, y - HIGH / 2],
      [x + 6, y + 4],
      [x - width - 6, y - HIGH - 4],
    ].map(([asked, top]) => {
      // Rather over its own line than cut off at the side.
      const left = Math.max(box.left, Math.min(asked!, box.right - width))
      const outside =
        left < box.left || left + width > box.right || top! < box.top || top! + HIGH > box.bottom
      return {
        x: left,
        y: top!,
        width,
        height: HIGH,
        cost: i / 2 + (left === asked ? 0 : 100) + (outside ? 500 : 0),
      }
    }),
  )
}
