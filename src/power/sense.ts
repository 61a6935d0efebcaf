/** The current-sense chain: from amperes to counts of the converter and back, with all its errors. */
import type { SenseDesign } from './design/index.js'
import { type DriverModel, mirrorSpread } from './driver.js'

/** Below this time constant a sense that sees one polarity only meets the other one by chance, us. */
export const ONE_SIDED_FILTER_US = 500

export interface SenseChain {
  /** Volts at the converter per ampere in the track. */
  voltPerAmp: number
  /** One count, A. */
  ampPerCount: number
  counts: number
  /** The greatest current it can tell, A. */
  rangeAmp: number
  /** Error of gain: shunt, reference, and spread of a sense output; share either way. */
  gainError: number
  /** Unknown offset as current, A either way. */
  offsetAmp: number
  /** Noise of one conversion with its quantisation, A RMS. */
  noiseAmp: number
  /** Resistance the sense puts in the current's way, Ohm. */
  seriesOhm: number
  /** Count at no current. */
  zeroCount: number
  /** The highest count that the sense can drive the converter to. */
  topCount: number
}

export type SenseProblem = { problem: string }

/**
 * The chain of a sense; or the figure that is missing.
 *
 * volts per ampere = R · gain (shunt), mirror · R · gain (sense output), sensitivity · gain (Hall sensor); one
 * count = reference / 2^bits. A 10-bit converter on 5 V sees 0.1 Ohm at 49 mA per count.
 */
export function senseChain(sense: SenseDesign & object, driver?: DriverModel): SenseChain | SenseProblem {
  let voltPerAmp: number
  let spread = 0
  let seriesOhm = 0
  if (sense.kind === 'hall') {
    if (!sense.sensitivity)
      return { problem: 'a Hall sensor needs its sensitivity, such as "100 mV" per ampere' }
    voltPerAmp = sense.sensitivity * sense.gain
  } else {
    if (!sense.resistance) return { problem: 'the current sense needs its resistance, such as "0.1 Ohm"' }
    if (sense.kind === 'mirror') {
      if (!driver?.mirror) {
        return {
          problem: `the driver ${driver?.name ?? ''} has no sense output that is known; use a shunt or give figures.mirror`,
        }
      }
      spread = mirrorSpread(driver)
      voltPerAmp = driver.mirror * sense.resistance * sense.gain
    } else {
      voltPerAmp = sense.resistance * sense.gain
      seriesOhm = sense.resistance
    }
  }
  // Filtered, a sense in one leg shows the mean of current and nothing: half.
  if (sense.sees === 'one' && sense.filter >= ONE_SIDED_FILTER_US) voltPerAmp /= 2
  const counts = 2 ** sense.bits
  const lsbVolt = sense.reference / counts
  // An amplifier or sensor gives no more than its own supply, whatever the converter could read.
  const amplified = sense.kind === 'hall' || sense.gain !== 1
  const most = amplified ? (sense.amplifierSupply ?? Number.POSITIVE_INFINITY) : Number.POSITIVE_INFINITY
  const top = Math.min(sense.reference - lsbVolt, most) - sense.zero
  const ampPerCount = lsbVolt / voltPerAmp
  return {
    voltPerAmp,
    ampPerCount,
    counts,
    rangeAmp: Math.max(0, top / voltPerAmp),
    gainError: sense.tolerance + sense.referenceTolerance + spread,
    offsetAmp: sense.offset / voltPerAmp,
    noiseAmp: Math.hypot(sense.noise / voltPerAmp, ampPerCount / Math.sqrt(12)),
    seriesOhm,
    zeroCount: sense.zero / lsbVolt,
    topCount: Math.floor(Math.min(counts - 1, most / lsbVolt)),
  }
}

export interface Threshold {
  /** The count to compare with: trip when a sample is at or above it. */
  count: number
  /** The current it stands for, A. */
  amp: number
  /** Where it may truly lie with all errors, A. */
  lowAmp: number
  highAmp: number
  /** The converter reaches it. */
  reachable: boolean
}

/** Threshold in counts for a wanted current. */
export function thresholdFor(chain: SenseChain, amp: number): Threshold {
  const count = Math.max(1, Math.round(chain.zeroCount + amp / chain.ampPerCount))
  const real = (count - chain.zeroCount) * chain.ampPerCount
  return {
    count,
    amp: real,
    lowAmp: Math.max(0, (real - chain.offsetAmp) / (1 + chain.gainError) - chain.ampPerCount / 2),
    highAmp:
      chain.gainError < 1
        ? (real + chain.offsetAmp) / (1 - chain.gainError) + chain.ampPerCount / 2
        : Number.POSITIVE_INFINITY,
    reachable: count <= chain.topCount,
  }
}
