/**
 * Seeded signals, seen as instruments see them: at rates of 100 kHz to 50 MHz, from any start phase, with times written
 * to any digit. A legal signal is never broken; a fault beyond what the record can tell is never met.
 */
import { CaptureImporter, type CaptureOptions, type CaptureSink } from '../../src/capture/index.js'
import {
  type EdgeClock,
  type EdgeList,
  type ReaderOptions,
  SignalEncoder,
  SignalReader,
  type SignalReading,
  signalStatements,
} from '../../src/signal/index.js'
import { type ClauseId, profileOf, type Statement } from '../../src/standard/index.js'

const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

/** How the record comes to the reader. */
export const WAYS = ['edges', 'csv with rate', 'csv', 'vcd'] as const
export type Way = (typeof WAYS)[number]

export const FAULTS = [
  'none',
  'long ones',
  'short ones',
  'one long half',
  'one short half',
  'unequal halves',
  'short zeros',
  'short preamble',
  'error byte',
  'late packet',
] as const
export type Fault = (typeof FAULTS)[number]

const CLAUSE_OF: Record<Exclude<Fault, 'none'>, ClauseId> = {
  'long ones': 'one-half',
  'short ones': 'one-half',
  'one long half': 'one-half',
  'one short half': 'one-half',
  'unequal halves': 'one-difference',
  'short zeros': 'zero-half',
  'short preamble': 'preamble',
  'error byte': 'error-byte',
  'late packet': 'packet-interval',
}

export interface SeedResult {
  seed: number
  way: Way
  fault: Fault
  rateHz: number
  /** How finely times were written, us. */
  digitUs: number
  undecided: number
  /** What went against the rule; empty when nothing did. */
  wrong: string[]
}

