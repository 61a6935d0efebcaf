/** What a supply does when more is asked of it at power-up than it gives. */
import type { SupplyDesign } from './design/index.js'
import { type InrushPoint, timeAboveUs } from './inrush.js'
import { hasNoLimit } from './supply-behaviour.js'

/** Supplies whose control holds the current; a hiccup supply does so while it delivers. */
export function holds({ limit }: SupplyDesign): boolean {
  return limit === 'constant' || limit === 'hiccup' || limit === 'foldback'
}

/**
 * Whether the supply comes up. Constant current always does, later. A foldback supply hangs where its current at a low
 * voltage is less than what runs. A hiccup supply must have the capacitors charged before it switches off.
 */
export function startMargin(
  supply: SupplyDesign,
  points: readonly InrushPoint[],
  runningAmp: number,
  v: { limit: number; shortCurrent: number; hiccupOn: number },
): number {
  if (hasNoLimit(supply.limit) || supply.limit === 'constant') return 1
  const peakAmp = peakOf(points)
  if (supply.limit === 'unknown') {
    // Beyond its rating nobody can tell what it does.
    return peakAmp <= supply.rating ? 1 - peakAmp / supply.rating : -0.01
  }
  if (peakAmp < v.limit * (1 - 1e-9)) return 1 - peakAmp / v.limit
  if (supply.limit === 'foldback') return v.shortCurrent > 0 ? 1 - runningAmp / v.shortCurrent : -1
  const us = timeAboveUs(points, v.limit * (1 - 1e-6))
  return v.hiccupOn > 0 ? Math.max(-1, 1 - us / v.hiccupOn) : -1
}

export function peakOf(points: readonly InrushPoint[]): number {
  return points.reduce((most, p) => Math.max(most, p.amp), 0)
}
