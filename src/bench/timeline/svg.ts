/** A run of the bench as one drawing over time: currents, power, pins, packets, decoders, serial text and events on one axis. */
import { coordinate, drawnText, niceTicks, svgDocument, wholeWords } from '../../plot/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import type { ScenarioResult } from '../scenario/result.js'
import type { AnalogSignal, StateSignal } from '../scenario/signals.js'

export interface TimelineSpan {
  fromUs: number
  toUs: number
}

const WIDTH = 1000
const LEFT = 150
const RIGHT = 16
const TOP = 46
/** Where the axis of time runs across the drawing, in its own units. */
export const TIMELINE_AXIS = { width: WIDTH, from: LEFT, to: WIDTH - RIGHT }
const CURRENT = 58
const ROW = 22
/** A text is written where it has so many pixels for each of its letters. */
const LETTER = 7.2
/** Of the name of a row. */
const MOST_LETTERS = Math.floor((LEFT - 8) / LETTER)
/** From the edge of a box to its text. */
const INSET = 3
const MOST_MARKS = 3000

/** @param span the whole run where it is left out. */
export function timelineSvg(result: ScenarioResult, span?: TimelineSpan): string {
  const { name, signals, timeline } = result
  const fromUs = span?.fromUs ?? 0
  const toUs = Math.max(span?.toUs ?? signals.endUs, fromUs + 1)
  const x = (us: number) => LEFT + ((us - fromUs) / (toUs - fromUs)) * (WIDTH - LEFT - RIGHT)
  const inView = (us: number) => us >= fromUs && us <= toUs
  const parts: string[] = []
  // Over all lines, so that none goes through a word.
  const texts: string[] = []
  let y = TOP
  const label = (text: string, middle: number, more = '') => {
    const short = wholeWords(text, MOST_LETTERS)
    texts.push(
      `<text x="8" y="${coordinate(middle + 4)}">${drawnText(short)}${short === text ? '' : `<title>${drawnText(text)}</title>`}</text>`,
    )
    if (more) texts.push(`<text class="faint" x="8" y="${coordinate(middle + 19)}">${drawnText(more)}</text>`)
  }
  const base = (at: number) =>
    parts.push(
      `<line class="grid" x1="${LEFT}" x2="${WIDTH - RIGHT}" y1="${coordinate(at)}" y2="${coordinate(at)}"/>`,
    )

  const currents = signals.analog.filter((a) => a.unit !== 'share')
  const districts = new Set(currents.map((c) => c.name))
  for (const [i, a] of currents.entries()) {
    const most = Math.max(0.1, ...a.points.map((p) => p.value))
    const bottom = y + CURRENT - 8
    base(bottom)
    parts.push(
      `<path class="line s${i % 6}" d="${stepPath(a, x, (v) => bottom - (v / most) * (CURRENT - 18), fromUs, toUs)}"/>`,
    )
    const kind = a.unit === 'V' ? 'voltage' : 'current'
    const upTo = `to ${formatNumber(most, 2)} ${a.unit}`
    const both = `${a.name}, ${kind}`
    // Two rows of one name are told apart by what they show, which is never cut.
    if (both.length <= MOST_LETTERS) label(both, y + 14, upTo)
    else label(a.name, y + 14, `${kind}, ${upTo}`)
    y += CURRENT
  }
  for (const [i, s] of signals.states.entries()) {
    // The districts come first; a train may be called like one of them.
    label(i < districts.size ? `${s.name}, driver` : s.name, y + ROW / 2)
    for (const { box, text } of bands(s, y, x, fromUs, toUs)) {
      parts.push(box)
      texts.push(text)
    }
    y += ROW
  }
  for (const pin of signals.pins) {
    label(`pin ${pin.name}`, y + ROW / 2)
    const signal: AnalogSignal = {
      name: pin.name,
      unit: 'share',
      points: pin.edges.map((e) => ({ timeUs: e.timeUs, value: e.level })),
    }
    const bottom = y + ROW - 5
    parts.push(
      `<path class="line s0" d="${stepPath(signal, x, (v) => bottom - v * (ROW - 10), fromUs, toUs)}"/>`,
    )
    y += ROW
  }
  const marks = (text: string, list: readonly { timeUs: number; says: string }[]) => {
    const seen = list.filter((m) => inView(m.timeUs))
    if (list.length === 0) return
    label(text, y + ROW / 2, '')
    base(y + ROW / 2)
    let free = Number.NEGATIVE_INFINITY
    for (const [i, m] of seen.slice(0, MOST_MARKS).entries()) {
      const at = x(m.timeUs)
      const next = seen[i + 1]
      const room = (next ? x(next.timeUs) : WIDTH - RIGHT) - at
      parts.push(
        `<line class="axis" x1="${coordinate(at)}" x2="${coordinate(at)}" y1="${y + 4}" y2="${y + ROW - 4}"><title>${drawnText(`${formatTimeUs(m.timeUs, 7)}: ${m.says}`)}</title></line>`,
      )
      if (at >= free && room > m.says.length * LETTER) {
        texts.push(
          `<text class="faint" x="${coordinate(at + 3)}" y="${y + ROW / 2 + 4}">${drawnText(m.says)}</text>`,
        )
        free = at + m.says.length * LETTER
      }
    }
    y += ROW
  }
  for (const output of new Set(signals.packets.map((p) => p.output)))
    marks(
      `packets of ${output}`,
      signals.packets.filter((p) => p.output === output).map((p) => ({ timeUs: p.endUs, says: p.says })),
    )
  marks(
    'serial in',
    signals.serial.flatMap((s) => (s.from === 'outside' ? [{ timeUs: s.timeUs, says: s.text }] : [])),
  )
  marks(
    'serial out',
    signals.serial.flatMap((s) => (s.from === 'station' ? [{ timeUs: s.timeUs, says: s.text }] : [])),
  )
  marks(
    'events',
    timeline
      .filter((e) => e.kind !== 'decoder' && e.kind !== 'command')
      .map((e) => ({ timeUs: e.timeUs, says: `${e.about}: ${e.sentence}` })),
  )
  let named = Number.NEGATIVE_INFINITY
  for (const e of timeline)
    if ((e.kind === 'short' || e.kind === 'restart') && inView(e.timeUs)) {
      const at = x(e.timeUs)
      // Two close together have one name.
      if (at >= named) {
        texts.push(
          `<text class="ruled" text-anchor="middle" x="${coordinate(at)}" y="${TOP - 10}">${e.kind}</text>`,
        )
        named = at + 6 * LETTER
      }
      parts.push(
        `<line class="rule" x1="${coordinate(x(e.timeUs))}" x2="${coordinate(x(e.timeUs))}" y1="${TOP - 6}" y2="${y}"/>`,
      )
    }
  const ticks = niceTicks(fromUs, toUs, 8)
  const unit = formatTimeUs(ticks.at(-1) ?? toUs, 6).replace(/^\S+ /, '')
  const axis = ticks.map(
    (t) =>
      `<line class="grid" x1="${coordinate(x(t))}" x2="${coordinate(x(t))}" y1="${TOP - 6}" y2="${y}"/><text class="faint" text-anchor="${x(t) > WIDTH - 4 * LETTER ? 'end' : 'middle'}" x="${coordinate(x(t) > WIDTH - 4 * LETTER ? WIDTH - 4 : x(t))}" y="${y + 18}">${drawnText(t === 0 ? `0 ${unit}` : formatTimeUs(t, 6))}</text>`,
  )
  const height = y + 30
  const says = `${formatTimeUs(fromUs, 6)} to ${formatTimeUs(toUs, 6)}: ${currents.map((c) => c.name).join(', ')}; ${timeline.length} events`
  return svgDocument({
    id: 'bench-timeline',
    width: WIDTH,
    height,
    title: `Bench: ${name}`,
    description: says,
    body: [`<text class="head" x="8" y="24">${drawnText(name)}</text>`, ...axis, ...parts, ...texts].join(''),
  })
}

