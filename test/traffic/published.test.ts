import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { type Scale, scaleRatio } from '../../src/standard/index.js'
import {
  batchEstimate,
  bitOfFunction,
  CHANGES,
  CommandStream,
  IDLE_BYTES,
  ITEM_COUNT,
  ITEM_NAMES,
  itemBytes,
  itemOfFunction,
  meanOf,
  momentumMm,
  packetNs,
  preambleNs,
  type StationPlan,
  StationRun,
  scaleSpeed,
  TURNOUT,
  turnoutBytes,
} from '../../src/traffic/index.js'

function published(name: string) {
  return JSON.parse(readFileSync(new URL(`../published/traffic/${name}.json`, import.meta.url), 'utf8'))
}
const durations: { rows: Row[] } = published('durations')
const queues: { serviceUs: number; rows: { load: number; waitUs: number; withIdleUs: number }[] } =
  published('queues')
const speeds: { rows: { scale: Scale; kmh: number; mmPerS: number }[] } = published('scale-speeds')

interface Row {
  what: string
  hex: string
  us: number
  address?: number
  long?: boolean
  steps?: string
  step?: number
  item?: string
  on?: number[]
  turnout?: number
  output?: number
}

const hex = (bytes: Uint8Array) =>
  Array.from(bytes, (b) => b.toString(16).toUpperCase().padStart(2, '0')).join(' ')

describe('packets of the traffic', () => {
  it.each(durations.rows)('$what $hex takes $us us', (row) => {
    const timing = { oneHalfUs: 58, zeroHalfUs: 100, preamble: 14, cutoutUs: 0 }
    const to = {
      address: row.address ?? 1,
      long: row.long ?? false,
      steps: Number(row.steps ?? 128) as 14 | 28 | 128,
    }
    let bytes = IDLE_BYTES
    if (row.what === 'speed') bytes = itemBytes(to, 0, 0x80 | row.step!)
    if (row.what === 'turnout') bytes = turnoutBytes(row.turnout!, row.output!)
    if (row.what === 'functions') {
      const items = new Set(row.on!.map(itemOfFunction))
      expect([...items].map((i) => ITEM_NAMES[i])).toEqual([row.item])
      bytes = itemBytes(
        to,
        [...items][0]!,
        row.on!.reduce((v, f) => v | bitOfFunction(f), 0),
      )
    }
    expect(hex(bytes)).toBe(row.hex)
    expect((preambleNs(timing) + packetNs(bytes, timing)) / 1000).toBe(row.us)
  })
})

/** A station that has nothing but commands of one length to send. */
function queue(idleNs: number, serviceNs: number, load: number, seed: number): StationRun {
  const turnouts = 64
  const plan: StationPlan = {
    locomotives: 0,
    turnouts,
    addressOf: Int32Array.from({ length: turnouts }, (_, i) => i),
    addresses: turnouts,
    tableStart: new Int32Array(1),
    table: new Int32Array(0),
    values: new Int32Array(turnouts),
    order: CHANGES,
    perVisit: 1,
    merge: false,
    stopsFirst: false,
    capacity: 65536,
    gapNs: 0,
    copies: new Int32Array(4).fill(1),
    weights: new Int32Array(4),
    preambleNs: 0,
    cutoutNs: 0,
    idleNs,
    packetNs: () => serviceNs,
    nearNs: 0,
    lost: 0,
    lostSeed: 1,
  }
  const source = {
    kind: TURNOUT,
    perSecond: (load / serviceNs) * 1e9,
    via: 'panel' as const,
    targets: Int32Array.from({ length: turnouts }, (_, i) => i),
    burst: 1,
    spacingNs: 0,
    stop: -1,
    delayNs: 0,
    scanNs: 0,
  }
  const commands = new CommandStream({
    seed,
    sources: [source],
    script: [],
    link: { commandNs: 0, replyNs: 0, loopNs: 0 },
    steps: new Int32Array(0),
    functions: new Int32Array(0),
  })
  const run = new StationRun(plan, commands)
  run.run(Number.POSITIVE_INFINITY, 20_000)
  run.clear()
  run.run(Number.POSITIVE_INFINITY, 200_000)
  return run
}

