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
  /** What ends the voltage at the converter below its reference, V; what an amplifier surely reaches is often not known. */
  top: { lowVolt: number; highVolt: number; because: string }
  /** The reference, from its least to its most, V. */
  referenceVolt: { low: number; high: number }
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
  const top = topOf(sense, driver)
  const most = top.highVolt
  const range = Math.min(sense.reference - lsbVolt, most) - sense.zero
  const ampPerCount = lsbVolt / voltPerAmp
  return {
    voltPerAmp,
    ampPerCount,
    counts,
    rangeAmp: Math.max(0, range / voltPerAmp),
    gainError: sense.tolerance + referenceTolerance(sense) + spread,
    offsetAmp: sense.offset / voltPerAmp,
    noiseAmp: Math.hypot(sense.noise / voltPerAmp, ampPerCount / Math.sqrt(12)),
    seriesOhm,
    zeroCount: sense.zero / lsbVolt,
    topCount: Math.floor(Math.min(counts - 1, most / lsbVolt)),
    top,
    referenceVolt: {
      low: sense.reference * (1 - referenceTolerance(sense)),
      high: sense.reference * (1 + referenceTolerance(sense)),
    },
  }
}

/** A logic supply as a reference, and one inside a controller: ATmega data sheets give 1.0 to 1.2 V and 2.3 to 2.8 V, from memory. */
const REFERENCE_SHARE = { supply: 0.05, inside: 0.1 }
/** Below this a reference is taken for one inside the controller, V. */
const LEAST_SUPPLY_VOLT = 3

/** How far the converter's reference may be off either way, as a share; assumed where the design does not say. */
export function referenceTolerance({ reference, referenceTolerance: given }: SenseDesign & object): number {
  return given ?? (reference < LEAST_SUPPLY_VOLT ? REFERENCE_SHARE.inside : REFERENCE_SHARE.supply)
}

/**
 * How far below its own supply the output of an amplifier or sensor may end, V: LM358 and LM324 2 V at the worst (from
 * memory), Hall sensors 0.5 V (from memory); those called rail to rail reach it within some mV.
 */
const HEADROOM_VOLT = { amplifier: 2, hall: 0.5 }

/** Where the voltage at the converter ends, whatever the current. */
function topOf(sense: SenseDesign & object, driver: DriverModel | undefined): SenseChain['top'] {
  const never = Number.POSITIVE_INFINITY
  const isHall = sense.kind === 'hall'
  // A sense output by itself, before an amplifier.
  const output =
    sense.kind === 'mirror' && driver?.mirrorMaxVolt !== undefined ? driver.mirrorMaxVolt * sense.gain : never
  const ofOutput = {
    lowVolt: output,
    highVolt: output,
    because: `the sense output of ${driver?.name ?? 'the driver'} goes no higher`,
  }
  if (!isHall && sense.gain === 1) return ofOutput
  const supply = sense.amplifierSupply
  const what = isHall ? 'sensor' : 'amplifier'
  const highVolt = sense.amplifierOutputMax ?? supply ?? never
  const headroom = isHall ? HEADROOM_VOLT.hall : HEADROOM_VOLT.amplifier
  const lowVolt = sense.amplifierOutputMax ?? Math.max(0, (supply ?? sense.reference) - headroom)
  return output < lowVolt
    ? ofOutput
    : {
        lowVolt,
        highVolt: Math.min(highVolt, output),
        because:
          sense.amplifierOutputMax === undefined
            ? `how high its ${what} goes is not given, and may be ${headroom} V below its supply`
            : `its ${what} goes no higher`,
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
  /** Why it may not do so. */
  saturates?: string
}

/** Threshold in counts for a wanted current. */
export function thresholdFor(chain: SenseChain, amp: number): Threshold {
  const count = Math.max(1, Math.round(chain.zeroCount + amp / chain.ampPerCount))
  const real = (count - chain.zeroCount) * chain.ampPerCount
  // What flows at rest was measured with the same reference.
  const { low, high } = chain.referenceVolt
  const zeroVolt = ((chain.zeroCount / chain.counts) * (low + high)) / 2
  const saturates = zeroVolt + ((count - chain.zeroCount) / chain.counts) * high > chain.top.lowVolt
  return {
    count,
    amp: real,
    lowAmp: Math.max(0, (real - chain.offsetAmp) / (1 + chain.gainError) - chain.ampPerCount / 2),
    highAmp:
      chain.gainError < 1 && !saturates
        ? (real + chain.offsetAmp) / (1 - chain.gainError) + chain.ampPerCount / 2
        : Number.POSITIVE_INFINITY,
    reachable: count <= chain.topCount,
    ...(saturates ? { saturates: chain.top.because } : {}),
  }
}
