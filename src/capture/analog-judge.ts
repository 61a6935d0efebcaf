/** What the shape of an analog record says of each clause. */
import {
  type Clause,
  type ClauseId,
  type Evidence,
  type Limits,
  marginWithin,
  type Profile,
  rmsCeilingVolt,
  type Verdict,
} from '../standard/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../units/index.js'
import type { AnalogReading } from './analog.js'

export interface AnalogAbout {
  /** What was read, in a few words: `capture scope.csv`. */
  source: string
  /** Output of the station. */
  about?: string
  file?: string
  channel?: string
  probe: 'rails' | 'logic'
}

/** Samples in the time that the slowest edge takes from -4 to +4 V, for a short return to be seen. */
const SAMPLES_ACROSS = 4
const LEAST_SAMPLES = 100

/**
 * Evidence on slope, distortion and amplitude. Only a differential record taken at the rails shows them: with
 * `probe` logic, or with one polarity only, there is none.
 */
export function judgeAnalog(reading: AnalogReading, profile: Profile, about: AnalogAbout): Evidence[] {
  if (about.probe === 'logic' || !reading.bipolar || reading.samples < LEAST_SAMPLES) return []
  if (reading.distortion.edges === 0) return []
  const { clauses } = profile
  return [
    ...slopeEvidence(reading, clauses['edge-rate'], about),
    // It is seen around the threshold: with another one stated, nothing is known of the crossings of zero.
    ...(reading.middleVolt === 0
      ? [distortionEvidence(reading, clauses['crossing-distortion'], clauses['edge-rate'], about)]
      : []),
    ...voltageEvidence(reading, profile, about),
  ]
}

interface Found {
  low: number
  high: number
  verdict: Verdict
  says: string
  atUs?: number | undefined
  count?: { seen: number; outside: number }
}

function evidenceOf(clause: Clause, limits: Limits, found: Found, about: AnalogAbout): Evidence {
  const { low, high, verdict, says, atUs, count } = found
  const evidence: Evidence = {
    clause: clause.id as ClauseId,
    origin: 'measured',
    verdict,
    value: { low, high, unit: clause.unit },
    margin: marginWithin(low, high, limits),
    where: {
      ...(about.file === undefined ? {} : { file: about.file }),
      ...(about.channel === undefined ? {} : { channel: about.channel }),
      ...(atUs === undefined ? {} : { timeUs: atUs }),
    },
    because: `${about.source}: ${says}`,
  }
  if (count) evidence.count = count
  if (about.about !== undefined) evidence.about = about.about
  return evidence
}

function slopeEvidence(reading: AnalogReading, clause: Clause, about: AnalogAbout): Evidence[] {
  const { slope, sampleUs } = reading
  const min = clause.sender.min
  if (!slope || min === undefined) return []
  const { edges, slowest, coarse, coarseBound } = slope
  const low = Math.min(edges > 0 ? slowest : Number.POSITIVE_INFINITY, coarseBound)
  const high = Math.max(low, slope.mean)
  const says: string[] = []
  if (edges > 0)
    says.push(`the slowest of ${edges} passages from -4 to +4 V or back goes ${volt(slowest)} V/us`)
  if (coarse > 0)
    says.push(
      `${coarse} passages have fewer than two samples inside: of those it is only known that they go at least ${volt(coarseBound)} V/us`,
    )
  let verdict: Verdict = 'met'
  let atUs = edges > 0 && slowest <= coarseBound ? slope.slowestAtUs : slope.coarseAtUs
  if (edges > 0 && slowest < min) {
    verdict = 'broken'
    atUs = slope.slowestAtUs
    says.push(decoders(slowest >= (clause.receiver?.min ?? min), `from ${clause.receiver?.min} V/us`))
  } else if (coarseBound < min) {
    verdict = 'undecided'
    // Three intervals within the time that the slowest allowed edge takes leave two samples inside.
    const neededUs = (2 * 4) / min / 3
    says.push(
      `sampled every ${formatTimeUs(sampleUs, 3)} this cannot be told, ${formatSi(1e6 / neededUs, 'S/s', 2)} would decide it`,
    )
  }
  return [evidenceOf(clause, clause.sender, { low, high, verdict, says: says.join('; '), atUs }, about)]
}

