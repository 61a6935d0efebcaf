/** Evidence about the edges. */
import { type Evidence, marginWithin, type Profile, type Verdict } from '../../standard/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
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
    const by = r.by === 'SPICE' ? 'SPICE transient' : 'ladder of coils and capacitors'
    const bounds = r.bounds ? [r.bounds.fast, r.bounds.slow] : []
    const edge = `from a driver edge of ${formatTimeUs(r.edgeUs, 3)} (${r.edge.because}; ${by})`
    // Between the bounds of an assumed edge, everything that may be.
    const reach = (own: number, other: (b: EdgeBound) => number) => {
      const all = [own, ...bounds.map(other)]
      return { low: Math.min(...all), high: Math.max(...all) }
    }
    const common = { origin: 'calculated', where: { section: r.far.place }, about: r.district } as const
    const min = slope?.receiver?.min ?? slope?.sender.min
    if (slope && min !== undefined) {
      const own = slope.sender.min ?? min
      const value = reach(r.far.slopeVoltPerUs, (b) => b.farSlopeVoltPerUs)
      list.push({
        ...common,
        clause: 'edge-rate',
        verdict: value.low >= own ? 'met' : value.high >= min ? 'undecided' : 'broken',
        value: { ...value, unit: 'V/us' },
        margin: marginWithin(value.low, value.high, { min: own }),
        because: `District ${r.district}: the edge at the far end of the bus, ${edge}; the standard measures at the station.`,
      })
    }
    const max = crossing?.sender.max
    if (max !== undefined) {
      const { high } = reach(r.far.distortionVolt, (b) => b.farDistortionVolt)
      list.push({
        ...common,
        clause: 'crossing-distortion',
        verdict: edgeVerdict(
          r.far.distortionVolt <= max,
          bounds.map((b) => b.farDistortionVolt <= max),
        ),
        value: { low: 0, high, unit: 'V' },
        margin: marginWithin(0, high, { max }),
        because: `District ${r.district}: the largest step backwards through the band of 2 V around zero at the far end of the bus, ${edge}.`,
      })
    }
    const most = withstand?.sender.max
    if (most !== undefined) {
      const { high } = reach(r.highPeakVolt, (b) => b.highPeakVolt)
      const low = Math.min(r.worst.peakVolt, r.bounds?.slow.highPeakVolt ?? r.worst.peakVolt)
      const within = (volt: number) => volt <= most
      const verdict = edgeVerdict(
        within(r.highPeakVolt),
        bounds.map((b) => within(b.highPeakVolt)),
      )
      list.push({
        ...common,
        clause: 'decoder-withstand',
        // Too much at the highest supply voltage only, and not at the usual one: it depends on the supply.
        verdict: verdict === 'broken' && within(r.worst.peakVolt) ? 'undecided' : verdict,
        value: { low, high, unit: 'V' },
        margin: marginWithin(low, high, { max: most }),
        where: { section: r.worst.place },
        because: `District ${r.district}: with its overshoot an edge peaks at ${formatNumber(r.worst.peakVolt, 3)} V at ${r.worst.place}, ${formatNumber(r.highPeakVolt, 3)} V at the highest supply voltage, ${edge}; decoders must withstand ${formatNumber(most, 3)} V.`,
      })
    }
  }
  return list
}
