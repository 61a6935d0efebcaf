/** The compiled loop over plain rows against the importers' own, which they keep for hosts without it: files of any shape, damaged too. */
import { afterAll, describe, expect, it, vi } from 'vitest'
import { runs } from '../../test/runs.js'
import { random } from '../../test/track/random.js'
import { GAP } from '../signal/edges.js'
import type { InputError } from '../units/index.js'
import type { CaptureOptions } from './importer.js'

type Rooms = typeof import('./import.js')

/** Modules of their own, whose first look for WebAssembly finds what is given. */
async function roomsWith(host: unknown): Promise<Rooms & typeof import('./plain-rows.js')> {
  vi.resetModules()
  vi.stubGlobal('WebAssembly', host)
  const { sharedPlainRows, ...more } = await import('./plain-rows.js')
  const found = sharedPlainRows()
  vi.unstubAllGlobals()
  return { ...(await import('./import.js')), ...more, sharedPlainRows: () => found }
}

const forbidding = {
  Memory: WebAssembly.Memory,
  Module: class {
    constructor() {
      throw new Error('forbidden')
    }
  },
  Instance: WebAssembly.Instance,
}
const quick = await roomsWith(WebAssembly)
const plain = await roomsWith(undefined)
afterAll(() => vi.resetModules())

/** All that comes of a file read in chunks of random lengths, or what is said of it. */
function outcome({ CaptureImporter }: Rooms, file: Uint8Array, options: CaptureOptions, seed: number) {
  const chance = random(seed)
  const edges: number[][] = []
  const clocks: unknown[] = []
  const sink = {
    begin: (clock: unknown) => void clocks.push(clock),
    push: (block: { ticks: Float64Array; levels: Uint8Array; count: number }) => {
      for (let i = 0; i < block.count; i++) edges.push([block.ticks[i]!, block.levels[i]!])
    },
  }
  try {
    const importer = new CaptureImporter(options, sink)
    for (let at = 0; at < file.length && !importer.done; ) {
      const length = 1 + Math.floor(chance() ** 4 * 200_000)
      importer.push(file.slice(at, at + length))
      at += length
    }
    return { edges, clocks, summary: importer.end() }
  } catch (error) {
    // Each set of modules has an InputError of its own.
    const { place, message } = error as InputError
    return { edges, clocks, said: message, place }
  }
}

function expectSame(text: string, options: CaptureOptions, seed: number) {
  const file = new TextEncoder().encode(text)
  const [got, want] = [quick, plain].map((rooms) => outcome(rooms, file, options, seed))
  expect(got!.edges.length).toBe(want!.edges.length)
  for (const [i, edge] of want!.edges.entries())
    if (got!.edges[i]![0] !== edge[0] || got!.edges[i]![1] !== edge[1])
      expect({ i, edge: got!.edges[i] }).toEqual({ i, edge })
  expect({ ...got, edges: 0 }).toEqual({ ...want, edges: 0 })
  return want!
}

/** Rows of half-bits in ticks, and now and then something else. */
function halfBits(chance: () => number, rows: number, tickNs: number): { tick: number; level: number }[] {
  let tick = Math.floor(chance() ** 3 * 10 ** (2 + Math.floor(12 * chance())))
  const still = chance() < 0.3 ? 0.2 : 0
  let level = 0
  return Array.from({ length: rows }, () => {
    const us = (chance() < 0.5 ? 58 : 100) + 2 * chance()
    tick += Math.max(1, Math.round((1000 * us) / tickNs))
    if (chance() >= still) level = 1 - level
    return { tick, level }
  })
}

function damaged(text: string, chance: () => number): string {
  const at = Math.floor(text.length * (0.3 + 0.7 * chance()))
  const end = at + Math.floor(3 * chance())
  const put = ['', 'x', '\n', ',', ' ', '-', '7', '\0', '#', '1!\n', '\r', '# a word\n', '9999999999', '.'][
    Math.floor(14 * chance())
  ]!
  return text.slice(0, at) + put + text.slice(end)
}

const rowsOf = (chance: () => number) => (chance() < 0.1 ? 40_000 : 200 + Math.floor(1500 * chance()))

function options(chance: () => number, sampled = false): CaptureOptions {
  return {
    // The search for the grid of the times has tests of its own, and takes longer than the rows.
    ...(chance() < 0.9 && !sampled ? { rateHz: 1e6 } : {}),
    ...(chance() < 0.2 ? { invert: true } : {}),
    ...(chance() < 0.15 ? { skipUs: 20_000 * chance() } : {}),
    ...(chance() < 0.15 ? { toUs: 200_000 * chance() } : {}),
  }
}

