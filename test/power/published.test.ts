import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { binomialDistribution, errorFunction, mean, standardDeviation } from 'simple-statistics'
import { describe, expect, it } from 'vitest'
import { seededRandom } from '../../src/corner/index.js'
import type { SenseDesign } from '../../src/power/index.js'
import {
  ackChances,
  atLeast,
  capacitorI2t,
  copperI2t,
  copperK,
  driverSkewUs,
  dropVolt,
  i2t,
  inrush,
  junction,
  normalTail,
  onOhm,
  resolveDriver,
  senseChain,
  settled,
  shareCurrent,
  simulateAck,
  switchingWatt,
  timeAboveUs,
  timeToTemperatureUs,
  tripAtUs,
  tripTime,
  waveOf,
  windowChance,
} from '../../src/power/index.js'

const read = (name: string) =>
  JSON.parse(readFileSync(new URL(`../published/power/${name}.json`, import.meta.url), 'utf8'))
const drivers = read('drivers')
const examples = read('examples')

const l298 = resolveDriver({ part: 'l298n' })
const sense: SenseDesign & object = {
  kind: 'shunt',
  resistance: 0.1,
  tolerance: 0.01,
  gain: 1,
  zero: 0,
  offset: 0,
  noise: 0,
  sees: 'both',
  reference: 5,
  referenceTolerance: 0.02,
  bits: 10,
  rate: 1000,
  filter: 0,
}

describe('data sheets', () => {
  it('L298: saturation voltages add up to the table', () => {
    for (const row of drivers.l298.drops) {
      expect(dropVolt(l298, row.amp, 25, 'typical')).toBeCloseTo(
        row.sourceTypicalVolt + row.sinkTypicalVolt,
        9,
      )
    }
    expect(dropVolt(l298, 2, 25, 'most')).toBe(drivers.l298.totalMostAt2AmpVolt)
    // Between the points: a straight line; below the first the prolonged one, never below zero.
    expect(dropVolt(l298, 1.5)).toBeCloseTo((2.55 + 3.7) / 2, 9)
    expect(dropVolt(l298, 0)).toBe(0)
  })

  it('L298: 25 W at 75 °C case is the limit of its junction', () => {
    const { l298: sheet } = drivers
    expect(l298.junctionToCase).toBe(sheet.junctionToCaseKelvinPerWatt)
    expect(l298.junctionToAmbient).toBe(sheet.junctionToAmbientKelvinPerWatt)
    const found = junction(() => sheet.totalPowerAtCase75Watt, l298.junctionToCase!, 75)
    expect(found.junctionC).toBeCloseTo(sheet.junctionMaxC.value, 6)
    expect(l298.junctionMaxC).toBe(sheet.junctionMaxC.value)
  })

  it('BTS7960B: the temperature law meets the figures at 150 °C within 6 %', () => {
    const part = resolveDriver({ part: 'BTS7960B' })
    const { high, low } = drivers.bts7960b
    expect(onOhm(part, 25)).toBeCloseTo((high.cold + low.cold) / 1000, 9)
    const hot = (high.hot + low.hot) / 1000
    expect(Math.abs(onOhm(part, 150)! / hot - 1)).toBeLessThan(0.06)
  })
})

