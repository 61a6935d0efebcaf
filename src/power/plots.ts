/** The drawings of the power stage. */
import { barChart, lineChart, type Rule, type Series, waterfall } from '../plot/index.js'
import type { Profile } from '../standard/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../units/index.js'
import type { DistrictReport } from './district-report.js'
import { protectionPlot } from './protection-plot.js'
import type { PowerReport } from './report.js'
import type { SupplyReport } from './supply-report.js'

export interface Plot {
  /** File name without its ending. */
  name: string
  svg: string
}

const amp = (value: number) => formatSi(value, 'A', 3)

/** All drawings that the figures allow. @param isNarrow for a page that is no wider than a phone: that of protection. */
export function powerPlots(report: PowerReport, profile: Profile, isNarrow = false): Plot[] {
  const plots: Plot[] = []
  for (const s of report.supplies) {
    if (s.rows.length) plots.push({ name: `budget-${slug(s.name)}`, svg: budgetPlot(s) })
  }
  for (const d of report.districts) {
    const name = slug(d.name)
    if (d.voltage?.curve.length) plots.push({ name: `voltage-${name}`, svg: voltagePlot(d, profile) })
    if (d.trip && d.trip.by === 'sense') plots.push({ name: `trip-${name}`, svg: tripPlot(d) })
    const protection = report.protection?.find((p) => p.district === d.name)
    if (protection)
      plots.push({
        name: `protection-${name}`,
        svg: protectionPlot(protection, `protection-${name}`, isNarrow),
      })
    if (d.inrush && d.inrush.points.length > 1) plots.push({ name: `inrush-${name}`, svg: inrushPlot(d) })
  }
  return plots
}

/** Safe as a file name anywhere, and never empty. */
function slug(name: string): string {
  return (
    name
      .toLowerCase()
      .replace(/[^a-z0-9]+/g, '-')
      .replace(/^-+|-+$/g, '') || 'unnamed'
  )
}

/** What adds up to the worst load of a supply, against its rating. */
export function budgetPlot(s: SupplyReport): string {
  const bars = waterfall(
    s.rows.map((r) => ({ label: r.who, value: r.worstAmp, note: amp(r.worstAmp) })),
    'worst credible',
  )
  bars.push({ label: 'usual', value: s.runningAmp, kind: 'total' })
  bars.push({ label: 'all stalled, held by trips', value: s.stalledAmp, kind: 'total' })
  const rules = [{ at: s.ratingAmp, label: `rating ${amp(s.ratingAmp)}` }]
  if (s.capableAmp !== s.ratingAmp) rules.push({ at: s.capableAmp, label: `limit ${amp(s.capableAmp)}` })
  if (s.neededToTripAmp !== undefined) {
    rules.push({ at: s.neededToTripAmp, label: `needed to trip ${s.neededBy}: ${amp(s.neededToTripAmp)}` })
  }
  return barChart({
    id: `budget-${slug(s.name)}`,
    title: `Supply ${s.name}: current budget`,
    description: `Worst credible load ${amp(s.worstAmp)} of a rating of ${amp(s.ratingAmp)}; ${s.rows.map((r) => `${r.who} ${amp(r.worstAmp)}`).join(', ')}.`,
    unit: 'A',
    bars,
    rules,
  })
}

