/**
 * A short at the terminals, over everything that is uncertain about source and trip. It must trip in every corner,
 * before the supply switches off by itself and before driver or wire come to harm; right after switching on the
 * trip's blanking counts too, for that is when a short is most likely met.
 */
import { type CornerQuestion, searchCorners, type Values } from '../corner/index.js'
import { formatSi } from '../units/index.js'
import { dropVolt, onOhm } from './driver.js'
import type { DriverHeatModel } from './driver-heat.js'
import { capacitorI2t, copperI2t, i2t } from './energy.js'
import type { DistrictLoad } from './load.js'
import { memo } from './memo.js'
import { strongestAmp } from './share.js'
import { COLD_C, capacitorsBehind, responseOf, type SourceModel, type SourceQuantity } from './source.js'
import { chainOf, type DistrictStage, isShortProof, limitsAtOnce } from './stage.js'
import { hasNoLimit } from './supply-behaviour.js'

export interface ShortReport {
  /** Short at the terminals at the most, A: highest voltage, cold and typical driver, nothing else running. */
  amp: number
  /** What it surely draws, A: lowest voltage, hot driver, least limits, while everything else runs. */
  leastAmp: number
  /** Switched off at the latest when it draws no more than that, us. */
  leastTripUs: number
  /** What holds it at the most: `supply`, `driver` or `resistance`. */
  heldBy: 'supply' | 'driver' | 'resistance'
  /** Switched off at the latest, us: right after switching on, with blanking and empty filters. Infinity for never. */
  tripUs: number
  /** At the soonest, with the usual current before, us; for information. */
  soonestUs: number
  /** Until it trips, with what the supply's capacitors give on top, A²s. */
  letThroughA2s: number
  /** When the fuse would melt, without loss of heat, us; absent without its I²t. */
  fuseMeltsUs?: number
  /** How long the driver survives it from its running heat, us; absent when not known. */
  driverStandsUs?: number
  /** It survives it no longer than this, us, where some of its losses are not known. */
  driverStandsAtMostUs?: number
  driverBecause: string
  /** How long the thinnest wire survives it, us; absent when not known. */
  wireStandsUs?: number
  wireA2s?: number
}

/** Heat of a driver with its typical and with its greatest losses. */
export interface HeatModels {
  typical: DriverHeatModel
  most: DriverHeatModel
}

/** Corners of a fault's current: which end makes it least is the same whatever the others are. */
const LEAST_CURRENT = {
  volt: 'low',
  limit: 'low',
  shortCurrent: 'low',
  ownLimit: 'low',
  beside: 'high',
  part: 'high',
  junction: 'high',
} as const

/** The least and the most that a fault draws. */
export function faultRange(
  source: SourceModel,
  outsideOhm = 0,
): { least: Values<SourceQuantity>; most: Values<SourceQuantity>; leastAmp: number; mostAmp: number } {
  const { worst, best } = searchCorners({
    quantities: source.quantities,
    margin: (v) => source.fault(v, outsideOhm).amp,
    unfavourable: {
      ...LEAST_CURRENT,
      trip: 'high',
      delay: 'high',
      clock: 'high',
      hiccupOn: 'low',
      limitLasts: 'low',
      holdUp: 'low',
      capacitor: 'high',
      response: 'high',
      peak: 'low',
    },
  })
  return { least: worst.values, most: best.values, leastAmp: worst.margin, mostAmp: best.margin }
}

/** Shares between typical and greatest, cold and hot, that are tried besides: what survives is not monotone there. */
const BETWEEN = [0.25, 0.5, 0.75]

export interface ShortOutcome {
  amp: number
  heldBy: 'supply' | 'driver' | 'resistance'
  /** Latest moment it is off, us; Infinity for never. */
  offUs: number
  /** Supply or driver, whichever holds the current, switch off by themselves first. */
  givesUpUs?: number
  /** The controller, which is to trip, loses its own voltage after so long, us. */
  starvesUs?: number
  /** Driver and wire survive it so long, us; absent where that is not known. */
  allowedUs?: number
  because: string
  margin: number
  /** What the driver survives is not known. */
  isUnrated?: boolean
  /** What the output capacitors give at first, A; where that is what decides. */
  pulseAmp?: number
}

type Outcome = (v: Values<SourceQuantity>) => ShortOutcome

