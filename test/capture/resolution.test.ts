/**
 * Legal signals, sampled at any rate and written down with any number of digits: none is broken. Half-bits are those of
 * S-9.1:2020 Table 1, with the drift of two clocks; the sampling is worked out here, apart from the importer.
 */
import { describe, expect, it } from 'vitest'
import type { CaptureOptions } from '../../src/capture/index.js'
import { read } from './read.js'

function randomOf(seed: number): () => number {
  let state = (seed * 2654435761) >>> 0
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
}

interface Signal {
  seed: number
  /** Rate of the sampler, Hz; exact times when 0. */
  rateHz: number
  /** Unit in which times are written, us, and its digits behind the point. */
  unitUs: number
  places: number
  packets?: number
  /** Halves of ones and zeros, us. */
  one?: number
  zero?: number
  /** One half of a one in the middle is so long, us. */
  fault?: number
  /** How a time in the file's unit is written, instead of with `places`. */
  print?: (time: number) => string
  /** When the record begins, us. */
  from?: number
  /** Clock of the sampler beside that of the station; by default up to 50 millionths off. */
  drift?: number
}

const UNIT_NAMES: Record<number, string> = { 1e6: 's', 1e3: 'ms', 1: 'us', 1e-3: 'ns' }

/** Changes only: the first sample at or after each edge, rounded to the digits. */
function sampledCsv(signal: Signal): string {
  const { seed, rateHz, unitUs, places, packets = 40, one = 58, zero = 100, fault, from = 500 } = signal
  const { print = (time: number) => time.toFixed(places) } = signal
  const random = randomOf(seed)
  for (let i = 0; i < 4; i++) random()
  const drift = signal.drift ?? 1 + (random() - 0.5) * 1e-4
  const phase = random()
  const halves: number[] = []
  const bit = (is: boolean) => halves.push(...(is ? [one, one] : [zero, zero]))
  for (let n = 0; n < packets; n++) {
    const bytes = [1 + (n % 100), 0x3f, Math.floor(random() * 256)]
    for (let i = 0; i < 16; i++) bit(true)
    for (const byte of [...bytes, bytes[0]! ^ bytes[1]! ^ bytes[2]!]) {
      bit(false)
      for (let mask = 128; mask > 0; mask >>= 1) bit((byte & mask) !== 0)
    }
    bit(true)
  }
  if (fault !== undefined) halves[2 * Math.floor(halves.length / 4 / 52) * 52 + 6] = fault
  const rows: string[] = []
  let t = from + random() * 500
  const write = (us: number, level: number) => {
    const sampled = rateHz === 0 ? us : (Math.ceil((us * rateHz) / 1e6 - phase) + phase) * (1e6 / rateHz)
    rows.push(`${print(sampled / unitUs)},${level}`)
  }
  write(t, 1)
  for (const [i, half] of halves.entries()) {
    t += half * drift
    write(t, i % 2)
  }
  return `Time (${UNIT_NAMES[unitUs]}),D0\n${rows.join('\n')}\n`
}

/** Rates from 100 kHz to 50 MHz, usual and unusual ones, each with as many digits as show it or fewer. */
function seededSignal(seed: number): Signal {
  const random = randomOf(seed + 77)
  for (let i = 0; i < 4; i++) random()
  const usual = [1e5, 1.25e5, 2e5, 2.5e5, 5e5, 1e6, 2e6, 4e6, 8e6, 1e7, 1.2e7, 1.6e7, 2.4e7, 5e7]
  const rateHz =
    random() < 0.6 ? usual[Math.floor(random() * usual.length)]! : Math.round(1e5 * 500 ** random())
  const [unitUs, most] = (
    [
      [1e6, 9],
      [1e3, 6],
      [1, 3],
      [1e-3, 0],
    ] as const
  )[Math.floor(random() * 4)]!
  // Whole microseconds at least.
  const least = Math.max(0, Math.round(Math.log10(unitUs)))
  const places = least + Math.floor(random() * (most - least + 1))
  return { seed, rateHz, unitUs, places, packets: [1, 4, 40][Math.floor(random() * 3)]! }
}

const SEEDS = Number(process.env.HALFBIT_SEEDS ?? 200)

const verdicts = (text: string, options: CaptureOptions = {}) => {
  const { evidence, summary, reading } = read(text, options)
  const bad = evidence.filter((e) => e.verdict === 'broken').map((e) => `${e.clause}: ${e.because}`)
  return { evidence, summary, reading, bad }
}

describe('change-only records without a rate', () => {
  it('of a legal signal are never broken, whatever the rate, the digits and the start', () => {
    let decided = 0
    for (let seed = 1; seed <= SEEDS; seed++) {
      const signal = seededSignal(seed)
      const { bad, evidence, summary } = verdicts(sampledCsv(signal))
      expect(bad, `${JSON.stringify(signal)} known to ${summary.clock.resolutionUs} us`).toEqual([])
      if (evidence.find((e) => e.clause === 'one-half')?.verdict === 'met') decided++
    }
    // Undecided is safe, but a fine record must be decided.
    expect(decided).toBeGreaterThan(SEEDS * 0.6)
  })

  it('with a fault beyond their uncertainty are never met', () => {
    for (let seed = 1; seed <= SEEDS / 2; seed++) {
      const signal = { ...seededSignal(seed), packets: 40 }
      const fault = 64 + 3 * (1e6 / signal.rateHz) + 3
      const { evidence, summary } = verdicts(sampledCsv({ ...signal, fault: Math.min(fault, 75) }))
      if (fault > 75) continue
      expect(
        evidence.find((e) => e.clause === 'one-half')?.verdict,
        `${JSON.stringify(signal)} ${fault} known to ${summary.clock.resolutionUs}`,
      ).toBe('broken')
    }
  })

  it.each([
    [2e6, 1, 0],
    [4e6, 1, 1],
    [2e6, 1e3, 3],
  ])('at a stated rate of %s Hz the rounding of the text is added to it', (rateHz, unitUs, places) => {
    for (let seed = 1; seed <= 40; seed++) {
      const { bad, summary } = verdicts(sampledCsv({ seed, rateHz, unitUs, places }), { rateHz })
      expect(bad, `seed ${seed}`).toEqual([])
      expect(summary.clock.roundingUs).toBeGreaterThan(0)
    }
  })
})

