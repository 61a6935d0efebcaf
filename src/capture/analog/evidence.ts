/** What the shape of an analog record says of each clause. */
import type { Finding } from '../../finding/index.js'
import {
  type Clause,
  type ClauseId,
  type Limits,
  marginWithin,
  notShown,
  type Origin,
  type Place,
  type Profile,
  rmsCeilingVolt,
  type Statement,
  type Verdict,
} from '../../standard/index.js'
import { CAPTURE_FINDINGS } from '../findings.data.js'
import { NOISE_REACH } from './head.js'
import type { AnalogReading, PassageReading } from './reading.js'
import { SLOPE_VOLT } from './slope.js'

export interface AnalogAbout {
  /** What was read, in a few words: `capture scope.csv`. */
  source: string
  /** Output of the station. */
  about?: string
  file?: string
  channel?: string
  probe: 'rails' | 'logic'
}

/** The clauses that the shape of a signal shows. */
export const ANALOG_CLAUSES = [
  'edge-rate',
  'crossing-distortion',
  'track-voltage-max',
  'track-voltage-min',
] as const satisfies readonly ClauseId[]
type AnalogClause = (typeof ANALOG_CLAUSES)[number]

/** Samples in the time that the slowest edge takes from -4 to +4 V, for a short return to be seen. */
const SAMPLES_ACROSS = 4
const LEAST_SAMPLES = 100
/** A mean is known to this many of its deviations, and a single value among many to this many more than by chance. */
const SURE = 4
/** The scatter of slopes is that of the noise when it is no larger than this share of what the noise makes. */
const ALIKE = 1.25

/**
 * What an analog record says of slope, distortion and amplitude; for each clause that it cannot show, why not.
 * @param reading undefined when the record holds no voltages: levels, or counts of unknown size.
 */
export function judgeAnalog(
  reading: AnalogReading | undefined,
  profile: Profile,
  about: AnalogAbout,
  without: 'levels' | 'counts' = 'levels',
): Statement[] {
  const reason = whyNot(reading, about, without)
  if (reason !== undefined || reading === undefined)
    return ANALOG_CLAUSES.map((id) =>
      unshown(id, reason ?? CAPTURE_FINDINGS.find('no-volts', { what: without }), about),
    )
  const { clauses } = profile
  return [
    slopeStatement(reading, clauses['edge-rate'], about),
    crossingEvidence(reading, clauses['crossing-distortion'], clauses['edge-rate'], about),
    ...voltageStatements(reading, profile, about),
  ]
}

function whyNot(
  reading: AnalogReading | undefined,
  about: AnalogAbout,
  without: 'levels' | 'counts',
): Finding | undefined {
  if (reading === undefined) return CAPTURE_FINDINGS.find('no-volts', { what: without })
  if (about.probe === 'logic') return CAPTURE_FINDINGS.find('logic-probe', {})
  const { samples, plateaus, bipolar, lowVolt: low, highVolt: high } = reading
  if (samples < LEAST_SAMPLES || plateaus === 0)
    return CAPTURE_FINDINGS.find('few-samples', { samples, edges: plateaus })
  return bipolar ? undefined : CAPTURE_FINDINGS.find('one-rail', { low, high })
}

const ORIGIN: Origin = 'measured'

function placeOf({ file, channel }: AnalogAbout, timeUs?: number): Place {
  return {
    ...(file === undefined ? {} : { file }),
    ...(channel === undefined ? {} : { channel }),
    ...(timeUs === undefined ? {} : { timeUs }),
  }
}

function unshown(id: AnalogClause, finding: Finding, about: AnalogAbout): Statement {
  return notShown(id, ORIGIN, finding, { about: about.about, where: placeOf(about) })
}

interface Found {
  low: number
  high: number
  verdict: Verdict
  finding: Finding
  atUs?: number | undefined
  count?: { seen: number; outside: number }
}

