/** What a trip makes of the current at power-up. */
import type { DistrictTrip } from './district-trip.js'
import { type Inrush, timeAboveUs, waveOf } from './inrush.js'
import { tripAtUs } from './trip.js'

/** Threshold, A, delay, us, and length of a clock period against the nominal one. */
interface Corner {
  trip: number
  delay: number
  clock: number
}

/** When it trips for a part with this threshold and delay, us. */
export function tripsAt(
  trip: DistrictTrip,
  found: Inrush,
  { trip: thresholdAmp, delay: delayUs, clock }: Corner,
): number {
  if (found.peakAmp < thresholdAmp) return Number.POSITIVE_INFINITY
  const until = Number.isFinite(found.lastsUs) ? found.lastsUs : found.points.at(-1)!.us
  if (!trip.settings) {
    const above = timeAboveUs(found.points, thresholdAmp)
    return above - trip.blankingUs > delayUs ? trip.blankingUs + delayUs : Number.POSITIVE_INFINITY
  }
  const { samplePeriodUs, afterUs } = trip.settings.nominal
  const s = {
    ...trip.settings.nominal,
    thresholdAmp,
    samplePeriodUs: samplePeriodUs * clock,
    afterUs: afterUs * clock,
    blankingUs: trip.blankingUs * clock,
  }
  const lag = lagOf(s)
  // The current only falls: once filter and averages have followed it below the threshold, nothing trips any more.
  const last = timeAboveUs(found.points, thresholdAmp) + 8 * lag + s.samplePeriodUs * (s.of + 2)
  return tripAtUs(waveOf(found.points), 0, s, 0, Math.min(until, last))
}

function lagOf(s: { filterUs: number; samplePeriodUs: number; average: number; smoothing: number }): number {
  return 4 * s.filterUs + s.samplePeriodUs * (s.average - 1) + (4 * s.samplePeriodUs) / s.smoothing
}

/** How much sooner than it would trip the current is back below the threshold, as a share of the trip time. */
export function roomOf(trip: DistrictTrip, found: Inrush, v: Corner): number {
  const above = timeAboveUs(found.points, v.trip)
  const needs = trip.blankingUs + trip.soonestUs(found.peakAmp, 0, v.trip, v.delay, v.clock)
  return Number.isFinite(needs) && needs > 0 ? Math.min(1, 1 - above / needs) : 1
}

export function blankingFor(trip: DistrictTrip, found: Inrush): number {
  const above = timeAboveUs(found.points, trip.lowAmp)
  if (above === 0) return 0
  if (!trip.settings) return Math.max(0, above - trip.timeUs(trip.highAmp, 0).bestUs)
  const s = trip.settings.soonest
  return above + (s.filterUs + (s.average - 1) + (1 / s.smoothing - 1) > 0 ? lagOf(s) : 0)
}