/** Each state as a band with its name where there is room for it. */
function bands(
  s: StateSignal,
  y: number,
  x: (us: number) => number,
  fromUs: number,
  toUs: number,
): { box: string; text: string }[] {
  return s.states.flatMap(({ timeUs, state }, i) => {
    const endUs = s.states[i + 1]?.timeUs ?? Number.POSITIVE_INFINITY
    if (endUs <= fromUs || timeUs >= toUs) return []
    const [a, b] = [x(Math.max(timeUs, fromUs)), x(Math.min(endUs, toUs))]
    if (b - a < 0.2) return []
    const idle = state === 'off' || state === 'no power' || state === 'stopped'
    const box = `<rect class="${idle ? 'ground' : 'f2'}" fill-opacity="${idle ? 1 : 0.25}" x="${coordinate(a)}" y="${y + 3}" width="${coordinate(b - a)}" height="${ROW - 6}"><title>${drawnText(`${formatTimeUs(timeUs, 7)}: ${state}`)}</title></rect>`
    const text =
      b - a > state.length * LETTER + 2 * INSET
        ? `<text x="${coordinate(a + INSET)}" y="${y + ROW / 2 + 4}">${drawnText(state)}</text>`
        : ''
    return [{ box, text }]
  })
}

/** A step line with one low and one high in each pixel at the most. */
function stepPath(
  a: AnalogSignal,
  x: (us: number) => number,
  y: (value: number) => number,
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
    if (!begun) d.push(`M${LEFT} ${coordinate(y(level))}`)
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
  if (!begun) d.push(`M${LEFT} ${coordinate(y(level))}`)
  flush()
  d.push(`H${coordinate(x(toUs))}`)
  return d.join('')
}
