/**
 * What bench notes show: readings held against the clauses, with the error of their instruments. A reading shows that a
 * clause is met only where it was taken as the clause demands it: at the place that decides, under the load that decides, by
 * an instrument that can tell. Otherwise it shows that the clause is broken, or nothing.
 */
import { type Design, type LoadedDesign, profileOfDesign } from '../design/index.js'
import type { Finding } from '../finding/index.js'
import {
  type BenchReading,
  type Blindness,
  type Bounds,
  type Instrument,
  METER_FINDINGS,
  peakFromAc,
  peakFromScope,
  rmsFromAc,
  withError,
} from '../meter/index.js'
import { type PowerReport, powerReport } from '../power/index.js'
import {
  type ClauseId,
  type Evidence,
  type Limits,
  marginWithin,
  notShown,
  rmsCeilingVolt,
  type Statement,
  senderLimits,
  type Verdict,
} from '../standard/index.js'
import { limitsOf, type TrackReport } from '../track/index.js'
import { designSum, readingInWords } from './bench-notes-words.js'
import { powerInput } from './power-input.js'
import { railroadOf } from './railroad.js'

const { find } = METER_FINDINGS

/** The current noted beside a voltage may be off by this share; assumed, no source. */
const LOAD_ERROR = 0.1
/** Up to this a track is without load: the rest of a few decoders, A. Assumed, no source. */
const NO_LOAD_AMP = 0.05
/** Hands start and stop a watch so late or early, us; common practice, no source. */
const REACTION_US = 300_000

interface Context {
  design: Design
  loaded: LoadedDesign
  power?: PowerReport
  track?: TrackReport
  /** What calculation says of the same, for places and limits. */
  calculated: readonly Statement[]
}

/** Statements of all readings, and what a reader should know of them. */
export function benchNoteEvidence(
  loaded: LoadedDesign,
  calculated: readonly Statement[],
): { evidence: Statement[]; notes: Finding[] } {
  const { design } = loaded
  const { benchNotes } = design
  if (!benchNotes) return { evidence: [], notes: [] }
  const input = design.power && powerInput(loaded)
  const track = railroadOf(loaded)?.report
  const context: Context = {
    design,
    loaded,
    calculated,
    ...(input ? { power: powerReport(input.input) } : {}),
    ...(track ? { track } : {}),
  }
  const present = designSum(design)
  const evidence: Statement[] = []
  const notes: Finding[] = []
  for (const [i, r] of benchNotes.readings.entries()) {
    const instrument = benchNotes.instruments[r.with]!
    const line = { line: loaded.placeOf(['benchNotes', 'readings', i]).line }
    const where = { ...line, ...(r.at === undefined ? {} : { section: r.at }) }
    const found = statementsOf(r, instrument, context).map((e): Statement => ({ ...e, where }))
    if (r.design !== undefined && !sameSum(r.design, present)) {
      const why = find('reading-of-other-design', {
        reading: readingInWords(r),
        noted: r.design,
        present,
      })
      notes.push(why)
      evidence.push(...found.map((e) => notShown(e.clause, 'measured', why, { about: e.about, where })))
      continue
    }
    if (r.design === undefined && found.length > 0)
      notes.push(find('unknown-design-of-reading', { reading: readingInWords(r) }))
    evidence.push(...found)
  }
  return { evidence, notes }
}

const sameSum = (noted: string, present: string) => noted.startsWith(present) || present.startsWith(noted)

function statementsOf(r: BenchReading, instrument: Instrument, c: Context): Statement[] {
  switch (r.reading) {
    case 'track':
    case 'peak':
      return voltages(r, instrument, c)
    case 'trip':
      return [tripOf(r, instrument, c)]
    case 'half of one':
    case 'half of zero':
      return [halfOf(r, instrument, c)]
    default:
      // Compared with what the build book expects; no clause is about them.
      return []
  }
}

const silent = (clause: ClauseId, about: string, finding: Finding) =>
  notShown(clause, 'measured', finding, { about })

function shown(
  clause: ClauseId,
  about: string,
  r: BenchReading,
  bounds: Bounds,
  limits: Limits,
  unit: string,
  verdict: Verdict,
): Evidence {
  const { low, high } = bounds
  const finding = find('reading-shows', { reading: readingInWords(r), low, high, unit })
  // An end that the instrument leaves open is given by the reading itself.
  const top = Number.isFinite(high) ? high : low
  const margin = marginWithin(low, top, limits)
  return {
    clause,
    origin: 'measured',
    verdict,
    about,
    value: { low, high: top, unit },
    limits,
    margin: verdict === 'met' ? margin : verdict === 'broken' ? Math.min(margin, -1e-9) : Math.min(0, margin),
    count: { seen: 1, outside: verdict === 'broken' ? 1 : 0 },
    because: finding.sentence,
    finding,
  }
}

