import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import {
  DEFAULT_POLICY,
  itemBytes,
  type PolicyDesign,
  packetNs,
  resolveTraffic,
  runCase,
  trafficFaults,
} from '../../src/traffic/index.js'
import { runs } from '../runs.js'
import { LINK, LOCOMOTIVE, OPERATOR, railroad, STOP_AT } from './sample.js'

const run = (input: ReturnType<typeof railroad>, policy: PolicyDesign, lost = 0, forUs = 600e6) =>
  runCase(resolveTraffic({ ...input, traffic: { ...input.traffic, policies: { p: policy } } }), {
    policy: 'p',
    lost,
    forUs,
  })

describe('a plain cycle without commands', () => {
  const fleet = {
    a: { ...LOCOMOTIVE, address: 3, steps: '28' as const },
    b: { ...LOCOMOTIVE, address: 1234 },
    c: { ...LOCOMOTIVE, address: 77, functions: 12 },
  }
  const input = railroad(fleet)
  const result = run(input, { ...DEFAULT_POLICY, order: 'cycle', table: ['speed', 'F5-F8'] })

  // Utilisation and rates are the arithmetic of the packets in the cycle: no simulation needed to know them.
  it('sends as many packets as the mean of their durations allows', () => {
    const { timing } = input
    const of = (address: number, long: boolean, steps: 14 | 28 | 128, item: number, value: number) =>
      (packetNs(itemBytes({ address, long, steps }, item, value), timing) + 16 * 116_000) / 1000
    const a = of(3, false, 28, 0, 0x80 | 14)
    const b = of(1234, true, 128, 0, 0x80 | 63)
    const c = of(77, false, 128, 0, 0x80 | 63)
    const f = of(77, false, 128, 2, 0)
    const mean = (2 * a + 2 * b + c + f) / 6
    expect(result.perSecond).toBeCloseTo(1e6 / mean, 2)
    // Every address is heard once per round of three.
    for (const r of result.refresh) expect(r.meanUs).toBeCloseTo(3 * mean, 0)
    const speeds = result.time.find((t) => t.content === 'speed')!
    expect(speeds.share).toBeCloseTo((2 * a + 2 * b + c) / (6 * mean), 4)
    // The pause of the third alternates between rounds with its long packet and with its short one.
    expect(result.refresh[0]!.worstUs).toBeCloseTo(a + b + Math.max(c, f), 6)
  })
  it('times every packet from start bit to start bit', () => {
    expect(result.interval.longestUs).toBeLessThan(30_000)
    expect(result.sameAddress.broken).toBe(0)
  })
})

describe('the 5 ms rule (S-9.2:2004 C)', () => {
  const alone = railroad({ a: LOCOMOTIVE }, { operators: { o: OPERATOR } })
  it('is broken by a station that does not care: only the preamble lies between', () => {
    const r = run(alone, { ...DEFAULT_POLICY, gap: 0 })
    expect(r.sameAddress.shortestUs).toBe(16 * 116)
    expect(r.sameAddress.broken).toBeGreaterThan(1000)
  })
  it('is kept by idle packets in between', () => {
    const r = run(alone, DEFAULT_POLICY)
    expect(r.sameAddress.broken).toBe(0)
    // Idle with two preambles of 16: 5796 + 2 x 116 + 16 x 116 us.
    expect(r.sameAddress.shortestUs).toBe(5796 + 18 * 116)
  })
})

