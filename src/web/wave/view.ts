/** What part of a record is seen, and how it moves. Pure, so that it can be tested without a screen. */

/** Times in us; `from` < `to`. */
export interface Span {
  from: number
  to: number
}

/** Nothing is gained below a nanosecond across the whole screen, nor beyond a day. */
const SHORTEST_US = 0.001
const LONGEST_US = 86_400e6

/** Zoom by a factor around a time that stays where it is; factor < 1 goes nearer. */
export function zoom(span: Span, factor: number, aroundUs: number, whole: Span): Span {
  const width = clamp(
    (span.to - span.from) * factor,
    SHORTEST_US,
    Math.min(LONGEST_US, (whole.to - whole.from) * 1.2),
  )
  const share = (aroundUs - span.from) / (span.to - span.from)
  return keepNear({ from: aroundUs - share * width, to: aroundUs + (1 - share) * width }, whole)
}

export function pan(span: Span, byUs: number, whole: Span): Span {
  return keepNear({ from: span.from + byUs, to: span.to + byUs }, whole)
}

/** Bring a time into view, a quarter from the left, at a width of at most `widthUs`. */
export function show(span: Span, atUs: number, widthUs: number, whole: Span): Span {
  const width = Math.min(span.to - span.from, widthUs)
  return keepNear({ from: atUs - width / 4, to: atUs + (width * 3) / 4 }, whole)
}

/** At least a sliver of the record stays in view. */
function keepNear(span: Span, whole: Span): Span {
  const width = span.to - span.from
  const from = clamp(span.from, whole.from - width * 0.9, whole.to - width * 0.1)
  return { from, to: from + width }
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(Math.max(value, low), Math.max(low, high))
}

/** Index of the first entry of an ascending list at or after `value`. */
export function lowerBound(list: ArrayLike<number>, count: number, value: number): number {
  let low = 0
  let high = count
  while (low < high) {
    const middle = (low + high) >>> 1
    if (list[middle]! < value) low = middle + 1
    else high = middle
  }
  return low
}

/** Round steps for an axis of times: 1, 2, 5 times a power of ten, about `wanted` of them. */
export function timeStep(widthUs: number, wanted: number): number {
  const rough = widthUs / Math.max(1, wanted)
  const power = 10 ** Math.floor(Math.log10(rough))
  const lead = rough / power
  return power * (lead > 5 ? 10 : lead > 2 ? 5 : lead > 1 ? 2 : 1)
}
