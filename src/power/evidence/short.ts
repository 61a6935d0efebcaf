/** Evidence on a short at the terminals. */
import { searchCorners } from '../../corner/index.js'
import type { Evidence, Profile } from '../../standard/index.js'
import { formatSi } from '../../units/index.js'
import { cornerEvidence, decision, marginOf, plainFinding } from '../corner-evidence.js'
import type { DistrictModel } from '../district-model.js'
import type { DistrictParts } from '../district-report.js'
import type { DistrictTrip } from '../district-trip.js'
import { POWER_FINDINGS } from '../findings.data.js'
import { type ProtectionGap, protectionGaps } from '../protection.js'
import { repeatedTrips } from '../repeated-trips.js'
import { faultRange, shortOutcome, shortQuestion } from '../short.js'

const amp = (value: number) => formatSi(value, 'A', 3)

/** Stands for never in evidence, us: an hour. JSON knows no infinity. */
export const NEVER_US = 3600e6

/** Where a trip may truly lie, in words. */
export function between(trip: { lowAmp: number; highAmp: number; saturates?: string }): string {
  return Number.isFinite(trip.highAmp)
    ? `between ${amp(trip.lowAmp)} and ${amp(trip.highAmp)}`
    : `anywhere above ${amp(trip.lowAmp)}, as ${trip.saturates ?? 'its current sense may be off by all it reads'}`
}

/** Judged by `sense-stress` and `fuse`. */
const SENSE_PARTS = ['shunt', 'converter pin', "fuse's breaking capacity"]

const WORSE = { met: 0, undecided: 1, broken: 2 } as const

/**
 * The short at the terminals and every lesser current that may flow: the worse of both.
 * @param service the profile, for a district that feeds a service track
 */
export function shortEvidence(m: DistrictModel, parts: DistrictParts, service?: Profile): Evidence[] {
  const gap = gapEvidence(m, parts)
  const again = againEvidence(m)
  const limited = service && serviceEvidence(m, service)
  const worse = (a: Evidence, b: Evidence | undefined) => (b && WORSE[b.verdict] > WORSE[a.verdict] ? b : a)
  return terminalEvidence(m).map((e) => worse(worse(worse(e, gap), again), limited))
}

/** Why a short may not trip, which decides what would help. */
function staysCode({
  because,
  saturates,
}: DistrictTrip): 'short-stays' | 'short-cannot-trip' | 'short-unseen' {
  if (saturates !== undefined) return 'short-unseen'
  return because === undefined ? 'short-stays' : 'short-cannot-trip'
}

/** A short must trip in every corner, before driver and wire come to harm. */
function terminalEvidence({ stage, source, heats, load }: DistrictModel): Evidence[] {
  if (!source?.trip) return []
  const { trip } = source
  const outcome = shortOutcome(stage, source, heats, load)
  const question = shortQuestion(source, outcome)
  const found = searchCorners(question)
  const { leastAmp, mostAmp, most } = faultRange(source)
  const { heldBy } = source.fault(most)
  const worst = outcome(found.worst.values)
  const best = outcome(found.best.values)
  const reach = { leastAmp, mostAmp, heldBy }
  const unrated =
    worst.allowedUs === undefined && worst.pulseAmp === undefined && Number.isFinite(worst.offUs)
  // How long the driver survives is not told by what the wire survives.
  const driverUs = heats.most.standsUs(mostAmp, stage.name)
  const unknown =
    unrated ||
    (driverUs.us === undefined &&
      Number.isFinite(worst.offUs) &&
      (found.verdict === 'met' || (found.verdict === 'undecided' && worst.pulseAmp !== undefined)))
  const finding =
    unknown || worst.isUnrated
      ? POWER_FINDINGS.find('short-unrated', {
          mostAmp,
          offUs: worst.offUs,
          because: `how long the driver survives it is not known: ${worst.isUnrated ? worst.because : driverUs.because}`,
        })
      : worst.pulseAmp !== undefined
        ? POWER_FINDINGS.find('short-pulse', { leastAmp, mostAmp, because: worst.because })
        : worst.givesUpUs !== undefined
          ? POWER_FINDINGS.find('short-outlasted', {
              leastAmp,
              mostAmp,
              who: worst.heldBy === 'driver' ? 'driver' : 'supply',
              lastsUs: worst.givesUpUs,
              offUs: trip.timeUs(Math.max(worst.amp, trip.highAmp), 0).worstUs,
            })
          : worst.starvesUs !== undefined
            ? POWER_FINDINGS.find('short-starves', {
                leastAmp,
                mostAmp,
                lastsUs: worst.starvesUs,
                offUs: trip.timeUs(Math.max(worst.amp, trip.highAmp), 0).worstUs,
              })
            : Number.isFinite(worst.offUs)
              ? POWER_FINDINGS.find('short-trips', {
                  ...reach,
                  offUs: worst.offUs,
                  allowedUs: worst.allowedUs ?? Number.POSITIVE_INFINITY,
                  because: worst.because,
                })
              : POWER_FINDINGS.find(staysCode(trip), {
                  ...reach,
                  band: between(trip),
                  because: trip.because ?? `${amp(worst.amp)} is all that may flow`,
                })
  const verdict = found.verdict === 'met' && unknown ? 'undecided' : found.verdict
  const sentence = finding.sentence + decision(found, question)
  const us = (value: number) => (Number.isFinite(value) ? value : NEVER_US)
  const [a, b] = [us(best.offUs), us(worst.offUs)]
  return [
    {
      clause: 'short-trip',
      origin: 'calculated',
      verdict,
      value: { low: Math.min(a, b), high: Math.max(a, b), unit: 'us' },
      margin: verdict === 'undecided' && found.verdict === 'met' ? 0 : marginOf(found.worst.margin),
      about: stage.name,
      because: sentence,
      finding: plainFinding({ ...finding, sentence }),
    },
  ]
}

