/** Policies side by side, how many locomotives each carries, and which suits. */
import { formatTimeUs } from '../units/index.js'
import { type CaseChoice, type CaseResult, mostLocomotives, runCase } from './case.js'
import type { ResolvedTraffic } from './plan.js'

/** What a table or a sweep needs of a case: small enough to come out of a worker. */
export interface CaseSummary {
  policy: string
  locomotives: number
  lost: number
  timeUs: number
  packets: number
  perSecond: number
  /** 95th percentile of the slowest kind, us, and which; Infinity while nothing was heard of a kind. */
  p95Us: number
  slowest: string
  /** Longest pause as a share of the time-out; NaN without time-outs. */
  refreshShare: number
  worstRefreshUs: number
  gapsBroken: number
  lostShare: number
  queueMean: number
}

export function summarise(result: CaseResult): CaseSummary {
  const kinds = result.latency.filter((l) => l.commands > 0)
  const p95 = (l: (typeof kinds)[number]) => (l.heard > 0 ? l.first.p95Us.value : Number.POSITIVE_INFINITY)
  const slowest = kinds.length > 0 ? kinds.reduce((a, b) => (p95(b) > p95(a) ? b : a)) : undefined
  const limited = result.refresh.filter((r) => r.timeoutUs !== undefined && r.timeoutUs > 0)
  const { commands } = result
  return {
    policy: result.policy,
    locomotives: result.locomotives,
    lost: result.lost,
    timeUs: result.timeUs,
    packets: result.packets,
    perSecond: result.perSecond,
    p95Us: slowest ? p95(slowest) : 0,
    slowest: slowest?.kind ?? '',
    refreshShare: limited.length > 0 ? Math.max(...limited.map((r) => r.worstUs / r.timeoutUs!)) : Number.NaN,
    worstRefreshUs: result.refresh.reduce((m, r) => Math.max(m, r.worstUs), 0),
    gapsBroken: result.sameAddress.broken,
    lostShare: (commands.lostFull + commands.lostAtLink + commands.neverHeard) / Math.max(1, commands.total),
    queueMean: result.queue.mean,
  }
}

/** One simulation of a sweep, as data: a worker runs it. */
export type SweepTask = Required<Pick<CaseChoice, 'policy' | 'lost'>> & {
  locomotives: number
  mostPackets: number
}

export function runTask(traffic: ResolvedTraffic, task: SweepTask): CaseSummary {
  return summarise(runCase(traffic, task))
}

const SWEEP_PACKETS = 3e5

/** Numbers of locomotives worth a look: 1, 2, 3, 5, 7, 10, 15 … up to the most. */
export function sweepCounts(most: number): number[] {
  const counts: number[] = []
  for (let decade = 1; decade <= most; decade *= 10)
    for (const step of [1, 1.5, 2, 3, 5, 7]) {
      const n = Math.round(decade * step)
      if (n <= most && n !== counts.at(-1)) counts.push(n)
    }
  if (counts.at(-1) !== most) counts.push(most)
  return counts
}

/** The tasks of a whole sweep: each policy, without loss and with it, for each number of locomotives. */
export function sweepTasks(traffic: ResolvedTraffic, policies: readonly string[], most: number): SweepTask[] {
  const { lost } = traffic.input.traffic
  return policies.flatMap((policy) =>
    [...new Set([0, lost])].flatMap((share) =>
      sweepCounts(Math.min(most, mostLocomotives(traffic.locomotives))).map((locomotives) => ({
        policy,
        lost: share,
        locomotives,
        mostPackets: SWEEP_PACKETS,
      })),
    ),
  )
}

export interface Carries {
  policy: string
  lost: number
  /** The greatest number seen with which the wanted latency holds, time-outs are kept and 95 of 100 commands arrive. */
  locomotives: number
  /** The first number seen that is too many, and why; undefined when all are carried. */
  tooMany: number | undefined
  why: string
}