describe('worked examples', () => {
  it('mA per count', () => {
    const at5V = senseChain(sense)
    const at1V1 = senseChain({ ...sense, reference: 1.1 })
    if ('problem' in at5V || 'problem' in at1V1) throw new Error('no chain')
    expect(at5V.ampPerCount * 1000).toBeCloseTo(48.83, 2)
    expect(Math.round(at5V.ampPerCount * 1000)).toBe(examples.adc.milliAmpPerCountAt5V)
    expect(at1V1.ampPerCount * 0.1 * 1000).toBeCloseTo(examples.adc.milliVoltPerCountAt1V1, 2)
  })
  it('sense outputs', () => {
    const chain = senseChain(
      { ...sense, kind: 'mirror', resistance: 2700 },
      resolveDriver({ part: 'DRV8874' }),
    )
    if ('problem' in chain) throw new Error(chain.problem)
    expect(Math.round(chain.voltPerAmp * 0.06 * 1000)).toBe(examples.mirror.milliVolt)
    expect(senseChain({ ...sense, kind: 'mirror', resistance: 2700 }, l298)).toHaveProperty('problem')
  })
  it('switching loss, fault energy, copper', () => {
    expect(switchingWatt(15, 1, 1, 1, 17240)).toBeCloseTo(examples.switching.watt, 2)
    expect(15 * 5 * 0.1).toBe(examples.faultEnergy.joule)
    expect(Math.round(copperK(70, 160))).toBe(examples.copperK.value)
    // 1000 uF at 15 V through 0.3 Ohm: ½CV² = 0.1125 J in 0.3 Ohm is 0.375 A²s.
    expect(capacitorI2t(1e-3, 15, 0.3)).toBeCloseTo(0.1125 / 0.3, 12)
    expect(i2t(5, 100_000)).toBeCloseTo(2.5, 12)
    // 0.5 mm2 from 70 to 160 °C: (115 · 0.5)², so 10 A may flow for 33 s without loss of heat.
    expect(copperI2t(0.5, 70, 160) / 100).toBeCloseTo(33.1, 0)
  })
})

describe('heat', () => {
  it('iterates to the closed form of a resistance that rises with temperature, or runs away', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.1, max: 6, noNaN: true }),
        fc.double({ min: 0.01, max: 0.6, noNaN: true }),
        fc.double({ min: 1, max: 60, noNaN: true }),
        (amp, ohm, thermal) => {
          const a = 0.006
          const watt = (t: number) => amp * amp * ohm * (1 + a * (t - 25))
          const gain = thermal * amp * amp * ohm * a
          fc.pre(Math.abs(gain - 1) > 0.02)
          // T = Ta + θP25(1 + a(T − 25)) → T = (Ta + θP25(1 − 25a)) / (1 − θP25a)
          const exact = (35 + thermal * amp * amp * ohm * (1 - 25 * a)) / (1 - gain)
          const { junctionC } = junction(watt, thermal, 35)
          if (gain >= 1 || exact > 1000) expect(junctionC).toBe(Number.POSITIVE_INFINITY)
          else expect(Math.abs(junctionC - exact)).toBeLessThan(1e-3)
        },
      ),
    )
  })
  it('reaches a limit after the time of one RC stage', () => {
    const model = { stages: [{ kelvinPerWatt: 10, tauUs: 1e6 }], ambientC: 25 }
    // 25 + 10·20·(1 − e^(−t)) = 150 → t = ln(200/75) s
    expect(timeToTemperatureUs(model, () => 20, 150)).toBeCloseTo(1e6 * Math.log(200 / 75), -1)
    expect(timeToTemperatureUs(model, () => 12, 150)).toBe(Number.POSITIVE_INFINITY)
    expect(timeToTemperatureUs(model, () => 20, 150, settled(model, 13))).toBe(0)
  })
  it('shares current between channels so that both lose the same voltage', () => {
    const two = shareCurrent(l298, 2, 2.5)!
    expect(two.amps[0]! + two.amps[1]!).toBeCloseTo(2.5, 9)
    expect(dropVolt(l298, two.amps[0]!, 25, 'typical')).toBeCloseTo(
      dropVolt(l298, two.amps[1]!, 25, 'most')!,
      6,
    )
    expect(two.amps[0]).toBeGreaterThan(1.25)
    // Resistances: shares inverse to them. 0.4/0.5 → 5/9 and 4/9.
    const mos = resolveDriver({
      part: 'custom',
      figures: { highOhm: 0.2, lowOhm: 0.2, highOhmMax: 0.25, lowOhmMax: 0.25 },
    })
    expect(shareCurrent(mos, 2, 9)!.amps[0]).toBeCloseTo(5, 6)
  })
})