/** Track voltage against load with the window of the edition. */
export function voltagePlot(d: DistrictReport, profile: Profile): string {
  const curve = d.voltage!.curve
  const series: Series[] = [
    { label: 'typical, cold', points: curve.map((p) => [p.amp, p.typicalVolt] as const) },
    { label: 'weak polarity, hot', points: curve.map((p) => [p.amp, p.weakVolt] as const) },
    { label: 'other polarity', points: curve.map((p) => [p.amp, p.otherVolt] as const) },
  ]
  const rules: Rule[] = []
  const max = profile.clauses['track-voltage-max'].sender.max
  const min = profile.clauses['track-voltage-min'].sender.min
  if (max !== undefined) rules.push({ axis: 'y', at: max, label: `at most ${max} V`, role: 'limit' })
  if (min !== undefined) rules.push({ axis: 'y', at: min, label: `at least ${min} V`, role: 'limit' })
  if (d.load)
    rules.push({ axis: 'x', at: d.load.worstAmp, label: `worst load ${amp(d.load.worstAmp)}`, role: 'load' })
  if (d.trip)
    rules.push({ axis: 'x', at: d.trip.nominalAmp, label: `trip ${amp(d.trip.nominalAmp)}`, role: 'trip' })
  const at = d.voltage!.atWorst
  return lineChart({
    id: `voltage-${slug(d.name)}`,
    title: `District ${d.name}: track voltage against load`,
    description: at
      ? `At the worst load of ${amp(at.amp)} ${formatNumber(at.weakVolt, 3)} V in the weaker polarity, ${formatNumber(at.typicalVolt, 3)} V typically.`
      : 'Track voltage at the output of the station.',
    x: { label: 'current', unit: 'A', min: 0 },
    y: { label: 'peak voltage', unit: 'V', min: 0, max: Math.max(max ?? 0, d.voltage!.highestVolt) },
    series,
    rules,
  })
}

/** Trip time against the current of an overload. */
export function tripPlot(d: DistrictReport): string {
  const trip = d.trip!
  const rules: Rule[] = [
    { axis: 'x', at: trip.nominalAmp, label: `threshold ${amp(trip.nominalAmp)}`, role: 'trip' },
  ]
  if (
    d.short?.driverStandsUs !== undefined &&
    Number.isFinite(d.short.driverStandsUs) &&
    d.short.driverStandsUs > 0
  ) {
    rules.push({
      axis: 'y',
      at: d.short.driverStandsUs / 1000,
      label: `driver survives a short at the terminals ${formatTimeUs(d.short.driverStandsUs, 3)}`,
      role: 'survives',
    })
  }
  const at = (key: 'bestUs' | 'worstUs') => trip.curve.map((p) => [p.amp, p[key] / 1000] as const)
  const finite = trip.curve.flatMap((p) => [p.bestUs, p.worstUs]).filter((t) => Number.isFinite(t) && t > 0)
  return lineChart({
    id: `trip-${slug(d.name)}`,
    title: `District ${d.name}: trip time`,
    description: finite.length
      ? `From ${formatTimeUs(Math.max(...finite), 3)} just above the threshold of ${amp(trip.nominalAmp)} down to ${formatTimeUs(Math.min(...finite), 3)}.`
      : `It does not trip for certain at any current.`,
    x: { label: 'current of the overload', unit: 'A' },
    y: {
      label: 'until switched off',
      unit: 'ms',
      scale: 'log',
      min: Math.max(1e-4, Math.min(...finite, 1e9) / 2000),
      max: Math.max(1e-3, ...finite) / 500,
    },
    series: [
      { label: 'latest', points: at('worstUs') },
      { label: 'soonest', points: at('bestUs').map(([x, y]) => [x, y > 0 ? y : Number.NaN] as const) },
    ],
    rules,
  })
}

/** Current at power-up. */
export function inrushPlot(d: DistrictReport): string {
  const i = d.inrush!
  const rules: Rule[] = []
  if (d.trip)
    rules.push({ axis: 'y', at: d.trip.lowAmp, label: `may trip from ${amp(d.trip.lowAmp)}`, role: 'trip' })
  if (i.blankingUs)
    rules.push({
      axis: 'x',
      at: i.blankingUs / 1000,
      label: `above the trip until ${formatTimeUs(i.blankingUs, 3)}`,
    })
  return lineChart({
    id: `inrush-${slug(d.name)}`,
    title: `District ${d.name}: inrush at power-up`,
    description: `Peak ${amp(i.peakAmp)}, capacitors full after ${formatTimeUs(i.lastsUs, 3)}.`,
    x: { label: 'time after power-up', unit: 'ms', min: 0 },
    y: { label: 'current', unit: 'A', min: 0 },
    series: [{ label: 'inrush', points: i.points.map((p) => [p.us / 1000, p.amp] as const) }],
    rules,
  })
}
