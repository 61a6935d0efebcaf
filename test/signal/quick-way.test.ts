/**
 * The reader's quick way against its plain loop, which looks at every half-bit: the same reading and the same packets,
 * whatever the signal, the tick and the cut into blocks.
 */
import { describe, expect, it } from 'vitest'
import {
  type EdgeBlock,
  type PacketRecord,
  SignalReader,
  type SignalReading,
} from '../../src/signal/index.js'

/** What a signal is like; probabilities per half-bit or packet. */
interface Kind {
  jitterUs?: number
  shiftUs?: number
  glitches?: number
  wrongOnes?: number
  stretched?: number
  shortPreambles?: number
  wrongChecks?: number
  cutouts?: boolean
  gaps?: number
  gapUs?: number
  dips?: number
  /** Edges lie on the so manieth part of a tick; anywhere where infinite. */
  places?: number
  fewAddresses?: boolean
  longPackets?: number
  serviceMode?: boolean
}

const KINDS: Record<string, Kind> = {
  plain: {},
  'jitter of 1 us': { jitterUs: 1 },
  'jitter of 3.5 us': { jitterUs: 3.5 },
  'jitter of 8 us': { jitterUs: 8 },
  glitches: { glitches: 1e-3 },
  'wrong ones': { wrongOnes: 0.01, jitterUs: 0.5 },
  'stretched zeros': { stretched: 0.01 },
  'short preambles': { shortPreambles: 0.05 },
  'wrong error bytes': { wrongChecks: 0.05 },
  'cut-outs': { cutouts: true },
  'cut-outs, jitter and glitches': { cutouts: true, glitches: 5e-4, jitterUs: 0.3 },
  'long levels': { gaps: 0.02 },
  dips: { dips: 0.002 },
  'a constant shift': { shiftUs: 8 },
  'a shift, jitter and glitches': { shiftUs: 5, jitterUs: 1, glitches: 1e-4 },
  'edges between ticks': { places: Number.POSITIVE_INFINITY, jitterUs: 0.5 },
  'edges between ticks, cut-outs and wrong ones': {
    places: Number.POSITIVE_INFINITY,
    cutouts: true,
    wrongOnes: 0.01,
    jitterUs: 2,
  },
  'edges between ticks, stretched zeros and glitches': {
    places: Number.POSITIVE_INFINITY,
    stretched: 0.01,
    glitches: 5e-4,
    jitterUs: 3.5,
  },
  // As many bins as a 32-bit number wraps to those of half of a one.
  'levels held for a minute': { places: Number.POSITIVE_INFINITY, gaps: 0.05, gapUs: 2 ** 32 / 64 + 58 },
  'edges on sixteenths of a tick': { places: 16, jitterUs: 0.5 },
  'sixteenths, cut-outs and glitches': { places: 16, cutouts: true, glitches: 5e-4, jitterUs: 0.2 },
  'cut-outs, jitter and wrong ones': { cutouts: true, wrongOnes: 0.01, jitterUs: 2 },
  'few addresses': { fewAddresses: true, jitterUs: 0.2 },
  'endless packets': { longPackets: 0.05 },
  'service mode': { serviceMode: true, jitterUs: 0.5 },
}

/** Numerical Recipes' generator: the same signals in every run. */
function generator(start: number) {
  let state = start
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 4294967296
  }
}

