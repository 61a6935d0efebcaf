/** Lowest and highest of what is seen one by one. */
import type { Extremes } from './reading.js'

export function extremes(): Extremes {
  return { count: 0, low: Number.POSITIVE_INFINITY, high: Number.NEGATIVE_INFINITY, lowAtUs: 0, highAtUs: 0 }
}

export function extend(e: Extremes, value: number, atUs: number): void {
  e.count++
  if (value < e.low) {
    e.low = value
    e.lowAtUs = atUs
  }
  if (value > e.high) {
    e.high = value
    e.highAtUs = atUs
  }
}

/** Both together; neither is changed. */
export function joined(a: Extremes, b: Extremes): Extremes {
  return {
    count: a.count + b.count,
    low: Math.min(a.low, b.low),
    high: Math.max(a.high, b.high),
    lowAtUs: a.low <= b.low ? a.lowAtUs : b.lowAtUs,
    highAtUs: a.high >= b.high ? a.highAtUs : b.highAtUs,
  }
}