/** A generator of numbers from 0 to below 1: mulberry32, public domain. */
function random(seed: number): () => number {
  let a = seed >>> 0
  return () => {
    a = (a + 0x6d2b79f5) >>> 0
    let t = Math.imul(a ^ (a >>> 15), 1 | a)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
}

export function runSeed(seed: number, ways: readonly Way[] = WAYS): SeedResult {
  const next = random(seed)
  const between = (low: number, high: number) => low + (high - low) * next()
  const pick = <T>(list: readonly T[]) => list[Math.floor(next() * list.length)]!
  const way = pick(ways)
  const fault = next() < 0.5 ? 'none' : pick(FAULTS.slice(1))
  const rateHz = next() < 0.5 ? pick(RATES) : 10 ** between(5, Math.log10(50e6))
  const sampleUs = 1e6 / rateHz
  // Digits no coarser than the samples themselves, as instruments write them, or one coarser.
  const digitUs = 10 ** Math.min(0, Math.floor(Math.log10(sampleUs)) - Math.floor(between(-1, 4)))
  const uncertain = sampleUs + digitUs
  const edges = signalOf(next, between, fault, uncertain)
  const seen = sampled(edges, sampleUs, between(0, 1), digitUs)
  const reading = read(way, seen, { rateHz, digitUs })
  const statements = signalStatements(reading, PROFILE, {
    origin: 'measured',
    source: 'seed',
    probe: 'logic',
  })
  const result = { seed, way, fault, rateHz, digitUs }
  return {
    ...result,
    undecided: statements.filter((s) => s.verdict === 'undecided').length,
    wrong: wrongOf(fault, statements),
  }
}

const RATES = [
  100e3, 125e3, 200e3, 250e3, 500e3, 1e6, 2e6, 4e6, 5e6, 8e6, 10e6, 12e6, 16e6, 20e6, 24e6, 25e6, 50e6,
]

function wrongOf(fault: Fault, statements: Statement[]): string[] {
  if (fault === 'none')
    return statements.filter((s) => s.verdict === 'broken').map((s) => `legal, but ${s.clause}: ${s.because}`)
  const id = CLAUSE_OF[fault]
  const found = statements.find((s) => s.clause === id)
  // A half so short that it can be none is a glitch, and that clause is broken instead.
  const named = statements.some((s) => s.verdict === 'broken')
  return found?.verdict === 'met' && !named ? [`${fault}, but ${id} met: ${found.because}`] : []
}

function signalOf(
  next: () => number,
  between: (low: number, high: number) => number,
  fault: Fault,
  uncertainUs: number,
): EdgeList {
  // A fault lies beyond what the record can tell.
  const beyond = uncertainUs * between(1.05, 3) + 0.01
  const whole = next() < 0.5
  const oneHalf = whole ? Math.round(between(56, 60)) : between(55.02, 60.98)
  const ones =
    fault === 'long ones' ? 61 + beyond : fault === 'short ones' ? Math.max(42, 55 - beyond) : oneHalf
  const zeroHalf = whole ? Math.round(between(96, 120)) : between(95.02, 130)
  const zeros = fault === 'short zeros' ? Math.max(79, 95 - beyond) : zeroHalf
  const preamble = Math.floor(between(14, 22))
  const encoder = new SignalEncoder({ oneHalfUs: ones, zeroHalfUs: zeros, preamble })
  const count = Math.floor(between(12, 40))
  const bad = Math.floor(between(3, count - 2))
  for (let i = 0; i < count; i++) {
    const bytes = [1 + Math.floor(next() * 99), 0x3f, Math.floor(next() * 256)]
    const check = bytes.reduce((a, b) => a ^ b, 0)
    if (i !== bad) {
      encoder.packet([...bytes, check])
      continue
    }
    if (fault === 'error byte') encoder.packet([...bytes, check ^ 4])
    else if (fault === 'short preamble') encoder.packet([...bytes, check], 11)
    else {
      if (fault === 'one long half') encoder.bit(true, ones, Math.min(76, 61 + beyond))
      if (fault === 'one short half') encoder.bit(true, ones, Math.max(42, 55 - beyond))
      if (fault === 'unequal halves') {
        const half = (3 + 2 * beyond) / 2
        encoder.bit(true, 58 + half, 58 - half)
      }
      if (fault === 'late packet') encoder.ones(Math.ceil((30_000 + beyond + 100) / (2 * ones)))
      encoder.packet([...bytes, check])
    }
  }
  encoder.ones(3)
  return encoder.finish()
}

interface Seen {
  /** Times of the edges, us, as they were written. */
  timesUs: number[]
  levels: number[]
}

/** The level looked at every `sampleUs`, beginning anywhere in the signal; times rounded to a digit. */
function sampled(edges: EdgeList, sampleUs: number, phase: number, digitUs: number): Seen {
  const timesUs: number[] = []
  const levels: number[] = []
  const offset = phase * sampleUs + Math.floor(phase * 1000) * 7
  let level = -1
  for (let i = 0; i < edges.count; i++) {
    const at = edges.ticks[i]! / 1000
    const sample = Math.ceil((at - offset) / sampleUs - 1e-9)
    if (edges.levels[i] === level) continue
    const time = Math.round((offset + sample * sampleUs) / digitUs) * digitUs
    level = edges.levels[i]!
    if (at < offset) {
      timesUs[0] = Math.round(offset / digitUs) * digitUs
      levels[0] = level
      continue
    }
    timesUs.push(time)
    levels.push(level)
  }
  return { timesUs, levels }
}

function read(way: Way, seen: Seen, { rateHz, digitUs }: { rateHz: number; digitUs: number }): SignalReading {
  if (way === 'edges') {
    const clock: EdgeClock = { tickUs: digitUs, resolutionUs: 1e6 / rateHz, roundingUs: digitUs / 2 }
    const ticks = Float64Array.from(seen.timesUs, (us) => Math.round(us / digitUs))
    const reader = new SignalReader(clock)
    reader.push({ ticks, levels: Uint8Array.from(seen.levels), count: ticks.length })
    return reader.finish(ticks.at(-1)!)
  }
  return way === 'vcd'
    ? imported(vcdOf(seen, digitUs), {})
    : imported(csvOf(seen, digitUs), way === 'csv' ? {} : { rateHz })
}

function csvOf({ timesUs, levels }: Seen, digitUs: number): string {
  const digits = Math.max(0, Math.round(-Math.log10(digitUs)) + 6)
  const rows = timesUs.map((us, i) => `${(us / 1e6).toFixed(digits)},${levels[i]}`)
  return `Time [s],main\n${rows.join('\n')}\n`
}

function vcdOf({ timesUs, levels }: Seen, digitUs: number): string {
  const exponent = Math.round(Math.log10(digitUs)) - 6
  const unit = exponent >= -6 ? 'us' : exponent >= -9 ? 'ns' : 'ps'
  const scale = 10 ** (exponent - { us: -6, ns: -9, ps: -12 }[unit])
  const rows = timesUs.map((us, i) => `#${Math.round(us / digitUs)}\n${levels[i]}!`)
  return `$timescale ${Math.round(scale)} ${unit} $end\n$scope module top $end\n$var wire 1 ! main $end\n$upscope $end\n$enddefinitions $end\n${rows.join('\n')}\n`
}

function imported(text: string, capture: CaptureOptions, options: ReaderOptions = {}): SignalReading {
  let reader: SignalReader | undefined
  const sink: CaptureSink = {
    begin(clock) {
      reader = new SignalReader(clock, options)
    },
    push: (block) => reader!.push(block),
  }
  const importer = new CaptureImporter(capture, sink)
  importer.push(new TextEncoder().encode(text))
  const { clock, endUs } = importer.end()
  const reading = reader!.finish(endUs / clock.tickUs)
  // Later rows may have shown that the times are coarser than the first ones said.
  reading.resolutionUs = Math.max(reading.resolutionUs, clock.resolutionUs)
  reading.roundingUs = Math.max(reading.roundingUs, clock.roundingUs ?? 0)
  return reading
}

export interface CampaignRow {
  way: Way
  fault: Fault
  seeds: number
  undecided: number
  wrong: number
}

/** Many seeds, summed by way and fault. */
export function campaign(
  seeds: number,
  from = 1,
  onWrong: (result: SeedResult) => void = () => {},
  ways: readonly Way[] = WAYS,
): CampaignRow[] {
  const rows = new Map<string, CampaignRow>()
  for (let seed = from; seed < from + seeds; seed++) {
    const result = runSeed(seed, ways)
    const { way, fault } = result
    const key = `${way} ${fault}`
    const row = rows.get(key) ?? { way, fault, seeds: 0, undecided: 0, wrong: 0 }
    rows.set(key, row)
    row.seeds++
    if (result.undecided > 0) row.undecided++
    if (result.wrong.length > 0) {
      row.wrong++
      onWrong(result)
    }
  }
  const order = (r: CampaignRow) => WAYS.indexOf(r.way) * 100 + FAULTS.indexOf(r.fault)
  return [...rows.values()].sort((a, b) => order(a) - order(b))
}