describe('half-bits through a driver', () => {
  it('are changed by differences of the legs only', () => {
    const custom = (figures: object) => resolveDriver({ part: 'custom', figures })
    const exact = custom({
      risingDelay: 3,
      risingDelayMin: 3,
      risingDelayMax: 3,
      fallingDelay: 1,
      fallingDelayMin: 1,
      fallingDelayMax: 1,
    })
    expect(driverSkewUs(exact, false)!.halfUs).toBe(0)
    const apart = resolveDriver({ part: 'BTS7960B' })
    // ½ · ((4.5 − 1.7) + (5.8 − 2.2)): opposite corners of the sheet break a 55…61 us window, matched legs do not.
    expect(driverSkewUs(apart, false)!.halfUs).toBeCloseTo(3.2, 9)
    expect(driverSkewUs(apart, true)!.halfUs).toBeLessThan(0.5)
    expect(driverSkewUs(apart, true)!.differenceUs).toBeLessThan(3)
    expect(driverSkewUs(resolveDriver({ part: 'VNH2SP30-E' }), true)!.halfUs).toBeGreaterThan(3)
    expect(driverSkewUs(custom({}), true)).toBeUndefined()
  })
})

describe('trip time', () => {
  const base = {
    thresholdAmp: 3,
    filterUs: 0,
    samplePeriodUs: 1000,
    average: 1,
    smoothing: 1,
    samples: 1,
    of: 1,
    afterUs: 0,
  }
  it('is samples times period for a rule of n in a row', () => {
    expect(tripTime(5, 1, { ...base, samples: 3, of: 3 })).toEqual({ bestUs: 2000, worstUs: 3000 })
    expect(tripTime(2.9, 1, base).worstUs).toBe(Number.POSITIVE_INFINITY)
  })
  it('waits for the RC filter: t = RC·ln((I − I0)/(I − Ith))', () => {
    const t = 2000 * Math.log((5 - 1) / (5 - 3))
    const found = tripTime(5, 1, { ...base, filterUs: 2000, samplePeriodUs: 1 })
    expect(Math.abs(found.worstUs - t)).toBeLessThan(3)
  })
  it('waits for the filter and then for up to n samples, whenever the first one comes', () => {
    const t = 2000 * Math.log((5 - 1) / (5 - 3))
    for (const samples of [1, 3]) {
      const found = tripTime(5, 1, { ...base, filterUs: 2000, samples, of: samples })
      expect(Math.abs(found.bestUs - (t + (samples - 1) * 1000))).toBeLessThan(1)
      expect(Math.abs(found.worstUs - (t + samples * 1000))).toBeLessThan(1)
    }
    // No moment of the first sample is outside.
    const s = { ...base, filterUs: 700, average: 3, smoothing: 0.4, samples: 2, of: 4 }
    const { bestUs, worstUs } = tripTime(4, 1, s)
    for (let phase = 0; phase <= 1000; phase += 7) {
      const us = tripAtUs(4, 1, s, phase, 1e6)
      expect(us).toBeGreaterThanOrEqual(bestUs - 0.5)
      expect(us).toBeLessThanOrEqual(worstUs + 0.5)
    }
  })
  it('waits for a moving average: ceil(k·(Ith − I0)/(I − I0)) samples', () => {
    expect(tripTime(5, 1, { ...base, average: 8 }).worstUs).toBe(1000 * Math.ceil((8 * (3 - 1)) / (5 - 1)))
  })
  it('waits for an exponential average: ceil(ln((I − Ith)/(I − I0))/ln(1 − a)) samples', () => {
    const n = Math.ceil(Math.log((5 - 3) / (5 - 1)) / Math.log(1 - 0.1))
    expect(tripTime(5, 1, { ...base, smoothing: 0.1 }).worstUs).toBe(1000 * n)
  })
  it('never falls when the overload grows', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 3.1, max: 20, noNaN: true }),
        fc.integer({ min: 1, max: 5 }),
        (amp, samples) => {
          const s = { ...base, filterUs: 500, average: 4, samples, of: samples + 2 }
          expect(tripTime(amp * 1.2, 1, s).worstUs).toBeLessThanOrEqual(tripTime(amp, 1, s).worstUs)
        },
      ),
    )
  })
})