function signalOf(kind: Kind, packets: number, tickUs: number, chance: () => number): EdgeBlock {
  const ticks: number[] = []
  const levels: number[] = []
  let now = 0
  let level = 0
  const happens = (p: number | undefined) => p !== undefined && chance() < p
  const edge = (us: number, next: number) => {
    now += us
    const places = kind.places ?? 1
    const tick =
      places === Number.POSITIVE_INFINITY ? now / tickUs : Math.round((now / tickUs) * places) / places
    if (ticks.length > 0 && tick <= ticks.at(-1)!) return
    ticks.push(tick)
    levels.push(next)
  }
  const half = (us: number) => {
    level = 1 - level
    if (happens(kind.glitches)) {
      edge(10 * chance() + 0.5, level)
      edge(6 * chance() + 0.5, 1 - level)
      edge(Math.max(1, us - 16), level)
      return
    }
    if (happens(kind.dips)) {
      edge(us / 2, 2)
      edge(us / 2 + 3000 * chance() * chance(), level)
      return
    }
    const jitter = (chance() - 0.5) * 2 * (kind.jitterUs ?? 0)
    const shift = (level === 1 ? 1 : -1) * (kind.shiftUs ?? 0)
    edge(us + jitter + shift, level)
  }
  const bit = (isOne: number) => {
    const us = isOne
      ? happens(kind.wrongOnes)
        ? 62 + 4 * chance()
        : 58
      : happens(kind.stretched)
        ? 100 + 12_000 * chance() * chance()
        : 100
    half(us)
    half(us)
  }
  for (let i = 0; i < packets; i++) {
    for (let k = happens(kind.shortPreambles) ? 11 : kind.serviceMode ? 22 : 16; k > 0; k--) bit(1)
    const length = happens(kind.longPackets) ? 70 : 2 + Math.floor(chance() * 3)
    const bytes = Array.from({ length }, () => Math.floor(chance() * 256))
    if (kind.fewAddresses) bytes[0] = 3 + (i % 10)
    if (kind.serviceMode) bytes[0] = i % 3 === 0 ? 0 : 0x7c
    bytes.push(bytes.reduce((all, b) => all ^ b, 0) ^ (happens(kind.wrongChecks) ? 1 : 0))
    bit(0)
    bytes.forEach((byte, at) => {
      for (let k = 7; k >= 0; k--) bit((byte >> k) & 1)
      bit(at === bytes.length - 1 ? 1 : 0)
    })
    if (kind.cutouts) {
      edge(29, 2)
      level = 1 - level
      edge(430, level)
    }
    if (happens(kind.gaps)) {
      level = 1 - level
      edge(kind.gapUs ?? 25_000, level)
    }
  }
  return { ticks: Float64Array.from(ticks), levels: Uint8Array.from(levels), count: ticks.length }
}

function read(
  signal: EdgeBlock,
  tickUs: number,
  resolutionUs: number,
  kind: Kind,
  plainly: boolean,
  cut: () => number,
) {
  const packets: PacketRecord[] = []
  const reader = new SignalReader(
    { tickUs, resolutionUs },
    {
      plainly,
      cutout: kind.cutouts === true,
      mode: kind.serviceMode ? 'service' : 'operations',
      onPacket: (p) => packets.push(p),
    },
  )
  for (let from = 0; from < signal.count; ) {
    const to = Math.min(signal.count, from + cut())
    reader.push({
      ticks: signal.ticks.subarray(from, to),
      levels: signal.levels.subarray(from, to),
      count: to - from,
    })
    from = to
  }
  return { reading: reader.finish(signal.ticks[signal.count - 1]! + 5000 / tickUs), packets }
}

/** Where two results differ by more than the rounding of sums; '' where they agree. */
function difference(a: unknown, b: unknown, path = ''): string {
  if (typeof a === 'number' && typeof b === 'number') {
    const same = Object.is(a, b) || Math.abs(a - b) <= 1e-9 * Math.max(1, Math.abs(a), Math.abs(b))
    return same ? '' : `${path}: ${a} and ${b}`
  }
  if (typeof a !== 'object' || a === null || typeof b !== 'object' || b === null)
    return a === b ? '' : `${path}: ${a} and ${b}`
  const [x, y] = [a, b] as Record<string, unknown>[]
  for (const key of new Set([...Object.keys(x!), ...Object.keys(y!)])) {
    const found = difference(x![key], y![key], `${path}.${key}`)
    if (found) return found
  }
  return ''
}

describe('the quick way of the reader', () => {
  const ticks = [1, 0.25, 1 / 16, 1 / 24, 0.01, 0.001, 1e-6]
  for (const [name, kind] of Object.entries(KINDS)) {
    it(`reads ${name} as the plain loop does`, () => {
      const chance = generator(name.length * 7919)
      const readings: SignalReading[] = []
      for (const tickUs of ticks) {
        for (let k = 0; k < 2; k++) {
          const signal = signalOf(kind, 120, tickUs, chance)
          const resolutionUs = chance() < 0.5 ? 0 : tickUs
          const cut = k === 0 ? () => signal.count : () => 1 + Math.floor(chance() * 3000)
          const quick = read(signal, tickUs, resolutionUs, kind, false, cut)
          const plain = read(signal, tickUs, resolutionUs, kind, true, cut)
          expect(difference(quick, plain), `ticks of ${tickUs} us, ${k}`).toBe('')
          readings.push(plain.reading)
        }
      }
      // Signals that nothing was read from would agree too.
      expect(readings.some((r) => r.packets.total > 30)).toBe(true)
    })
  }
})
