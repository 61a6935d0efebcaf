/** The length of each half in view, against the windows of ones and zeros. */
import { OFF } from '../../signal/index.js'
import { formatNumber, typeset } from '../../units/index.js'
import type { Palette } from './draw.js'
import type { WaveRecord } from './record.js'
import { lowerBound, type Span } from './view.js'

/** Less room than this, px, is left to the trace. */
export const LEAST_HALVES = 90

/** Lower than this, px, the limits would lie on each other. */
const LEAST_NAMED = 150

/** Width of a letter, px: all are as wide, and an SVG cannot measure them. */
export const LETTER = 7.3

/** Drawn from this length to that, us, by its logarithm: a stretched zero and a glitch are at the rims. */
const FROM_US = 46
const TO_US = 140

export function drawHalves(
  context: CanvasRenderingContext2D,
  { timesUs, levels, count, lastUs, limits }: WaveRecord,
  span: Span,
  width: number,
  top: number,
  bottom: number,
  palette: Palette,
): void {
  const y = (us: number) => {
    // Its lowest strip is for the legend.
    const share = Math.log(Math.min(TO_US, Math.max(FROM_US, us)) / FROM_US) / Math.log(TO_US / FROM_US)
    return bottom - 16 - share * (bottom - 16 - top)
  }
  const windows = [limits.one, limits.zero].map(({ sender, receiver }) => ({
    min: sender.min ?? FROM_US,
    max: sender.max ?? TO_US,
    accepts: [receiver?.min, receiver?.max].filter((us) => us !== undefined && us < TO_US) as number[],
  }))
  for (const { min, max, accepts } of windows) {
    context.fillStyle = palette.metSoft
    context.fillRect(0, y(max), width, y(min) - y(max))
    context.strokeStyle = palette.met
    level(context, y(min), width)
    if (max < TO_US) level(context, y(max), width)
    context.setLineDash([4, 4])
    for (const us of accepts) level(context, y(us), width)
    context.setLineDash([])
  }
  const first = Math.max(0, lowerBound(timesUs, count, span.from) - 1)
  const last = Math.min(count - 1, lowerBound(timesUs, count, span.to))
  const scale = width / (span.to - span.from)
  const isCoarse = lastUs !== undefined || last - first > width
  if (!isCoarse)
    for (let i = first; i < last; i++) {
      if (levels[i] === OFF) continue
      const long = timesUs[i + 1]! - timesUs[i]!
      const x = (timesUs[i]! + long / 2 - span.from) * scale
      const isAllowed = windows.some(({ min, max }) => long >= min && long <= max)
      context.fillStyle = isAllowed ? palette.met : palette.broken
      if (isAllowed) context.fillRect(x - 2, y(long) - 2, 4, 4)
      else {
        context.strokeStyle = palette.broken
        context.beginPath()
        context.moveTo(x - 4, y(long) - 4)
        context.lineTo(x + 4, y(long) + 4)
        context.moveTo(x - 4, y(long) + 4)
        context.lineTo(x + 4, y(long) - 4)
        context.stroke()
      }
    }
  if (bottom - top >= LEAST_NAMED)
    for (const us of windows.flatMap(({ min, max }) => [min, max])) {
      if (us >= TO_US) continue
      const text = `${formatNumber(us, 4)} us`
      named(context, text, width - text.length * LETTER - 6, y(us), palette.met, palette)
    }
  const [one, zero] = windows.map(
    ({ min, max }) =>
      `${formatNumber(min, 4)} ${max < TO_US ? `to ${formatNumber(max, 4)} us` : 'us or more'}`,
  )
  const lengths = isCoarse ? 'zoom in to see it' : `ones ${one}, zeros ${zero}`
  const says = `length of each half: ${lengths}`
  // A phone has room for the lengths alone.
  named(context, says.length * LETTER < width - 8 ? says : lengths, 4, bottom - 7, palette.quiet, palette)
}

function level(context: CanvasRenderingContext2D, y: number, width: number): void {
  context.beginPath()
  context.moveTo(0, Math.round(y) + 0.5)
  context.lineTo(width, Math.round(y) + 0.5)
  context.stroke()
}

/** On ground of its own, so that no line strikes it. */
function named(
  context: CanvasRenderingContext2D,
  text: string,
  x: number,
  y: number,
  colour: string,
  palette: Palette,
): void {
  context.fillStyle = palette.sheet
  context.fillRect(x - 3, y - 7, text.length * 7.3 + 6, 14)
  context.fillStyle = colour
  context.fillText(typeset(text), x, y + 4)
}