describe('any policy', () => {
  const policies = fc.record({
    order: fc.constantFrom('cycle' as const, 'changes' as const, 'weighted' as const),
    perVisit: fc.integer({ min: 1, max: 3 }),
    stopsFirst: fc.boolean(),
    waiting: fc.constantFrom('merge' as const, 'queue' as const),
    queue: fc.integer({ min: 1, max: 8 }),
    gap: fc.constantFrom(0, 5000, 40000),
    repeats: fc.record({
      speed: fc.integer({ min: 0, max: 3 }),
      functions: fc.integer({ min: 0, max: 3 }),
      turnouts: fc.integer({ min: 0, max: 3 }),
    }),
  })
  const sizes = fc.record({
    count: fc.integer({ min: 1, max: 12 }),
    knob: fc.constantFrom(0, 1, 40),
    lost: fc.constantFrom(0, 0.3),
    functions: fc.integer({ min: 0, max: 20 }),
    seed: fc.integer({ min: 0, max: 1e6 }),
  })
  it('accounts for all time and every command, and keeps the gap it promises', () => {
    fc.assert(
      fc.property(policies, sizes, (policy, s) => {
        const input = railroad(
          { a: { ...LOCOMOTIVE, count: s.count, functions: s.functions } },
          {
            seed: s.seed,
            turnouts: 9,
            link: LINK,
            operators: { o: { ...OPERATOR, knob: s.knob, function: 2, turnout: 3, stop: 1, via: 'link' } },
            stops: { p: { ...STOP_AT, rate: 0.5 } },
          },
        )
        const r = run(input, policy, s.lost, 60e6)
        expect(r.time.reduce((sum, t) => sum + t.share, 0)).toBeCloseTo(1, 9)
        expect(r.sent.reduce((sum, x) => sum + x.count, 0)).toBe(r.packets)
        if (policy.gap > 0 && r.sameAddress.seen > 0)
          expect(r.sameAddress.shortestUs).toBeGreaterThanOrEqual(policy.gap)
        const heard = r.latency.reduce((sum, l) => sum + l.heard, 0)
        const { total, superseded, lostFull, neverHeard } = r.commands
        const open = total - heard - superseded - lostFull - neverHeard
        // What is still under way at the end or was at the start of the count; each item at most once.
        expect(Math.abs(open)).toBeLessThanOrEqual(s.count * 11 + 9 + policy.queue)
        for (const l of r.latency) expect(l.heard === 0 || l.first.medianUs > 0).toBe(true)
      }),
      { numRuns: runs(100) },
    )
  })
  it('is the same to the bit whether refresh goes the quick way or packet by packet', () => {
    fc.assert(
      fc.property(policies, sizes, (policy, s) => {
        const traffic = resolveTraffic(
          railroad(
            { a: { ...LOCOMOTIVE, count: s.count, functions: s.functions } },
            {
              seed: s.seed,
              turnouts: 9,
              operators: { o: { ...OPERATOR, knob: s.knob / 40, function: 0.1, turnout: 0.1, stop: 0.1 } },
              policies: { p: policy },
            },
          ),
        )
        const of = (plainly: boolean) => runCase(traffic, { policy: 'p', lost: s.lost, forUs: 60e6, plainly })
        const quick = of(false)
        expect(quick).toEqual(of(true))
        expect(quick.packets).toBeGreaterThan(1000)
      }),
      { numRuns: runs(60) },
    )
  })
  it('gives the same figures for the same seed and others for another', () => {
    const of = (seed: number) =>
      run(railroad({ a: { ...LOCOMOTIVE, count: 5 } }, { seed, operators: { o: OPERATOR } }), DEFAULT_POLICY)
    expect(of(7)).toEqual(of(7))
    expect(of(8).latency[0]!.first.meanUs.value).not.toBe(of(7).latency[0]!.first.meanUs.value)
  })
})

