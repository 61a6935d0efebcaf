/** Evidence about the voltage at the rails: each situation of a district, and the one that is worst for the clause. */
import { type Evidence, marginWithin, type Profile, type Verdict } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'
import type { TrackLimits } from '../limits.js'
import type { DistrictFigure, TrackReport } from '../report.js'

/** One situation: what the railroad has in it, from the unfavourable corner to the favourable one. */
interface Situation {
  id: 'standing' | 'running' | 'stalled'
  place: string
  lowVolt: number
  highVolt: number
  /** No arrangement gives less in the unfavourable corner. */
  boundVolt: number
  amp: number
  train?: string
  assumed?: boolean
}

export function voltageEvidence(
  report: TrackReport,
  d: DistrictFigure,
  limits: TrackLimits,
  profile: Profile | undefined,
): Evidence[] {
  const situations = situationsOf(report, d)
  // What supply and driver lose is theirs; wires and rails may lose their share of the voltage without load.
  const share = (open: number, amp: number, ohm: number) =>
    Math.max(limits.decoderVolt, (1 - limits.dropShare) * open - amp * ohm)
  const list = [
    judge(report, d, 'voltage-drop', situations, (s) =>
      // A stalled motor is no planned load, but its decoder must go on working.
      s.id === 'stalled'
        ? { low: limits.decoderVolt, high: limits.decoderVolt }
        : {
            low: share(d.openVolt.low, s.amp, d.sourceOhm),
            high: share(d.openVolt.high, s.amp, d.sourceLeastOhm),
          },
    ),
  ]
  const min = profile?.clauses['track-voltage-min'].sender.min
  if (min !== undefined)
    list.push(judge(report, d, 'track-voltage-min', situations, () => ({ low: min, high: min })))
  return list
}

function situationsOf(report: TrackReport, d: DistrictFigure): Situation[] {
  const here = report.sections.filter((s) => s.district === d.name)
  const lowest = here.reduce((low, s) => (low.volt.low <= s.volt.low ? low : s))
  const list: Situation[] = [
    {
      id: 'standing',
      place: d.worstVoltPlace,
      lowVolt: lowest.volt.low,
      boundVolt: lowest.volt.low,
      highVolt: Math.min(...here.map((s) => s.volt.high)),
      amp: d.loadAmp.high,
    },
  ]
  for (const a of report.arrangements)
    if (a.district === d.name)
      list.push({
        id: a.situation,
        place: a.place,
        lowVolt: a.volt.low,
        boundVolt: a.boundVolt,
        highVolt: a.volt.high,
        amp: a.amp,
        ...(a.stalled ?? {}),
      })
  return list
}

const RANK: Record<Verdict, number> = { broken: 0, undecided: 1, met: 2 }

function judge(
  report: TrackReport,
  d: DistrictFigure,
  clause: 'voltage-drop' | 'track-voltage-min',
  situations: readonly Situation[],
  wantedIn: (s: Situation) => { low: number; high: number },
): Evidence {
  const { sure = Number.POSITIVE_INFINITY, most = Number.POSITIVE_INFINITY } = {
    ...(d.limitAmp === undefined ? {} : { sure: d.limitAmp }),
    ...(d.limitHighAmp === undefined ? {} : { most: d.limitHighAmp }),
  }
  const judged = situations.map((s) => {
    const wanted = wantedIn(s)
    const supplied = s.amp <= sure
    let verdict: Verdict =
      s.boundVolt >= wanted.low && supplied ? 'met' : s.highVolt >= wanted.high ? 'undecided' : 'broken'
    if (s.amp > Math.max(sure, most)) verdict = 'broken'
    // A stall current that nobody gave cannot break a clause.
    if (verdict === 'broken' && s.assumed) verdict = 'undecided'
    return {
      s,
      wanted,
      verdict,
      supplied,
      margin: marginWithin(s.boundVolt, s.highVolt, { min: wanted.low }),
    }
  })
  const worst = judged.reduce((a, b) =>
    (RANK[b.verdict] - RANK[a.verdict] || b.margin - a.margin) < 0 ? b : a,
  )
  const { s, wanted, verdict, supplied, margin } = worst
  const finding = report.converged
    ? trackFindings.find('voltage', {
        district: d.name,
        situation: s.id,
        place: s.place,
        lowVolt: s.lowVolt,
        highVolt: s.highVolt,
        boundVolt: s.boundVolt,
        wantedVolt: wanted.low,
        wantedHighVolt: wanted.high,
        train: s.train,
        assumed: s.assumed ?? false,
        decides: decider(worst),
      })
    : trackFindings.find('no-steady-state', { district: d.name })
  return {
    clause,
    origin: 'calculated',
    verdict: report.converged ? verdict : 'undecided',
    value: { low: s.boundVolt, high: Math.max(s.boundVolt, s.highVolt), unit: 'V' },
    margin: supplied ? margin : Math.min(margin, sure / s.amp - 1),
    limits: { min: wanted.low },
    where: { section: s.place },
    about: d.name,
    because: finding.sentence,
    finding,
  }
}

/** What would decide where corners differ. */
function decider({
  s,
  wanted,
  verdict,
  supplied,
}: {
  s: Situation
  wanted: { low: number }
  verdict: Verdict
  supplied: boolean
}): 'supply limit' | 'stall current' | 'arrangement' | 'corners' | undefined {
  if (!supplied) return 'supply limit'
  if (verdict !== 'undecided') return undefined
  if (s.assumed) return 'stall current'
  return s.lowVolt >= wanted.low ? 'arrangement' : 'corners'
}
