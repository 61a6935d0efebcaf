/**
 * Draws the part of a digital record that is in view. The cost depends on the width of the screen, not on the
 * number of edges: each column asks by bisection which edges it covers.
 */
import { OFF } from '../../signal/index.js'
import { formatTimeUs } from '../../units/index.js'
import { lowerBound, type Span, timeStep } from './view.js'

/** A record as the worker hands it over: times in us. */
export interface WaveRecord {
  timesUs: Float64Array
  levels: Uint8Array
  count: number
  /** Packets in time order: start bit, end, index into `says`. */
  packetStartUs: Float64Array
  packetEndUs: Float64Array
  packetSays: string[]
  packetHex: string[]
  packetValid: Uint8Array
  findings: { timeUs: number; clause: string; text: string }[]
}

export interface Palette {
  ink: string
  quiet: string
  rule: string
  signal: string
  blue: string
  broken: string
  sheet: string
}

const AXIS = 22
const LANE = 20

/** One half-bit in view, for labels and for what hovering says. */
export interface BitMark {
  fromUs: number
  toUs: number
  text: string
}

export function drawWave(
  context: CanvasRenderingContext2D,
  record: WaveRecord,
  span: Span,
  size: { width: number; height: number },
  palette: Palette,
  cursors: readonly (number | undefined)[],
): void {
  const { width, height } = size
  const x = (us: number) => ((us - span.from) / (span.to - span.from)) * width
  context.clearRect(0, 0, width, height)
  context.font = '12px ui-monospace, "DejaVu Sans Mono", Consolas, monospace'
  drawAxis(context, span, width, height, palette)
  const top = AXIS + 2 * LANE + 10
  const bottom = height - 14
  drawLevels(context, record, span, width, top, bottom, palette)
  drawPackets(context, record, x, span, width, palette)
  drawFindings(context, record, x, span, width, height, palette)
  cursors.forEach((at, index) => {
    if (at === undefined || at < span.from || at > span.to) return
    context.strokeStyle = palette.blue
    context.setLineDash(index === 0 ? [6, 3] : [2, 3])
    line(context, x(at), AXIS, x(at), height)
    context.setLineDash([])
    context.fillStyle = palette.blue
    context.fillText(index === 0 ? 'A' : 'B', x(at) + 3, height - 2)
  })
}

function drawAxis(
  context: CanvasRenderingContext2D,
  span: Span,
  width: number,
  height: number,
  palette: Palette,
): void {
  const step = timeStep(span.to - span.from, Math.max(2, width / 130))
  context.fillStyle = palette.quiet
  context.strokeStyle = palette.rule
  const digits = Math.min(15, Math.max(4, Math.ceil(Math.log10(Math.max(1, Math.abs(span.to) / step))) + 1))
  for (let at = Math.ceil(span.from / step) * step; at <= span.to; at += step) {
    const px = ((at - span.from) / (span.to - span.from)) * width
    line(context, px, AXIS - 5, px, height)
    context.fillText(formatTimeUs(at, digits), px + 3, 13)
  }
}

function drawLevels(
  context: CanvasRenderingContext2D,
  { timesUs, levels, count }: WaveRecord,
  span: Span,
  width: number,
  top: number,
  bottom: number,
  palette: Palette,
): void {
  const middle = (top + bottom) / 2
  const y = (level: number) => (level === OFF ? middle : level === 1 ? top : bottom)
  const scale = width / (span.to - span.from)
  const first = Math.max(0, lowerBound(timesUs, count, span.from) - 1)
  const last = lowerBound(timesUs, count, span.to)
  context.strokeStyle = palette.signal
  context.fillStyle = palette.signal
  context.lineWidth = 1.6
  if (last - first <= width * 1.5) {
    context.beginPath()
    for (let i = first; i < Math.min(last + 1, count); i++) {
      const px = (timesUs[i]! - span.from) * scale
      if (i > first) context.lineTo(px, y(levels[i - 1]!))
      else context.moveTo(px, y(levels[i]!))
      context.lineTo(px, y(levels[i]!))
    }
    context.stroke()
  } else {
    // More edges than columns: a column with edges is a bar, one without shows the level.
    let index = first
    context.globalAlpha = 0.75
    // Neighbouring columns that look alike are drawn as one.
    let barFrom = -1
    for (let px = 0; px < width; px++) {
      const until = span.from + (px + 1) / scale
      const next = lowerBoundFrom(timesUs, index, last, until)
      if (next > index) {
        if (barFrom < 0) barFrom = px
      } else {
        if (barFrom >= 0) context.fillRect(barFrom, top, px - barFrom, bottom - top)
        barFrom = -1
        if (index > 0) context.fillRect(px, y(levels[index - 1]!) - 1, 1, 2)
      }
      index = next
    }
    if (barFrom >= 0) context.fillRect(barFrom, top, width - barFrom, bottom - top)
    context.globalAlpha = 1
  }
  context.lineWidth = 1
}

