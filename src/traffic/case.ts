/** One case: a policy with so many locomotives and so many lost packets, run for as long as its figures need. */
import { nameAddressee } from '../packet/index.js'
import {
  COMMAND_KINDS,
  type CommandKind,
  type CommandPlan,
  type CommandSource,
  CommandStream,
  FUNCTION,
  type LinkTiming,
  type ScriptedCommand,
  SPEED,
  STOP,
  TURNOUT,
} from './commands.js'
import type { PolicyDesign } from './design.js'
import {
  FORWARD,
  IDLE_BYTES,
  ITEM_COUNT,
  itemBytes,
  movingSteps,
  packetNs,
  preambleNs,
  turnoutBytes,
} from './packets.js'
import {
  commandsPerSecond,
  type Locomotive,
  MOST_COMMANDS_PER_S,
  named,
  type ResolvedTraffic,
  repeatsOf,
  tableOf,
  weightsOf,
} from './plan.js'
import {
  CHANGES,
  CONTENTS,
  CYCLE,
  REASONS,
  type StationPlan,
  StationRun,
  type Trace,
  WEIGHTED,
} from './station-run.js'
import { batchEstimate, type Estimate, meanOf, quantile, quantileOf, selectQuantile } from './statistics.js'

export interface CaseChoice {
  /** Name of the policy. */
  policy: string
  /** Locomotives; those of the design when absent. More are made after their pattern, fewer are the first ones. */
  locomotives?: number | undefined
  /** Share of packets lost on the track. */
  lost: number
  /** Packets at most; the run ends earlier when its figures are narrow enough. */
  mostPackets?: number
  /** Railroad time, us; overrides the search for narrow figures. */
  forUs?: number
  /** Take every packet the long way: slower, the same to the bit. The referee of the quick loop. */
  plainly?: boolean
}

export interface LatencyFigures {
  medianUs: number
  p95Us: Estimate
  p99Us: number
  worstUs: number
  meanUs: Estimate
  /** Points of the distribution: time, us, and the share of commands within it; only of `first`. */
  curve: [number, number][]
}

export interface KindLatency {
  kind: CommandKind
  commands: number
  /** Commands whose packet was heard. */
  heard: number
  /** Arrival at the station to the end of the first packet heard. */
  first: LatencyFigures
  /** To the end of the last packet of the series. */
  last: LatencyFigures
  /** Hand or detector to the end of the first packet heard. */
  whole: LatencyFigures
  /** The interval of the 95th percentile is wider than a tenth of it either way: the run was too short. */
  wide: boolean
}

export interface RefreshFigures {
  name: string
  addressee: number
  /** Start bit to start bit of packets heard, us. */
  meanUs: number
  worstUs: number
  worstAtUs: number
  packets: number
  /** 0: none; undefined: not given. */
  timeoutUs: number | undefined
}

export interface CaseResult {
  policy: string
  locomotives: number
  lost: number
  /** Railroad time that counts, us. */
  timeUs: number
  packets: number
  perSecond: number
  /** Packets by content and reason; those with none are left out. */
  sent: {
    content: (typeof CONTENTS)[number]
    reason: (typeof REASONS)[number]
    count: number
    share: number
  }[]
  /** Share of the time by content. */
  time: { content: (typeof CONTENTS)[number]; share: number; meanUs: number }[]
  refresh: RefreshFigures[]
  latency: KindLatency[]
  queue: { mean: number; worst: number; room: number }
  commands: { total: number; superseded: number; lostFull: number; lostAtLink: number; neverHeard: number }
  /** Share of time the link is busy. */
  linkLoad: number
  sameAddress: { seen: number; broken: number; shortestUs: number; atUs: number; address: string }
  interval: { seen: number; shortestUs: number; longestUs: number; atUs: number }
  /** Samples of stops: place, locomotive, hand-to-packet time in us. */
  stops: { place: Float64Array; whom: Float64Array; us: Float64Array }
  trace: Trace
  /** Names by address number, for the timeline. */
  names: string[]
}

const ORDERS = { cycle: CYCLE, changes: CHANGES, weighted: WEIGHTED } as const
const MOST_PACKETS = 8e6
const FIRST_STAGE = 2e5
/** Stops wanted for each place: all of 381 inside is what shows 99 % with 95 % confidence. */
const STOPS = 500

