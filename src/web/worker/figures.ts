/** Drawings and tables of the stages behind the controller, from the same reports as the command line's. */
import type { LoadedDesign } from '../../design/index.js'
import { profileOfDesign } from '../../design/index.js'
import { powerPlots, powerReport } from '../../power/index.js'
import { powerInput, sentences } from '../../proof/index.js'
import { calculateTraffic, DEFAULT_TRAFFIC, latencyPlot, stopPlot, stopsOf } from '../../traffic/index.js'
import { formatNumber, formatShare, formatSi, formatTimeUs } from '../../units/index.js'
import type { Report, TableData } from './calls.js'
import { type TrainsData, trainsData } from './trains.js'

const amp = (value: number) => formatSi(value, 'A', 3)
const volt = (value: number) => `${formatNumber(value, 3)} V`
const time = (us: number | null | undefined) =>
  us === undefined ? '' : us === null || !Number.isFinite(us) ? 'never' : formatTimeUs(us, 3)

/** The charts of protection are made, and no builds are played: their yields are not shown. */
const NO_BUILDS = 0

const NOTHING: Report = { figures: [], tables: [], advice: [], missing: [], cautions: [] }

export const titleOf = (svg: string) => /<title[^>]*>([^<]*)</.exec(svg)?.[1]?.replace(/&amp;/g, '&') ?? ''

export function powerFigures(loaded: LoadedDesign, isNarrow = false): Report {
  const found = powerInput(loaded)
  if (!found)
    return {
      ...NOTHING,
      missing: ['The design has no power stage yet: add supplies, drivers and districts.'],
    }
  const report = powerReport({ ...found.input, builds: NO_BUILDS })
  const districts: TableData = {
    title: 'Power districts',
    head: ['district', 'driver', 'worst load', 'volts then', 'trip, with its errors', 'short', 'off after'],
    right: [2, 3, 5, 6],
    rows: report.districts.map((d) => [
      d.name,
      d.driver,
      d.load ? amp(d.load.worstAmp) : 'not known',
      d.voltage?.atWorst ? volt(d.voltage.atWorst.weakVolt) : '',
      d.trip ? `${amp(d.trip.nominalAmp)} (${amp(d.trip.lowAmp)} to ${amp(d.trip.highAmp)})` : 'none',
      d.short ? amp(d.short.amp) : '',
      d.short ? time(d.short.tripUs) : '',
    ]),
  }
  const supplies: TableData = {
    title: 'Supplies',
    head: ['supply', 'rating', 'usual', 'worst', 'all stalled', 'fuse, from'],
    right: [1, 2, 3, 4, 5],
    rows: report.supplies.map((s) => [
      s.name,
      amp(s.ratingAmp),
      amp(s.runningAmp),
      amp(s.worstAmp),
      amp(s.stalledAmp),
      s.without.length ? `not known for ${s.without.join(', ')}` : amp(s.adviseFuseAmp),
    ]),
  }
  return {
    figures: powerPlots(report, found.input.profile, isNarrow).map(({ name, svg }) => ({
      name,
      svg,
      title: titleOf(svg),
    })),
    tables: [districts, supplies].filter((t) => t.rows.length > 0),
    advice: [],
    missing: [...sentences(found.notes), ...report.missing],
    cautions: [...sentences(report.notices), ...report.cautions],
  }
}

export function trafficFigures(loaded: LoadedDesign): Report & { trains?: TrainsData } {
  const { design } = loaded
  if (!design.fleet)
    return { ...NOTHING, missing: ['The design has no fleet yet: add locomotives with their addresses.'] }
  const cutout = Object.values(design.signal.outputs).some((t) => t.cutout)
  const { traffic, result } = calculateTraffic(
    { ...design, fleet: design.fleet },
    profileOfDesign(loaded, cutout),
  )
  const stops = stopsOf(traffic, result)
  const limit = (design.traffic ?? DEFAULT_TRAFFIC).limit
  const figures = [
    // Without operators there are no commands to draw.
    ...(result.latency.some((l) => l.commands > 0)
      ? [{ name: 'latency', svg: latencyPlot(result, limit) }]
      : []),
    ...(stops.figures.length > 0 ? [{ name: 'stops', svg: stopPlot(stops.figures, stops.shots) }] : []),
  ]
  const latency: TableData = {
    title: `Commands to the rails, policy ${result.policy}, ${result.locomotives} locomotives`,
    head: ['kind', 'commands', 'median', '95 of 100 within', '99 of 100 within', 'worst'],
    right: [1, 2, 3, 4, 5],
    rows: result.latency
      .filter((l) => l.commands > 0)
      .map((l) => [
        l.kind,
        String(l.commands),
        time(l.first.medianUs),
        time(l.first.p95Us.value),
        time(l.first.p99Us),
        time(l.first.worstUs),
      ]),
  }
  const refresh: TableData = {
    title: 'Refresh of each address',
    head: ['locomotive', 'mean', 'longest pause', 'its time-out'],
    right: [1, 2, 3],
    rows: result.refresh.map((r) => [
      r.name,
      time(r.meanUs),
      time(r.worstUs),
      r.timeoutUs === undefined ? 'not given' : r.timeoutUs === 0 ? 'none' : time(r.timeoutUs),
    ]),
  }
  const places: TableData = {
    title: 'Where trains stop',
    head: ['place', 'room', 'median', '99 of 100 within', 'worst', 'inside', 'verdict'],
    right: [1, 2, 3, 4, 5],
    rows: stops.figures.map((s) => [
      s.name,
      `${formatNumber(s.lengthMm, 4)} mm`,
      `${formatNumber(s.medianMm, 3)} mm`,
      `${formatNumber(s.p99Mm, 3)} mm`,
      `${formatNumber(s.worstMm, 3)} mm`,
      formatShare(s.inside),
      s.verdict,
    ]),
  }
  return {
    ...NOTHING,
    trains: trainsData(loaded, traffic, result, stops),
    figures: figures.map((f) => ({ ...f, title: titleOf(f.svg) })),
    tables: [latency, refresh, places].filter((t) => t.rows.length > 0),
  }
}