/** As {@link lowerBound} but gallops from a known start: neighbours ask for neighbours. */
function lowerBoundFrom(list: Float64Array, from: number, to: number, value: number): number {
  let step = 1
  let low = from
  while (low + step < to && list[low + step]! < value) {
    low += step
    step *= 2
  }
  let high = Math.min(to, low + step)
  if (low < to && list[low]! >= value) return low
  while (low < high) {
    const middle = (low + high) >>> 1
    if (list[middle]! < value) low = middle + 1
    else high = middle
  }
  return low
}

function drawPackets(
  context: CanvasRenderingContext2D,
  record: WaveRecord,
  x: (us: number) => number,
  span: Span,
  width: number,
  palette: Palette,
): void {
  const { packetStartUs, packetEndUs, packetSays, packetHex, packetValid } = record
  const count = packetSays.length
  const first = Math.max(0, lowerBound(packetStartUs, count, span.from) - 1)
  const last = lowerBound(packetStartUs, count, span.to)
  let busyUntil = -1
  for (let i = first; i < last; i++) {
    const from = Math.max(0, x(packetStartUs[i]!))
    const to = Math.min(width, x(packetEndUs[i]!))
    if (to < from) continue
    if (to < busyUntil) {
      // Thousands may share a column: go on with the first that begins beyond it.
      const beyondUs = span.from + (busyUntil / width) * (span.to - span.from)
      i = Math.max(i, lowerBound(packetStartUs, count, beyondUs) - 2)
      continue
    }
    context.strokeStyle = packetValid[i] ? palette.blue : palette.broken
    context.fillStyle = packetValid[i] ? palette.blue : palette.broken
    if (to - from < 3) {
      context.fillRect(from, AXIS + 4, 1, LANE - 8)
      busyUntil = from + 1
      continue
    }
    context.strokeRect(from + 0.5, AXIS + 1.5, to - from - 1, LANE - 3)
    if (to - from > 30)
      clipped(context, `${packetValid[i] ? '' : '✗ '}${packetHex[i]}`, from + 4, AXIS + 14, to - from - 8)
    context.fillStyle = palette.ink
    if (to - from > 60) clipped(context, packetSays[i]!, from + 4, AXIS + LANE + 14, to - from - 8)
    if (to - from > 300) drawBits(context, record, packetStartUs[i]!, packetEndUs[i]!, x, width, palette)
  }
}

/** The bits of one packet, each over its two halves. */
export function bitsOf(record: WaveRecord, fromUs: number, toUs: number): BitMark[] {
  const { timesUs, count } = record
  const marks: BitMark[] = []
  let index = lowerBound(timesUs, count, fromUs - 0.01)
  for (let bit = 0; index + 2 < count && timesUs[index]! < toUs - 1; bit++, index += 2) {
    const half = timesUs[index + 1]! - timesUs[index]!
    const value = half < 77 ? '1' : '0'
    const place = bit % 9
    const byte = Math.floor(bit / 9) + 1
    const isEnd = timesUs[index + 2]! >= toUs - 1
    const role = isEnd
      ? 'end bit'
      : place === 0
        ? `start bit of byte ${byte}`
        : `bit ${8 - place} of byte ${byte}`
    const other = timesUs[index + 2]! - timesUs[index + 1]!
    const halves = `halves ${half.toFixed(2)} and ${other.toFixed(2)} us`
    marks.push({ fromUs: timesUs[index]!, toUs: timesUs[index + 2]!, text: `${value}: ${role}, ${halves}` })
  }
  return marks
}

function drawBits(
  context: CanvasRenderingContext2D,
  record: WaveRecord,
  fromUs: number,
  toUs: number,
  x: (us: number) => number,
  width: number,
  palette: Palette,
): void {
  context.fillStyle = palette.quiet
  for (const mark of bitsOf(record, fromUs, toUs)) {
    const centre = (x(mark.fromUs) + x(mark.toUs)) / 2
    if (centre > 0 && centre < width) context.fillText(mark.text[0]!, centre - 4, AXIS + 2 * LANE + 8)
  }
}

function drawFindings(
  context: CanvasRenderingContext2D,
  { findings }: WaveRecord,
  x: (us: number) => number,
  span: Span,
  width: number,
  height: number,
  palette: Palette,
): void {
  context.fillStyle = palette.broken
  let busy = -20
  for (const finding of findings) {
    if (finding.timeUs < span.from || finding.timeUs > span.to) continue
    const px = x(finding.timeUs)
    if (px - busy < 6 || px > width) continue
    busy = px
    context.beginPath()
    context.moveTo(px, height - 12)
    context.lineTo(px - 6, height - 1)
    context.lineTo(px + 6, height - 1)
    context.fill()
  }
}

function clipped(context: CanvasRenderingContext2D, text: string, x: number, y: number, width: number): void {
  const fits = Math.floor(width / 7.3)
  if (fits < 2) return
  context.fillText(text.length > fits ? `${text.slice(0, fits - 1)}…` : text, x, y)
}

function line(context: CanvasRenderingContext2D, x1: number, y1: number, x2: number, y2: number): void {
  context.beginPath()
  context.moveTo(Math.round(x1) + 0.5, y1)
  context.lineTo(Math.round(x2) + 0.5, y2)
  context.stroke()
}
