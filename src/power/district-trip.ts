/** A district's protection: from which current it trips, and how long that takes from soonest to latest. */
import { controllerPin, pinsServing } from './driver-pins.js'
import { ONE_SIDED_FILTER_US, thresholdFor } from './sense.js'
import { chainOf, type DistrictStage, holdsItsLimit, ownLimit } from './stage.js'
import { type TripSettings, type TripTime, tripTime } from './trip.js'
import { tripNoise } from './trip-noise.js'

/** How far a clock may be off either way, as a share, and where that comes from. */
export interface ClockShare {
  share: number
  says: string
}

export interface DistrictTrip {
  by: 'sense' | 'breaker' | 'driver'
  /** Threshold with its errors, A. */
  nominalAmp: number
  lowAmp: number
  highAmp: number
  /** From which tolerances the band comes, in words. */
  bandFrom: string
  /** The count to compare with, over a current sense. */
  count?: number
  reachable: boolean
  /** Why it is not reachable. */
  because?: string
  /** Why no current may reach the threshold for certain. */
  saturates?: string
  /** Right after switching on nothing trips for so long, us. */
  blankingUs: number
  /**
   * Latest time until a sudden, lasting current is off, us, for a part that trips at `thresholdAmp` with a delay of
   * `delayUs`: right after switching on, with blanking and empty filters.
   * @param period length of a clock period against the nominal one; the longest it may be when absent
   */
  latestUs(amp: number, thresholdAmp: number, delayUs: number, period?: number): number
  /** Soonest, while `beforeAmp` flowed before. */
  soonestUs(amp: number, beforeAmp: number, thresholdAmp: number, delayUs: number, period?: number): number
  /** Clock that counts its samples and delays: how far a period may be off either way, as a share. */
  clock?: ClockShare
  /** Delay of breaker, driver or firmware after the decision, us. */
  delayUs: { low: number; usual: number; high: number }
  /** Of it, what passes at the least, us: firmware may be quicker than the design allows it. */
  leastDelayUs: number
  /** The same from the soonest to the latest over the whole band; Infinity when it does not trip for certain. */
  timeUs(amp: number, beforeAmp: number): TripTime
  /** The settings at the highest threshold, and at the lowest, for other waves; over a current sense. */
  settings?: { latest: TripSettings; soonest: TripSettings; nominal: TripSettings }
}

const NEVER = Number.POSITIVE_INFINITY

/** @returns `undefined` when the design gives no trip, or not all it takes to work it out. */
export function districtTrip(stage: DistrictStage): DistrictTrip | undefined {
  const { trip } = stage.district
  if (!trip) return undefined
  return trip.by === 'sense' ? senseTrip(stage, trip) : steadyTrip(stage, trip)
}

type Trip = NonNullable<DistrictStage['district']['trip']>