describe('plain rows by the compiled loop', () => {
  it('is there where it can be compiled, and nowhere else', async () => {
    expect(quick.sharedPlainRows()).toBeDefined()
    expect(plain.sharedPlainRows()).toBeUndefined()
    expect((await roomsWith(forbidding)).sharedPlainRows()).toBeUndefined()
  })

  it('are those of the importer’s own loop: CSV', () => {
    const chance = random(21)
    let whole = 0
    let gaps = 0
    for (let round = 0; round < runs(40); round++) {
      const places = Math.floor(13 * chance())
      const unitNs = [1, 1e3, 1e6, 1e9][Math.floor(4 * chance())]!
      const tickNs = unitNs / 10 ** places
      const sampled = chance() < 0.15
      const list = halfBits(chance, rowsOf(chance), Math.max(tickNs, 1e-3))
      const [delimiter, point] = chance() < 0.8 ? [',', '.'] : [';', ',']
      const end = chance() < 0.8 ? '\n' : '\r\n'
      const time = (tick: number) => {
        const text = String(tick).padStart(places + 1, '0')
        return places === 0 ? text : `${text.slice(0, -places)}${point}${text.slice(-places)}`
      }
      const unit = { 1: 'ns', 1000: 'us', 1000000: 'ms', 1000000000: 's' }[unitNs]!
      const rows = list.map(({ tick, level }, i) => {
        const odd = chance() < 0.0005 ? ' ' : ''
        // Every sample is written, but for some that are missing.
        const at = sampled ? 1000 + 58 * i + (i > 700 ? 5000 : 0) : tick
        return `${time(at)}${odd}${delimiter}${sampled ? (i >> 3) & 1 : level}${end}`
      })
      const text = `time [${unit}]${delimiter}main${end}${rows.join('')}`
      const found = expectSame(chance() < 0.4 ? damaged(text, chance) : text, options(chance, sampled), round)
      if (found.edges.length > 100) whole++
      if (found.edges.some(([, level]) => level === GAP)) gaps++
    }
    expect(whole).toBeGreaterThan(runs(40) / 3)
    expect(gaps).toBeGreaterThan(0)
  })

  it('are those of the importer’s own loop: VCD', () => {
    const chance = random(22)
    let whole = 0
    for (let round = 0; round < runs(40); round++) {
      const tickNs = [0.001, 1, 10, 1000][Math.floor(4 * chance())]!
      const scale = { 0.001: '1 ps', 1: '1 ns', 10: '10 ns', 1000: '1 us' }[tickNs]!
      const id = ['!', 'ab', '#', '0', '10', 'abc'][Math.floor(6 * chance())]!
      const rows = halfBits(chance, rowsOf(chance), tickNs).map(({ tick, level }) => {
        const odd = chance()
        if (odd < 0.0005) return `#${tick}\n${level}${id}\n#${tick}\n${1 - level}${id}\n`
        if (odd < 0.001) return `#${tick}\n#${tick}\n${level}${id}\n`
        if (odd < 0.0015) return `#${tick}\nx${id}\n`
        if (odd < 0.002) return `#${tick} ${level}${id}\n`
        return `#${tick}\n${level}${id}\n`
      })
      const head = `$timescale ${scale} $end\n$var wire 1 ${id} main $end\n$enddefinitions $end\n`
      const text = head + rows.join('')
      const found = expectSame(chance() < 0.4 ? damaged(text, chance) : text, options(chance), round)
      if (found.edges.length > 100) whole++
    }
    expect(whole).toBeGreaterThan(runs(40) / 3)
  })

  it('leave a pause of the samples to the importer', () => {
    const rows = Array.from({ length: 20_000 }, (_, i) => {
      const ns = 1000 * i + (i > 15_000 ? 50_000 : 0)
      return `0.${String(ns).padStart(9, '0')},${Math.floor(i / 58) & 1}\n`
    })
    const { edges } = expectSame(`time [s],main\n${rows.join('')}`, {}, 1)
    expect(edges.filter(([, level]) => level === GAP)).toHaveLength(1)
  })

  it('takes nearly all rows of a usual file itself', () => {
    const rows = quick.sharedPlainRows()!
    const text = Array.from(
      { length: 5000 },
      (_, i) => `1.${String(58_000 * (i + 1)).padStart(9, '0')},${i % 2}\n`,
    )
    const bytes = new TextEncoder().encode(text.join('').padEnd(5000 * 14 + 64, '\n'))
    const batch = {
      ticks: new Float64Array(16_384),
      levels: new Uint8Array(16_384),
      size: 16_384,
      count: 0,
      level: 2,
    }
    const shape = {
      headLength: 2,
      headTick: 1e9,
      digits: 9,
      tail: [44, 48, 10],
      levelAt: 1,
      gapTicks: Number.POSITIVE_INFINITY,
    }
    rows.forget()
    const at = rows.read(bytes, 0, 5000 * 14, shape, batch as never, 0)
    expect([at, rows.rows, rows.time, batch.count]).toEqual([5000 * 14, 5000, 1e9 + 58_000 * 5000, 5000])
    expect([batch.ticks[4999], batch.levels[4999]]).toEqual([1e9 + 58_000 * 5000, 1])
  })
})
