/** A run of the bench as one drawing over time: currents, power, pins, packets, decoders, serial text and events on one axis. */
import { coordinate, drawnText, niceTicks, svgDocument, wholeWords } from '../../plot/index.js'
import { formatNumber, formatRange, formatTimeUs } from '../../units/index.js'
import type { ScenarioResult } from '../scenario/result.js'
import type { AnalogSignal, StateSignal } from '../scenario/signals.js'

export interface TimelineSpan {
  fromUs: number
  toUs: number
}

const WIDTH = 1000
/** Before the axis; less of it where the drawing is narrow. */
const LEFT = { wide: 150, narrow: 132 }
const NARROW = 600
const RIGHT = 16
const TOP = 50
const BOTTOM = 30
/** Heights of a curve and of a row. */
interface Heights {
  curve: number
  row: number
}
/** As usual; pressed where the drawing would be too high; and with small type in one line. */
const USUAL: Heights = { curve: 58, row: 22 }
const PRESSED: Heights = { curve: 31, row: 17 }
const SMALLER: Heights = { curve: 30, row: 17 }
const SMALL: Heights = { curve: 20, row: 14 }
/** A text is written where it has so many pixels for each of its letters, at its size of type. */
const LETTER = 0.555
const TYPE = { usual: 13, small: 11 }
/** From the edge of a box to its text. */
const INSET = 3
const MOST_MARKS = 3000

/** The drawing's own size; the height is kept as far as its texts can be read. */
export interface TimelineSheet {
  width: number
  height?: number
}

/** Where the axis of time runs across a drawing of this width, in its own units. */
export function timelineAxis(width = WIDTH): { from: number; to: number } {
  return { from: width < NARROW ? LEFT.narrow : LEFT.wide, to: width - RIGHT }
}