function senseTrip(stage: DistrictStage, trip: Trip): DistrictTrip | undefined {
  const { sense } = stage.district
  const chain = chainOf(stage)
  if (!sense || !chain) return undefined
  const threshold = thresholdFor(chain, trip.current)
  const blind = sense.sees === 'one' && sense.filter < ONE_SIDED_FILTER_US
  const settings = (thresholdAmp: number): TripSettings => ({
    thresholdAmp,
    filterUs: sense.filter,
    samplePeriodUs: 1e6 / sense.rate,
    average: trip.average,
    smoothing: trip.smoothing,
    samples: trip.samples,
    of: Math.max(trip.samples, trip.of ?? trip.samples),
    afterUs: trip.after,
    blankingUs: 0,
  })
  const noise = tripNoise(sense, trip, chain.voltPerAmp)
  const lowAmp = Math.max(0, threshold.lowAmp - noise.belowAmp)
  const highAmp = threshold.highAmp + noise.aboveAmp
  const switches = canSwitchOff(stage)
  const reachable = threshold.reachable && !blind && switches
  const { saturates } = threshold
  const because = blind
    ? `the current sense sees one polarity only, and without a filter of ${ONE_SIDED_FILTER_US} us or more a sample meets it by chance`
    : threshold.reachable
      ? switches
        ? undefined
        : 'no pin of the controller can switch the driver off: its enable inputs are tied, and one input alone tells the polarity'
      : 'its threshold lies beyond the range of the current sense'
  // The converter reads no more than its range, which slows averages down.
  const seen = (amp: number) => Math.min(amp, Math.max(chain.rangeAmp, highAmp))
  const { clock } = stage
  /** The firmware counts samples, delay and blanking by its clock; the filter does not. */
  const clocked = (s: TripSettings, period: number): TripSettings => ({
    ...s,
    samplePeriodUs: s.samplePeriodUs * period,
    afterUs: s.afterUs * period,
    blankingUs: (s.blankingUs ?? 0) * period,
  })
  const slow = 1 + (clock?.share ?? 0)
  const fast = 1 - (clock?.share ?? 0)
  const latestUs: DistrictTrip['latestUs'] = (amp, thresholdAmp, afterUs, period = slow) =>
    reachable
      ? tripTime(
          seen(amp),
          0,
          clocked({ ...settings(thresholdAmp), afterUs, blankingUs: trip.blanking }, period),
        ).worstUs + noise.heldUpUs(amp - thresholdAmp + noise.aboveAmp)
      : NEVER
  const soonestUs: DistrictTrip['soonestUs'] = (amp, beforeAmp, thresholdAmp, afterUs, period = fast) =>
    reachable
      ? tripTime(seen(amp), beforeAmp, clocked({ ...settings(thresholdAmp), afterUs }, period)).bestUs
      : NEVER
  return {
    by: 'sense',
    nominalAmp: threshold.amp,
    lowAmp,
    highAmp,
    ...(saturates ? { saturates } : {}),
    bandFrom:
      saturates ??
      `tolerance${sense.noise > 0 ? ', noise' : ''} and offset of its current sense: ± ${Math.round(chain.gainError * 1000) / 10} %`,
    count: threshold.count,
    reachable,
    ...(because === undefined ? {} : { because }),
    blankingUs: trip.blanking,
    delayUs: { low: trip.after, usual: trip.after, high: trip.after },
    leastDelayUs: 0,
    latestUs,
    soonestUs,
    timeUs: (amp, beforeAmp) => ({
      bestUs: soonestUs(amp, beforeAmp, lowAmp, trip.after),
      worstUs: latestUs(amp, highAmp, trip.after),
    }),
    ...(clock ? { clock } : {}),
    settings: {
      latest: clocked({ ...settings(highAmp), blankingUs: trip.blanking }, slow),
      soonest: clocked(settings(lowAmp), fast),
      nominal: settings(threshold.amp),
    },
  }
}

/** Firmware switches a driver off by an enable or brake input, or by the same level at both inputs of a bridge. */
function canSwitchOff(stage: DistrictStage): boolean {
  const pins = pinsServing(stage)
  const polarity = pins.filter((p) => p.role === 'direction' || p.role === 'inverted')
  // What nobody named is for the clauses about inputs.
  if (polarity.length === 0) return true
  const off = pins.some((p) => (p.role === 'enable' || p.role === 'brake') && controllerPin(p) !== undefined)
  return off || new Set(polarity.flatMap((p) => controllerPin(p) ?? [])).size > 1
}

/** A breaker, or the driver's own limit: a threshold and a delay, each with its spread. */
function steadyTrip(stage: DistrictStage, trip: Trip): DistrictTrip | undefined {
  const own = ownLimit(stage)
  if (trip.by === 'driver' && !own) return undefined
  const band =
    trip.by === 'driver'
      ? own!
      : {
          low: trip.current * (1 - trip.tolerance),
          usual: trip.current,
          high: trip.current * (1 + trip.tolerance),
          source: `tolerance of its breaker: ± ${Math.round(trip.tolerance * 1000) / 10} %`,
        }
  const after = trip.by === 'driver' ? (stage.model.limitUs ?? trip.after) : trip.after
  const spread = trip.by === 'driver' ? 0 : trip.afterTolerance
  const delayUs = { low: after * (1 - spread), usual: after, high: after * (1 + spread) }
  const holds = trip.by === 'driver' && holdsItsLimit(stage.model)
  const latestUs: DistrictTrip['latestUs'] = (amp, thresholdAmp, delay) =>
    amp >= thresholdAmp && !holds ? trip.blanking + delay : NEVER
  const soonestUs: DistrictTrip['soonestUs'] = (amp, _before, thresholdAmp, delay) =>
    amp >= thresholdAmp && !holds ? delay : NEVER
  return {
    by: trip.by,
    nominalAmp: band.usual,
    lowAmp: band.low,
    highAmp: band.high,
    bandFrom: band.source,
    reachable: !holds,
    ...(holds ? { because: 'at its own limit the driver holds the current and never switches off' } : {}),
    blankingUs: trip.blanking,
    delayUs,
    leastDelayUs: delayUs.low,
    latestUs,
    soonestUs,
    timeUs: (amp, beforeAmp) => ({
      bestUs: soonestUs(amp, beforeAmp, band.low, delayUs.low),
      worstUs: latestUs(amp, band.high, delayUs.high),
    }),
  }
}