/** Shortest half-bit of the output that a district repeats, us. */
function shortestHalfUs(c: Context, district: string): number {
  const output = c.power?.districts.find((d) => d.name === district)?.output
  const { signal } = c.design
  const halves = Object.entries(signal.outputs)
    .filter(([name]) => output === undefined || name === output)
    .map(([, o]) => Math.min(o.oneHalf, o.zeroHalf))
  return Math.min(...halves)
}

const blindly = (r: BenchReading, why: Blindness, halfUs: number) =>
  why === 'accuracy'
    ? find('instrument-accuracy', { reading: readingInWords(r) })
    : find('instrument-bandwidth', { reading: readingInWords(r), hz: 1e6 / (2 * halfUs) })

function voltages(r: BenchReading, instrument: Instrument, c: Context): Statement[] {
  const halfUs = shortestHalfUs(c, r.of)
  const ac = r.reading === 'track'
  const peak = (ac ? peakFromAc : peakFromScope)(r, instrument, halfUs)
  const list = [
    'blind' in peak
      ? silent('track-voltage-max', r.of, blindly(r, peak.blind, halfUs))
      : highest(r, peak, c, ac),
    ...lowest('track-voltage-min', r, peak, halfUs, c),
    ...lowest('voltage-drop', r, peak, halfUs, c),
  ]
  const ceiling = rmsCeilingVolt({ ...c.design.standard, ...profileOfDesign(c.loaded) })
  if (ac && ceiling !== undefined) list.push(rmsStatement(r, instrument, halfUs, ceiling, c))
  return list
}

const unloaded = (r: BenchReading) => r.load !== undefined && r.load * (1 + LOAD_ERROR) <= NO_LOAD_AMP

function highest(r: BenchReading, peak: Bounds, c: Context, ac: boolean): Statement {
  const clause = 'track-voltage-max'
  const { max } = profileOfDesign(c.loaded).clauses[clause].sender
  const reading = readingInWords(r)
  if (max === undefined)
    return silent(clause, r.of, find('instrument-cannot-tell', { reading, what: 'a limit' }))
  const limits = { max }
  if (peak.low > max) return shown(clause, r.of, r, peak, limits, 'V', 'broken')
  if (ac) return silent(clause, r.of, find('instrument-cannot-tell', { reading, what: 'the peak' }))
  if (!unloaded(r)) return silent(clause, r.of, find('reading-under-load', { reading }))
  if (r.at !== undefined)
    return silent(
      clause,
      r.of,
      find('reading-elsewhere', { reading, wanted: 'the output of the station', found: r.at }),
    )
  return shown(clause, r.of, r, peak, limits, 'V', peak.high <= max ? 'met' : 'undecided')
}

function rmsStatement(
  r: BenchReading,
  instrument: Instrument,
  halfUs: number,
  ceiling: number,
  c: Context,
): Statement {
  const clause = 'track-voltage-max'
  const about = `${r.of}, RMS`
  const reading = readingInWords(r)
  const rms = rmsFromAc(r, instrument, halfUs)
  if ('blind' in rms) return silent(clause, about, blindly(r, rms.blind, halfUs))
  const limits = { max: ceiling }
  if (rms.low > ceiling) return shown(clause, about, r, rms, limits, 'V', 'broken')
  if (!Number.isFinite(rms.high))
    return silent(
      clause,
      about,
      find('instrument-cannot-tell', { reading, what: 'the RMS with all its parts' }),
    )
  if (!unloaded(r)) return silent(clause, about, find('reading-under-load', { reading }))
  if (r.at !== undefined && c.track)
    return silent(
      clause,
      about,
      find('reading-elsewhere', { reading, wanted: 'the output of the station', found: r.at }),
    )
  return shown(clause, about, r, rms, limits, 'V', rms.high <= ceiling ? 'met' : 'undecided')
}

/** The place and the current that decide, as calculated; the output of the station without a track. */
function deciding(clause: 'track-voltage-min' | 'voltage-drop', district: string, c: Context) {
  const power = c.power?.districts.find((d) => d.name === district)
  const calculated = c.calculated.find(
    (e): e is Evidence =>
      e.clause === clause &&
      e.origin === 'calculated' &&
      e.verdict !== 'not shown' &&
      e.about === district &&
      (e.where?.section !== undefined || !c.track),
  )
  const own = profileOfDesign(c.loaded).clauses[clause].sender.min
  const min = calculated?.limits?.min ?? own
  const amps = c.track?.arrangements.filter((a) => a.district === district).map((a) => a.amp) ?? []
  const amp = Math.max(power?.load?.worstAmp ?? 0, ...amps)
  return { min, place: calculated?.where?.section, amp: amp > 0 ? amp : undefined }
}

const sectionOf = (place: string) => place.split(', ')[0]!

