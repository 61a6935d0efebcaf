/** The few formulas by which figures of the book are made of others; everything else comes from the rooms. */
import { filteredSquare, meansOf, SINE_FORM_FACTOR } from '../../meter/index.js'

export const FORMULAS = {
  /** Lower end of a value with a tolerance. */
  'less its tolerance': (value: number, share: number) => value * (1 - share),
  /** Upper end of a value with a tolerance. */
  'plus its tolerance': (value: number, share: number) => value * (1 + share),
  /** A meter that responds to the average shows a square wave as a sine of the same mean. */
  'average meter on a square wave': (volt: number) => volt * SINE_FORM_FACTOR,
  /** One half-bridge gives nothing: V for half of the time. */
  'DC of a half wave': (volt: number) => meansOf(halfWave(volt)).mean,
  'RMS of a half wave': (volt: number) => meansOf(halfWave(volt)).coupled.rms,
  /** DC part of one long zero whose second half is stretched to its limit, with ones between packets left out. */
  'DC of a zero stretched to the end': (volt: number, halfUs: number, longestUs: number) =>
    Math.abs(
      meansOf([
        { volt, us: halfUs },
        { volt: -volt, us: longestUs },
      ]).mean,
    ),
  /** DC part of a bit whose halves differ. */
  'DC of unequal halves': (volt: number, halfUs: number, differenceUs: number) =>
    Math.abs(
      meansOf([
        { volt, us: halfUs },
        { volt: -volt, us: halfUs + differenceUs },
      ]).mean,
    ),
  /** What the rectified mean of a meter whose range ends at 1 kHz keeps, when it falls off as one RC stage does. */
  'average meter that ends at 1 kHz': (volt: number, halfUs: number) =>
    volt * SINE_FORM_FACTOR * filteredSquare(halfUs, 1000).rectified,
  'RMS meter that ends at 1 kHz': (volt: number, halfUs: number) => volt * filteredSquare(halfUs, 1000).rms,
  /** Each half bridge is at the supply half of the time. */
  half: (value: number) => value / 2,
  /** A clock divided by eight makes everything eight times as long. */
  'times the clock divider': (us: number) => 8 * us,
  difference: (a: number, b: number) => Math.max(0, a - b),
  /** RMS of idle packets (FF 00 FF) one after the other, each with its cut-out. */
  'RMS with a cut-out': idleRms,
  /** C = τ/R. */
  'capacitor of a filter': (us: number, ohm: number) => us / 1e6 / ohm,
  'time of a packet': (ones: number, zeros: number, oneUs: number, zeroUs: number) =>
    2 * (ones * oneUs + zeros * zeroUs),
  sum: (...values: number[]) => values.reduce((a, b) => a + b, 0),
  product: (a: number, b: number) => a * b,
  ratio: (a: number, b: number) => a / b,
  /** Across the rails, behind what driver, sense and supply take themselves. */
  'resistor that draws a current': (volt: number, dropVolt: number, amp: number, sourceOhm: number) =>
    (volt - dropVolt) / amp - sourceOhm,
  least: (...values: number[]) => Math.min(...values),
  most: (...values: number[]) => Math.max(...values),
  twice: (value: number) => 2 * value,
  /** Share of the rating that is left. */
  'left of it': (used: number, rating: number) => 1 - used / rating,
  'period of two halves as a rate': (halfUs: number) => 1e6 / (2 * halfUs),
  'power in a resistance': (ohm: number, amp: number) => ohm * amp * amp,
} as const satisfies Record<string, (...values: number[]) => number>

export type FormulaName = keyof typeof FORMULAS

function halfWave(volt: number) {
  return [
    { volt, us: 1 },
    { volt: 0, us: 1 },
  ]
}

/** Ones beside its preamble, and zeros, of an idle packet: FF 00 FF with its start bits and its end bit. */
const IDLE = { ones: 17, zeros: 11 }

function idleRms(
  volt: number,
  oneUs: number,
  zeroUs: number,
  preamble: number,
  startUs: number,
  endUs: number,
): number {
  return meansOf([
    { volt, us: 2 * (IDLE.ones + preamble) * oneUs + 2 * IDLE.zeros * zeroUs },
    { volt: 0, us: endUs - startUs },
  ]).rms
}