function distortionEvidence(
  reading: AnalogReading,
  clause: Clause,
  edgeRate: Clause,
  about: AnalogAbout,
): Evidence {
  const { distortion, sampleUs, stepVolt } = reading
  const max = clause.sender.max ?? 2
  const { worstVolt, edges } = distortion
  const acrossUs = (2 * 4) / (edgeRate.sender.min ?? 2.4)
  let verdict: Verdict = worstVolt > max + stepVolt ? 'broken' : 'met'
  let says = `around ${edges} crossings of zero the signal goes back by ${worstVolt > 0 ? `up to ${volt(worstVolt)} V` : 'nothing'}`
  if (verdict === 'met' && sampleUs * SAMPLES_ACROSS > acrossUs) {
    verdict = 'undecided'
    says += `; sampled every ${formatTimeUs(sampleUs, 3)} a short return may lie between the samples, ${formatSi((SAMPLES_ACROSS * 1e6) / acrossUs, 'S/s', 2)} would show it`
  } else if (verdict === 'met' && worstVolt > max - stepVolt) verdict = 'undecided'
  const atUs = worstVolt > 0 ? distortion.worstAtUs : undefined
  return evidenceOf(clause, clause.sender, { low: 0, high: worstVolt, verdict, says, atUs }, about)
}

function voltageEvidence(reading: AnalogReading, profile: Profile, about: AnalogAbout): Evidence[] {
  const highest = profile.clauses['track-voltage-max']
  const lowest = profile.clauses['track-voltage-min']
  const step = reading.stepVolt
  const peak = Math.max(reading.maxVolt, -reading.minVolt)
  const plateau = Math.max(reading.highVolt, -reading.lowVolt)
  const list: Evidence[] = []
  const { max } = highest.sender
  if (max !== undefined) {
    let says = `peaks reach ${volt(peak)} V, the plateaus lie at ${volt(reading.highVolt)} and ${volt(reading.lowVolt)} V`
    const stands = highest.receiver?.max
    if (peak > max && stands !== undefined)
      says +=
        peak > stands
          ? `; decoders need not withstand more than ${stands} V`
          : `; decoders must withstand ${stands} V`
    const verdict = peak > max + step ? 'broken' : peak > max - step ? 'undecided' : 'met'
    const found: Found = { low: Math.min(plateau, peak), high: peak, verdict, says, atUs: reading.peakAtUs }
    list.push(evidenceOf(highest, highest.sender, found, about))
  }
  const ceiling = rmsCeilingVolt(profile)
  if (ceiling !== undefined) {
    const rms = reading.rmsVolt
    const verdict = rms > ceiling + step ? 'broken' : rms > ceiling - step ? 'undecided' : 'met'
    const says = `the RMS voltage is ${volt(rms)} V; this edition allows ${ceiling} V at ${profile.scale} scale`
    list.push(evidenceOf(highest, { max: ceiling }, { low: rms, high: rms, verdict, says }, about))
  }
  const { min } = lowest.sender
  if (min !== undefined && reading.weakestPeakVolt > 0) {
    const weakest = reading.weakestPeakVolt
    let says = `the weakest half-bit peaks at ${volt(weakest)} V`
    if (weakest < min && lowest.receiver?.min !== undefined)
      says += `; ${decoders(weakest >= lowest.receiver.min, `from ${lowest.receiver.min} V`)}`
    const verdict = weakest < min - step ? 'broken' : weakest < min + step ? 'undecided' : 'met'
    const found: Found = {
      low: weakest,
      high: Math.max(weakest, plateau),
      verdict,
      says,
      atUs: reading.weakestAtUs,
    }
    list.push(evidenceOf(lowest, lowest.sender, found, about))
  }
  return list
}

function decoders(should: boolean, accept: string): string {
  return should
    ? `decoders should still read it, they must accept ${accept}`
    : `decoders need not read it, they must accept only ${accept}`
}

function volt(value: number): string {
  return formatNumber(value, 3)
}