function evidenceOf(clause: Clause, limits: Limits, found: Found, about: AnalogAbout): Statement {
  const { low, high, verdict, finding, atUs, count } = found
  return {
    clause: clause.id as ClauseId,
    origin: ORIGIN,
    verdict,
    value: { low, high, unit: clause.unit },
    margin: marginWithin(low, high, limits),
    ...(limits === clause.sender ? {} : { limits }),
    where: placeOf(about, atUs),
    because: `${about.source}: ${finding.sentence}`,
    finding,
    ...(count ? { count } : {}),
    ...(about.about === undefined ? {} : { about: about.about }),
  }
}

/** Noise and converter steps together, V rms. */
function unsteadyVolt({ noiseVolt, stepVolt }: AnalogReading): number {
  // A value rounded to steps is off by a step over the root of twelve, rms.
  return Math.hypot(noiseVolt, stepVolt / Math.sqrt(12))
}

/** The most that chance makes of n values, in deviations. */
function extremeOf(n: number): number {
  return Math.sqrt(2 * Math.log(Math.max(2, n))) + 2
}

/** What noise makes of the slope of one passage, V/us rms: each end is crossed too early or too late. */
function slopeNoise(slope: number, reading: AnalogReading): number {
  return (slope * Math.SQRT2 * unsteadyVolt(reading)) / (2 * SLOPE_VOLT)
}

interface SlopeVerdict {
  verdict: Verdict
  decidedBy: 'each' | 'together' | 'one' | 'none'
  /** The slope that is shown: of the slowest passage, or of all together. */
  low: number
  uncertain: number
}

/** One direction against the limit. */
function slopeVerdict(passages: PassageReading, min: number, reading: AnalogReading): SlopeVerdict {
  const { edges, slowest, mean, deviation } = passages
  const noise = slopeNoise(mean, reading)
  const uncertain = extremeOf(edges) * noise
  const meanUncertain = edges > 1 ? (SURE * Math.max(deviation, noise)) / Math.sqrt(edges) : uncertain
  if (mean + meanUncertain < min) return { verdict: 'broken', decidedBy: 'together', low: mean, uncertain }
  if (slowest + uncertain < min) return { verdict: 'broken', decidedBy: 'one', low: slowest, uncertain }
  if (slowest >= min && mean - meanUncertain >= min)
    return { verdict: 'met', decidedBy: 'each', low: slowest, uncertain }
  const isNoise = deviation <= ALIKE * noise && mean - slowest <= uncertain
  if (isNoise && mean - meanUncertain >= min)
    return { verdict: 'met', decidedBy: 'together', low: mean - meanUncertain, uncertain }
  return { verdict: 'undecided', decidedBy: 'none', low: slowest, uncertain }
}

const RANK: Record<Verdict, number> = { broken: 0, undecided: 1, met: 2 }

