import { describe, expect, it } from 'vitest'
import { ENCODER_CLOCK, encodeSignal, readSignal } from '../../src/signal/index.js'
import { profileOf } from '../../src/standard/index.js'
import {
  bestPolicy,
  type CaseResult,
  type CaseSummary,
  carried,
  DEFAULT_POLICY,
  IDLE_BYTES,
  itemBytes,
  latencyPlot,
  loadPlot,
  policyHeader,
  refineTasks,
  refreshSeen,
  resolveTraffic,
  runCase,
  runTask,
  stopFigures,
  stopPlot,
  sweepCounts,
  sweepTasks,
  timelinePlot,
  trafficEvidence,
  trafficFromPackets,
  USUAL_POLICIES,
} from '../../src/traffic/index.js'
import { LOCOMOTIVE, OPERATOR, railroad, STOP_AT } from './sample.js'

const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const half = () => 0.5

describe('where trains stop', () => {
  // Nothing but a fixed time and an even slowing-down: the place is known by hand.
  // 60 km/h in H0: 191.571 mm/s. CV4 = 10 from 60 % of the top: v^2/(2a) with a = 319.285/8.96 s: 515.0 mm, give or
  // take the stairs of 126 steps (half a step: 0.5 x 191.57 x 0.071 s = 6.8 mm).
  const stopping = (stop: Partial<typeof STOP_AT>, locomotive: Partial<typeof LOCOMOTIVE> = {}) => {
    const input = railroad(
      { a: { ...LOCOMOTIVE, deceleration: 10, length: 300, ...locomotive } },
      { stops: { p: { ...STOP_AT, speed: 6e7 / 3600, detector: 0, scan: 0, rate: 1, ...stop } } },
    )
    const traffic = resolveTraffic(input)
    const result = runCase(traffic, { policy: 'changes first', lost: 0, forUs: 3600e6 })
    const { figures } = stopFigures(traffic, result, half)
    return { traffic, result, figure: figures[0]! }
  }
  it('adds the way in the time to the decoder to the way of the brake', () => {
    const { figure, result } = stopping({})
    const speed = 6e7 / 3600 / 87
    const top = 1e8 / 3600 / 87
    const brake = (speed * speed) / (2 * (top / 8.96))
    const run = (speed * result.latency[1]!.whole.medianUs) / 1e6
    expect(figure.medianMm).toBeGreaterThan(run + brake - 7)
    expect(figure.medianMm).toBeLessThan(run + brake + 7)
    expect(figure.verdict).toBe('long enough')
  })
  it('says how long it must be and how slow is slow enough', () => {
    const { figure, traffic, result } = stopping({ length: 300 })
    expect(figure.verdict).toBe('too short')
    const fits = (change: Partial<typeof STOP_AT>) => {
      const stop = { ...traffic.input.traffic.stops!['p']!, ...change }
      const changed = { ...traffic.input, traffic: { ...traffic.input.traffic, stops: { p: stop } } }
      return stopFigures(resolveTraffic(changed), result, half).figures[0]!.inside
    }
    expect(fits({ length: figure.neededMm + 0.5 })).toBeGreaterThanOrEqual(0.99)
    expect(fits({ length: figure.neededMm - 0.5 })).toBeLessThan(0.99)
    expect(fits({ speed: figure.safeFullSpeed * 0.999 })).toBeGreaterThanOrEqual(0.99)
    expect(fits({ speed: figure.safeFullSpeed * 1.01 })).toBeLessThan(0.99)
  })
  it('an emergency stop needs no brake, and a platform wants the whole train', () => {
    const { figure } = stopping({ brake: 'emergency', kind: 'platform' })
    expect(figure.p99Mm).toBeLessThan(10)
    expect(figure.verdict).toBe('early')
    const later = stopping({ brake: 'emergency', kind: 'platform', wait: figure.waitMoreUs! }).figure
    expect(later.verdict).toBe('long enough')
    // In the middle of what is free: 300 mm of train in 900 mm.
    expect(later.medianMm).toBeCloseTo(600, 0)
  })
})

