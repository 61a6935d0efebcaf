/** Scales: a value on an axis → a place on the drawing, and the round values to label. */

/** Round values at steps of 1, 2 or 5 times a power of ten that cover [min, max] with about `count` steps. */
export function niceTicks(min: number, max: number, count = 6): number[] {
  if (!(Number.isFinite(min) && Number.isFinite(max)) || max < min) return []
  const span = max - min || Math.abs(max) || 1
  const raw = span / Math.max(1, count)
  const power = 10 ** Math.floor(Math.log10(raw))
  const step = power * ([1, 2, 5].find((s) => s * power >= raw * 0.999) ?? 10)
  const first = Math.ceil(min / step - 1e-9)
  const last = Math.floor(max / step + 1e-9)
  const places = Math.max(0, -Math.floor(Math.log10(step)))
  // Rounding to the step's own decimals keeps 0.30000000000000004 off the axis.
  return Array.from({ length: last - first + 1 }, (_, i) =>
    Number(((first + i) * step).toFixed(Math.min(20, places))),
  )
}

/** Powers of ten inside [min, max]; with 2 and 5 times them when fewer than three would show. */
export function logTicks(min: number, max: number): number[] {
  if (!(min > 0) || !Number.isFinite(max) || max < min) return []
  const decades = Math.log10(max) - Math.log10(min)
  const factors = decades < 3 ? [1, 2, 5] : [1]
  const ticks: number[] = []
  const stride = Math.max(1, Math.ceil(decades / 10))
  for (let e = Math.floor(Math.log10(min)); e <= Math.ceil(Math.log10(max)); e += stride)
    for (const f of factors) {
      const value = Number(`${f}e${e}`)
      if (value >= min * 0.999999 && value <= max * 1.000001) ticks.push(value)
    }
  return ticks
}

export interface Scale {
  min: number
  max: number
  ticks: number[]
  /** Place of a value between `from` and `to`; values outside the range are held at the ends. */
  place(value: number, from: number, to: number): number
}

/**
 * A scale over [min, max]. Widened to whole steps when linear; a range of no width gets one.
 * @throws RangeError when a bound is not finite, or not positive on a logarithmic scale.
 */
export function makeScale(kind: 'linear' | 'log', min: number, max: number, count?: number): Scale {
  if (!Number.isFinite(min) || !Number.isFinite(max)) throw new RangeError(`axis from ${min} to ${max}`)
  if (kind === 'log') {
    if (min <= 0) throw new RangeError(`logarithmic axis from ${min}`)
    const low = min
    const high = max > min ? max : min * 10
    const [a, b] = [Math.log10(low), Math.log10(high)]
    return {
      min: low,
      max: high,
      ticks: logTicks(low, high),
      place: (v, from, to) => from + (to - from) * clamp((Math.log10(Math.max(v, 1e-300)) - a) / (b - a)),
    }
  }
  const spread = max > min ? 0 : Math.abs(max) || 1
  const inner = niceTicks(min, max + spread, count)
  const step = inner.length > 1 ? inner[1]! - inner[0]! : max + spread - min
  const low = Math.floor(min / step + 1e-9) * step
  const high = Math.ceil((max + spread) / step - 1e-9) * step
  return {
    min: low,
    max: high,
    ticks: niceTicks(low, high, Math.round((high - low) / step)),
    place: (v, from, to) => from + (to - from) * clamp((v - low) / (high - low)),
  }
}

function clamp(share: number): number {
  return Math.min(1, Math.max(0, share))
}
