/** What the calculation says about the clauses. */
import { type Evidence, marginWithin, type Profile, type Verdict, verdictOfCases } from '../standard/index.js'
import { formatNumber, formatTimeUs } from '../units/index.js'
import type { DistrictFigure, TrackReport } from './report.js'
import type { EdgeBound } from './ringing/report.js'

interface Limits {
  drop: number
  decoder: number
  reserve: number
  tripWithin: number
  rise: number
}

/** One piece of evidence per clause and district. */
export function judgeTrack(report: TrackReport, limits: Limits, profile: Profile | undefined): Evidence[] {
  const list: Evidence[] = []
  for (const d of report.districts) {
    if (d.lengthMm === 0) continue
    list.push(...voltageEvidence(report, d, limits, profile))
    list.push(...shortEvidence(report, d, limits))
  }
  list.push(polarityEvidence(report))
  list.push(...ringingEvidence(report, profile))
  return list
}

function voltageEvidence(
  report: TrackReport,
  d: DistrictFigure,
  limits: Limits,
  profile: Profile | undefined,
): Evidence[] {
  const here = report.sections.filter((s) => s.district === d.name)
  const worst = here.reduce((low, s) => (low.volt.low <= s.volt.low ? low : s))
  const enveloped = here.filter((s) => s.envelopeVolt !== undefined)
  const lowest = enveloped.reduce<(typeof here)[number] | undefined>(
    (low, s) => (low === undefined || s.envelopeVolt! < low.envelopeVolt! ? s : low),
    undefined,
  )
  // The lower of the two: trains where they stand, or where they hurt most.
  const byEnvelope = lowest !== undefined && lowest.envelopeVolt! < worst.volt.low
  const low = byEnvelope ? lowest.envelopeVolt! : worst.volt.low
  const high = byEnvelope ? Math.max(low, lowest.envelopeStrongVolt ?? low) : worst.volt.high
  const place = byEnvelope ? lowest.name : worst.name
  const how = byEnvelope
    ? 'with the heaviest train there and the others where they cost most'
    : 'with the trains where they stand'
  const sound = report.converged
  // What supply and driver lose is theirs; wires and rails may lose their share of the voltage without load.
  const amp = byEnvelope ? (lowest.envelopeAmp ?? 0) : d.loadAmp.high
  const wanted = (open: number) => Math.max(limits.decoder, (1 - limits.drop) * open - amp * d.sourceOhm)
  const dropMin = wanted(d.openVolt.low)
  const where = { section: place }
  const result: Evidence[] = [
    {
      clause: 'voltage-drop',
      origin: 'calculated',
      verdict: sound ? verdictOfCases(low >= dropMin, high >= wanted(d.openVolt.high)) : 'undecided',
      value: { low, high, unit: 'V' },
      margin: marginWithin(low, high, { min: dropMin }),
      where,
      about: d.name,
      because: sound
        ? `District ${d.name}: ${spanText({ low, high })} V on ${place} ${how}; wanted ${spanText({ low: dropMin, high: wanted(d.openVolt.high) })} V, from the weak supply to the strong, so that wires and rails lose at most ${formatNumber(100 * limits.drop, 3)} % and decoders have their ${formatNumber(limits.decoder, 3)} V.`
        : 'No steady state was found for the planned load.',
    },
  ]
  const min = profile?.clauses['track-voltage-min'].sender.min
  if (min !== undefined)
    result.push({
      clause: 'track-voltage-min',
      origin: 'calculated',
      verdict: sound ? verdictOfCases(low >= min, high >= min) : 'undecided',
      value: { low, high, unit: 'V' },
      margin: marginWithin(low, high, { min }),
      where,
      about: d.name,
      because: sound
        ? `District ${d.name}: ${formatNumber(low, 3)} V at the worst place, ${place}, ${how}, from the solved network of rails and wires.`
        : 'No steady state was found for the planned load.',
    })
  return result
}

/** `2 to 2.4`, or just `2` where both read the same. */
function spanText({ low, high }: { low: number; high: number }): string {
  const [a, b] = [formatNumber(low, 3), formatNumber(high, 3)]
  return a === b ? a : `${a} to ${b}`
}

