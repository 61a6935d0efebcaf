/** Evidence about polarity: routes, gaps, reversers and the stretches behind them. */
import type { Finding } from '../../finding/index.js'
import { type Evidence, marginWithin } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'
import type { TrackReport } from '../report.js'
import { withoutStop } from '../words.js'
import { mixedFinding, sharedFinding, stretchFinding } from './reverser-findings.js'

export function polarityEvidence(report: TrackReport): Evidence {
  const { routes, uncounted, opposed, mixed, untold } = report.polarity
  const swapped = report.polarity.swapped.filter((f) => f.harm !== 'harmless')
  const useless = report.polarity.reversers.filter((r) => !r.ok)
  const short = report.polarity.stretches.filter((s) => !s.ok)
  const shared = report.polarity.shared.filter((s) => s.trains > 1)
  const count =
    routes.length +
    uncounted +
    useless.length +
    swapped.length +
    opposed.length +
    short.length +
    mixed.length +
    shared.length
  const open =
    untold.length > 0 ||
    report.polarity.shared.length > shared.length ||
    report.polarity.reversers.some((r) => !r.sure)
  const first = routes[0]
  const finding = worstOf(report.polarity, swapped, useless, short)
  return {
    clause: 'polarity',
    origin: 'calculated',
    verdict: count > 0 ? 'broken' : open ? 'undecided' : 'met',
    value: { low: count, high: count, unit: 'routes' },
    margin: count === 0 && open ? 0 : marginWithin(count, count, { max: 0 }),
    count: { seen: report.sections.length, outside: count },
    ...(first?.names[0] ? { where: { section: first.names[0] } } : {}),
    because: finding.sentence,
    finding,
  }
}

type Polarity = TrackReport['polarity']

/** What most needs saying. */
function worstOf(
  { routes, uncounted, opposed, shared, reversers, mixed, untold }: Polarity,
  swapped: Polarity['swapped'],
  useless: Polarity['reversers'],
  short: Polarity['stretches'],
): Finding {
  const first = routes[0]
  if (swapped[0]) return trackFindings.find('swapped-feeder', { why: withoutStop(swapped[0].because) })
  if (first?.kind === 'turntable')
    return trackFindings.find('turntable-polarity', { bridge: first.names[0]! })
  if (first)
    return trackFindings.find('polarity-route', {
      routes: routes.length + uncounted,
      names: first.names,
      lengthMm: first.lengthMm,
      gaps: first.gaps ?? [],
    })
  if (useless[0])
    return trackFindings.find('reverser-useless', { run: useless[0].run, why: useless[0].because })
  if (mixed[0]) return mixedFinding(mixed[0])
  if (short[0]) return stretchFinding(short[0])
  if (opposed[0]) return trackFindings.find('opposed-gap', { why: withoutStop(opposed[0].because) })
  if (shared[0]) return sharedFinding([...shared].sort((a, b) => b.trains - a.trains)[0]!)
  const unsure = reversers.find((r) => !r.sure)
  if (unsure) return trackFindings.find('reverser-unsure', { run: unsure.run, why: unsure.because })
  if (untold[0]) return trackFindings.find('turntable-untold', { bridge: untold[0] })
  return trackFindings.find('polarity-sound', {})
}
