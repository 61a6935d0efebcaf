/** The volts of an analog record: samples or their ranges, the levels found in them, and where the edges are. */
import { levelFor, type VoltPyramid } from '../../capture/index.js'
import { formatNumber } from '../../units/index.js'
import type { Palette } from './draw.js'
import type { Levels, WaveRecord } from './record.js'
import { lowerBound, type Span } from './view.js'

/** Room for them below the digital trace, px. */
export const VOLTS_HEIGHT = 240

export function drawVolts(
  context: CanvasRenderingContext2D,
  volts: VoltPyramid,
  at: Levels | undefined,
  { timesUs, count, lastUs }: WaveRecord,
  span: Span,
  width: number,
  from: number,
  palette: Palette,
): void {
  const top = from + 12
  const bottom = from + VOLTS_HEIGHT - 14
  const [least, most] = rangeOf(volts)
  const room = (most - least || 1) * 0.06
  const perVolt = (bottom - top) / (most - least + 2 * room || 1)
  const y = (v: number) => bottom - (v - least + room) * perVolt
  drawGrid(context, least, most, y, width, palette)
  if (at) drawFound(context, at, y, width, palette)
  const level = levelFor(volts, span.to - span.from, width)
  const scale = width / (span.to - span.from)
  const first = Math.max(0, lowerBound(level.timesUs, level.count, span.from) - 1)
  const last = Math.min(level.count, lowerBound(level.timesUs, level.count, span.to) + 1)
  context.strokeStyle = palette.signal
  context.lineWidth = 1.4
  context.beginPath()
  // One stroke down each column that has several values, a line between columns.
  let column = Number.NaN
  let low = 0
  let high = 0
  let pen = false
  const flush = () => {
    if (Number.isNaN(column)) return
    if (pen) context.lineTo(column, y(high))
    else context.moveTo(column, y(high))
    if (high > low) context.lineTo(column, y(low))
    pen = true
  }
  for (let i = first; i < last; i++) {
    const exact = (level.timesUs[i]! - span.from) * scale
    const px = last - first > width ? Math.round(exact) : exact
    if (px === column) {
      low = Math.min(low, level.low[i]!)
      high = Math.max(high, level.high[i]!)
      continue
    }
    flush()
    column = px
    low = level.low[i]!
    high = level.high[i]!
  }
  flush()
  context.stroke()
  context.lineWidth = 1
  context.fillStyle = palette.signal
  if (last - first < width / 6)
    for (let i = first; i < last; i++)
      context.fillRect((level.timesUs[i]! - span.from) * scale - 2, y(level.high[i]!) - 2, 4, 4)
  if (at && !lastUs) drawEdges(context, timesUs, count, y(at.middleVolt), span, width, palette)
}

/** Rings where the edges were found. */
function drawEdges(
  context: CanvasRenderingContext2D,
  timesUs: Float64Array,
  count: number,
  y: number,
  span: Span,
  width: number,
  palette: Palette,
): void {
  const first = lowerBound(timesUs, count, span.from)
  const last = lowerBound(timesUs, count, span.to)
  if (last - first > width / 12) return
  context.strokeStyle = palette.ink
  for (let i = first; i < last; i++) {
    const px = ((timesUs[i]! - span.from) / (span.to - span.from)) * width
    context.beginPath()
    context.arc(px, y, 3.5, 0, 7)
    context.stroke()
  }
}

function drawGrid(
  context: CanvasRenderingContext2D,
  least: number,
  most: number,
  y: (v: number) => number,
  width: number,
  palette: Palette,
): void {
  const rough = (most - least || 1) / 5
  const power = 10 ** Math.floor(Math.log10(rough))
  const step = power * (rough / power > 5 ? 10 : rough / power > 2 ? 5 : rough / power > 1 ? 2 : 1)
  context.fillStyle = palette.quiet
  context.strokeStyle = palette.rule
  for (let n = Math.ceil(least / step); n * step <= most; n++) {
    across(context, y(n * step), width)
    context.fillText(`${formatNumber(n * step, 4)} V`, 4, y(n * step) - 3)
  }
}

function drawFound(
  context: CanvasRenderingContext2D,
  at: Levels,
  y: (v: number) => number,
  width: number,
  palette: Palette,
): void {
  const lines: [number, string, number[]][] = [
    [at.highVolt, 'high', [10, 4]],
    [at.upVolt, 'goes high', [2, 4]],
    [at.middleVolt, 'edge', []],
    [at.downVolt, 'goes low', [2, 4]],
    [at.lowVolt, 'low', [10, 4]],
  ]
  context.strokeStyle = palette.blue
  context.fillStyle = palette.blue
  let busy = Number.NEGATIVE_INFINITY
  for (const [volt, name, dash] of lines) {
    context.setLineDash(dash)
    across(context, y(volt), width)
    const text = `${name} ${formatNumber(volt, 3)} V`
    if (y(volt) - busy > 12) {
      context.fillText(text, Math.max(70, width - 8 - text.length * 7.3), y(volt) - 3)
      busy = y(volt)
    }
  }
  context.setLineDash([])
}

function across(context: CanvasRenderingContext2D, y: number, width: number): void {
  context.beginPath()
  context.moveTo(0, Math.round(y) + 0.5)
  context.lineTo(width, Math.round(y) + 0.5)
  context.stroke()
}

const ranges = new WeakMap<VoltPyramid, [number, number]>()

/** Lowest and highest of all: the scale stays the same at every zoom. */
function rangeOf(volts: VoltPyramid): [number, number] {
  let range = ranges.get(volts)
  if (range) return range
  const { low, high, count } = volts.levels.at(-1)!
  range = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]
  for (let i = 0; i < count; i++) {
    range[0] = Math.min(range[0], low[i]!)
    range[1] = Math.max(range[1], high[i]!)
  }
  ranges.set(volts, range)
  return range
}