/** Of a source at its terminals, made last: several clauses ask about the same corners. */
const lastOutcome = new WeakMap<
  SourceModel,
  { stage: DistrictStage; heats: HeatModels; load: DistrictLoad | undefined; outcome: Outcome }
>()

/**
 * What a short comes to with given values of everything.
 * @param outsideOhm resistance between the terminals and the place of the short
 */
export function shortOutcome(
  stage: DistrictStage,
  source: SourceModel,
  heats: HeatModels,
  load: DistrictLoad | undefined,
  outsideOhm = 0,
): Outcome {
  if (outsideOhm !== 0) return makeOutcome(stage, source, heats, load, outsideOhm)
  const known = lastOutcome.get(source)
  if (known?.stage === stage && known.heats === heats && known.load === load) return known.outcome
  const outcome = makeOutcome(stage, source, heats, load, 0)
  lastOutcome.set(source, { stage, heats, load, outcome })
  return outcome
}

function makeOutcome(
  stage: DistrictStage,
  source: SourceModel,
  heats: HeatModels,
  load: DistrictLoad | undefined,
  outsideOhm: number,
): Outcome {
  const { trip } = source
  const stands = memo((amp: number, fromC: number, greatest: number) =>
    (greatest > 0 ? heats.most : heats.typical).standsUs(
      strongestAmp(stage.model, stage.channels.length, amp),
      stage.name,
      fromC,
    ),
  )
  const off = memo((amp: number, thresholdAmp: number, delayUs: number, period: number) =>
    trip ? trip.latestUs(amp, thresholdAmp, delayUs, period) : Number.POSITIVE_INFINITY,
  )
  return (v) => {
    const { amp, heldBy, lastsUs, supplyVolt } = source.fault(v, outsideOhm)
    const base = { amp, heldBy }
    if (!trip?.reachable || amp < v.trip) {
      const margin = trip?.reachable ? amp / v.trip - 1 : -1
      return { ...base, offUs: Number.POSITIVE_INFINITY, because: 'it never trips', margin }
    }
    const tripsUs = off(amp, v.trip, v.delay, v.clock)
    const latches = heldBy === 'driver' && source.latches
    if (lastsUs < tripsUs && !latches)
      return {
        ...base,
        offUs: Number.POSITIVE_INFINITY,
        givesUpUs: lastsUs,
        because: `the ${heldBy === 'driver' ? 'driver' : 'supply'} switches off and tries again before it trips`,
        margin: Math.max(-1, lastsUs / tripsUs - 1),
      }
    if (starves(source, supplyVolt) && v.holdUp < tripsUs && !latches)
      return {
        ...base,
        offUs: Number.POSITIVE_INFINITY,
        starvesUs: v.holdUp,
        because: 'the controller loses its voltage before it trips',
        margin: Math.max(-1, v.holdUp / tripsUs - 1),
      }
    const offUs = Math.min(lastsUs, tripsUs)
    const driver = stands(amp, v.junction, v.part)
    const wireUs = wireStandsUs(load, amp)
    const driverUs = driver.us ?? driver.atMostUs
    const allowedUs = Math.min(driverUs ?? Number.POSITIVE_INFINITY, wireUs ?? Number.POSITIVE_INFINITY)
    const byWire = (wireUs ?? Number.POSITIVE_INFINITY) < (driverUs ?? Number.POSITIVE_INFINITY)
    const pulse = limitsAtOnce(stage.model)
      ? untilLimited(stage, source, v, outsideOhm)
      : pulseOutcome(stage, source, heats.most, v, outsideOhm)
    const margin = timeMargin(offUs, allowedUs, amp)
    if (pulse && pulse.margin < Math.min(0, margin)) return { ...base, offUs, ...pulse }
    const each = strongestAmp(stage.model, stage.channels.length, amp)
    const { name, peakAmp } = stage.model
    // What exceeds a stated peak is for how long the driver survives it, unless its own limit is to protect it.
    if (
      (peakAmp === undefined || limitsAtOnce(stage.model)) &&
      heldBy !== 'driver' &&
      each > v.peak &&
      margin >= 0
    )
      return {
        ...base,
        offUs,
        isUnrated: true,
        because:
          peakAmp === undefined
            ? `the peak current of ${name} is not known`
            : `${formatSi(each, 'A', 3)} lie above its stated peak of ${peakAmp} A, and its own limit does not hold them back`,
        margin: Math.max(-1, v.peak / each - 1),
      }
    return {
      ...base,
      offUs,
      ...(driverUs === undefined && wireUs === undefined ? {} : { allowedUs }),
      because: byWire ? 'the thinnest wire survives no longer' : driver.because,
      margin,
    }
  }
}

