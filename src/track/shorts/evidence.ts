/** Evidence about shorts: does one anywhere draw enough, and is it off in time. */
import { type Evidence, marginWithin, verdictOfCases } from '../../standard/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import type { TrackLimits } from '../limits.js'
import type { DistrictFigure, TrackReport } from '../report.js'
import { spanText } from '../words.js'

export function shortEvidence(report: TrackReport, d: DistrictFigure, limits: TrackLimits): Evidence[] {
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
  const share = {
    low: d.weakestShort.low / d.tripAmp,
    high: d.weakestShort.high / (d.tripLowAmp ?? d.tripAmp),
  }
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
  const harmless = !heat || heat.riseK <= limits.riseK
  const where = { section: d.weakestShortPlace }
  const end = d.endurance
  const holds = end?.holds ?? { unfavourable: true, favourable: true }
  const allowed = end?.standsUs ?? Number.POSITIVE_INFINITY
  const weakOk = !never && timeUs <= limits.tripWithinUs && holds.unfavourable
  const strongOk = !bestNever && bestUs <= limits.tripWithinUs && holds.favourable
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
        low: bestNever ? limits.tripWithinUs * 1000 : Math.min(bestUs, never ? bestUs : timeUs),
        high: never ? limits.tripWithinUs * 1000 : Math.max(bestUs, timeUs),
        unit: 'us',
      },
      margin: never
        ? -1
        : Math.min(
            marginWithin(0, timeUs, { max: limits.tripWithinUs }),
            heat ? 1 - heat.riseK / limits.riseK : 1,
            end && Number.isFinite(allowed) ? Math.max(-1, allowed > 0 ? 1 - end.tripUs / allowed : -1) : 1,
          ),
      where: { section: never?.shortPlace ?? (burns && end ? end.place : slowest.shortPlace) },
      about: d.name,
      because: never
        ? `District ${d.name}: a short at ${never.shortPlace} draws ${formatNumber(never.shortAmp.low, 3)} A in the unfavourable case and never trips${bestNever ? '' : `; in the favourable one every short is off after ${formatTimeUs(bestUs, 3)}, so it depends on supply and wire`}.${enduranceText(end)}`
        : `District ${d.name}: the slowest, at ${slowest.shortPlace}, is off after ${formatTimeUs(timeUs, 3)}; wanted ${formatTimeUs(limits.tripWithinUs, 3)}.${heat ? ` Meanwhile ${heat.conductor} warms by ${heat.exact ? '' : 'at most '}${formatNumber(heat.riseK, 2)} K.` : ''}${enduranceText(end)}`,
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