/**
 * A service track may carry more than 250 mA for no longer than 100 ms (S-9.2.3:2012 B): neither a short nor what flows below
 * the trip. The standard names no tolerance: it is kept where even a trip at the top of its band lies below the limit.
 */
function serviceEvidence(
  { source, sustained, stage }: DistrictModel,
  profile: Profile,
): Evidence | undefined {
  const { sender, unbound } = profile.clauses['service-current']
  const limitUs = sender.max
  const limitAmp = profile.rules['service-current-limit']?.value
  if (!source?.trip || unbound || limitUs === undefined || limitAmp === undefined) return undefined
  if (sustained && sustained.high > limitAmp * (1 + 1e-9)) {
    const isSure = sustained.low > limitAmp
    const params = { mostAmp: sustained.high, limitUs, limitAmp }
    const finding = POWER_FINDINGS.find('service-flows', params)
    return {
      clause: 'short-trip',
      origin: 'calculated',
      verdict: isSure ? 'broken' : 'undecided',
      value: { low: isSure ? NEVER_US : 0, high: NEVER_US, unit: 'us' },
      margin: isSure ? -1 : 0,
      about: stage.name,
      because: finding.sentence,
      finding: plainFinding(finding),
    }
  }
  const { leastAmp, mostAmp } = faultRange(source)
  if (mostAmp <= limitAmp) return undefined
  const { worstUs } = source.trip.timeUs(Math.max(leastAmp, limitAmp), 0)
  const { bestUs } = source.trip.timeUs(mostAmp, 0)
  if (worstUs <= limitUs) return undefined
  const finding = POWER_FINDINGS.find('service-trips-late', { mostAmp, offUs: worstUs, limitUs, limitAmp })
  const us = (value: number) => Math.min(value, NEVER_US)
  return {
    clause: 'short-trip',
    origin: 'calculated',
    verdict: bestUs > limitUs ? 'broken' : 'undecided',
    value: { low: us(bestUs), high: us(worstUs), unit: 'us' },
    margin: bestUs > limitUs ? marginOf(limitUs / us(worstUs) - 1) : 0,
    about: stage.name,
    because: finding.sentence,
    finding: plainFinding(finding),
  }
}

/** A short that lasts, where the trip closes again and again: the worse of that and the first time counts. */
function againEvidence(m: DistrictModel): Evidence | undefined {
  const repeated = repeatedTrips(m)
  if (!repeated) return undefined
  const result = repeated.outcome
  return cornerEvidence({
    clause: 'short-trip',
    about: m.stage.name,
    question: repeated.question,
    unit: 'us',
    most: NEVER_US,
    figure: (v) => result(v).onUs,
    finding: ({ worst }) => POWER_FINDINGS.find('short-again', { ...result(worst.values) }),
  })
}

/**
 * Not a short alone: every current between the trip and the most that may flow must end before driver or wire come to
 * harm. What flows below the trip continuously is judged by the driver's heat, and by the track where it is described.
 */
function gapEvidence(m: DistrictModel, parts: DistrictParts): Evidence | undefined {
  const trip = m.source?.trip
  const worst = protectionGaps(m, parts, 'worst')
  if (!trip?.reachable || !worst) return undefined
  const counts = (gaps: readonly ProtectionGap[]) =>
    gaps.filter(
      (g) =>
        (g.toAmp > trip.highAmp && !SENSE_PARTS.includes(g.what)) ||
        (m.load?.conductors === undefined && g.what.startsWith('thinnest wire')),
    )
  const gaps = counts(worst)
  const best = counts(protectionGaps(m, parts, 'best') ?? [])
  const [first] = gaps
  if (!first) return undefined
  const finding = POWER_FINDINGS.find('protection-gap', {
    what: first.what,
    fromAmp: first.fromAmp,
    toAmp: first.toAmp,
    endsUs: first.endsUs,
    survivesUs: first.survivesUs,
  })
  const us = Math.min(first.endsUs, NEVER_US)
  return {
    clause: 'short-trip',
    origin: 'calculated',
    verdict: best.length > 0 ? 'broken' : 'undecided',
    value: { low: best.length > 0 ? us : 0, high: us, unit: 'us' },
    margin: marginOf(first.survivesUs / first.endsUs - 1),
    about: m.stage.name,
    because: finding.sentence,
    finding: plainFinding(finding),
  }
}
