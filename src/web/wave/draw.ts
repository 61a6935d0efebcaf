/**
 * Draws the part of a digital record that is in view. The cost depends on the width of the screen, not on the
 * number of edges: each column asks by bisection which edges it covers.
 */
import { OFF } from '../../signal/index.js'
import { formatByte, formatTimeUs, typeset } from '../../units/index.js'
import { drawHalves, LEAST_HALVES, LETTER } from './draw-halves.js'
import { drawVolts, VOLTS_HEIGHT } from './draw-volts.js'
import { bitsOf, type WaveRecord } from './record.js'
import { lowerBound, type Span, timeStep } from './view.js'

export interface Palette {
  ink: string
  quiet: string
  rule: string
  signal: string
  blue: string
  broken: string
  sheet: string
  met: string
  metSoft: string
}

const AXIS = 22
const LANE = 20
const DIGITAL = 150
const MOST_DIGITAL = 230
/** Edges in a column beyond which they run together. */
const DENSE = 1

/** Least height of the canvas, px: an analog record has its volts below. */
export function leastHeightOf(record: WaveRecord): number {
  return AXIS + 3 * LANE + 14 + DIGITAL + 14 + (record.volts ? VOLTS_HEIGHT : 0)
}

/** What else is drawn over the signal. */
export interface Marks {
  cursors: readonly (number | undefined)[]
  /** The bit that is being read. */
  place?: { fromUs: number; toUs: number } | undefined
}

/**
 * @param near the part in view edge by edge, where `record` keeps less than that.
 */
export function drawWave(
  context: CanvasRenderingContext2D,
  record: WaveRecord,
  near: WaveRecord | undefined,
  span: Span,
  size: { width: number; height: number },
  palette: Palette,
  { cursors, place }: Marks,
): void {
  const { width, height } = size
  const seen = near ?? record
  const x = (us: number) => ((us - span.from) / (span.to - span.from)) * width
  context.fillStyle = palette.sheet
  context.fillRect(0, 0, width, height)
  context.font = '12px ui-monospace, "DejaVu Sans Mono", Consolas, monospace'
  drawAxis(context, span, width, height, palette)
  const top = AXIS + 3 * LANE + 14
  const room = height - top - 14 - (seen.volts ? VOLTS_HEIGHT + 8 : 0)
  const bottom = top + (room < DIGITAL + LEAST_HALVES ? DIGITAL : Math.min(MOST_DIGITAL, room - LEAST_HALVES))
  if (place && place.toUs > span.from && place.fromUs < span.to) {
    const from = Math.max(-2, x(place.fromUs))
    const wide = Math.max(1, Math.min(width + 2, x(place.toUs)) - from)
    context.globalAlpha = 0.16
    context.fillStyle = palette.blue
    context.fillRect(from, AXIS, wide, height - AXIS - 14)
    context.globalAlpha = 1
    context.strokeStyle = palette.blue
    context.strokeRect(from + 0.5, AXIS + 0.5, wide, height - AXIS - 15)
  }
  drawLevels(context, seen, span, width, top, bottom, palette)
  if (bottom + LEAST_HALVES <= top + room)
    drawHalves(context, seen, span, width, bottom + 14, top + room - 6, palette)
  if (seen.volts)
    drawVolts(
      context,
      seen.volts,
      record.at ?? seen.at,
      seen,
      span,
      width,
      height - VOLTS_HEIGHT - 14,
      palette,
    )
  drawPackets(context, seen, x, span, width, palette)
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
    // Not through the words and bits of packets.
    line(context, px, AXIS - 5, px, AXIS)
    line(context, px, AXIS + 3 * LANE + 12, px, height)
    const text = typeset(formatTimeUs(at, digits))
    // At the right edge it is before its line, so that no figure is cut.
    const room = LETTER * text.length + 3
    context.fillText(text, px + room > width ? px - room : px + 3, 13)
  }
}

