/** Means of track signals in closed form against numeric integration, and what meters may say of them. */
import { describe, expect, it } from 'vitest'
import {
  bitWave,
  cutoutWave,
  filteredSquare,
  meansOf,
  peakFromAc,
  rmsFromAc,
  SINE_FORM_FACTOR,
  squarePowerBelow,
  type Waveform,
  withError,
} from '../../src/meter/index.js'

/** By samples of 0.1 us, as a digital oscilloscope with mathematics would do it. */
function integrated(wave: Waveform) {
  const stepUs = 0.1
  const samples = wave.flatMap(({ volt, us }) => Array<number>(Math.round(us / stepUs)).fill(volt))
  const mean = samples.reduce((s, v) => s + v, 0) / samples.length
  const over = (of: (v: number) => number) => samples.reduce((s, v) => s + of(v), 0) / samples.length
  return {
    rms: Math.sqrt(over((v) => v * v)),
    rectified: over(Math.abs),
    mean,
    coupled: { rms: Math.sqrt(over((v) => (v - mean) ** 2)), rectified: over((v) => Math.abs(v - mean)) },
  }
}

const V = 15
const WAVES: Record<string, Waveform> = {
  'ones and zeros': [...bitWave(V, 58), ...bitWave(V, 100), ...bitWave(V, 58)],
  'a stretched zero': [...bitWave(V, 58), ...bitWave(V, 100, 9000), ...bitWave(V, 100)],
  'a zero stretched the other way': [...bitWave(V, 5000, 100), ...bitWave(V, 58)],
  // S-9.3.2: the cut-out lasts from about 30 us after the end bit to about 470 us.
  'a cut-out': [...Array.from({ length: 14 }, () => bitWave(V, 58)).flat(), ...cutoutWave(440)],
  'one half-bridge dead': [
    { volt: V, us: 58 },
    { volt: 0, us: 58 },
  ],
}

describe('means of a track signal', () => {
  it.each(Object.entries(WAVES))('%s: closed form and integration agree', (_name, wave) => {
    const closed = meansOf(wave)
    const numeric = integrated(wave)
    for (const key of ['rms', 'rectified', 'mean'] as const) expect(closed[key]).toBeCloseTo(numeric[key], 6)
    expect(closed.coupled.rms).toBeCloseTo(numeric.coupled.rms, 6)
    expect(closed.coupled.rectified).toBeCloseTo(numeric.coupled.rectified, 6)
  })

  it('gives the textbook figures', () => {
    // A symmetric square wave: crest and form factor 1 (any handbook of electrical measurement).
    expect(meansOf(bitWave(V, 58))).toEqual({
      rms: V,
      rectified: V,
      mean: 0,
      coupled: { rms: V, rectified: V },
    })
    // At a duty d, without its mean: RMS 2V·√(d(1 − d)), rectified mean 4V·d(1 − d).
    const d = 0.8
    const { coupled } = meansOf(bitWave(V, 80, 20))
    expect(coupled.rms).toBeCloseTo(2 * V * Math.sqrt(d * (1 - d)), 9)
    expect(coupled.rectified).toBeCloseTo(4 * V * d * (1 - d), 9)
    // A meter that responds to the average shows a square wave 11.07 % high (handbooks: form factor of a sine 1.1107).
    expect(SINE_FORM_FACTOR).toBeCloseTo(1.1107, 4)
  })
})

describe('a square wave behind a low-pass filter', () => {
  /** Steps of the filter's own differential equation until it repeats. */
  function stepped(halfUs: number, cornerHz: number) {
    const tau = 1e6 / (2 * Math.PI * cornerHz)
    const steps = 20_000
    const dt = halfUs / steps
    let v = 0
    let sums = { square: 0, magnitude: 0 }
    const periods = Math.ceil((20 * tau) / (2 * halfUs)) + 2
    for (let p = 0; p < periods; p++) {
      sums = { square: 0, magnitude: 0 }
      for (const level of [1, -1])
        for (let i = 0; i < steps; i++) {
          const middle = level + (v - level) * Math.exp(-dt / 2 / tau)
          v = level + (v - level) * Math.exp(-dt / tau)
          sums.square += middle * middle
          sums.magnitude += Math.abs(middle)
        }
    }
    return { rms: Math.sqrt(sums.square / (2 * steps)), rectified: sums.magnitude / (2 * steps) }
  }

  it.each([1e3, 5e3, 20e3, 100e3])('at %d Hz', (hz) => {
    for (const halfUs of [58, 100]) {
      const closed = filteredSquare(halfUs, hz)
      const numeric = stepped(halfUs, hz)
      expect(closed.rms).toBeCloseTo(numeric.rms, 5)
      expect(closed.rectified).toBeCloseTo(numeric.rectified, 5)
    }
  })
})