/** How many locomotives each policy carries, from the points of a sweep in any order. */
export function carried(points: readonly CaseSummary[], limitUs: number): Carries[] {
  const lines = new Map<string, CaseSummary[]>()
  for (const p of points) {
    const key = `${p.lost} ${p.policy}`
    lines.set(key, [...(lines.get(key) ?? []), p])
  }
  return [...lines.values()].map((line) => {
    const sorted = line.sort((a, b) => a.locomotives - b.locomotives)
    const bad = sorted.findIndex((p) => whyNot(p, limitUs) !== '')
    const first = sorted[bad]
    return {
      policy: sorted[0]!.policy,
      lost: sorted[0]!.lost,
      locomotives: bad === 0 ? 0 : (bad < 0 ? sorted.at(-1)! : sorted[bad - 1]!).locomotives,
      tooMany: first?.locomotives,
      why: first ? whyNot(first, limitUs) : '',
    }
  })
}

/** Tasks between the last good and the first bad point of each line, to close in on the number; none when closed. */
export function refineTasks(lines: readonly Carries[]): SweepTask[] {
  return lines.flatMap((c) => {
    if (c.tooMany === undefined || c.tooMany - c.locomotives <= 1) return []
    const width = c.tooMany - c.locomotives
    const parts = Math.min(4, width)
    const counts = Array.from(
      { length: parts - 1 },
      (_, i) => c.locomotives + Math.round((width * (i + 1)) / parts),
    )
    return [...new Set(counts)].map((locomotives) => ({
      policy: c.policy,
      lost: c.lost,
      locomotives,
      mostPackets: SWEEP_PACKETS,
    }))
  })
}

/** What is wrong with a case, in words; empty when nothing is. */
export function whyNot(s: CaseSummary, limitUs: number): string {
  if (s.lostShare > 0.05) return `more than 5 % of commands are lost`
  if (s.p95Us > limitUs) return `95th percentile of ${s.slowest} commands ${formatTimeUs(s.p95Us, 3)}`
  if (s.refreshShare > 1) return `an address goes ${formatTimeUs(s.worstRefreshUs, 3)} without a packet`
  return ''
}

/**
 * Which policy suits: first the one that breaks nothing, then the one with the most room in its worst figure, of
 * latency against the limit and refresh against the time-outs. Loss counts: a policy must live on dirty track too.
 * @param clean and dirty summaries, by policy in the same order.
 */
export function bestPolicy(
  clean: readonly CaseSummary[],
  dirty: readonly CaseSummary[],
  limitUs: number,
): Choice {
  const ranked = clean.map((c, i) => {
    const d = dirty[i] ?? c
    const faults = [
      c.gapsBroken > 0 ? 'breaks the 5 ms between packets to one address' : '',
      whyNot(c, limitUs),
      whyNot(d, limitUs) ? `on dirty track: ${whyNot(d, limitUs)}` : '',
    ].filter((f) => f !== '')
    const load = Math.max(
      c.p95Us / limitUs,
      d.p95Us / limitUs,
      nanAs0(c.refreshShare),
      nanAs0(d.refreshShare),
    )
    return { policy: c.policy, faults, load, p95Us: c.p95Us }
  })
  // A twentieth either way is no difference that anybody would notice: then the quicker one.
  const rung = (r: Ranked) => (Number.isFinite(r.load) ? Math.round(r.load * 10) : 1e9)
  ranked.sort((a, b) => a.faults.length - b.faults.length || rung(a) - rung(b) || a.p95Us - b.p95Us)
  const [first, second] = ranked as [Ranked, Ranked | undefined]
  const says =
    first.faults.length > 0
      ? `none does all; "${first.policy}" comes nearest: ${first.faults.join('; ')}`
      : `"${first.policy}": its worst figure, latency or refresh, takes ${Math.round(first.load * 100)} % of what is allowed` +
        (second
          ? `; next is "${second.policy}" with ${second.faults[0] ?? `${Math.round(second.load * 100)} %`}`
          : '')
  return { policy: first.policy, suits: first.faults.length === 0, says, ranked }
}

export interface Ranked {
  policy: string
  faults: string[]
  /** Worst of latency over limit and pause over time-out. */
  load: number
  /** 95th percentile of the slowest kind of command, us. */
  p95Us: number
}

export interface Choice {
  policy: string
  /** It breaks nothing. */
  suits: boolean
  says: string
  ranked: Ranked[]
}

function nanAs0(x: number): number {
  return Number.isNaN(x) ? 0 : x
}