describe('queues of textbooks', () => {
  const serviceNs = queues.serviceUs * 1000
  it.each(queues.rows)('at load $load commands wait $waitUs us', ({ load, waitUs }) => {
    const seeds = [1, 2, 3, 4, 5, 6, 7, 8]
    const runs = seeds.map((seed) => {
      const waits = queue(0, serviceNs, load, seed)
        .first[TURNOUT]!.values()
        .map((ns) => (ns - serviceNs) / 1000)
      return batchEstimate(waits, meanOf)
    })
    // A 95 % interval misses the truth once in twenty; of eight, seven or more must hold it (all but 6 % of seeds).
    expect(runs.filter((e) => e.low <= waitUs && waitUs <= e.high).length).toBeGreaterThanOrEqual(7)
    for (const e of runs) expect((e.high - e.low) / waitUs).toBeLessThan(0.15)
  })
  it.each(queues.rows)('at load $load idle packets add half of their length', ({ load, withIdleUs }) => {
    const run = queue(serviceNs, serviceNs, load, 11)
    const waits = run.first[TURNOUT]!.values().map((ns) => (ns - serviceNs) / 1000)
    const mean = batchEstimate(waits, meanOf)
    expect(Math.abs(mean.value - withIdleUs)).toBeLessThan(1.5 * (mean.high - mean.low))
    expect((mean.high - mean.low) / withIdleUs).toBeLessThan(0.15)
  })
  // Every slot of the track is one service time long, so utilisation is counted packets over all packets.
  it('is busy for the share that the arrivals ask', () => {
    const run = queue(serviceNs, serviceNs, 0.5, 3)
    expect(run.counts.busyNs[2]! / run.counts.timeNs).toBeCloseTo(0.5, 2)
    expect(run.counts.packets * serviceNs).toBe(run.counts.timeNs)
  })
})

describe('scale speed and momentum', () => {
  it.each(speeds.rows)('$kmh km/h in $scale is $mmPerS mm/s', ({ scale, kmh, mmPerS }) => {
    expect(scaleSpeed((kmh * 1e6) / 3600, scaleRatio(scale, 'rcn'))).toBeCloseTo(mmPerS, 2)
  })

  // NMRA S-1.2 (from memory): 1:48 for scale 0, and the ratios of NEM 010 for the others.
  it('goes by 1:48 in scale 0 under the NMRA profile, and by the same ratios elsewhere', () => {
    expect(scaleSpeed(48, scaleRatio('0', 'nmra'))).toBe(1)
    expect(scaleSpeed(45, scaleRatio('0', 'rcn'))).toBe(1)
    for (const scale of ['Z', 'N', 'TT', 'H0', 'S', '1', 'G'] as const)
      expect(scaleRatio(scale, 'nmra')).toBe(scaleRatio(scale, 'rcn'))
  })

  // S-9.2.2:2012, CV4: CV x 0.896 / steps seconds per step. From step 2 of 28 at 10 mm/s per step with CV4 = 10:
  // 0.32 s per step; the first step down after a whole one: 0.32 x 20 + 0.32 x 10 = 9.6 mm. Derived by hand.
  it('adds up the steps', () => {
    expect(momentumMm(20, 280, 28, 10, 1)).toBeCloseTo(9.6, 9)
    expect(momentumMm(20, 280, 28, 10, 0)).toBeCloseTo(3.2, 9)
    expect(momentumMm(20, 280, 28, 0, 1)).toBe(0)
  })
  // An even slowing-down from v to 0 in T covers v T / 2; half a step of phase makes the stairs equal to it.
  it('is half of speed times time from the top step', () => {
    const seconds = 40 * 0.896
    expect(momentumMm(300, 300, 126, 40, 0.5)).toBeCloseTo((300 * seconds) / 2, 6)
  })
})

it('numbers the items once', () => {
  expect(ITEM_COUNT).toBe(11)
  expect(itemOfFunction(0)).toBe(1)
  expect(itemOfFunction(68)).toBe(10)
  expect(bitOfFunction(0)).toBe(1)
  expect(bitOfFunction(28)).toBe(0x80)
})