/** Simulate a case. Deterministic: the same design, seed and choice give the same figures. */
export function runCase(traffic: ResolvedTraffic, choice: CaseChoice): CaseResult {
  const locomotives = fleetOf(traffic.locomotives, choice.locomotives ?? traffic.locomotives.length)
  const policy = traffic.policies[choice.policy]
  if (policy === undefined) throw new RangeError(`no policy ${choice.policy}`)
  const station = stationPlan(traffic, locomotives, policy, choice.lost)
  const commands = new CommandStream(commandPlan(traffic, locomotives))
  const run = new StationRun(station, commands, choice.plainly)
  const { forUs } = choice
  run.run(10e9, Number.POSITIVE_INFINITY)
  run.clear()
  const beforeNs = run.nowNs
  const linkBefore = { lost: commands.lostAtLink, busy: commands.linkBusyNs }
  const most = choice.mostPackets ?? MOST_PACKETS
  if (forUs !== undefined) run.run(beforeNs + forUs * 1000, choice.mostPackets ?? Number.POSITIVE_INFINITY)
  else
    for (let stage = FIRST_STAGE; run.counts.packets < most; stage = run.counts.packets) {
      run.run(Number.POSITIVE_INFINITY, Math.min(stage, most - run.counts.packets))
      if (run.stopNs.count >= STOPS * traffic.stops.length && isNarrow(run)) break
    }
  return resultOf(traffic, locomotives, policy, choice, run, latencies(run), {
    beforeNs,
    lostAtLink: commands.lostAtLink - linkBefore.lost,
    linkLoad: (commands.linkBusyNs - linkBefore.busy) / run.counts.timeNs,
  })
}

/** The greatest number of locomotives that {@link fleetOf} can make of a fleet. */
export function mostLocomotives(locomotives: readonly Locomotive[]): number {
  return locomotives.length + LONG_ADDRESSES - locomotives.filter((l) => l.long && l.address >= 128).length
}

/** 128 to 10239. */
const LONG_ADDRESSES = 10112

/** The first n locomotives; beyond the design's, more after its pattern at long addresses that are still free. */
export function fleetOf(locomotives: readonly Locomotive[], n: number): Locomotive[] {
  const fleet = locomotives.slice(0, n)
  const taken = new Set(locomotives.map((l) => l.addressee))
  let address = 128
  for (let i = locomotives.length; i < n; i++) {
    const like = locomotives[i % locomotives.length]!
    while (taken.has(0x10000 | address)) address++
    if (address > 10239) throw new RangeError('no address left')
    fleet.push({ ...like, address, long: true, addressee: 0x10000 | address, name: `like ${like.name}` })
    address++
  }
  return fleet
}

function stationPlan(
  traffic: ResolvedTraffic,
  locomotives: readonly Locomotive[],
  policy: PolicyDesign,
  lost: number,
): StationPlan {
  const { timing, accessoryOffset } = traffic.input
  const { turnouts, seed } = traffic.input.traffic
  const n = locomotives.length
  const items = n * ITEM_COUNT + turnouts
  const addressOf = new Int32Array(items)
  const values = new Int32Array(items)
  const tableStart = new Int32Array(n + 1)
  const table: number[] = []
  locomotives.forEach((l, a) => {
    for (let k = 0; k < ITEM_COUNT; k++) addressOf[a * ITEM_COUNT + k] = a
    values[a * ITEM_COUNT] = FORWARD | (l.design.parked ? 0 : Math.ceil(movingSteps(l.steps) / 2))
    values[a * ITEM_COUNT + 1] = 1
    table.push(...tableOf(policy, l.design).map((item) => a * ITEM_COUNT + item))
    tableStart[a + 1] = table.length
  })
  let boards = 0
  for (let i = 0; i < turnouts; i++) {
    const board = (i + accessoryOffset) >> 2
    addressOf[n * ITEM_COUNT + i] = n + board
    boards = board + 1
  }
  const durations: (Int32Array | undefined)[] = new Array(items)
  const bytesOf = (id: number, value: number) =>
    id < n * ITEM_COUNT
      ? itemBytes(locomotives[addressOf[id]!]!, id % ITEM_COUNT, value)
      : turnoutBytes(id - n * ITEM_COUNT + 1, value, accessoryOffset)
  const repeats = repeatsOf(policy)
  const weights = weightsOf(policy)
  return {
    locomotives: n,
    turnouts,
    addressOf,
    addresses: n + boards,
    tableStart,
    table: Int32Array.from(table),
    values,
    order: ORDERS[policy.order],
    perVisit: policy.perVisit,
    merge: policy.waiting === 'merge',
    stopsFirst: policy.stopsFirst,
    capacity: policy.queue,
    gapNs: policy.gap * 1000,
    copies: Int32Array.of(repeats.speed + 1, repeats.speed + 1, repeats.functions + 1, repeats.turnouts + 1),
    weights: Int32Array.of(weights.changes, weights.moving, weights.standing, weights.functions),
    preambleNs: preambleNs(timing),
    cutoutNs: timing.cutoutUs * 1000,
    idleNs: packetNs(IDLE_BYTES, timing),
    packetNs(id, value) {
      const known = (durations[id] ??= new Int32Array(256))
      return (known[value] ||= packetNs(bytesOf(id, value), timing))
    },
    nearNs: NEAR_NS,
    lost,
    // Another stream than that of the commands.
    lostSeed: (seed ^ 0x5bd1e995) >>> 0,
  }
}