/** @param span the whole run where it is left out. */
export function timelineSvg(
  result: ScenarioResult,
  span?: TimelineSpan,
  { width = WIDTH, height: most = Number.POSITIVE_INFINITY }: Partial<TimelineSheet> = {},
): string {
  const { name, signals, timeline } = result
  const { from: left, to: right } = timelineAxis(width)
  const fromUs = span?.fromUs ?? 0
  const toUs = Math.max(span?.toUs ?? signals.endUs, fromUs + 1)
  const x = (us: number) => left + ((us - fromUs) / (toUs - fromUs)) * (right - left)
  const inView = (us: number) => us >= fromUs && us <= toUs
  const currents = signals.analog.filter((a) => a.unit !== 'share')
  const said = (from: 'outside' | 'station') =>
    signals.serial.flatMap((s) => (s.from === from ? [{ timeUs: s.timeUs, says: s.text }] : []))
  const lists: Lane[] = [
    ...[...new Set(signals.packets.map((p) => p.output))].map((output) => ({
      text: `packets of ${output}`,
      short: `${output}, packets`,
      list: signals.packets
        .filter((p) => p.output === output)
        .map((p) => ({ timeUs: p.endUs, says: p.says })),
    })),
    { text: 'serial in', list: said('outside') },
    { text: 'serial out', list: said('station') },
    {
      text: 'events',
      list: timeline
        .filter((e) => e.kind !== 'decoder' && e.kind !== 'command')
        .map((e) => ({ timeUs: e.timeUs, says: `${e.about}: ${e.sentence}` })),
    },
  ].filter(({ list }) => list.length > 0)
  const rows = signals.states.length + signals.pins.length + lists.length
  const { curve, row } = heights(currents.length, rows, most)
  const isSmall = curve < PRESSED.curve
  const letter = LETTER * (isSmall ? TYPE.small : TYPE.usual)
  /** Of the name of a row. */
  const mostLetters = Math.floor((left - 8) / letter)
  const fits = (words: string) => words.length <= mostLetters
  const parts: string[] = []
  // Over all lines, and upright ones leave them out, so that none goes through a word.
  const texts: string[] = []
  const words: Word[] = []
  let y = TOP
  const label = (text: string, middle: number, more = '') => {
    const short = wholeWords(text, mostLetters)
    texts.push(
      `<text x="8" y="${coordinate(middle + 4)}">${drawnText(short)}${short === text ? '' : `<title>${drawnText(text)}</title>`}</text>`,
    )
    if (more) texts.push(`<text class="faint" x="8" y="${coordinate(middle + 18)}">${drawnText(more)}</text>`)
  }
  const base = (at: number) =>
    parts.push(
      `<line class="grid" x1="${left}" x2="${right}" y1="${coordinate(at)}" y2="${coordinate(at)}"/>`,
    )

  const districts = new Set(currents.map((c) => c.name))
  for (const [i, a] of currents.entries()) {
    const peak = Math.max(0.1, ...a.points.map((p) => p.value))
    const [below, above] = isSmall ? [3, 4] : [6, 8]
    const bottom = y + curve - below
    base(bottom)
    parts.push(
      `<path class="line s${i % 6}" d="${stepPath(a, x, (v) => bottom - (v / peak) * (curve - below - above), left, fromUs, toUs)}"/>`,
    )
    const kind = a.unit === 'V' ? 'voltage' : 'current'
    const peakSays = `${formatNumber(peak, 2)} ${a.unit}`
    const upTo = `to ${peakSays}`
    // Two rows of one name are told apart by what they show, which is never cut.
    const [both, kindUpTo] = [`${a.name}, ${kind}`, `${kind}, ${upTo}`]
    const middle = y + (curve < 40 ? 7 : 14)
    const inOneLine = [`${both} ${upTo}`, `${a.name} ${kind} ${peakSays}`, both, `${a.name} ${upTo}`]
    if (isSmall) label(inOneLine.find(fits) ?? a.name, y + curve / 2)
    else if (fits(both)) label(both, middle, upTo)
    else label(a.name, middle, fits(kindUpTo) ? kindUpTo : upTo)
    y += curve
  }
  for (const [i, s] of signals.states.entries()) {
    // The districts come first; a train may be called like one of them.
    label(i < districts.size ? `${s.name}, driver` : s.name, y + row / 2)
    for (const { box, text, word } of bands(s, { y, row, letter }, x, fromUs, toUs)) {
      parts.push(box)
      if (!word) continue
      texts.push(text)
      words.push(word)
    }
    y += row
  }
  for (const pin of signals.pins) {
    label(`pin ${pin.name}`, y + row / 2)
    const signal: AnalogSignal = {
      name: pin.name,
      unit: 'share',
      points: pin.edges.map((e) => ({ timeUs: e.timeUs, value: e.level })),
    }
    const bottom = y + row - 4
    parts.push(
      `<path class="line s0" d="${stepPath(signal, x, (v) => bottom - v * (row - 8), left, fromUs, toUs)}"/>`,
    )
    y += row
  }
  for (const { text, short = text, list } of lists) {
    const seen = list.filter((m) => inView(m.timeUs))
    label([text, short].find(fits) ?? text, y + row / 2)
    base(y + row / 2)
    let free = Number.NEGATIVE_INFINITY
    for (const [i, m] of seen.slice(0, MOST_MARKS).entries()) {
      const at = x(m.timeUs)
      const next = seen[i + 1]
      const room = (next ? x(next.timeUs) : right) - at
      parts.push(
        `<line class="axis" x1="${coordinate(at)}" x2="${coordinate(at)}" y1="${y + 4}" y2="${y + row - 4}"><title>${drawnText(`${formatTimeUs(m.timeUs, 7)}: ${m.says}`)}</title></line>`,
      )
      const wide = m.says.length * letter
      if (at >= free && room > wide + 2 * INSET) {
        texts.push(
          `<text class="faint" x="${coordinate(at + INSET)}" y="${y + row / 2 + 4}">${drawnText(m.says)}</text>`,
        )
        words.push({ from: at + INSET, to: at + INSET + wide, top: y, bottom: y + row })
        free = at + wide
      }
    }
    y += row
  }
  let named = Number.NEGATIVE_INFINITY
  for (const e of timeline)
    if ((e.kind === 'short' || e.kind === 'restart') && inView(e.timeUs)) {
      const at = x(e.timeUs)
      // Two close together have one name.
      if (at >= named) {
        texts.push(
          `<text class="ruled" text-anchor="middle" x="${coordinate(at)}" y="${TOP - 10}">${e.kind}</text>`,
        )
        named = at + 6 * letter
      }
      parts.push(upright('rule', at, TOP - 6, y, words))
    }
  const ticks = niceTicks(fromUs, toUs, width < NARROW ? 4 : 8)
  const unit = formatTimeUs(ticks.at(-1) ?? toUs, 6).replace(/^\S+ /, '')
  const axis = ticks.map(
    (t) =>
      `${upright('grid', x(t), TOP - 6, y, words)}<text class="faint" text-anchor="${x(t) > width - 4 * letter ? 'end' : 'middle'}" x="${coordinate(x(t) > width - 4 * letter ? width - 4 : x(t))}" y="${y + 18}">${drawnText(t === 0 ? `0 ${unit}` : formatTimeUs(t, 6))}</text>`,
  )
  const height = y + BOTTOM
  const says = `${formatRange(fromUs, toUs, 'us', 6)}: ${currents.map((c) => c.name).join(', ')}; ${timeline.length} events`
  return svgDocument({
    id: 'bench-timeline',
    width,
    height,
    title: `Bench: ${name}`,
    description: says,
    body: [
      `<text class="head" x="8" y="24">${drawnText(name)}</text>`,
      ...axis,
      ...parts,
      `<g font-size="${isSmall ? TYPE.small : TYPE.usual}">${texts.join('')}</g>`,
    ].join(''),
  })
}