describe('records too coarse to tell ones from zeros', () => {
  it.each([8e3, 1e4, 1.5e4, 2e4, 2.5e4, 3e4, 3.33e4, 4e4, 5e4, 7e4])(
    'sampled at %s Hz break nothing and show no packet rule met that they cannot show',
    (rateHz) => {
      for (let seed = 1; seed <= 20; seed++)
        for (const options of [{}, { rateHz }]) {
          const { bad, evidence, summary } = verdicts(
            sampledCsv({ seed, rateHz, unitUs: 1, places: 3, packets: 60 }),
            options,
          )
          expect(bad, `seed ${seed} known to ${summary.clock.resolutionUs} us`).toEqual([])
          for (const id of ['one-half', 'one-difference'])
            expect(evidence.find((e) => e.clause === id)?.verdict, `${id} ${seed}`).not.toBe('met')
        }
    },
  )

  it.each([
    [50, 100],
    [66, 132],
    [40, 120],
  ])('are told from a station of exactly %s and %s us', (one, zero) => {
    const { bad } = verdicts(sampledCsv({ seed: 3, rateHz: 0, unitUs: 1, places: 1, one, zero, drift: 1 }))
    expect(bad).not.toEqual([])
  })

  it('are told from a station whose zero is two ones', () => {
    const { evidence } = verdicts(
      sampledCsv({ seed: 3, rateHz: 0, unitUs: 1, places: 1, one: 58, zero: 116, drift: 1 }),
    )
    expect(evidence.find((e) => e.clause === 'one-half')?.verdict).toBe('met')
  })
})

describe('times written with a fixed count of significant digits', () => {
  /** As awk and C++ streams write, with six digits unless told otherwise: zeros at the end are dropped. */
  const general = (digits: number) => (time: number) => {
    const [mantissa = '', exponent = '0'] = time.toExponential(digits - 1).split('e')
    return Number(exponent) < -4
      ? `${Number(mantissa)}e${exponent}`
      : String(Number(`${mantissa}e${exponent}`))
  }

  it.each([
    [6, 9_900_000],
    [6, 900_000],
    [7, 9_900_000],
    [7, 60],
    [8, 99_000_000],
    [9, 60],
  ])('with %s digits, from %s us on, break nothing', (digits, from) => {
    for (const [unitUs, rateHz] of [
      [1e6, 1e6],
      [1e3, 4e6],
      [1e6, 0],
    ] as const) {
      const text = sampledCsv({
        seed: digits,
        rateHz,
        unitUs,
        places: 0,
        print: general(digits),
        from,
        packets: 120,
      })
      const { bad, summary } = verdicts(text)
      expect(bad, `known to ${summary.clock.resolutionUs} us`).toEqual([])
    }
  })

  it('are as fine as their largest times show, though zeros at the end are dropped', () => {
    const text = sampledCsv({ seed: 5, rateHz: 1e6, unitUs: 1e6, places: 0, print: general(9), from: 60 })
    const { summary, evidence } = verdicts(text)
    expect(summary.clock.resolutionUs).toBeLessThanOrEqual(1)
    expect(evidence.find((e) => e.clause === 'one-half')?.verdict).toBe('met')
  })
})

describe('exact records', () => {
  const us = (seed: number, first: number, halves: readonly number[]) => {
    let t = first
    const rows = halves.map((half, i) => {
      t += half
      return `${(t / 1e6).toFixed(seed)},${i % 2}`
    })
    return `Time (s),D0\n0,0\n${rows.join('\n')}\n`
  }

  it('are known alike however they begin', () => {
    const bits = '11111111111111110000000110001111110100001011100101110011'
    const halves = [...bits.repeat(3)].flatMap((b) => (b === '1' ? [60, 60] : [100, 100]))
    const found = [180, 181.4375, 178, 58].map((first) => verdicts(us(12, first, halves)))
    for (const { evidence, summary } of found) {
      expect(summary.clock.resolutionUs).toBe(found[0]!.summary.clock.resolutionUs)
      expect(evidence.find((e) => e.clause === 'one-half')?.verdict).toBe('met')
    }
  })

  it('with stretched zeros stay as fine as their half-bits', () => {
    const bits = [...'11111111111111110000000110001111110100001011100101110011']
    const halves = [...bits, ...bits, ...bits].flatMap((b) => (b === '1' ? [58, 58] : [100, 100]))
    halves[35] = 5000
    halves[147] = 5100
    const { summary } = verdicts(us(9, 1000, halves))
    expect(summary.clock.resolutionUs).toBeLessThanOrEqual(1)
  })
})