describe('what a meter bounds', () => {
  const reading = {
    reading: 'track',
    of: 'main',
    voltage: 15,
    never: false,
    with: 'm',
    by: 'n',
    on: '2026-05-01',
  } as const
  const meter = (more: object) =>
    ({ kind: 'rms', accuracy: 0.01, digits: 0, coupling: 'ac+dc', ...more }) as const

  it('nothing without its accuracy or below the frequency of the signal', () => {
    expect(peakFromAc(reading, meter({ accuracy: undefined, bandwidth: 1e6 }), 58)).toEqual({
      blind: 'accuracy',
    })
    // 8.6 kHz: usual meters end at 400 Hz or 1 kHz.
    expect(peakFromAc(reading, meter({ bandwidth: 1000 }), 58)).toEqual({ blind: 'bandwidth' })
    // by hand: 1 / (2 · 58 us) = 8621 Hz
    expect(peakFromAc(reading, meter({ bandwidth: 8600 }), 58)).toEqual({ blind: 'bandwidth' })
    expect(peakFromAc(reading, meter({ bandwidth: 8630 }), 58)).not.toHaveProperty('blind')
    expect(rmsFromAc(reading, meter({}), 58)).toEqual({ blind: 'bandwidth' })
  })

  it('never the peak from above', () => {
    for (const kind of ['average', 'rms'] as const)
      expect(peakFromAc(reading, meter({ kind, bandwidth: 1e6 }), 58)).toMatchObject({ high: Infinity })
  })

  it('the peak from below, less by the form factor where it shows the mean', () => {
    // by hand: 15 V less 1 % are 14.85 V; divided by π/(2·√2) = 1.1107 they are 13.37 V
    expect(peakFromAc(reading, meter({ bandwidth: 1e6 }), 58)).toMatchObject({ low: 14.85 })
    const average = peakFromAc(reading, meter({ bandwidth: 1e6, kind: 'average' }), 58)
    expect('low' in average && average.low).toBeCloseTo(13.37, 2)
  })

  it('a time with the last digits of its clock, in seconds', () => {
    const time = { ...reading, reading: 'trip', voltage: undefined, time: 2e6 } as const
    // by hand: 2 s ± 1 % ± 0.01 s
    expect(withError(time, meter({ digits: 0.01 }))).toEqual({ low: 1.97e6, high: 2.03e6 })
  })

  it('the RMS from above only with AC and DC coupling and three harmonics', () => {
    expect(rmsFromAc(reading, meter({ bandwidth: 1e6, coupling: 'ac' }), 58)).toMatchObject({
      high: Infinity,
    })
    expect(rmsFromAc(reading, meter({ bandwidth: 20e3 }), 58)).toMatchObject({ high: Infinity })
    expect(rmsFromAc(reading, meter({ bandwidth: 1e6, kind: 'average' }), 58)).toMatchObject({
      high: Infinity,
    })
    const found = rmsFromAc(reading, meter({ bandwidth: 100e3 }), 58)
    expect('high' in found && found.high).toBeGreaterThan(15.15)
    expect('high' in found && found.high).toBeLessThan(16)
  })

  it('bounds the RMS of a mix of ones and zeros that a band limit cuts off', () => {
    // Fourier series of a long mix, summed up to the limit: never less than the bound for ones alone.
    const bits = [...'111111111111110000000110001111110000101101'].map((b) => (b === '1' ? 58 : 100))
    const wave = bits.flatMap((half) => [...bitWave(1, half)])
    const period = wave.reduce((s, l) => s + l.us, 0)
    for (const hz of [26e3, 50e3, 100e3]) {
      let power = 0
      for (let k = 1; (k * 1e6) / period <= hz; k++) {
        const w = (2 * Math.PI * k) / period
        let [re, im, t] = [0, 0, 0]
        for (const { volt, us } of wave) {
          re += (volt * (Math.sin(w * (t + us)) - Math.sin(w * t))) / (w * period)
          im += (volt * (Math.cos(w * (t + us)) - Math.cos(w * t))) / (w * period)
          t += us
        }
        power += 2 * (re * re + im * im)
      }
      expect(power).toBeGreaterThanOrEqual(squarePowerBelow(58, hz) - 1e-3)
    }
  })
})
