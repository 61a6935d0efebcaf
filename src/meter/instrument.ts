/** What the true value may be when an instrument shows a reading. */
import type { BenchReading, Instrument } from './design.js'
import { VALUE_KEY } from './design.js'
import { SINE_FORM_FACTOR, squarePowerBelow } from './waveform.js'

/** Where the true value lies: V, A or us. An infinite end is not known from this reading. */
export interface Bounds {
  low: number
  high: number
}

/** Why a reading says nothing of what it was meant to show. */
export type Blindness = 'accuracy' | 'bandwidth'

const BASE: Readonly<Record<'voltage' | 'current' | 'time', number>> = { voltage: 1, current: 1, time: 1e6 }

/** The value as shown, V, A or us; Infinity for a short that was never switched off. */
export function shownValue(r: BenchReading): number {
  return r.never ? Number.POSITIVE_INFINITY : r[VALUE_KEY[r.reading]]!
}

/** Where the shown quantity itself lies, by accuracy and digits. @returns `undefined` without an accuracy. */
export function withError(r: BenchReading, { accuracy, digits }: Instrument): Bounds | undefined {
  if (accuracy === undefined) return undefined
  const value = shownValue(r)
  if (!Number.isFinite(value)) return { low: value, high: value }
  const off = digits * BASE[VALUE_KEY[r.reading]]
  // ± a share of the reading, as sheets give it.
  const error = Math.abs(value) * accuracy + off
  return { low: value - error, high: value + error }
}

/** Of a reading and its error; their signs are those of the probes. */
function magnitude({ low, high }: Bounds): Bounds {
  return low >= 0
    ? { low, high }
    : high <= 0
      ? { low: -high, high: -low }
      : { low: 0, high: Math.max(-low, high) }
}

/** Size of what is shown, where the instrument has an accuracy and follows the signal. */
function shownSize(
  r: BenchReading,
  instrument: Instrument,
  leastHz: number,
  bandwidthHz: number,
): Bounds | { blind: Blindness } {
  const shown = withError(r, instrument)
  if (!shown) return { blind: 'accuracy' }
  return bandwidthHz < leastHz ? { blind: 'bandwidth' } : magnitude(shown)
}

const fundamentalHz = (halfUs: number) => 1e6 / (2 * halfUs)

/** A first-order low-pass at three times the fundamental of a square wave reaches tanh(3π/2), all but 0.02 % of its peak. */
const PEAK_HARMONICS = 3

/**
 * Where the peak of the track signal lies, from an oscilloscope. The signal has a peak on either side of zero, so its sign
 * tells nothing. One too slow for the shortest half-bit shows less than there is; where its bandwidth is not noted it is
 * taken to be fast enough, as oscilloscopes are (common practice, no source).
 * @param halfUs shortest half-bit of the signal
 */
export function peakFromScope(
  r: BenchReading,
  instrument: Instrument,
  halfUs: number,
): Bounds | { blind: Blindness } {
  const { bandwidth = Number.POSITIVE_INFINITY } = instrument
  return shownSize(r, instrument, PEAK_HARMONICS * fundamentalHz(halfUs), bandwidth)
}

/**
 * Where the peak of the track signal lies, from a reading of an AC meter. Neither the RMS nor the rectified mean is ever
 * above the peak, so a reading bounds it from below; it bounds the RMS, not the peak, from above. An AC range whose accuracy
 * does not hold at the frequency of the shortest half-bit tells nothing.
 * @param halfUs shortest half-bit of the signal
 */
export function peakFromAc(
  r: BenchReading,
  instrument: Instrument,
  halfUs: number,
): Bounds | { blind: Blindness } {
  const rms = rmsFromAc(r, instrument, halfUs)
  return 'blind' in rms ? rms : { low: rms.low, high: Number.POSITIVE_INFINITY }
}

/** Odd harmonics that a meter must take in before its reading bounds an RMS from above. */
const HARMONICS_NEEDED = 3

/**
 * Where the RMS of the track signal lies. What its bandwidth leaves out makes a meter show less, so the upper bound
 * takes the power that a square wave has beyond it.
 */
export function rmsFromAc(
  r: BenchReading,
  instrument: Instrument,
  halfUs: number,
): Bounds | { blind: Blindness } {
  const { bandwidth = 0, kind, coupling } = instrument
  const size = shownSize(r, instrument, fundamentalHz(halfUs), bandwidth)
  if ('blind' in size) return size
  // The rectified mean is at most the RMS.
  const low = size.low / (kind === 'average' ? SINE_FORM_FACTOR : 1)
  const bounds =
    kind === 'rms' && coupling === 'ac+dc' && bandwidth >= HARMONICS_NEEDED * fundamentalHz(halfUs)
  if (!bounds) return { low, high: Number.POSITIVE_INFINITY }
  return { low, high: size.high / Math.sqrt(squarePowerBelow(halfUs, bandwidth)) }
}