describe('evidence of a plan', () => {
  const evidenceOf = (input: ReturnType<typeof railroad>, policy = 'changes first') => {
    const traffic = resolveTraffic(input)
    const result = runCase(traffic, { policy, lost: 0, mostPackets: 2e5 })
    return trafficEvidence(traffic, result, [], profile)
  }
  const of = (list: ReturnType<typeof evidenceOf>, id: string) => list.find((e) => e.clause === id)!
  it('finds a time-out that is too short for the cycle', () => {
    const fleet = { a: { ...LOCOMOTIVE, count: 40, timeout: 200e3 } }
    const broken = of(evidenceOf(railroad(fleet)), 'refresh')
    expect(broken.verdict).toBe('broken')
    expect(broken.count).toEqual({ seen: 40, outside: 40 })
    expect(broken.margin).toBeLessThan(0)
    const met = of(evidenceOf(railroad({ a: { ...LOCOMOTIVE, count: 10, timeout: 1e6 } })), 'refresh')
    expect(met.verdict).toBe('met')
  })
  it('decides nothing without a time-out, and nothing is too long when there is none', () => {
    expect(of(evidenceOf(railroad({ a: LOCOMOTIVE })), 'refresh').verdict).toBe('undecided')
    expect(of(evidenceOf(railroad({ a: { ...LOCOMOTIVE, timeout: 0 } })), 'refresh').verdict).toBe('met')
  })
  it('judges the 5 ms and 30 ms rules of S-9.2:2004', () => {
    const policies = { careless: { ...DEFAULT_POLICY, gap: 0 } }
    // S-9.2:2004 note 11 binds the station for addresses 112 to 127; a decoder must follow 5 ms at any (C).
    const list = evidenceOf(railroad({ a: { ...LOCOMOTIVE, address: 115 } }, { policies }), 'careless')
    expect(of(list, 'same-address-gap')).toMatchObject({ verdict: 'broken', value: { low: 1856 } })
    const other = evidenceOf(railroad({ a: LOCOMOTIVE }, { policies }), 'careless')
    expect(of(other, 'same-address-gap')).toBeUndefined()
    expect(of(list, 'packet-interval').verdict).toBe('met')
    const slow = railroad(
      { a: LOCOMOTIVE },
      {},
      { timing: { oneHalfUs: 58, zeroHalfUs: 100, preamble: 230, cutoutUs: 0 } },
    )
    expect(of(evidenceOf(slow), 'packet-interval').verdict).toBe('broken')
  })
  it('does not call a latency met while commands are lost', () => {
    const flood = { ...OPERATOR, knob: 60, function: 60 }
    const policies = { p: { ...DEFAULT_POLICY, queue: 4, waiting: 'queue' as const } }
    const list = evidenceOf(
      railroad({ a: { ...LOCOMOTIVE, count: 30 } }, { policies, operators: { flood } }),
      'p',
    )
    expect(of(list, 'command-latency')).toMatchObject({ verdict: 'broken' })
    expect(of(list, 'command-latency').margin).toBeLessThan(0)
  })
})

