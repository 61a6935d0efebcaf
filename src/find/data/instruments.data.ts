/**
 * Instruments and how far they may be off. Every figure is common practice, no source: it is what cheap meters in good
 * order keep at the frequencies of a track signal. Those who know their meter better give its name and figures beside.
 */

export interface MeterError {
  /** Greatest error as a share of the reading. */
  share: number
  /** Greatest error besides, in the unit of the reading. */
  fixed: number
}

export interface Instrument extends MeterError {
  title: string
  /**
   * What it shows of an alternating square wave of 1: an average-responding meter is scaled for sines and shows
   * π / (2·√2) of the rectified mean (closed form).
   */
  shows: number
}

const AVERAGE_OF_SQUARE = Math.PI / (2 * Math.SQRT2)

export const INSTRUMENTS = {
  'rms meter': { title: 'true-RMS meter, AC range', share: 0.02, fixed: 0.05, shows: 1 },
  'average meter': {
    title: 'average-responding meter, AC range',
    share: 0.03,
    fixed: 0.1,
    shows: AVERAGE_OF_SQUARE,
  },
  'dc meter': { title: 'meter, DC range', share: 0.01, fixed: 0.02, shows: 1 },
  'rms millivolt meter': { title: 'true-RMS meter, AC millivolt range', share: 0.03, fixed: 0.003, shows: 1 },
  'dc millivolt meter': { title: 'meter, DC millivolt range', share: 0.01, fixed: 0.0005, shows: 1 },
  'clamp meter': { title: 'AC clamp meter', share: 0.04, fixed: 0.02, shows: 1 },
  oscilloscope: {
    title: 'oscilloscope, battery-fed or with a differential probe',
    share: 0.04,
    fixed: 0.3,
    shows: 1,
  },
  'logic analyser': { title: 'logic analyser or capture', share: 0.001, fixed: 0.3, shows: 1 },
  counter: { title: 'capture, counted', share: 0.05, fixed: 0.5, shows: 1 },
  thermometer: { title: 'thermometer on the part', share: 0.05, fixed: 5, shows: 1 },
  station: { title: 'the station’s own report', share: 0.02, fixed: 0.02, shows: 1 },
  eyes: { title: 'your own eyes', share: 0, fixed: 0, shows: 1 },
} as const satisfies Record<string, Instrument>

export type InstrumentId = keyof typeof INSTRUMENTS

/** One reading in so many is plainly wrong: slipped probe, wrong range, misread; common practice, no source. */
export const WRONG_READING = 0.02
