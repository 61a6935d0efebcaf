/** What a case says of each clause. */
import {
  type Clause,
  type ClauseId,
  type Evidence,
  marginWithin,
  type Origin,
  type Place,
  type Profile,
  type Verdict,
} from '../standard/index.js'
import { formatNumber, formatRange, formatShare, formatTimeUs } from '../units/index.js'
import type { CaseResult } from './case.js'
import type { ResolvedTraffic } from './plan.js'
import type { StopFigures } from './stopping.js'

export interface RefreshSeen {
  name: string
  worstUs: number
  worstAtUs?: number
  timeoutUs: number | undefined
}

/**
 * Evidence for `refresh` from the longest pause of each address against its time-out.
 * @param ran how long it was watched, us: a pause as long as the time-out must have fitted into it.
 */
export function refreshEvidence(
  seen: readonly RefreshSeen[],
  clause: Clause,
  about: {
    origin: Origin
    source: string
    ranUs: number
    about?: string | undefined
    file?: string | undefined
  },
): Evidence[] {
  const limited = seen.filter((r) => r.timeoutUs !== undefined && r.timeoutUs > 0)
  if (seen.length === 0) return []
  const common = { clause: clause.id, origin: about.origin, ...(about.about ? { about: about.about } : {}) }
  if (limited.length === 0) {
    const worst = Math.max(...seen.map((r) => r.worstUs))
    const none = seen.every((r) => r.timeoutUs === 0)
    return [
      {
        ...common,
        verdict: none ? 'met' : 'undecided',
        value: { low: 0, high: worst, unit: clause.unit },
        margin: none ? 1 : 0,
        count: { seen: seen.length, outside: 0 },
        because: none
          ? `${about.source}: no decoder has a time-out; the longest pause is ${formatTimeUs(worst)}`
          : `${about.source}: the longest pause is ${formatTimeUs(worst)}; the fleet gives no time-out (CV11) to compare it with`,
      },
    ]
  }
  const share = (r: RefreshSeen) => r.worstUs / r.timeoutUs!
  const worst = limited.reduce((a, b) => (share(b) > share(a) ? b : a))
  const outside = limited.filter((r) => share(r) > 1).length
  const short = limited.filter((r) => share(r) <= 1 && about.ranUs < r.timeoutUs!).length
  const verdict: Verdict = outside > 0 ? 'broken' : short > 0 ? 'undecided' : 'met'
  const says = [
    `${about.source}: ${worst.name} goes up to ${formatTimeUs(worst.worstUs)} without a packet, its time-out is ${formatTimeUs(worst.timeoutUs!)}`,
  ]
  if (outside > 1) says.push(`${outside} addresses are not refreshed in time`)
  if (verdict === 'undecided')
    says.push(`${formatTimeUs(about.ranUs)} watched are shorter than the time-out of ${short}`)
  const where: Place = { address: worst.name }
  if (about.file !== undefined) where.file = about.file
  if (worst.worstAtUs !== undefined) where.timeUs = worst.worstAtUs
  return [
    {
      ...common,
      verdict,
      value: {
        low: Math.min(...limited.map((r) => r.worstUs)),
        high: worst.worstUs,
        unit: clause.unit,
      },
      margin: marginWithin(0, worst.worstUs, { max: worst.timeoutUs }),
      count: { seen: limited.length, outside },
      where,
      because: says.join('; '),
    },
  ]
}

