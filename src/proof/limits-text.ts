/** Limits in words, with their unit. */
import type { Limits } from '../standard/index.js'
import { formatRange } from '../units/index.js'

/** What is asked: `55 to 61 us`, `at least 14 bits`, `at most 12 ms`; empty where nothing is. */
export function limitsText(limits: Limits, clauseUnit: string): string {
  // People read shares as percent.
  const share = clauseUnit === 'share'
  const [min, max] = [limits.min, limits.max].map((x) => (x === undefined || !share ? x : 100 * x))
  // What a design's own voltage limits has more digits than anyone reads.
  const said = (low: number, high: number) => formatRange(low, high, share ? '%' : clauseUnit, 6)
  if (min !== undefined && max !== undefined) return said(min, max)
  if (min !== undefined) return `at least ${said(min, min)}`
  return max === undefined ? '' : `at most ${said(max, max)}`
}