function drawLevels(
  context: CanvasRenderingContext2D,
  { timesUs, levels, count, lastUs }: WaveRecord,
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
  context.fillStyle = palette.signal
  if (last - first <= width * DENSE && lastUs) {
    // What lies inside an entry is not known: a bar from its first edge to its last.
    context.globalAlpha = 0.75
    for (let i = first; i < Math.min(last + 1, count); i++) {
      const from = (timesUs[i]! - span.from) * scale
      const to = (lastUs[i]! - span.from) * scale
      context.fillRect(from, top, Math.max(1, to - from), bottom - top)
      const next = i + 1 < count ? (timesUs[i + 1]! - span.from) * scale : width
      context.fillRect(to, y(levels[i]!) - 1, next - to, 2)
    }
    context.globalAlpha = 1
  } else if (last - first <= width * DENSE) {
    // Upright and level bars on whole pixels: much quicker than a stroke along them.
    let from = 0
    for (let i = first; i < Math.min(last + 1, count); i++) {
      const px = Math.round(Math.min(width + 2, Math.max(-2, (timesUs[i]! - span.from) * scale)))
      const level = y(levels[i]!)
      if (i > first) {
        const before = y(levels[i - 1]!)
        context.fillRect(from, before - 1, px - from + 1, 2)
        context.fillRect(px, Math.min(before, level) - 1, 2, Math.abs(before - level) + 2)
      }
      from = px
    }
    if (last >= count && count > 0) context.fillRect(from, y(levels[count - 1]!) - 1, 20, 2)
  } else drawDense(context, timesUs, levels, { first, last, from: span.from, scale, width, top, bottom, y })
}

interface Dense {
  first: number
  last: number
  from: number
  scale: number
  width: number
  top: number
  bottom: number
  y: (level: number) => number
}

/** More edges than columns: a column with edges is a bar, one without shows the level. Alike neighbours are one. */
function drawDense(
  context: CanvasRenderingContext2D,
  timesUs: Float64Array,
  levels: Uint8Array,
  { first, last, from, scale, width, top, bottom, y }: Dense,
): void {
  context.globalAlpha = 0.75
  let index = first
  /** -1 for a bar, else the level; of the columns since `since`. */
  let kind = -2
  let since = 0
  const finish = (until: number) => {
    if (kind === -1) context.fillRect(since, top, until - since, bottom - top)
    else if (kind >= 0) context.fillRect(since, y(kind) - 1, until - since, 2)
  }
  for (let px = 0; px < width; px++) {
    const next = lowerBoundFrom(timesUs, index, last, from + (px + 1) / scale)
    const now = next > index ? -1 : index > 0 ? levels[index - 1]! : -2
    if (now !== kind) {
      finish(px)
      kind = now
      since = px
    }
    index = next
  }
  finish(width)
  context.globalAlpha = 1
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
  const { packetStartUs, packetEndUs, packetText, texts, packets, packetValid } = record
  const first = Math.max(0, lowerBound(packetStartUs, packets, span.from) - 1)
  const last = lowerBound(packetStartUs, packets, span.to)
  let busyUntil = -1
  for (let i = first; i < last; i++) {
    const from = Math.max(0, x(packetStartUs[i]!))
    const to = Math.min(width, x(packetEndUs[i]!))
    if (to < from) continue
    if (to < busyUntil) {
      // Thousands may share a column: go on with the first that begins beyond it.
      const beyondUs = span.from + (busyUntil / width) * (span.to - span.from)
      i = Math.max(i, lowerBound(packetStartUs, packets, beyondUs) - 2)
      continue
    }
    context.strokeStyle = packetValid[i] ? palette.blue : palette.broken
    context.fillStyle = packetValid[i] ? palette.blue : palette.broken
    if (to - from < 3) {
      context.fillRect(from, AXIS + 4, 1, LANE - 8)
      busyUntil = from + 1
      continue
    }
    const text = texts[packetText[i]!]!
    context.strokeRect(from + 0.5, AXIS + 1.5, to - from - 1, LANE - 3)
    if (to - from > 30)
      clipped(context, `${packetValid[i] ? '' : '✗ '}${text.hex}`, from + 4, AXIS + 14, to - from - 8)
    context.fillStyle = palette.ink
    if (to - from > 60) clipped(context, text.says, from + 4, AXIS + LANE + 14, to - from - 8)
  }
  // Of some hundred packets at most: each needs room for its bits.
  for (let i = first; i <= Math.min(last, packets - 1); i++) {
    const bits = record.packetEndUs[i]! - record.packetStartUs[i]!
    if ((bits / (span.to - span.from)) * width > 300) drawBits(context, record, i, x, width, palette)
    else if (last - first > width / 100) break
  }
}