/** A short takes the voltage of the supply that feeds the controller, too. */
function starves({ controllerVolt }: SourceModel, supplyVolt: number): boolean {
  return controllerVolt !== undefined && supplyVolt < controllerVolt
}

/**
 * The supply's capacitors empty through a driver that does not hold its current back: its peak current, and the heat of
 * the pulse. Undefined where there are none; for a driver that does not hold its current back by itself.
 */
function pulseOutcome(
  { model, channels, name, supply }: DistrictStage,
  source: SourceModel,
  heat: DriverHeatModel,
  v: Values<SourceQuantity>,
  outsideOhm: number,
): Pick<ShortOutcome, 'because' | 'margin' | 'pulseAmp'> | undefined {
  if (!(v.capacitor > 0 || v.response > 0)) return undefined
  const pulseAmp = source.pulseAmp(v, outsideOhm)
  const each = strongestAmp(model, channels.length, pulseAmp)
  const gives =
    v.capacitor > 0
      ? 'the output capacitors give'
      : hasNoLimit(supply.limit)
        ? 'before the driver limits its current, the supply gives'
        : 'the supply, whose limit does not act at once, gives'
  const most =
    model.peakAmp === undefined
      ? `and the peak current of ${model.name} is not known`
      : `above the ${model.peakAmp} A that is the absolute maximum of ${model.name}`
  if (each > v.peak)
    return {
      pulseAmp,
      margin: Math.max(-1, 1 - each / v.peak),
      because: `${gives} ${formatSi(pulseAmp, 'A', 3)} at first, ${most}`,
    }
  const { junctionMaxC } = model
  if (junctionMaxC === undefined || !Number.isFinite(v.capacitor)) return undefined
  const tauUs = (v.volt / Math.max(pulseAmp, 1e-3)) * v.capacitor * 1e6
  const lasting = v.response > 0 ? [{ us: 0, amp: each }] : []
  const falling = Array.from({ length: tauUs > 0 ? 25 : 1 }, (_, i) => ({
    us: v.response + (i / 6) * tauUs,
    amp: each * Math.exp(-i / 6),
  }))
  const points = [...lasting, ...falling]
  const hottest = heat.hottestC(points, name, v.junction)
  if (hottest === undefined || hottest <= junctionMaxC) return undefined
  return {
    pulseAmp,
    margin: -0.5,
    because: `${v.capacitor > 0 ? 'the output capacitors discharge through it and take' : 'what the supply gives before its limit acts takes'} its junction beyond ${junctionMaxC} °C`,
  }
}

/**
 * What flows until a driver limits its current, and is more than it is known to withstand. The loop's resistance bounds it: how far
 * its inductance keeps it below that is not in any design. Undefined where the data sheet promises that it withstands a short.
 */
function untilLimited(
  stage: DistrictStage,
  source: SourceModel,
  v: Values<SourceQuantity>,
  outsideOhm: number,
): Pick<ShortOutcome, 'because' | 'margin' | 'isUnrated'> | undefined {
  const { model, channels, supply } = stage
  if (isShortProof(model)) return undefined
  const isFree = hasNoLimit(supply.limit) || capacitorsBehind(stage).high > 0 || responseOf(stage).high > 0
  const amp = isFree
    ? source.pulseAmp(v, outsideOhm)
    : source.fault({ ...v, ownLimit: Number.POSITIVE_INFINITY }, outsideOhm).amp
  const each = strongestAmp(model, channels.length, amp)
  if (each <= v.peak) return undefined
  return {
    isUnrated: true,
    margin: Math.max(-1, v.peak / each - 1),
    because: `until ${model.name} limits its current, up to ${formatSi(amp, 'A', 3)} may flow; that it withstands a short until then is not in the design (shortProof)`,
  }
}

/**
 * Share of the allowed time that is left. Far beyond the limit it falls on slowly and by the current, so that the
 * search can still tell which of two corners is worse.
 */
