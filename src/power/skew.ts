/**
 * What a driver does to the length of a half-bit. A delay that is the same at both edges shifts the signal and
 * leaves its lengths alone; only differences count. An edge of the track signal is one leg rising while the other
 * falls; at the next edge they change roles. With equal legs both edges are mirror images, so the first order is
 * zero, and what remains is the difference between the legs:
 *
 *   delay(edge) ≈ ½ · (rising delay of one leg + falling delay of the other)
 *   difference of two edges ≤ ½ · (difference of the rising delays + difference of the falling delays)
 *
 * One half is longer by it, the other shorter, so the halves of a bit differ by twice as much.
 */
import type { SignalDesign } from '../signal/index.js'
import { type ClauseId, type Evidence, marginWithin, type Profile } from '../standard/index.js'
import type { PowerDesign } from './design/index.js'
import { type DriverModel, resolveDriver } from './driver.js'
import { outputsOf } from './pins.js'

/** Legs of one die or batch: share of a delay by which they differ. No data sheet says; common practice, no source. */
export const MATCHED_SHARE = 0.1

export interface DriverSkew {
  /** Greatest change of a half-bit, either way, us. */
  halfUs: number
  /** Greatest difference it makes between the halves of a bit, us. */
  differenceUs: number
  /** Of `halfUs`: from unequal delays of the legs. */
  mismatchUs: number
  /**
   * A dead time acts on the length only while the load current keeps its direction through the edge (a one-sided
   * load); then one of two edges waits for it. Not part of `halfUs`: decoders with a full bridge rectifier
   * reverse the current. Where the dead time is not known the longest delay bounds it: it is a part of that.
   */
  oneSidedUs: number
  /** The dead time is given; otherwise `oneSidedUs` is a bound. */
  deadKnown: boolean
  /** Mean delay from logic to track; harmless, but seen with a probe on both. */
  delayUs: number
  because: string
}

/**
 * @param matched legs from one die or batch; otherwise the whole spread of the data sheet counts
 * @returns `undefined` when the part's delays are not known
 */
export function driverSkewUs(driver: DriverModel, matched = true): DriverSkew | undefined {
  const rising = spread(driver.risingDelayUs, driver.risingDelayMinUs, driver.risingDelayMaxUs, matched)
  const falling = spread(driver.fallingDelayUs, driver.fallingDelayMinUs, driver.fallingDelayMaxUs, matched)
  if (!rising || !falling) return undefined
  if (driver.isolator && !driver.isolator.delayUs) return undefined
  const isolator = driver.isolator?.delayUs ?? { low: 0, high: 0 }
  const isolatorUs = isolator.high - isolator.low
  const mismatchUs = (rising.width + falling.width) / 2 + isolatorUs
  const source = matched
    ? `legs of one die or batch, delays within ${MATCHED_SHARE * 100} % of ${rising.typical} us rising and ${falling.typical} us falling`
    : `legs at opposite ends of the data sheet, ${rising.width} us rising and ${falling.width} us falling`
  return {
    halfUs: mismatchUs,
    differenceUs: 2 * mismatchUs,
    mismatchUs,
    oneSidedUs: driver.deadUs ?? Math.max(rising.most, falling.most),
    deadKnown: driver.deadUs !== undefined,
    delayUs: (rising.typical + falling.typical + isolator.low + isolator.high) / 2,
    because: `half of the legs' differences in delay (${driver.name}: ${source})${isolatorUs > 0 ? `, and ${isolatorUs.toFixed(2)} us between the edges of its isolator` : ''}`,
  }
}

function spread(
  typical: number | undefined,
  min: number | undefined,
  max: number | undefined,
  matched: boolean,
): { typical: number; width: number; most: number } | undefined {
  const middle = typical ?? (min !== undefined && max !== undefined ? (min + max) / 2 : max)
  if (middle === undefined) return undefined
  const low = min ?? typical ?? 0
  const high = max ?? middle
  if (matched) return { typical: middle, width: MATCHED_SHARE * middle, most: high }
  // Without extremes in the sheet a part may lie a third off its typical delay; common practice, no source.
  if (min === undefined && max === undefined)
    return { typical: middle, width: 0.66 * middle, most: 1.33 * middle }
  return { typical: middle, width: high - low, most: high }
}

/** How late a driver may follow its input, us. */
export interface DelayRange {
  rising: { low: number; high: number }
  falling: { low: number; high: number }
}

/** Specimens of a part lie so far off its typical delay where its sheet gives no extremes; common practice, no source. */
const DELAY_SPREAD = 0.33

/**
 * The delays that any specimen of a part may have, with those of its isolator.
 * @returns `undefined` where they are not known
 */
export function delayRange(driver: DriverModel): DelayRange | undefined {
  const range = (typical: number | undefined, min: number | undefined, max: number | undefined) => {
    const low = min ?? (typical === undefined ? 0 : typical * (1 - DELAY_SPREAD))
    const high = max ?? (typical === undefined ? undefined : typical * (1 + DELAY_SPREAD))
    if (high === undefined) return undefined
    const isolator = driver.isolator ? driver.isolator.delayUs : { low: 0, high: 0 }
    return isolator && { low: low + isolator.low, high: high + isolator.high }
  }
  const rising = range(driver.risingDelayUs, driver.risingDelayMinUs, driver.risingDelayMaxUs)
  const falling = range(driver.fallingDelayUs, driver.fallingDelayMinUs, driver.fallingDelayMaxUs)
  return rising && falling && { rising, falling }
}