describe('inrush', () => {
  it('is the closed form for like capacitors: N·V/(R + N·Rs)·e^(−t/((R + N·Rs)·C))', () => {
    for (const [count, source] of [
      [1, 0.2],
      [10, 0.5],
      [40, 2],
    ] as const) {
      const [ohm, farad, volt] = [100, 1000e-6, 15]
      const found = inrush({
        volt: volt + 1.4,
        sourceOhm: source,
        limitAmp: Number.POSITIVE_INFINITY,
        groups: [{ capacitanceFarad: farad, resistanceOhm: ohm, count }],
        besideAmp: 0,
      })
      const peak = (count * volt) / (ohm + count * source)
      const tau = (ohm + count * source) * farad * 1e6
      expect(found.peakAmp).toBeCloseTo(peak, 6)
      const wave = waveOf(found.points)
      for (const t of [0.1, 0.5, 1, 2, 3]) {
        expect(Math.abs(wave(t * tau) - peak * Math.exp(-t)) / peak).toBeLessThan(2e-4)
      }
      expect(Math.abs(timeAboveUs(found.points, peak / 2) / (tau * Math.LN2) - 1)).toBeLessThan(1e-3)
    }
  })
  it('brings the charge that the capacitors hold, with and without a current limit', () => {
    for (const limitAmp of [Number.POSITIVE_INFINITY, 1]) {
      const found = inrush({
        volt: 16.4,
        sourceOhm: 0.3,
        limitAmp,
        groups: [
          { capacitanceFarad: 470e-6, resistanceOhm: 33, count: 8 },
          { capacitanceFarad: 2200e-6, resistanceOhm: 100, count: 3 },
          { capacitanceFarad: 100e-6, resistanceOhm: 0, count: 2 },
        ],
        besideAmp: 0,
      })
      let charge = 0
      for (let i = 1; i < found.points.length; i++) {
        const [a, b] = [found.points[i - 1]!, found.points[i]!]
        charge += ((a.amp + b.amp) / 2) * (b.us - a.us) * 1e-6
        expect(b.amp).toBeLessThanOrEqual(limitAmp + 1e-9)
      }
      expect(Math.abs(charge / (15 * (8 * 470e-6 + 3 * 2200e-6 + 200e-6)) - 1)).toBeLessThan(0.02)
    }
  })
  it('is ridden through with the blanking it asks for, and trips without', () => {
    const { points } = inrush({
      volt: 16.4,
      sourceOhm: 0.3,
      limitAmp: 99,
      groups: [{ capacitanceFarad: 1e-3, resistanceOhm: 100, count: 30 }],
      besideAmp: 0.5,
    })
    const s = {
      thresholdAmp: 3,
      filterUs: 0,
      samplePeriodUs: 500,
      average: 1,
      smoothing: 1,
      samples: 2,
      of: 2,
      afterUs: 0,
    }
    expect(tripAtUs(waveOf(points), 0, s, 0, 1e6)).toBeLessThan(1e6)
    const blankingUs = timeAboveUs(points, 3)
    expect(tripAtUs(waveOf(points), 0, { ...s, blankingUs }, 0, 1e6)).toBe(Number.POSITIVE_INFINITY)
  })
})

