/** Evidence on a short at the terminals. */
import { searchCorners } from '../../corner/index.js'
import type { Evidence } from '../../standard/index.js'
import { formatSi } from '../../units/index.js'
import { decision, marginOf, plainFinding } from '../corner-evidence.js'
import type { DistrictModel } from '../district-model.js'
import type { DistrictParts } from '../district-report.js'
import { POWER_FINDINGS } from '../findings.data.js'
import { type ProtectionGap, protectionGaps } from '../protection.js'
import { faultRange, shortOutcome, shortQuestion } from '../short.js'

const amp = (value: number) => formatSi(value, 'A', 3)

/** Stands for never in evidence, us: an hour. JSON knows no infinity. */
export const NEVER_US = 3600e6

/** Where a trip may truly lie, in words. */
export function between(trip: { lowAmp: number; highAmp: number }): string {
  return Number.isFinite(trip.highAmp)
    ? `between ${amp(trip.lowAmp)} and ${amp(trip.highAmp)}`
    : `anywhere above ${amp(trip.lowAmp)}, as its current sense may be off by all it reads`
}

const WORSE = { met: 0, undecided: 1, broken: 2 } as const

/** The short at the terminals and every lesser current that may flow: the worse of both. */
export function shortEvidence(m: DistrictModel, parts: DistrictParts): Evidence[] {
  const gap = gapEvidence(m, parts)
  return terminalEvidence(m).map((e) => (gap && WORSE[gap.verdict] > WORSE[e.verdict] ? gap : e))
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
  const unrated = worst.allowedUs === undefined && Number.isFinite(worst.offUs)
  // How long the driver survives is not told by what the wire survives.
  const driverUs = heats.most.standsUs(mostAmp, stage.name)
  const unknown =
    unrated || (driverUs.us === undefined && Number.isFinite(worst.offUs) && found.verdict === 'met')
  const finding = unknown
    ? POWER_FINDINGS.find('short-unrated', {
        mostAmp,
        offUs: worst.offUs,
        because: `how long the driver survives it is not known: ${driverUs.because}`,
      })
    : worst.supplyGivesUpUs !== undefined
      ? POWER_FINDINGS.find('short-outlasted', {
          leastAmp,
          mostAmp,
          lastsUs: worst.supplyGivesUpUs,
          offUs: trip.timeUs(Math.max(worst.amp, trip.highAmp), 0).worstUs,
        })
      : Number.isFinite(worst.offUs)
        ? POWER_FINDINGS.find('short-trips', {
            ...reach,
            offUs: worst.offUs,
            allowedUs: worst.allowedUs ?? Number.POSITIVE_INFINITY,
            because: worst.because,
          })
        : POWER_FINDINGS.find('short-stays', {
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
 * Not a short alone: every current between the trip and the most that may flow must end before driver or wire come to
 * harm. What flows below the trip for ever is judged by the driver's heat, and by the track where it is described.
 */
function gapEvidence(m: DistrictModel, parts: DistrictParts): Evidence | undefined {
  const trip = m.source?.trip
  const worst = protectionGaps(m, parts, 'worst')
  if (!trip?.reachable || !worst) return undefined
  const counts = (gaps: readonly ProtectionGap[]) =>
    gaps.filter(
      (g) =>
        (g.what.startsWith('driver ') && g.toAmp > trip.highAmp) ||
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