/**
 * Average slope of the rails' difference between −4 V and +4 V at the driver without load, V/us: both ramps
 * (10 to 90 %) one after the other, with the wait between the legs' delays.
 */
export function driverSlope(driver: DriverModel, trackVolt: number): number | undefined {
  const { riseUs, fallUs, risingDelayUs, fallingDelayUs } = driver
  if (riseUs === undefined || fallUs === undefined || !(trackVolt > 4)) return undefined
  if (risingDelayUs === undefined || fallingDelayUs === undefined) return undefined
  const wait = Math.abs(risingDelayUs - fallingDelayUs)
  const ramp = (4 / (0.8 * trackVolt)) * (riseUs + fallUs)
  const us = wait + ramp
  return us > 0 ? 8 / us : Number.POSITIVE_INFINITY
}

/** Rise and fall times may lie a third above their typical values; common practice, no source. */
const SLOW_EDGE = 1.33

/** The same at its least: slow ramps, and the legs' delays as far apart as they may be. */
export function leastSlope(driver: DriverModel, trackVolt: number, matched = true): number | undefined {
  const { riseUs, fallUs } = driver
  if (riseUs === undefined || fallUs === undefined || !(trackVolt > 4)) return undefined
  const rising = spread(driver.risingDelayUs, driver.risingDelayMinUs, driver.risingDelayMaxUs, matched)
  const falling = spread(driver.fallingDelayUs, driver.fallingDelayMinUs, driver.fallingDelayMaxUs, matched)
  if (!rising || !falling) return undefined
  const wait = matched
    ? Math.abs(rising.typical - falling.typical) + (rising.width + falling.width) / 2
    : Math.max(rising.most - falling.most + falling.width, falling.most - rising.most + rising.width)
  const us = wait + (4 / (0.8 * trackVolt)) * SLOW_EDGE * (riseUs + fallUs)
  return us > 0 ? 8 / us : Number.POSITIVE_INFINITY
}

/**
 * The greatest skew among the drivers that carry an output of the station: what the timer's error grows by.
 * @returns `undefined` when no driver carries it, `unknown` when the delays of one are not known
 */
export function outputSkew(
  power: PowerDesign,
  output: string,
  signal: SignalDesign,
): DriverSkew | 'unknown' | undefined {
  let worst: DriverSkew | undefined
  for (const [name, driver] of Object.entries(power.drivers)) {
    if (!outputsOf(power, name, signal).includes(output)) continue
    const skew = driverSkewUs(resolveDriver(driver), driver.matchedLegs)
    if (!skew) return 'unknown'
    if (!worst || skew.halfUs + skew.oneSidedUs > worst.halfUs + worst.oneSidedUs) worst = skew
  }
  return worst
}

/** What a driver's skew does to each measure of a half-bit. The whole bit keeps its length, so `zero-total` is not here. */
const SKEWED: Partial<Record<ClauseId, (halfUs: number) => { low: number; high: number }>> = {
  'one-half': (us) => ({ low: -us, high: us }),
  'zero-half': (us) => ({ low: -us, high: us }),
  'one-difference': (us) => ({ low: 0, high: 2 * us }),
}

/**
 * Evidence calculated for the logic signal, as it is behind the drivers: half-bits widened by what the drivers of each
 * output do to them, the dead time of a one-sided load included. Where only that dead time leads outside, or where the
 * delays are not known, nobody can tell: undecided. Other evidence stays as it is.
 */
export function withDriverSkew(
  evidence: readonly Evidence[],
  design: { power: PowerDesign; signal?: SignalDesign; profile: Profile },
): Evidence[] {
  const { power, signal, profile } = design
  if (!signal) return [...evidence]
  return evidence.map((e) => {
    const widen = SKEWED[e.clause]
    if (
      !widen ||
      e.origin !== 'calculated' ||
      e.about === undefined ||
      !Object.hasOwn(signal.outputs, e.about)
    )
      return e
    const skew = outputSkew(power, e.about, signal)
    if (!skew) return e
    if (skew === 'unknown') {
      const because = `${e.because}; the delays of its driver are not known, so what is behind it is not either`
      return e.verdict === 'broken' ? { ...e, because } : { ...e, verdict: 'undecided', margin: 0, because }
    }
    const { sender } = profile.clauses[e.clause]
    const widened = (halfUs: number) => {
      const by = widen(halfUs)
      return { ...e.value, low: e.value.low + by.low, high: e.value.high + by.high }
    }
    const always = widened(skew.halfUs)
    const value = widened(skew.halfUs + skew.oneSidedUs)
    const margin = marginWithin(value.low, value.high, sender)
    const us = widen(skew.halfUs).high.toFixed(2)
    const more = widen(skew.oneSidedUs).high.toFixed(2)
    const dead = skew.deadKnown ? 'the dead time' : 'the dead time, not known but within its delays,'
    const because = `${e.because}; behind the driver up to ${us} us more: ${skew.because}; with a one-sided load ${dead} adds up to ${more} us`
    if (marginWithin(always.low, always.high, sender) < 0)
      return { ...e, value, margin, verdict: 'broken', because }
    if (margin < 0 && e.verdict !== 'broken')
      return { ...e, value, margin: 0, verdict: 'undecided', because: `${because}, which decides` }
    return { ...e, value, margin, because }
  })
}
