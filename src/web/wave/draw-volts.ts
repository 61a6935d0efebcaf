/** The volts of an analog record: samples or their ranges, the levels found in them, and where the edges are. */
import { levelFor, type PyramidLevel, type VoltPyramid } from '../../capture/index.js'
import { formatNumber, typeset } from '../../units/index.js'
import type { Palette } from './draw.js'
import type { Levels, WaveRecord } from './record.js'
import { lowerBound, type Span } from './view.js'

/** Room for them below the digital trace, px. */
export const VOLTS_HEIGHT = 240

export function drawVolts(
  context: CanvasRenderingContext2D,
  volts: VoltPyramid,
  at: Levels | undefined,
  { timesUs, count, lastUs, voltUnit }: WaveRecord,
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
  const ticks = drawGrid(context, least, most, y, width, palette, voltUnit)
  const level = levelFor(volts, span.to - span.from, width)
  const scale = width / (span.to - span.from)
  const first = Math.max(0, lowerBound(level.timesUs, level.count, span.from) - 1)
  const last = Math.min(level.count, lowerBound(level.timesUs, level.count, span.to) + 1)
  const x = (i: number) => (level.timesUs[i]! - span.from) * scale
  if (last - first > width / 2) drawColumns(context, level, first, last, x, y, palette)
  else {
    context.strokeStyle = palette.signal
    context.fillStyle = palette.signal
    context.lineWidth = 1.4
    context.beginPath()
    for (let i = first; i < last; i++) {
      context.lineTo(x(i), y(level.high[i]!))
      if (level.low[i] !== level.high[i]) context.lineTo(x(i), y(level.low[i]!))
    }
    context.stroke()
    context.lineWidth = 1
    if (last - first < width / 6)
      for (let i = first; i < last; i++) context.fillRect(x(i) - 2, y(level.high[i]!) - 2, 4, 4)
  }
  if (at) drawFound(context, at, y, width, palette)
  for (const [volt, text] of ticks) label(context, text, 4, y(volt) - 3, palette.quiet, palette)
  if (at && !lastUs) drawEdges(context, timesUs, count, y(at.middleVolt), span, width, palette)
}

/** One bar down each column, from the lowest to the highest value in it and on to those of the next. */
function drawColumns(
  context: CanvasRenderingContext2D,
  level: PyramidLevel,
  first: number,
  last: number,
  x: (i: number) => number,
  y: (v: number) => number,
  palette: Palette,
): void {
  context.fillStyle = palette.signal
  context.globalAlpha = 0.75
  let column = Math.floor(x(first))
  let low = level.low[first]!
  let high = level.high[first]!
  for (let i = first + 1; i <= last; i++) {
    const px = i < last ? Math.floor(x(i)) : column + 1
    if (i < last) {
      low = Math.min(low, level.low[i]!)
      high = Math.max(high, level.high[i]!)
    }
    if (px === column) continue
    context.fillRect(column, y(high) - 1, px - column, Math.max(2, y(low) - y(high) + 2))
    if (i === last) break
    column = px
    low = level.low[i]!
    high = level.high[i]!
  }
  context.globalAlpha = 1
}

/** Text that can be read over the signal. */
function label(
  context: CanvasRenderingContext2D,
  text: string,
  x: number,
  y: number,
  colour: string,
  palette: Palette,
): void {
  context.fillStyle = palette.sheet
  context.fillRect(x - 2, y - 11, text.length * 7.3 + 4, 14)
  context.fillStyle = colour
  context.fillText(typeset(text), x, y)
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
  unit: string,
): [number, string][] {
  const ticks: [number, string][] = []
  const rough = (most - least || 1) / 5
  const power = 10 ** Math.floor(Math.log10(rough))
  const step = power * (rough / power > 5 ? 10 : rough / power > 2 ? 5 : rough / power > 1 ? 2 : 1)
  context.strokeStyle = palette.rule
  for (let n = Math.ceil(least / step); n * step <= most; n++) {
    across(context, y(n * step), width)
    ticks.push([n * step, `${formatNumber(n * step, 4)} ${unit}`])
  }
  return ticks
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
      label(context, text, Math.max(70, width - 8 - text.length * 7.3), y(volt) - 3, palette.blue, palette)
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