function lowest(
  clause: 'track-voltage-min' | 'voltage-drop',
  r: BenchReading,
  peak: Bounds | { blind: Blindness },
  halfUs: number,
  c: Context,
): Statement[] {
  const { min, place, amp } = deciding(clause, r.of, c)
  if (min === undefined || (clause === 'voltage-drop' && !c.track)) return []
  const reading = readingInWords(r)
  if ('blind' in peak) return [silent(clause, r.of, blindly(r, peak.blind, halfUs))]
  const limits = { min }
  // No more than is planned flowed, so under the planned load it is no higher.
  const within = amp !== undefined && (r.load === undefined || r.load * (1 + LOAD_ERROR) <= amp)
  if (peak.high < min && within && (clause === 'track-voltage-min' || r.at !== undefined))
    return [shown(clause, r.of, r, peak, limits, 'V', 'broken')]
  if (amp === undefined || r.load === undefined || r.load * (1 - LOAD_ERROR) < amp) {
    const wantedAmp = amp ?? Number.NaN
    const why = find('reading-without-load', {
      reading,
      wantedAmp,
      ...(r.load === undefined ? {} : { amp: r.load }),
    })
    return [silent(clause, r.of, why)]
  }
  // Somewhere on its track it is lowest, and nobody knows where.
  if (place === undefined && c.track?.districts.some((d) => d.name === r.of))
    return [silent(clause, r.of, find('place-not-known', { reading }))]
  const wanted = place === undefined ? undefined : sectionOf(place)
  if (wanted !== r.at)
    return [
      silent(
        clause,
        r.of,
        find('reading-elsewhere', {
          reading,
          wanted: place ?? 'the output of the station',
          found: r.at ?? 'the output of the station',
        }),
      ),
    ]
  return [shown(clause, r.of, r, peak, limits, 'V', peak.low >= min ? 'met' : 'undecided')]
}

/** Where a short is weakest, and how long it may last: until driver or wire come to harm. */
function shortLimits(district: string, c: Context): { place?: string; maxUs?: number } {
  const d = c.power?.districts.find((x) => x.name === district)
  const onTrack = c.track?.districts.find((x) => x.name === district)
  const stands = onTrack?.endurance
  const driverUs = [
    d?.short?.driverStandsUs,
    stands === undefined ? undefined : stands.standsUs === null ? Number.POSITIVE_INFINITY : stands.standsUs,
  ].filter((us) => us !== undefined)
  const place = onTrack ? { place: onTrack.weakestShortPlace } : {}
  if (driverUs.length === 0 || d?.short?.driverStandsUs === undefined) return place
  const within = c.design.track ? limitsOf(c.design.track).tripWithinUs : Number.POSITIVE_INFINITY
  const maxUs = Math.min(within, d.short.wireStandsUs ?? Number.POSITIVE_INFINITY, ...driverUs)
  return Number.isFinite(maxUs) ? { ...place, maxUs } : place
}

function tripOf(r: BenchReading, instrument: Instrument, c: Context): Statement {
  const clause = 'short-trip'
  const reading = readingInWords(r)
  const { place, maxUs } = shortLimits(r.of, c)
  // Something that is never switched off needs no clock.
  const error = r.never
    ? { low: Number.POSITIVE_INFINITY, high: Number.POSITIVE_INFINITY }
    : withError(r, instrument)
  if (!error) return silent(clause, r.of, find('instrument-accuracy', { reading }))
  const hands = instrument.kind === 'stopwatch' && !r.never ? REACTION_US : 0
  const us = { low: Math.max(0, error.low - hands), high: error.high + hands }
  if (maxUs === undefined) {
    if (!r.never) return silent(clause, r.of, find('limit-not-known', { reading }))
    return never(clause, r, limitsOf(c.design.track ?? {}).tripWithinUs)
  }
  if (r.never) return never(clause, r, maxUs)
  const limits = { max: maxUs }
  if (us.low > maxUs) return shown(clause, r.of, r, us, limits, 'us', 'broken')
  const wanted = place === undefined ? undefined : sectionOf(place)
  if (wanted !== r.at)
    return silent(
      clause,
      r.of,
      find('reading-elsewhere', { reading, wanted: place ?? 'the output', found: r.at ?? 'the output' }),
    )
  return shown(clause, r.of, r, us, limits, 'us', us.high <= maxUs ? 'met' : 'undecided')
}

/** Stands for never, us: an hour. JSON knows no infinity. */
const NEVER_US = 3600e6

function never(clause: ClauseId, r: BenchReading, maxUs: number): Evidence {
  return shown(clause, r.of, r, { low: NEVER_US, high: NEVER_US }, { max: maxUs }, 'us', 'broken')
}

function halfOf(r: BenchReading, instrument: Instrument, c: Context): Statement {
  const clause = r.reading === 'half of one' ? 'one-half' : 'zero-half'
  const reading = readingInWords(r)
  const error = withError(r, instrument)
  if (!error) return silent(clause, r.of, find('instrument-accuracy', { reading }))
  const output = c.design.signal.outputs[r.of]!
  const { min = 0, max = Number.POSITIVE_INFINITY } = senderLimits(
    profileOfDesign(c.loaded, output.cutout).clauses[clause],
    output.mode,
  )
  if (error.low > max || error.high < min) return shown(clause, r.of, r, error, { min, max }, 'us', 'broken')
  return silent(clause, r.of, find('reading-of-one', { reading }))
}
