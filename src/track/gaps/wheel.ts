/** Tread of a wheel on both sides of a gap, Ohm; common practice, no source. */
export const WHEEL_OHM = { low: 0.01, high: 0.1 }
