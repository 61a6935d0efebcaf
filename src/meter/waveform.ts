/**
 * Means of a track signal in closed form: a signal that is at one of a few levels at any time, for known shares of the
 * time. RMS is √Σ s·V², the rectified mean Σ s·|V|, the mean Σ s·V, with s the share of each level.
 */

/** A level and how long it lasts in one period. */
export interface Level {
  volt: number
  us: number
}

/** One period, or one packet with all its bits. */
export type Waveform = readonly Level[]

/** A bit of the track signal: both halves alike, the second the other way round. */
export function bitWave(volt: number, firstUs: number, secondUs = firstUs): Waveform {
  return [
    { volt, us: firstUs },
    { volt: -volt, us: secondUs },
  ]
}

/** Neither output drives the rails for this long. */
export function cutoutWave(us: number): Waveform {
  return [{ volt: 0, us }]
}

export interface Means {
  /** Root of the mean square, V. */
  rms: number
  /** Mean of the magnitude, V. */
  rectified: number
  /** Mean, V: what a DC meter shows. */
  mean: number
  /** The same without the mean, as behind the capacitor of an AC range. */
  coupled: { rms: number; rectified: number }
}

/** @throws RangeError for a period without length. */
export function meansOf(wave: Waveform): Means {
  const total = wave.reduce((sum, l) => sum + l.us, 0)
  if (!(total > 0)) throw new RangeError('a waveform without length has no mean')
  const average = (of: (volt: number) => number) =>
    wave.reduce((sum, { volt, us }) => sum + of(volt) * us, 0) / total
  const mean = average((v) => v)
  return {
    rms: Math.sqrt(average((v) => v * v)),
    rectified: average(Math.abs),
    mean,
    coupled: {
      rms: Math.sqrt(average((v) => (v - mean) ** 2)),
      rectified: average((v) => Math.abs(v - mean)),
    },
  }
}

/** RMS of a sine over its rectified mean, π/(2·√2): the factor on the scale of an average-responding meter. */
export const SINE_FORM_FACTOR = Math.PI / (2 * Math.SQRT2)

/**
 * A square wave of ± 1 V behind a first-order low-pass filter.
 * With h the half period and τ = 1/(2π·f): RMS² = 1 − tanh(h/2τ)/(h/2τ); the rectified mean follows
 * by integrating 1 − c·e^(−t/τ), c = 2/(1 + e^(−h/τ)), which crosses zero at τ·ln c.
 * @param cornerHz where the filter has lost 3 dB
 */
export function filteredSquare(halfUs: number, cornerHz: number): { rms: number; rectified: number } {
  const tau = 1e6 / (2 * Math.PI * cornerHz)
  const x = halfUs / (2 * tau)
  const c = 2 / (1 + Math.exp(-halfUs / tau))
  const whole = halfUs - c * tau * (1 - Math.exp(-halfUs / tau))
  const before = tau * Math.log(c) - tau * (c - 1)
  return { rms: Math.sqrt(Math.max(0, 1 - Math.tanh(x) / x)), rectified: (whole - 2 * before) / halfUs }
}

/**
 * Share of the power of a square wave that its odd harmonics up to a frequency carry: 8/π²·Σ 1/k². 0 where even its
 * fundamental lies above.
 */
export function squarePowerBelow(halfUs: number, hz: number): number {
  const fundamental = 1e6 / (2 * halfUs)
  const highest = Math.floor(hz / fundamental + 1e-9)
  let sum = 0
  // The rest beyond a thousand harmonics is less than a thousandth.
  for (let k = 1; k <= Math.min(highest, 999); k += 2) sum += 1 / (k * k)
  return Math.min(1, (8 / Math.PI ** 2) * sum)
}