/** As usual, or pressed as much as it takes to keep to the height. */
function heights(curves: number, rows: number, most: number): Heights {
  const needs = ({ curve, row }: Heights) => TOP + curves * curve + rows * row + BOTTOM
  const between = (from: Heights, to: Heights): Heights => {
    const share = Math.min(1, Math.max(0, (needs(from) - most) / Math.max(1, needs(from) - needs(to))))
    const at = (a: number, b: number) => Math.floor(a + share * (b - a))
    return { curve: at(from.curve, to.curve), row: at(from.row, to.row) }
  }
  return needs(PRESSED) <= most ? between(USUAL, PRESSED) : between(SMALLER, SMALL)
}

/** A row of marks. */
interface Lane {
  text: string
  /** Where there is no room for the text. */
  short?: string
  list: { timeUs: number; says: string }[]
}

/** Where a text stands. */
interface Word {
  from: number
  to: number
  top: number
  bottom: number
}

/** An upright line that leaves out the rows where it would go through a word. */
function upright(klass: string, at: number, top: number, bottom: number, words: readonly Word[]): string {
  const met = words.filter((w) => at > w.from - 2 && at < w.to + 2).sort((a, b) => a.top - b.top)
  const x = coordinate(at)
  let y = top
  const lines: string[] = []
  for (const to of [...met, { top: bottom, bottom }]) {
    if (to.top > y) lines.push(`<line class="${klass}" x1="${x}" x2="${x}" y1="${y}" y2="${to.top}"/>`)
    y = to.bottom
  }
  return lines.join('')
}

/** Each state as a band with its name where there is room for it. */
function bands(
  s: StateSignal,
  { y, row, letter }: { y: number; row: number; letter: number },
  x: (us: number) => number,
  fromUs: number,
  toUs: number,
): { box: string; text: string; word: Word | undefined }[] {
  return s.states.flatMap(({ timeUs, state }, i) => {
    const endUs = s.states[i + 1]?.timeUs ?? Number.POSITIVE_INFINITY
    if (endUs <= fromUs || timeUs >= toUs) return []
    const [a, b] = [x(Math.max(timeUs, fromUs)), x(Math.min(endUs, toUs))]
    if (b - a < 0.2) return []
    const idle = state === 'off' || state === 'no power' || state === 'stopped'
    const box = `<rect class="${idle ? 'ground' : 'f2'}" fill-opacity="${idle ? 0 : 0.25}" x="${coordinate(a)}" y="${y + 2}" width="${coordinate(b - a)}" height="${row - 4}"><title>${drawnText(`${formatTimeUs(timeUs, 7)}: ${state}`)}</title></rect>`
    const wide = state.length * letter
    const text = `<text x="${coordinate(a + INSET)}" y="${y + row / 2 + 4}">${drawnText(state)}</text>`
    const from = a + INSET
    const word = b - a > wide + 2 * INSET ? { from, to: from + wide, top: y, bottom: y + row } : undefined
    return [{ box, text, word }]
  })
}

/** A step line with one low and one high in each pixel at the most. */
function stepPath(
  a: AnalogSignal,
  x: (us: number) => number,
  y: (value: number) => number,
  left: number,
  fromUs: number,
  toUs: number,
): string {
  const d: string[] = []
  let level = 0
  let column = Number.NaN
  let [low, high] = [0, 0]
  let begun = false
  const flush = () => {
    if (!Number.isNaN(column))
      d.push(`H${column}V${coordinate(y(high))}V${coordinate(y(low))}V${coordinate(y(level))}`)
  }
  for (const { timeUs, value } of a.points) {
    if (timeUs > toUs) break
    if (timeUs <= fromUs) {
      level = value
      continue
    }
    if (!begun) d.push(`M${left} ${coordinate(y(level))}`)
    begun = true
    const at = Math.round(x(timeUs))
    if (at !== column) {
      flush()
      column = at
      low = Math.min(level, value)
      high = Math.max(level, value)
    } else {
      low = Math.min(low, value)
      high = Math.max(high, value)
    }
    level = value
  }
  if (!begun) d.push(`M${left} ${coordinate(y(level))}`)
  flush()
  d.push(`H${coordinate(x(toUs))}`)
  return d.join('')
}