describe('statistics, against simple-statistics 7', () => {
  it('normal tail', () => {
    // Its error function is a fit good to 1.2e-7 (Numerical Recipes erfcc).
    for (let x = -4; x <= 4; x += 0.1) {
      expect(Math.abs(normalTail(x) - 0.5 * (1 - errorFunction(x / Math.SQRT2)))).toBeLessThan(2e-7)
    }
    // Abramowitz and Stegun table 26.2: Q(5) = 2.8665157e-7 (from memory).
    expect(normalTail(5) / 2.8665157187919391e-7).toBeCloseTo(1, 9)
    // Both branches meet.
    expect(normalTail(2 * Math.SQRT2 - 1e-9) / normalTail(2 * Math.SQRT2 + 1e-9)).toBeCloseTo(1, 7)
  })
  it('binomial', () => {
    for (const [n, p] of [
      [5, 0.3],
      [7, 0.98],
      [12, 0.5],
      [40, 0.02],
    ] as const) {
      const mass = binomialDistribution(n, p)!
      for (let k = 1; k < mass.length; k++) {
        const below = mass.slice(0, k).reduce((a, b) => a + b, 0)
        expect(Math.abs(1 - below - atLeast(k, n, p))).toBeLessThan(1e-9)
      }
    }
  })
  it('rules over a window, against every one of the sequences there are', () => {
    for (const [k, m, n, p] of [
      [2, 3, 8, 0.2],
      [3, 3, 10, 0.4],
      [3, 5, 11, 0.1],
      [4, 7, 7, 0.9],
      [1, 1, 6, 0.05],
    ] as const) {
      let sum = 0
      for (let s = 0; s < 1 << n; s++) {
        let ones = 0
        for (let i = 0; i < n; i++) ones += (s >> i) & 1
        let seen = false
        for (let i = 0; i <= n - m; i++) {
          let hits = 0
          for (let j = 0; j < m; j++) hits += (s >> (i + j)) & 1
          seen ||= hits >= k
        }
        if (seen) sum += p ** ones * (1 - p) ** (n - ones)
      }
      expect(windowChance(k, m, n, p)).toBeCloseTo(sum, 12)
    }
  })
  it('seeded normal numbers are normal, and the same again', () => {
    const random = seededRandom(7)
    const sample = Array.from({ length: 20_000 }, () => random.normal())
    expect(Math.abs(mean(sample))).toBeLessThan(0.03)
    expect(Math.abs(standardDeviation(sample) - 1)).toBeLessThan(0.02)
    for (const x of [-2, -1, 0, 1, 2]) {
      const share = sample.filter((v) => v > x).length / sample.length
      expect(Math.abs(share - normalTail(x))).toBeLessThan(0.012)
    }
    const again = seededRandom(7)
    expect(again.normal()).toBe(sample[0])
  })
})

describe('acknowledgement', () => {
  const situation = {
    noiseAmp: 0.012,
    countAmp: 0.001,
    rate: 1000,
    average: 1,
    filterUs: 0,
    windowUs: 50_000,
  }
  it('closed form and play agree', () => {
    for (const [s, rule] of [
      [situation, { thresholdAmp: 0.045, samples: 4, of: 5 }],
      [
        { ...situation, noiseAmp: 0.03 },
        { thresholdAmp: 0.04, samples: 3, of: 3 },
      ],
      [
        { ...situation, chop: { rate: 17_123.7, duty: 0.7 } },
        { thresholdAmp: 0.03, samples: 3, of: 5 },
      ],
      [
        { ...situation, noiseAmp: 0.03, average: 4, rate: 2000 },
        { thresholdAmp: 0.03, samples: 5, of: 7 },
      ],
    ] as const) {
      const exact = ackChances(s, rule)
      const runs = 20_000
      const played = simulateAck(s, rule, runs, 42)
      expect(exact.method).toBe('closed form')
      for (const side of ['miss', 'false'] as const) {
        const sigma = Math.sqrt((exact[side] * (1 - exact[side])) / runs)
        // Samples beside the pulse help a little: the closed form may only be on the safe side.
        expect(played[side]).toBeLessThan(exact[side] + 4 * sigma + 5e-4)
        expect(played[side]).toBeGreaterThan(exact[side] * 0.7 - 4 * sigma - 5e-4)
      }
    }
  })
  it('cannot be told with 49 mA per count', () => {
    const coarse = ackChances(
      { ...situation, noiseAmp: 0.003, countAmp: 0.0488 },
      { thresholdAmp: 0.045, samples: 4, of: 5 },
    )
    expect(Math.max(coarse.miss, coarse.false)).toBeGreaterThan(0.5)
  })
  it('shows sampling in step with the chopping only in the play', () => {
    const s = { ...situation, noiseAmp: 0.003, chop: { rate: 16_000, duty: 0.5 } }
    const rule = { thresholdAmp: 0.03, samples: 2, of: 5 }
    expect(simulateAck(s, rule, 4000, 1).miss).toBeGreaterThan(0.4)
    expect(ackChances(s, rule).miss).toBeLessThan(0.25)
  })
})
