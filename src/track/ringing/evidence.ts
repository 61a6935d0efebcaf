/** Evidence about the edges. */
import { type Evidence, marginWithin, type Profile, type Verdict } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'
import type { TrackReport } from '../report.js'
import type { EdgeBound } from './report.js'

/** Met or broken by what was calculated; where the driver's edge is assumed, only when its bounds agree. */
function edgeVerdict(here: boolean, bounds: boolean[]): Verdict {
  if (bounds.some((b) => b !== here)) return 'undecided'
  return here ? 'met' : 'broken'
}

export function ringingEvidence(report: TrackReport, profile: Profile | undefined): Evidence[] {
  const list: Evidence[] = []
  const slope = profile?.clauses['edge-rate']
  const crossing = profile?.clauses['crossing-distortion']
  const withstand = profile?.clauses['decoder-withstand']
  for (const r of report.ringing?.districts ?? []) {
    const bounds = r.bounds ? [r.bounds.fast, r.bounds.slow] : []
    // Between the bounds of an assumed edge, everything that may be.
    const reach = (own: number, other: (b: EdgeBound) => number) => {
      const all = [own, ...bounds.map(other)]
      return { low: Math.min(...all), high: Math.max(...all) }
    }
    const common = { origin: 'calculated', where: { section: r.far.place }, about: r.district } as const
    const said = {
      district: r.district,
      place: r.far.place,
      edgeUs: r.edgeUs,
      edge: r.edge.because,
      by: r.by,
    }
    const min = slope?.receiver?.min ?? slope?.sender.min
    if (slope && min !== undefined) {
      const own = slope.sender.min ?? min
      const value = reach(r.slopeVoltPerUs, (b) => b.slopeVoltPerUs)
      const finding = trackFindings.find('edge-rate', { ...said, voltPerUs: value.low })
      list.push({
        ...common,
        clause: 'edge-rate',
        verdict: value.low >= own ? 'met' : value.high >= min ? 'undecided' : 'broken',
        value: { ...value, unit: 'V/us' },
        margin: marginWithin(value.low, value.high, { min: own }),
        because: finding.sentence,
        finding,
      })
    }
    const max = crossing?.sender.max
    if (max !== undefined) {
      const { high } = reach(r.distortionVolt, (b) => b.distortionVolt)
      const finding = trackFindings.find('step-backwards', { ...said, stepVolt: high })
      list.push({
        ...common,
        clause: 'crossing-distortion',
        verdict: edgeVerdict(
          r.distortionVolt <= max,
          bounds.map((b) => b.distortionVolt <= max),
        ),
        value: { low: 0, high, unit: 'V' },
        margin: marginWithin(0, high, { max }),
        because: finding.sentence,
        finding,
      })
    }
    const most = withstand?.sender.max
    if (most !== undefined) {
      const { high } = reach(r.highPeakVolt, (b) => b.highPeakVolt)
      const within = (volt: number) => volt <= most
      const verdict = edgeVerdict(
        within(r.highPeakVolt),
        bounds.map((b) => within(b.highPeakVolt)),
      )
      const finding = trackFindings.find('lone-decoder', {
        ...said,
        peakVolt: r.worst.peakVolt,
        highPeakVolt: r.highPeakVolt,
        heldVolt: r.withCapacitor.peakVolt,
        withstandVolt: most,
      })
      list.push({
        ...common,
        clause: 'decoder-withstand',
        // Too much at the highest supply voltage only, and not at the usual one: it depends on the supply.
        verdict: verdict === 'broken' && within(r.worst.peakVolt) ? 'undecided' : verdict,
        value: {
          low: Math.min(r.withCapacitor.peakVolt, r.worst.peakVolt, r.bounds?.slow.highPeakVolt ?? high),
          high,
          unit: 'V',
        },
        margin: marginWithin(0, high, { max: most }),
        because: finding.sentence,
        finding,
      })
    }
  }
  return list
}