/** Evidence of a simulated plan: all of it is `calculated`, from the design alone. */
export function trafficEvidence(
  traffic: ResolvedTraffic,
  result: CaseResult,
  stops: readonly StopFigures[],
  profile: Profile,
): Evidence[] {
  const { limit, sure, output } = traffic.input.traffic
  const source = `policy "${result.policy}", ${result.locomotives} locomotives, ${formatTimeUs(result.timeUs)} of railroad time`
  const about = output === undefined ? {} : { about: output }
  const evidence = refreshEvidence(result.refresh, profile.clauses.refresh, {
    origin: 'calculated',
    source,
    ranUs: result.timeUs,
    about: output,
  })
  const add = (id: ClauseId, e: Omit<Evidence, 'clause' | 'origin'>) =>
    void evidence.push({ clause: id, origin: 'calculated', ...about, ...e })
  const { sameAddress: gap, interval } = result
  const close = profile.clauses['same-address-gap']
  const tooClose = gap.shortestUs < (close.sender.min ?? 0)
  const bound = boundAddresses(result, profile)
  if (gap.seen > 0 && !(tooClose && bound === 'none')) {
    const { sender, unit } = close
    // Of which address the shortest was is known, of the others only that they were no closer.
    const verdict: Verdict = !tooClose ? 'met' : bound === 'all' && !close.unbound ? 'broken' : 'undecided'
    const broken = tooClose
    add('same-address-gap', {
      verdict,
      value: { low: gap.shortestUs, high: gap.shortestUs, unit },
      margin: marginWithin(gap.shortestUs, gap.shortestUs, sender),
      count: { seen: gap.seen, outside: gap.broken },
      where: { timeUs: gap.atUs, address: gap.address },
      because: `${source}: packets to one address are at least ${formatTimeUs(gap.shortestUs)} apart, the closest for ${gap.address}${broken ? '; let the scheduler send somebody else, or an idle packet, in between' : ''}`,
    })
  }
  if (interval.seen > 0) {
    const { sender, unit } = profile.clauses['packet-interval']
    const outside = interval.longestUs > (sender.max ?? Number.POSITIVE_INFINITY)
    add('packet-interval', {
      verdict: outside ? 'broken' : 'met',
      value: { low: interval.shortestUs, high: interval.longestUs, unit },
      margin: marginWithin(interval.shortestUs, interval.longestUs, sender),
      count: { seen: interval.seen, outside: outside ? 1 : 0 },
      where: { timeUs: interval.atUs },
      because: `${source}: start bits are ${formatRange(interval.shortestUs, interval.longestUs, 'us', 4)} apart`,
    })
  }
  const kinds = result.latency.filter((l) => l.commands > 0)
  if (kinds.length > 0) {
    // The worst kind decides; an interval across the limit, or none, leaves it open.
    const worst = kinds.reduce((a, b) => (b.first.p95Us.value > a.first.p95Us.value ? b : a))
    const { value, low, high } = worst.first.p95Us
    const lost = result.commands.lostFull + result.commands.lostAtLink + result.commands.neverHeard
    const lostShare = lost / Math.max(1, result.commands.total)
    const verdict: Verdict =
      low > limit || lostShare > 0.05
        ? 'broken'
        : kinds.every((k) => k.first.p95Us.high <= limit)
          ? 'met'
          : 'undecided'
    const lostSays =
      lost > 0 ? `; ${lost} of ${result.commands.total} commands are lost (${formatShare(lostShare)})` : ''
    add('command-latency', {
      verdict,
      value: {
        low: Number.isFinite(low) ? low : value,
        high: Number.isFinite(high) ? high : value,
        unit: 'us',
      },
      margin: Math.min(
        marginWithin(0, Number.isFinite(high) ? high : value, { max: limit }),
        verdict === 'broken' ? -0.01 : 1,
      ),
      count: { seen: kinds.reduce((sum, k) => sum + k.commands, 0), outside: lost },
      because: `${source}: 95 of 100 ${worst.kind} commands are heard within ${formatTimeUs(value)}${Number.isFinite(low) ? ` (${formatRange(low, high, 'us', 4)} with 95 % confidence)` : ', too few to say how sure that is'}, wanted ${formatTimeUs(limit)}${lostSays}`,
    })
  }
  for (const s of stops) {
    const verdict: Verdict =
      s.verdict === 'long enough' ? 'met' : s.verdict === 'undecided' ? 'undecided' : 'broken'
    const speed = `${formatNumber((s.fullSpeed * 3600) / 1e6, 3)} km/h (${formatNumber(s.speed, 3)} mm/s on the model)`
    add('stopping-distance', {
      verdict,
      value: { low: s.insideLow, high: s.insideHigh, unit: 'share' },
      margin:
        s.verdict === 'early'
          ? (s.wholeTrain! - sure) / sure
          : Math.max(-1, Math.min(1, (s.insideLow - sure) / (1 - sure))),
      count: { seen: s.stops, outside: Math.round(s.stops * (1 - (s.inside || 0))) },
      where: { section: s.name },
      because: `${s.kind} "${s.name}", ${formatNumber(s.lengthMm)} mm, from ${speed}: ${s.stops === 0 ? 'no train stopped in the run' : `${formatShare(s.inside)} of ${s.stops} stops end inside (${formatRange(100 * s.insideLow, 100 * s.insideHigh, '%', 3)} with 95 % confidence), wanted ${formatShare(sure)}; it would take ${formatNumber(s.neededMm, 3)} mm, or at most ${formatNumber((s.safeFullSpeed * 3600) / 1e6, 3)} km/h${platformSays(s)}`}`,
    })
  }
  return evidence
}

function platformSays(s: StopFigures): string {
  if (s.wholeTrain === undefined) return ''
  const at = `; the whole train is at it in ${formatShare(s.wholeTrain)}`
  if (s.verdict !== 'early' || s.waitMoreUs === undefined) return at
  const more = s.waitMoreUs > 0 ? 'later' : 'earlier'
  return `${at}: stop ${formatTimeUs(Math.abs(s.waitMoreUs), 2)} ${more}`
}

/** Which of the addresses in use the standard binds the station to leave time between. */
function boundAddresses(result: CaseResult, { rules }: Profile): 'all' | 'some' | 'none' {
  const first = rules['same-address-first']?.value
  const last = rules['same-address-last']?.value
  if (first === undefined || last === undefined) return 'all'
  const within = result.refresh.filter((l) => l.addressee >= first && l.addressee <= last).length
  return within === 0 ? 'none' : within === result.refresh.length ? 'all' : 'some'
}
