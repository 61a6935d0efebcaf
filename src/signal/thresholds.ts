/**
 * Where the reader divides one kind of interval from another. None of these is a limit that a station is held to:
 * they follow from the profile's limits, so that no figure of a standard is written twice.
 */
import type { SignalLimits } from '../standard/index.js'

export interface Thresholds {
  /** Halfway between the longest half of a one and the shortest half of a zero that decoders must accept, us. */
  midpointUs: number
  /** Below this an interval is no half of any bit, however wrong the station's clock, us. */
  glitchUs: number
  /** From here on a level is held: no half-bit may be nearly that long, us. */
  heldUs: number
  /** Rails equal for less than this is a passage through zero, us: shorter than any part of a half-bit. */
  passageUs: number
  /** A zero half longer than this is stretched on purpose, us. */
  stretchedUs: number
  /** Both halves of a one together lie between these, whatever shifts one polarity, us. */
  oneMinUs: number
  oneMaxUs: number
  /** Halfway between the longest one and the shortest zero that decoders must accept, both halves together, us. */
  bitMidpointUs: number
  /** An interruption right after an end bit up to this long is a cut-out even where none is declared, us. */
  cutoutMostUs: number
  /** It may begin so late after the end bit and still be taken for a cut-out, and a wrong one, us. */
  cutoutLatestUs: number
  /** No cut-out that is not right after the end bit is shorter, us. */
  cutoutLeastUs: number
}

export function thresholdsOf(limits: SignalLimits): Thresholds {
  const { one, zero, cutout } = limits
  const bit = 2 * one.nominalUs
  return {
    midpointUs: (one.receiverMaxUs + zero.receiverMinUs) / 2,
    glitchUs: one.nominalUs * 0.69,
    heldUs: 2 * zero.receiverMaxUs,
    passageUs: one.nominalUs * 0.14,
    stretchedUs: zero.nominalUs * 1.5,
    oneMinUs: bit * 0.86,
    oneMaxUs: bit * 1.15,
    bitMidpointUs: one.receiverMaxUs + zero.receiverMinUs,
    cutoutMostUs: 2 * cutout.endMaxUs,
    cutoutLatestUs: cutout.startMaxUs + 3 * bit,
    cutoutLeastUs: (cutout.endMinUs - cutout.startMaxUs) / 4,
  }
}
