/** Defaults that follow from the answers before them. */
import { driverPart } from '../power/index.js'
import { profileOf, rmsCeilingVolt, SCALES, type Scale } from '../standard/index.js'
import { formatNumber } from '../units/index.js'
import type { Settled } from './answers.js'
import { SCALE_CURRENT, SCALE_SUPPLY_VOLT, TRAIN_KINDS } from './parts.data.js'
import { shapeOf } from './shapes.data.js'

/** A length at 1:87 in another scale, mm. */
export const scaled = (mm: number, scale: Scale) => (mm * 87) / SCALES[scale].ratio

/** As many of the usual trains as the supply carries with room for its trip, at least the smallest. */
export function usualTrains(a: Settled): ReadonlyMap<string, number> {
  const times = SCALE_CURRENT[a.scale ?? 'H0']
  // The trip is above the worst load, one of them stalled, and the supply gives more than trips it.
  const mostAmp = (a.rating ?? 3) * 0.55
  const trains = new Map<string, number>()
  let sumAmp = 0
  let stalledAmp = 0
  for (const [id, count] of shapeOf(a.shape ?? 'oval').usualTrains) {
    const kind = TRAIN_KINDS.find((k) => k.id === id)!
    const each = (kind.runningAmp + kind.lightsAmp + kind.soundAmp) * times
    const stalled = Math.max(stalledAmp, (kind.stallAmp - kind.runningAmp) * times)
    const fit = Math.min(count, Math.floor((mostAmp - stalled - sumAmp) / each))
    if (fit < 1) continue
    trains.set(id, fit)
    sumAmp += fit * each
    stalledAmp = stalled
  }
  return trains.size > 0 ? trains : new Map([['shunter', 1]])
}

/** What suits the scale: below the ceiling that some editions have for it, and within what the driver stands. */
export function usualVolt(a: Settled): number {
  const scale = a.scale ?? 'H0'
  const profile = a.profile ?? 'nmra'
  const { edition } = profileOf({ profile, scale, cutout: false })
  const ceiling = rmsCeilingVolt({ profile, edition, scale }) ?? Number.POSITIVE_INFINITY
  const most = driverPart(a.driver ?? 'DRV8874')?.figures.supplyMaxVolt?.value ?? Number.POSITIVE_INFINITY
  const least = driverPart(a.driver ?? 'DRV8874')?.figures.supplyMinVolt?.value ?? 0
  const volt = Math.min(
    SCALE_SUPPLY_VOLT[scale] + (a.driver === 'L298' ? 3 : 0),
    ceiling / 1.035,
    most / 1.035,
  )
  return Math.floor(Math.max(volt, least * 1.035) * 2) / 2
}

/**
 * Enough for a few trains of the scale, and no more than the driver follows: at its limit, which lies up to a fifth
 * above its rating, a supply still gives no more than the driver carries.
 */
export function usualRating(a: Settled): number {
  const figures = driverPart(a.driver ?? 'DRV8874')?.figures
  const carries = figures?.continuousAmp?.value ?? figures?.peakAmp?.value ?? 3
  // A bipolar bridge gets too hot long before its rating.
  const share = driverPart(a.driver ?? 'DRV8874')?.kind === 'bipolar' ? 0.6 : 1
  const wanted = 3 * Math.max(0.5, Math.min(1.6, SCALE_CURRENT[a.scale ?? 'H0']))
  return (
    [5, 4, 3, 2.5, 2, 1.5, 1].find(
      (r) => r <= wanted && r * (figures?.continuousAmp ? 1 : 1.22) <= carries * share,
    ) ?? 1
  )
}

export function metres(mm: number): string {
  const round = mm >= 1000 ? Math.round(mm / 50) * 50 : Math.round(mm / 10) * 10
  return round >= 1000 ? `${formatNumber(round / 1000, 4)} m` : `${round} mm`
}