function timeMargin(offUs: number, allowedUs: number, amp: number): number {
  if (!Number.isFinite(offUs)) return -1
  if (!Number.isFinite(allowedUs)) return 1
  if (allowedUs <= 0) return -10 - amp / 1000
  const ratio = offUs / allowedUs
  return ratio <= 2 ? 1 - ratio : -1 - Math.log10(ratio / 2)
}

/** The question of the clause: every short trips, and soon enough. */
export function shortQuestion(
  source: SourceModel,
  outcome: (v: Values<SourceQuantity>) => ShortOutcome,
): CornerQuestion<SourceQuantity> {
  const { junction, part } = source.quantities
  const tries = (q: { low: number; high: number }) => BETWEEN.map((s) => q.low + s * (q.high - q.low))
  return {
    quantities: source.quantities,
    margin: (v) => outcome(v).margin,
    // The trip is latest at its highest threshold with its longest delay, and the supply gives up soonest.
    unfavourable: {
      trip: 'high',
      delay: 'high',
      clock: 'high',
      hiccupOn: 'low',
      limitLasts: 'low',
      holdUp: 'low',
      capacitor: 'high',
      response: 'high',
      peak: 'low',
    },
    tries: { junction: tries(junction), part: tries(part) },
  }
}

/** How long the thinnest wire survives a current without loss of heat, us; absent when it is not known. */
export function wireStandsUs(load: DistrictLoad | undefined, amp: number): number | undefined {
  if (load?.thinnestWireMm2 === undefined) return undefined
  return (copperI2t(load.thinnestWireMm2) / (amp * amp)) * 1e6
}

export function shortReport(
  stage: DistrictStage,
  source: SourceModel,
  heats: HeatModels,
  load: DistrictLoad | undefined,
): ShortReport | undefined {
  const { trip } = source
  if (!trip) return undefined
  const { least, most, leastAmp, mostAmp } = faultRange(source)
  const { heldBy } = source.fault(most)
  const offAt = (amp: number, v: Values<SourceQuantity>) => {
    const us = trip.latestUs(amp, v.trip, v.delay, v.clock)
    const { lastsUs, heldBy, supplyVolt } = source.fault(v)
    if (starves(source, supplyVolt) && source.quantities.holdUp.high < us) return Number.POSITIVE_INFINITY
    if (!(lastsUs < us)) return us
    return heldBy === 'driver' && source.latches ? lastsUs : Number.POSITIVE_INFINITY
  }
  const latest = { trip: trip.highAmp, delay: trip.delayUs.high, clock: source.quantities.clock.high }
  const tripUs = offAt(mostAmp, { ...most, ...latest })
  const running = Math.min(load?.runningAmp ?? 0, trip.nominalAmp)
  const stands = heats.most.standsUs(strongestAmp(stage.model, stage.channels.length, mostAmp), stage.name)
  const { volt } = source.quantities
  const result: ShortReport = {
    amp: mostAmp,
    leastAmp,
    leastTripUs: offAt(leastAmp, { ...least, ...latest }),
    heldBy,
    tripUs,
    soonestUs: trip.soonestUs(mostAmp, running, trip.lowAmp, trip.leastDelayUs),
    letThroughA2s: Number.isFinite(tripUs)
      ? i2t(mostAmp, tripUs) + capacitorI2t(stage.supply.capacitance ?? 0, volt.high, pathOhm(stage))
      : Number.POSITIVE_INFINITY,
    driverBecause: stands.because,
  }
  const { fuseI2t } = stage.district
  if (fuseI2t !== undefined) result.fuseMeltsUs = (fuseI2t / (mostAmp * mostAmp)) * 1e6
  if (stands.us !== undefined) result.driverStandsUs = stands.us
  if (stands.atMostUs !== undefined) result.driverStandsAtMostUs = stands.atMostUs
  const wireUs = wireStandsUs(load, mostAmp)
  if (wireUs !== undefined && load?.thinnestWireMm2 !== undefined) {
    result.wireA2s = copperI2t(load.thinnestWireMm2)
    result.wireStandsUs = wireUs
  }
  return result
}

/** Driver and sense in the way of the supply's capacitors, Ohm: cold and typical. */
function pathOhm(stage: DistrictStage): number {
  const { model, channels } = stage
  const ohm = onOhm(model, COLD_C, 'typical') ?? dropVolt(model, 1, COLD_C, 'typical') ?? 0
  return ohm / channels.length + (chainOf(stage)?.seriesOhm ?? 0)
}