function shortEvidence(report: TrackReport, d: DistrictFigure, limits: Limits): Evidence[] {
  if (d.tripAmp === undefined) {
    return [
      {
        clause: 'short-trip',
        origin: 'calculated',
        verdict: 'undecided',
        value: { low: 0, high: 0, unit: 'us' },
        margin: 0,
        about: d.name,
        because: `District ${d.name} has no trip level in the design; what its fuse does is not calculated here.`,
      },
    ]
  }
  const share = { low: d.weakestShort.low / d.tripAmp, high: d.weakestShort.high / d.tripAmp }
  const here = report.sections.filter((s) => s.district === d.name)
  const never = here
    .filter((s) => s.tripUs === null)
    .reduce<(typeof here)[number] | undefined>(
      (least, s) => (least && least.prospectiveAmp <= s.prospectiveAmp ? least : s),
      undefined,
    )
  const slowest = here.reduce((slow, s) => ((s.tripUs ?? 0) > (slow.tripUs ?? 0) ? s : slow))
  const timeUs = slowest.tripUs ?? 0
  // In the favourable case, where everything draws more.
  const bestNever = here.some((s) => s.tripBestUs === null)
  const bestUs = here.reduce((most, s) => Math.max(most, s.tripBestUs ?? 0), 0)
  const heat = report.shorts.heat
  const harmless = !heat || heat.riseK <= limits.rise
  const where = { section: d.weakestShortPlace }
  const end = d.endurance
  const holds = end?.holds ?? { unfavourable: true, favourable: true }
  const allowed = end?.standsUs ?? Number.POSITIVE_INFINITY
  const weakOk = !never && timeUs <= limits.tripWithin && holds.unfavourable
  const strongOk = !bestNever && bestUs <= limits.tripWithin && holds.favourable
  const burns = !(holds.unfavourable && holds.favourable)
  return [
    {
      clause: 'short-current',
      origin: 'calculated',
      verdict: verdictOfCases(share.low >= limits.reserve, share.high >= limits.reserve),
      value: { ...share, unit: 'share' },
      margin: marginWithin(share.low, share.high, { min: limits.reserve }),
      where,
      about: d.name,
      because: `District ${d.name}: a short of ${formatNumber(report.shorts.contactOhm * 1000, 3)} mOhm at ${d.weakestShortPlace} draws ${spanText(d.weakestShort)} A, ${formatNumber(share.low, 3)} times the trip current of ${formatNumber(d.tripAmp, 3)} A; ${formatNumber(limits.reserve, 3)} times is wanted.`,
    },
    {
      clause: 'short-trip',
      origin: 'calculated',
      verdict: harmless
        ? weakOk && strongOk
          ? 'met'
          : weakOk || strongOk
            ? 'undecided'
            : 'broken'
        : 'broken',
      value: {
        low: bestNever ? limits.tripWithin * 1000 : Math.min(bestUs, never ? bestUs : timeUs),
        high: never ? limits.tripWithin * 1000 : Math.max(bestUs, timeUs),
        unit: 'us',
      },
      margin: never
        ? -1
        : Math.min(
            marginWithin(0, timeUs, { max: limits.tripWithin }),
            heat ? 1 - heat.riseK / limits.rise : 1,
            end && Number.isFinite(allowed) ? Math.max(-1, allowed > 0 ? 1 - end.tripUs / allowed : -1) : 1,
          ),
      where: { section: never?.shortPlace ?? (burns && end ? end.place : slowest.shortPlace) },
      about: d.name,
      because: never
        ? `District ${d.name}: a short at ${never.shortPlace} draws ${formatNumber(never.shortAmp.low, 3)} A in the unfavourable case and never trips${bestNever ? '' : `; in the favourable one every short is off after ${formatTimeUs(bestUs, 3)}, so it depends on supply and wire`}.${enduranceText(end)}`
        : `District ${d.name}: the slowest, at ${slowest.shortPlace}, is off after ${formatTimeUs(timeUs, 3)}; wanted ${formatTimeUs(limits.tripWithin, 3)}.${heat ? ` Meanwhile ${heat.conductor} warms by ${heat.exact ? '' : 'at most '}${formatNumber(heat.riseK, 2)} K.` : ''}${enduranceText(end)}`,
    },
  ]
}

/** What the driver says to the short that is hardest on it. */
function enduranceText(end: DistrictFigure['endurance']): string {
  if (!end) return ''
  const short = `the ${formatNumber(end.amp, 3)} A of a short at ${end.place}`
  if (end.standsUs === undefined) return ` How long the driver stands ${short} is not known: ${end.because}.`
  if (end.standsUs === null) return ''
  const off = `off after ${formatTimeUs(end.tripUs, 3)}`
  return ` The driver stands ${short}, ${off}, for ${formatTimeUs(end.standsUs, 3)}: ${end.because}.`
}

function polarityEvidence(report: TrackReport): Evidence {
  const { routes, uncounted, reversers, opposed } = report.polarity
  const swapped = report.polarity.swapped.filter((f) => f.harm !== 'harmless')
  const badReversers = reversers.filter((r) => !r.ok)
  const count = routes.length + uncounted + badReversers.length + swapped.length + opposed.length
  const first = routes[0]
  const because = swapped[0]
    ? swapped[0].because
    : first
      ? first.kind === 'turntable'
        ? `The bridge of a turntable keeps its polarity when it is turned by half: ${first.names[0]}.`
        : `${routes.length + uncounted === 1 ? 'The route' : `The shortest of ${routes.length + uncounted}`} goes ${shorten(first.names)} and is ${formatNumber(first.lengthMm / 1000, 3)} m long${first.gaps ? `; cut both rails at ${first.gaps.join(' and at ')}` : ''}.`
      : badReversers[0]
        ? `The reverser of ${badReversers[0].run} does not do its work: ${badReversers[0].because}.`
        : opposed[0]
          ? opposed[0].because
          : 'Both rails were followed through every joint that is not cut: none meets its opposite, and none has it beyond its gaps.'
  return {
    clause: 'polarity',
    origin: 'calculated',
    verdict: count === 0 ? 'met' : 'broken',
    value: { low: count, high: count, unit: 'routes' },
    margin: marginWithin(count, count, { max: 0 }),
    count: { seen: report.sections.length, outside: count },
    ...(first?.names[0] ? { where: { section: first.names[0] } } : {}),
    because,
  }
}

export function shorten(names: readonly string[], most = 9): string {
  if (names.length <= most) return names.join(' – ')
  return `${names.slice(0, most - 2).join(' – ')} – … (${names.length - most + 1} more) – ${names.at(-1)}`
}

/** Met or broken by what was calculated; where the driver's edge is assumed, only when its bounds agree. */
function edgeVerdict(here: boolean, bounds: boolean[]): Verdict {
  if (bounds.some((b) => b !== here)) return 'undecided'
  return here ? 'met' : 'broken'
}

function ringingEvidence(report: TrackReport, profile: Profile | undefined): Evidence[] {
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