/** The bits of one packet over their two halves, and its bytes over their bits. */
function drawBits(
  context: CanvasRenderingContext2D,
  record: WaveRecord,
  packet: number,
  x: (us: number) => number,
  width: number,
  palette: Palette,
): void {
  const bits = bitsOf(record, packet)
  const y = AXIS + 3 * LANE + 9
  context.fillStyle = palette.quiet
  for (const { fromUs, toUs, value } of bits) {
    const centre = (x(fromUs) + x(toUs)) / 2
    if (centre > 0 && centre < width && x(toUs) - x(fromUs) > 7)
      context.fillText(value ? '1' : '0', centre - 4, y)
  }
  const { bytes } = record.texts[record.packetText[packet]!]!
  const data = bits.filter((b) => b.role === 'data')
  context.strokeStyle = palette.rule
  for (let i = 0; i < bytes.length && data.length > 0; i++) {
    const from = Math.max(0, x(data[8 * i]!.fromUs))
    const to = Math.min(width, x(data[8 * i + 7]!.toUs))
    if (to - from < 24) continue
    context.strokeRect(from + 0.5, AXIS + 2 * LANE + 0.5, to - from - 1, LANE - 4)
    const name = i === bytes.length - 1 ? 'error byte' : `byte ${i + 1}`
    context.fillStyle = palette.ink
    clipped(
      context,
      to - from > 130 ? `${formatByte(bytes[i]!)} ${name}` : formatByte(bytes[i]!),
      from + 4,
      AXIS + 2 * LANE + 12,
      to - from - 6,
    )
  }
  const ones = bits.filter((b) => b.role === 'preamble')
  if (ones.length === 0) return
  const from = Math.max(0, x(ones[0]!.fromUs))
  const to = Math.min(width, x(ones.at(-1)!.toUs))
  context.fillStyle = palette.quiet
  if (to - from > 80)
    clipped(
      context,
      `preamble, ${record.packetOnes[packet]} ones`,
      from + 4,
      AXIS + 2 * LANE + 12,
      to - from - 6,
    )
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
  for (let i = firstFrom(findings, span.from); i < findings.length; i++) {
    const finding = findings[i]!
    if (finding.timeUs > span.to) break
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

/** Findings come in the order of time. */
function firstFrom(findings: WaveRecord['findings'], us: number): number {
  let [low, high] = [0, findings.length]
  while (low < high) {
    const middle = (low + high) >>> 1
    if (findings[middle]!.timeUs < us) low = middle + 1
    else high = middle
  }
  return low
}

function clipped(context: CanvasRenderingContext2D, text: string, x: number, y: number, width: number): void {
  const fits = Math.floor(width / LETTER)
  if (fits < 2) return
  const said = typeset(text)
  context.fillText(said.length > fits ? `${said.slice(0, fits - 1)}…` : said, x, y)
}

function line(context: CanvasRenderingContext2D, x1: number, y1: number, x2: number, y2: number): void {
  context.beginPath()
  context.moveTo(Math.round(x1) + 0.5, y1)
  context.lineTo(Math.round(x2) + 0.5, y2)
  context.stroke()
}