function slopeStatement(reading: AnalogReading, clause: Clause, about: AnalogAbout): Statement {
  const { slope, sampleUs, lowVolt: low, highVolt: high } = reading
  const min = clause.sender.min
  if (min === undefined) return unshown('edge-rate', CAPTURE_FINDINGS.find('no-limit', {}), about)
  if (!slope) return unshown('edge-rate', CAPTURE_FINDINGS.find('below-region', { low, high }), about)
  const { coarse, coarseBound } = slope
  const directions = [slope.rising, slope.falling].filter((d) => d.edges > 0)
  // The direction that decides: the worse one, of equals the slower.
  const judged = directions
    .map((passages) => ({ passages, ...slopeVerdict(passages, min, reading) }))
    .sort((a, b) => RANK[a.verdict] - RANK[b.verdict] || a.low - b.low)
  const worst = judged[0]
  const edges = slope.rising.edges + slope.falling.edges
  const coarseVerdict: Verdict | undefined =
    coarse === 0 ? undefined : coarseBound >= min ? 'met' : 'undecided'
  const coarseDecides =
    worst === undefined || (coarseVerdict !== undefined && RANK[coarseVerdict] < RANK[worst.verdict])
  const verdict = coarseDecides ? (coarseVerdict ?? 'undecided') : worst.verdict
  const shown = Math.min(worst?.low ?? Number.POSITIVE_INFINITY, coarseBound)
  const receiver = clause.receiver?.min
  const finding = CAPTURE_FINDINGS.find('slope', {
    edges,
    slowest: worst?.passages.slowest ?? 0,
    mean: worst?.passages.mean ?? 0,
    uncertain: worst?.uncertain ?? 0,
    coarse,
    bound: coarse > 0 ? coarseBound : undefined,
    decidedBy: coarseDecides ? (verdict === 'met' ? 'each' : 'coarse') : worst.decidedBy,
    limit: min,
    noise: unsteadyVolt(reading),
    // Three intervals within the time that the slowest allowed edge takes leave two samples inside.
    neededUs: (2 * SLOPE_VOLT) / min / 3,
    sampleUs,
    should: verdict === 'broken' && receiver !== undefined ? shown >= receiver : undefined,
    receiver,
  })
  const atUs = coarseDecides ? slope.coarseAtUs : worst.passages.slowestAtUs
  const highest = Math.max(shown, ...directions.map((d) => d.mean))
  return evidenceOf(clause, clause.sender, { low: shown, high: highest, verdict, finding, atUs }, about)
}

function crossingEvidence(
  reading: AnalogReading,
  clause: Clause,
  edgeRate: Clause,
  about: AnalogAbout,
): Statement {
  const { crossing, sampleUs } = reading
  const max = clause.sender.max ?? 2
  const { edges, worstVolt, returns, guardVolt, worstAtUs } = crossing
  const neededUs = (2 * SLOPE_VOLT) / (edgeRate.sender.min ?? 2.4) / SAMPLES_ACROSS
  let verdict: Verdict = returns > 0 ? 'broken' : 'met'
  if (verdict === 'met' && (sampleUs > neededUs || guardVolt >= max / 2)) verdict = 'undecided'
  const finding = CAPTURE_FINDINGS.find('crossing', {
    edges,
    worst: worstVolt,
    returns,
    guard: guardVolt,
    verdict,
    sampleUs,
    neededUs,
  })
  const atUs = worstVolt > 0 ? worstAtUs : undefined
  const count = { seen: edges + returns, outside: returns }
  return evidenceOf(clause, clause.sender, { low: 0, high: worstVolt, verdict, finding, atUs, count }, about)
}

/** Which voltage was taken for zero, in words. */
function referenceWords({ subtracted, reference }: AnalogReading): string {
  if (reference === 'middle') return 'from the middle between the plateaus'
  return subtracted ? 'from the zero of the difference of both channels' : 'from 0 V of the channel'
}

function voltageStatements(reading: AnalogReading, profile: Profile, about: AnalogAbout): Statement[] {
  const highest = profile.clauses['track-voltage-max']
  const step = reading.stepVolt
  const list: Statement[] = []
  const { max } = highest.sender
  if (max === undefined) list.push(unshown('track-voltage-max', CAPTURE_FINDINGS.find('no-limit', {}), about))
  else {
    const peak = Math.max(reading.maxVolt, -reading.minVolt)
    const plateau = Math.max(reading.highVolt, -reading.lowVolt)
    const uncertain = step / 2 + extremeOf(reading.samples) * reading.noiseVolt
    const verdict =
      peak <= max - step / 2
        ? 'met'
        : peak - uncertain > max || plateau > max + step / 2
          ? 'broken'
          : 'undecided'
    const finding = CAPTURE_FINDINGS.find('peak', {
      peak,
      low: reading.lowVolt,
      high: reading.highVolt,
      uncertain,
      verdict,
      withstand: highest.receiver?.max,
      reference: referenceWords(reading),
    })
    const found: Found = {
      low: Math.min(plateau, peak),
      high: peak,
      verdict,
      finding,
      atUs: reading.peakAtUs,
    }
    list.push(evidenceOf(highest, highest.sender, found, about))
  }
  const ceiling = rmsCeilingVolt(profile)
  if (ceiling !== undefined) {
    const rms = reading.rmsVolt
    const verdict = rms > ceiling + step ? 'broken' : rms > ceiling - step ? 'undecided' : 'met'
    const finding = CAPTURE_FINDINGS.find('rms', { rms, ceiling, scale: profile.scale })
    list.push(evidenceOf(highest, { max: ceiling }, { low: rms, high: rms, verdict, finding }, about))
  }
  list.push(lowestStatement(reading, profile, about))
  return list
}