describe('what cannot be', () => {
  const faults = (...args: Parameters<typeof railroad>) =>
    trafficFaults(railroad(...args)).map((f) => `${f.path.join('.')}: ${f.message}`)
  it.each([
    [{ a: LOCOMOTIVE, b: { ...LOCOMOTIVE, address: 1, count: 5 } }, {}, /fleet\.b\.address: address 3 .*"a"/],
    [{ a: { ...LOCOMOTIVE, address: 128, form: 'short' as const } }, {}, /short/],
    [{ a: { ...LOCOMOTIVE, address: 10239, count: 2 } }, {}, /10240/],
    [{ a: { ...LOCOMOTIVE, count: 30 } }, { capacity: 20 }, /traffic\.capacity: room for 20/],
    [{ a: LOCOMOTIVE }, { capacity: 100, memory: 1024 }, /take 1600 bytes.*room for 64/],
    [{ a: LOCOMOTIVE }, { operators: { o: { ...OPERATOR, locomotives: ['b'] } } }, /no locomotive "b"/],
    [{ a: LOCOMOTIVE }, { operators: { o: { ...OPERATOR, turnout: 1 } } }, /turnouts is 0/],
    [{ a: LOCOMOTIVE }, { operators: { o: { ...OPERATOR, via: 'link' as const } } }, /needs traffic\.link/],
    [
      { a: LOCOMOTIVE },
      { policies: { p: { ...DEFAULT_POLICY, table: ['F0-F4' as const] } } },
      /never sends speed/,
    ],
    [{ a: LOCOMOTIVE }, { policies: { p: { ...DEFAULT_POLICY, perVisit: 12 } } }, /perVisit/],
    [{ a: LOCOMOTIVE }, { policies: { p: DEFAULT_POLICY }, policy: 'q' }, /no policy "q"/],
    [
      { a: LOCOMOTIVE },
      {
        policies: {
          p: {
            ...DEFAULT_POLICY,
            order: 'weighted' as const,
            weights: { changes: 0, moving: 1, standing: 1, functions: 1 },
          },
        },
      },
      /no change would ever/,
    ],
    [{ a: LOCOMOTIVE }, { stops: { p: { ...STOP_AT, length: undefined } } }, /needs a length/],
    [{ a: LOCOMOTIVE }, { stops: { p: { ...STOP_AT, section: 'x' } } }, /no section "x"/],
    [{ a: { ...LOCOMOTIVE, parked: true } }, { stops: { p: STOP_AT } }, /parked/],
    [
      { a: LOCOMOTIVE },
      { script: [{ at: 0, do: 'turnout' as const, via: 'panel' as const }] },
      /needs a turnout/,
    ],
    [
      { a: LOCOMOTIVE },
      { script: [{ at: 0, do: 'function' as const, via: 'panel' as const, locomotive: 'a', function: 9 }] },
      /from 0 to 4/,
    ],
  ])('%#', (fleet, traffic, message) => {
    expect(faults(fleet, traffic).join('\n')).toMatch(message)
    expect(() => resolveTraffic(railroad(fleet, traffic))).toThrow(/^(fleet|traffic)/)
  })
})

describe('the way to the station', () => {
  // 8 bytes of 10 bits at 19200 baud: 4.167 ms; with the reply 1 ms and 1.042 ms later the next may start.
  const latency = (via: 'link' | 'automation', knob: number) => {
    const input = railroad(
      { a: { ...LOCOMOTIVE, count: 3 } },
      { link: LINK, operators: { o: { ...OPERATOR, via, knob, function: 0 } } },
    )
    return run(input, DEFAULT_POLICY, 0, 3600e6)
  }
  it('takes the bytes over the link before the packet', () => {
    const r = latency('link', 0.2)
    const [speed] = r.latency
    const link = speed!.whole.meanUs.value - speed!.first.meanUs.value
    expect(link).toBeGreaterThan(4166)
    expect(link).toBeLessThan(4300)
    expect(r.linkLoad).toBeCloseTo(0.2 * 6.208e-3, 4)
  })
  it('waits half of a loop of the program in the mean', () => {
    const [speed] = latency('automation', 0.2).latency
    expect(speed!.whole.meanUs.value - speed!.first.meanUs.value).toBeCloseTo(4167 + 10e3, -3)
  })
  it('loses what a slow link cannot carry', () => {
    const r = latency('link', 400)
    expect(r.linkLoad).toBeCloseTo(1, 2)
    expect(r.commands.lostAtLink).toBeGreaterThan(1e5)
  })
  it('plays a script at its times', () => {
    const script = [
      { at: 1e6, every: 10e6, do: 'speed' as const, locomotive: 'a', step: 5, via: 'panel' as const },
      { at: 2e6, do: 'turnout' as const, turnout: 2, via: 'panel' as const },
    ]
    const r = run(railroad({ a: LOCOMOTIVE }, { script, turnouts: 4 }), DEFAULT_POLICY, 0, 600e6)
    // The turnout was thrown once, in the ten seconds that do not count.
    expect(r.latency.map((l) => l.commands)).toEqual([60, 0, 0, 0])
  })
})