/** S-9.2:2004 C and note 11. */
const NEAR_NS = 5e6

/** Commands of so many locomotives: each gets as many as in the design, so rates grow with their number. */
function commandPlan(traffic: ResolvedTraffic, locomotives: readonly Locomotive[]): CommandPlan {
  const design = traffic.input.traffic
  // Far beyond what any station can send the figures do not change any more, only the time to calculate them does.
  const most = MOST_COMMANDS_PER_S / Math.max(commandsPerSecond(design), 1e-9)
  const scale = Math.min(locomotives.length / traffic.locomotives.length, most)
  const sources: CommandSource[] = []
  const turnouts = Int32Array.from({ length: design.turnouts }, (_, i) => i)
  for (const o of Object.values(design.operators ?? {})) {
    const targets = Int32Array.from(named(locomotives, o.locomotives))
    const common = { via: o.via, stop: -1, delayNs: 0, scanNs: 0, burst: 1, spacingNs: 0 }
    const times = o.count * scale
    const turn = { burst: o.commandsPerTurn, spacingNs: o.commandSpacing * 1000 }
    sources.push({ ...common, ...turn, kind: SPEED, perSecond: o.knob * times, targets })
    sources.push({ ...common, kind: STOP, perSecond: o.stop * times, targets })
    sources.push({ ...common, kind: FUNCTION, perSecond: o.function * times, targets })
    sources.push({ ...common, kind: TURNOUT, perSecond: o.turnout * times, targets: turnouts })
  }
  Object.values(design.stops ?? {}).forEach((s, stop) => {
    sources.push({
      kind: STOP,
      perSecond: s.rate * scale,
      via: 'automation',
      targets: Int32Array.from(named(locomotives, s.trains)),
      burst: 1,
      spacingNs: 0,
      stop,
      delayNs: (s.detector + s.wait) * 1000,
      scanNs: s.scan * 1000,
    })
  })
  const script = (design.script ?? []).flatMap((e): ScriptedCommand[] => {
    const kind = { speed: SPEED, stop: STOP, function: FUNCTION, turnout: TURNOUT }[e.do]
    const target = kind === TURNOUT ? e.turnout! - 1 : locomotives.findIndex((l) => l.key === e.locomotive)
    if (target < 0) return []
    const value =
      kind === SPEED ? FORWARD | e.step! : kind === STOP ? FORWARD : kind === FUNCTION ? e.function! : 1
    return [{ atNs: e.at * 1000, everyNs: (e.every ?? 0) * 1000, kind, target, value, via: e.via }]
  })
  return {
    seed: design.seed,
    sources,
    script,
    link: linkTiming(design.link),
    steps: Int32Array.from(locomotives, (l) => movingSteps(l.steps)),
    functions: Int32Array.from(locomotives, (l) => l.design.functions),
  }
}

/** Times of the link, ns; without one commands arrive at once. */
export function linkTiming(link: ResolvedTraffic['input']['traffic']['link']): LinkTiming {
  if (!link) return { commandNs: 0, replyNs: 0, loopNs: 0 }
  const byteNs = (link.bitsPerByte / link.baud) * 1e9
  return {
    commandNs: link.commandBytes * byteNs,
    replyNs: link.replyBytes > 0 ? link.replyAfter * 1000 + link.replyBytes * byteNs : 0,
    loopNs: link.loop * 1000,
  }
}

/** Closer where commands are late. */
const CURVE = [
  ...Array.from({ length: 20 }, (_, i) => i / 20),
  ...[0.95, 0.96, 0.97, 0.98, 0.985, 0.99, 0.993, 0.996, 0.998, 0.999, 1],
]

function latencies(run: StationRun): KindLatency[] {
  return COMMAND_KINDS.map((kind, k) => {
    const first = figures(run.first[k]!.values(), true)
    return {
      kind,
      commands: run.counts.commands[k]!,
      heard: run.first[k]!.count,
      first,
      last: figures(run.last[k]!.values(), false),
      whole: figures(run.whole[k]!.values(), false),
      wide: isWide(first.p95Us),
    }
  })
}