function lowestStatement(reading: AnalogReading, profile: Profile, about: AnalogAbout): Statement {
  const lowest = profile.clauses['track-voltage-min']
  const { min } = lowest.sender
  if (min === undefined) return unshown('track-voltage-min', CAPTURE_FINDINGS.find('no-limit', {}), about)
  const { weakestVolt, weakestSamples, plateaus, plateauDeviationVolt, stepVolt, sampleUs } = reading
  const mean = Math.min(reading.highVolt, -reading.lowVolt)
  const received = lowest.receiver?.min
  if (weakestSamples === 0) {
    const finding = CAPTURE_FINDINGS.find('no-plateau', { sampleUs })
    return evidenceOf(lowest, lowest.sender, { low: mean, high: mean, verdict: 'undecided', finding }, about)
  }
  const noise = reading.noiseVolt / Math.sqrt(weakestSamples)
  const uncertain = stepVolt / 2 + extremeOf(plateaus) * noise
  const meanUncertain =
    stepVolt / 2 + (SURE * Math.max(plateauDeviationVolt, noise)) / Math.sqrt(Math.max(1, plateaus / 2))
  let verdict: Verdict = 'undecided'
  let decidedBy: 'each' | 'together' | 'one' | 'none' = 'none'
  if (weakestVolt >= min + stepVolt / 2) {
    verdict = 'met'
    decidedBy = 'each'
  } else if (weakestVolt + uncertain < min) {
    verdict = 'broken'
    decidedBy = 'one'
  } else if (mean + meanUncertain < min) {
    verdict = 'broken'
    decidedBy = 'together'
  }
  const finding = CAPTURE_FINDINGS.find('plateau', {
    weakest: weakestVolt,
    uncertain,
    mean,
    count: plateaus,
    decidedBy,
    reference: referenceWords(reading),
    should: verdict === 'broken' && received !== undefined ? weakestVolt >= received : undefined,
    receiver: received,
  })
  const found: Found = {
    low: weakestVolt,
    high: Math.max(weakestVolt, mean),
    verdict,
    finding,
    atUs: reading.weakestAtUs,
  }
  return evidenceOf(lowest, lowest.sender, found, about)
}

/** Below this peak nothing on rails is plausible, V; the least that any edition lets a decoder need is 7 V. */
const IMPLAUSIBLE_VOLT = 5

/** What a person should know of the voltages: a forgotten probe factor, an uneven output. */
export function analogAdvice(reading: AnalogReading | undefined, probe: 'rails' | 'logic'): Finding[] {
  if (reading === undefined || probe === 'logic' || reading.plateaus === 0) return []
  const { lowVolt: low, highVolt: high, bipolar, subtracted, noiseVolt } = reading
  const list: Finding[] = []
  const peak = Math.max(high, -low)
  // A logic level of 3.3 or 5 V is no rail, but nothing of it is judged either.
  if (peak < IMPLAUSIBLE_VOLT && (bipolar || peak < 2.5))
    list.push(CAPTURE_FINDINGS.find('small-swing', { low, high, factor: peak < 0.5 ? 100 : 10 }))
  if (bipolar && !subtracted && Math.abs(high + low) > (high - low) / 20 + NOISE_REACH * noiseVolt)
    list.push(CAPTURE_FINDINGS.find('reference-zero', { low, high }))
  return list
}
