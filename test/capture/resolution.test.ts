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
}

const UNIT_NAMES: Record<number, string> = { 1e6: 's', 1e3: 'ms', 1: 'us', 1e-3: 'ns' }

/** Changes only: the first sample at or after each edge, rounded to the digits. */
function sampledCsv(signal: Signal): string {
  const { seed, rateHz, unitUs, places, packets = 40, one = 58, zero = 100, fault } = signal
  const random = randomOf(seed)
  for (let i = 0; i < 4; i++) random()
  const drift = 1 + (random() - 0.5) * 1e-4
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
  let t = 500 + random() * 500
  const write = (us: number, level: number) => {
    const sampled = rateHz === 0 ? us : (Math.ceil((us * rateHz) / 1e6 - phase) + phase) * (1e6 / rateHz)
    rows.push(`${(sampled / unitUs).toFixed(places)},${level}`)
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