function isWide({ value, low, high }: Estimate): boolean {
  return !(high - low <= 0.2 * value)
}

/** Every kind that gets commands has its 95th percentile to a tenth. */
function isNarrow(run: StationRun): boolean {
  return run.first.every(
    (list, k) => run.counts.commands[k] === 0 || !isWide(batchEstimate(list.values(), quantile(0.95))),
  )
}

function figures(us: Float64Array, withCurve: boolean): LatencyFigures {
  for (let i = 0; i < us.length; i++) us[i]! /= 1000
  const p95Us = batchEstimate(us, quantile(0.95))
  const meanUs = batchEstimate(us, meanOf)
  // Sorting only where the whole curve is wanted; single quantiles are cheaper by selection.
  if (withCurve) us.sort()
  const of = (q: number) => (withCurve ? quantileOf(us, q) : selectQuantile(us, q))
  return {
    medianUs: of(0.5),
    p95Us,
    p99Us: of(0.99),
    worstUs: of(1),
    meanUs,
    curve: withCurve && us.length > 0 ? CURVE.map((q) => [of(q), q]) : [],
  }
}

function resultOf(
  traffic: ResolvedTraffic,
  locomotives: readonly Locomotive[],
  policy: PolicyDesign,
  choice: CaseChoice,
  run: StationRun,
  latency: KindLatency[],
  link: { beforeNs: number; lostAtLink: number; linkLoad: number },
): CaseResult {
  const { counts } = run
  const boards = Math.max(0, (traffic.input.traffic.turnouts + traffic.input.accessoryOffset + 3) >> 2)
  const names = [
    ...locomotives.map((l) => l.name),
    ...Array.from({ length: boards }, (_, b) => `accessory board ${b}`),
  ]
  const total = (content: number) => REASONS.reduce((sum, _, r) => sum + counts.sent[content * 4 + r]!, 0)
  const since = (ns: number) => (ns - link.beforeNs) / 1000
  const near = counts.gapMinAddress
  const gap = {
    seen: Number.isFinite(counts.gapMinNs) ? counts.gaps : 0,
    broken: counts.gapsBroken,
    shortestUs: counts.gapMinNs / 1000,
    atUs: since(counts.gapMinAtNs),
    address:
      near < 0 ? '' : near < locomotives.length ? nameAddressee(locomotives[near]!.addressee) : names[near]!,
  }
  return {
    policy: choice.policy,
    locomotives: locomotives.length,
    lost: choice.lost,
    timeUs: counts.timeNs / 1000,
    packets: counts.packets,
    perSecond: (counts.packets / counts.timeNs) * 1e9,
    sent: CONTENTS.flatMap((content, c) =>
      REASONS.flatMap((reason, r) => {
        const count = counts.sent[c * 4 + r]!
        return count > 0 ? [{ content, reason, count, share: count / counts.packets }] : []
      }),
    ),
    time: CONTENTS.map((content, c) => ({
      content,
      share: counts.busyNs[c]! / counts.timeNs,
      meanUs: total(c) > 0 ? counts.busyNs[c]! / total(c) / 1000 : 0,
    })),
    refresh: locomotives.map((l, a) => ({
      name: l.name,
      addressee: l.addressee,
      meanUs: run.heard[a]! > 0 ? run.sumNs[a]! / run.heard[a]! / 1000 : Number.POSITIVE_INFINITY,
      worstUs: run.worstPauseNs(a) / 1000,
      worstAtUs: since(run.worstAtNs[a]!),
      packets: run.heard[a]!,
      timeoutUs: l.design.timeout,
    })),
    latency,
    queue: { mean: counts.depthSum / counts.packets, worst: counts.depthMax, room: policy.queue },
    commands: {
      total: counts.commands.reduce((a, b) => a + b, 0),
      superseded: counts.superseded,
      lostFull: counts.lostFull,
      lostAtLink: link.lostAtLink,
      neverHeard: counts.neverHeard,
    },
    linkLoad: link.linkLoad,
    sameAddress: gap,
    interval: {
      seen: counts.packets - 1,
      shortestUs: counts.intervalMinNs / 1000,
      longestUs: counts.intervalMaxNs / 1000,
      atUs: since(counts.intervalMaxAtNs),
    },
    stops: {
      place: run.stopPlace.values(),
      whom: run.stopWhom.values(),
      us: run.stopNs.values().map((x) => x / 1000),
    },
    trace: {
      ...run.trace,
      startNs: run.trace.startNs.map((x) => x - link.beforeNs),
      endNs: run.trace.endNs.map((x) => x - link.beforeNs),
    },
    names,
  }
}