describe('how many and which', () => {
  const point = (locomotives: number, p95Us: number, more: Partial<CaseSummary> = {}): CaseSummary => ({
    policy: 'p',
    locomotives,
    lost: 0,
    timeUs: 1e9,
    packets: 1e5,
    perSecond: 130,
    p95Us,
    slowest: 'speed',
    refreshShare: 0.1,
    worstRefreshUs: 1e5,
    gapsBroken: 0,
    lostShare: 0,
    queueMean: 0,
    ...more,
  })
  it('closes in on the number', () => {
    let points = [point(10, 100e3), point(50, 600e3), point(1, 20e3)]
    for (let round = 0; round < 6; round++) {
      const tasks = refineTasks(carried(points, 250e3))
      points = [...points, ...tasks.map((t) => point(t.locomotives, t.locomotives * 10e3))]
    }
    expect(carried(points, 250e3)).toMatchObject([{ locomotives: 25, tooMany: 26 }])
  })
  it('prefers what breaks nothing', () => {
    const clean = [point(9, 20e3, { gapsBroken: 5 }), point(9, 90e3, { policy: 'q' })]
    expect(bestPolicy(clean, [], 250e3)).toMatchObject({ policy: 'q', suits: true })
  })
  it('looks at round numbers up to the most', () => {
    expect(sweepCounts(12)).toEqual([1, 2, 3, 5, 7, 10, 12])
    expect(sweepCounts(1)).toEqual([1])
  })
  it('changes first answers sooner than a plain cycle, and both say the same as alone', () => {
    const traffic = resolveTraffic(
      railroad({ a: { ...LOCOMOTIVE, count: 20 } }, { operators: { o: { ...OPERATOR, count: 4 } } }),
    )
    const tasks = sweepTasks(traffic, Object.keys(USUAL_POLICIES), 20).filter(
      (t) => t.locomotives === 20 && t.lost === 0,
    )
    const [cycle, changes] = tasks.map((t) => runTask(traffic, { ...t, mostPackets: 1e5 }))
    expect(changes!.p95Us).toBeLessThan(cycle!.p95Us / 5)
  })
  it('writes constants that a C compiler can take', () => {
    const traffic = resolveTraffic(railroad({ a: LOCOMOTIVE }))
    const header = policyHeader(traffic, 'weighted')
    const defines = header.split('\n').filter((l) => l.startsWith('#define'))
    for (const line of defines)
      expect(line).toMatch(/^#define [A-Z_]+( +([0-9]+|\{ [0-9, ]+ \})( +\/\*.*\*\/)?)?$/)
    expect(header).toContain('TRAFFIC_WEIGHT_CHANGES')
  })
})

describe('what was really sent', () => {
  const a = { address: 3, long: false, steps: 128 as const }
  const b = { address: 1234, long: true, steps: 128 as const }
  /** Refresh of two locomotives; a change of the first is sent three times, others in between. */
  function sent(): Uint8Array[] {
    const packets: Uint8Array[] = []
    for (let k = 0; k < 12; k++) {
      const step = 0x80 | (10 + Math.floor(k / 4))
      if (k % 4 === 0)
        for (let i = 0; i < 3; i++) packets.push(itemBytes(a, 0, step), itemBytes(b, 0, 0x80 | 60))
      for (let i = 0; i < 8; i++) packets.push(IDLE_BYTES)
      packets.push(itemBytes(a, 0, step), itemBytes(b, 0, 0x80 | 60), itemBytes(b, 1, 1))
    }
    return packets
  }
  const { reading, packets: list } = readSignal(encodeSignal(sent()), ENCODER_CLOCK)
  const seen = trafficFromPackets(list)

  it('counts as the reader does', () => {
    expect(seen.packets).toBe(reading.packets.valid)
    for (const s of seen.addresses) {
      const r = reading.addresses.find((x) => x.addressee === s.addressee)!
      expect([s.packets, s.worstUs, s.shortestGapUs]).toEqual([r.count, r.longestIntervalUs, r.shortestGapUs])
    }
    expect(seen.sent.reduce((sum, x) => sum + x.share, 0)).toBeCloseTo(1, 12)
  })
  it('finds the quick repeats of a change', () => {
    const speed = seen.changes.find((c) => c.content === 'speed')!
    expect(speed.changes).toBe(2)
    expect(speed.repeats).toBe(2)
  })
  it('gives evidence for the refresh of the addresses that were sent', () => {
    const fleet = { three: { ...LOCOMOTIVE, timeout: 30e3 }, four: { ...LOCOMOTIVE, address: 4, timeout: 1 } }
    const { locomotives } = resolveTraffic(railroad(fleet))
    const about = { origin: 'measured' as const, source: 'capture', ranUs: seen.timeUs }
    const [evidence] = refreshSeen(locomotives, seen.addresses, profile.clauses.refresh, about)
    expect(evidence).toMatchObject({ verdict: 'broken', origin: 'measured', count: { seen: 1, outside: 1 } })
    expect(refreshSeen(locomotives, reading.addresses, profile.clauses.refresh, about)[0]!.value).toEqual(
      evidence!.value,
    )
    expect(refreshSeen([], seen.addresses, profile.clauses.refresh, about)).toEqual([])
  })
})

describe('drawings', () => {
  it('are well formed for any case, and show the names', () => {
    const stops = { 'A & B': { ...STOP_AT, rate: 1 } }
    const input = railroad(
      { '<x>': { ...LOCOMOTIVE, count: 40 } },
      { operators: { o: OPERATOR }, stops, turnouts: 5 },
    )
    const traffic = resolveTraffic(input)
    const result: CaseResult = runCase(traffic, { policy: 'weighted', lost: 0.1, forUs: 60e6 })
    const { figures, shots } = stopFigures(traffic, result, half)
    const silent = runCase(resolveTraffic(railroad({ a: LOCOMOTIVE })), {
      policy: 'weighted',
      lost: 0,
      forUs: 1e6,
    })
    for (const svg of [
      timelinePlot(result),
      latencyPlot(result, 250e3),
      latencyPlot(silent, 250e3),
      stopPlot(figures, shots),
      stopPlot([], []),
      loadPlot([], 250e3),
    ]) {
      expect(svg).not.toMatch(/NaN|Infinity|undefined|<x>|A & B/)
      expect(svg.match(/<(\w+)[^>]*[^/]>/g)!.length).toBe(svg.match(/<\/\w+>/g)!.length)
    }
    expect(timelinePlot(result)).toContain('&lt;x&gt; 1')
  })
})
