/** Drawings and tables of the stops behind the controller, from the same reports as the command line's. */
import type { LoadedDesign } from '../../design/index.js'
import { profileOfDesign } from '../../design/index.js'
import { powerPlots, powerReport } from '../../power/index.js'
import { powerInput } from '../../proof/index.js'
import {
  adviseTrack,
  DesignFault,
  gradeSections,
  layOutTracks,
  legendOf,
  modelTrack,
  reportTrack,
  sourcesFromPower,
  type TrackInput,
  type TrackModel,
  type TrackReport,
  trackDrawings,
  voltLabel,
} from '../../track/index.js'
import {
  calculateTraffic,
  DEFAULT_TRAFFIC,
  latencyPlot,
  stopPlot,
  stopsOf,
  timelinePlot,
} from '../../traffic/index.js'
import { formatNumber, formatShare, formatSi, formatTimeUs, InputError } from '../../units/index.js'
import type { MapTrack, Report, TableData, TrackMapData } from './calls.js'

const amp = (value: number) => formatSi(value, 'A', 3)
const volt = (value: number) => `${formatNumber(value, 3)} V`
const time = (us: number | null | undefined) =>
  us === undefined ? '' : us === null || !Number.isFinite(us) ? 'never' : formatTimeUs(us, 3)

const NOTHING: Report = { figures: [], tables: [], advice: [], missing: [], cautions: [] }

export const titleOf = (svg: string) => /<title[^>]*>([^<]*)</.exec(svg)?.[1]?.replace(/&amp;/g, '&') ?? ''

export function powerFigures(loaded: LoadedDesign): Report {
  const found = powerInput(loaded)
  if (!found)
    return {
      ...NOTHING,
      missing: ['The design has no power stage yet: add supplies, drivers and districts.'],
    }
  const report = powerReport(found.input)
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
    head: ['supply', 'rating', 'usual', 'worst', 'all stalled', 'fuse to use'],
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
    figures: powerPlots(report, found.input.profile).map(({ name, svg }) => ({
      name,
      svg,
      title: titleOf(svg),
    })),
    tables: [districts, supplies].filter((t) => t.rows.length > 0),
    advice: report.advice,
    missing: [...found.notes, ...report.missing],
    cautions: report.cautions,
  }
}

export function trackFigures(loaded: LoadedDesign): Report & { map?: TrackMapData } {
  const { track, power, signal, rollingStock } = loaded.design
  if (!track || !power) {
    const what = track ? 'The track needs its power districts: describe the power stage at the driver.' : ''
    return { ...NOTHING, missing: [what || 'The design has no track yet: add a bus and sections.'] }
  }
  const input: TrackInput = {
    track,
    ...(rollingStock ? { rollingStock } : {}),
    sources: sourcesFromPower(power, signal),
    profile: profileOfDesign(loaded),
  }
  const model = modelOf(input, loaded)
  const report = reportTrack(model, input)
  const districts: TableData = {
    title: 'Power districts',
    head: ['district', 'length', 'load', 'lowest volts', 'where', 'weakest short', 'trip', 'where'],
    right: [1, 2, 3, 5, 6],
    rows: report.districts.map((d) => [
      d.name,
      `${formatNumber(d.lengthMm / 1000, 3)} m`,
      amp(d.loadAmp.high),
      voltLabel(d.worstVolt.low),
      d.worstVoltPlace,
      amp(d.weakestShort.low),
      d.tripAmp === undefined ? 'none' : amp(d.tripAmp),
      d.weakestShortPlace,
    ]),
  }
  const sections: TableData = {
    title: 'Sections',
    head: [
      'section',
      'district',
      'volts, trains where they stand',
      'where they hurt most',
      'short',
      'of the trip current',
      'off after',
    ],
    right: [2, 3, 4, 5, 6],
    rows: report.sections.map((s) => [
      s.name,
      s.district,
      voltLabel(s.volt.low),
      s.envelopeVolt === undefined ? '' : voltLabel(s.envelopeVolt),
      amp(s.shortAmp.low),
      s.shortShare === undefined ? '' : formatShare(s.shortShare.low),
      time(s.tripUs),
    ]),
  }
  return {
    map: mapOf(model, report),
    figures: trackDrawings(model, report).map(({ name, svg }) => ({ name, svg, title: titleOf(svg) })),
    tables: [districts, sections],
    advice: adviseTrack(model, input)
      .list.slice(0, 8)
      .map((a) => `${a.what} (${formatNumber(a.wireM, 2)} m of wire${a.parts ? `, ${a.parts}` : ''}).`),
    missing: report.findings.filter((f) => f.severity !== 'note').map((f) => f.text),
    cautions: report.cautions,
  }
}

const PARTS = {
  section: 'sections',
  turnout: 'turnouts',
  crossing: 'crossings',
  slip: 'crossings',
  turntable: 'turntables',
} as const

function mapOf(model: TrackModel, report: TrackReport): TrackMapData {
  const lines = layOutTracks(model.plan)
  const grades = gradeSections(model, report)
  const { contactOhm } = report.shorts
  const tracks = model.plan.tracks.map((t, i): MapTrack => {
    const s = report.sections[i]!
    const off =
      s.tripUs === null
        ? 'it never trips'
        : s.tripUs === undefined
          ? 'nothing trips there'
          : `off after ${time(s.tripUs)}`
    const heat =
      typeof s.tripUs === 'number' && Number.isFinite(s.tripUs)
        ? `; until then ${formatNumber(s.shortAmp.low ** 2 * contactOhm * s.tripUs * 1e-6, 3)} J heat a contact of ${formatSi(contactOhm, 'Ohm', 3)}`
        : `; a contact of ${formatSi(contactOhm, 'Ohm', 3)} is heated with ${formatNumber(s.shortAmp.low ** 2 * contactOhm, 3)} W as long as it lasts`
    const share = s.shortShare === undefined ? '' : `, ${formatShare(s.shortShare.low)} of the trip current`
    return {
      name: s.name,
      group: t.group,
      part: PARTS[t.kind],
      district: s.district,
      points: lines[i]!.points,
      planned: grades.planned[i]!,
      worst: grades.worst[i]!,
      short: grades.shorts[i]!,
      says: `A short on ${s.name} (district ${s.district}), at its weakest place ${s.shortPlace}, draws ${amp(s.shortAmp.low)} to ${amp(s.shortAmp.high)}${share}; ${off}${heat}.`,
    }
  })
  return { tracks, legend: { volt: { ...legendOf('volt') }, short: { ...legendOf('short') } } }
}

function modelOf(input: TrackInput, loaded: LoadedDesign) {
  try {
    return modelTrack(input)
  } catch (error) {
    if (error instanceof DesignFault) throw new InputError(error.message, loaded.placeOf(error.path))
    throw error
  }
}

export function trafficFigures(loaded: LoadedDesign): Report {
  const { design } = loaded
  if (!design.fleet)
    return { ...NOTHING, missing: ['The design has no fleet yet: add locomotives with their addresses.'] }
  const cutout = Object.values(design.signal.tracks).some((t) => t.cutout)
  const { traffic, result } = calculateTraffic(
    { ...design, fleet: design.fleet },
    profileOfDesign(loaded, cutout),
  )
  const stops = stopsOf(traffic, result)
  const limit = (design.traffic ?? DEFAULT_TRAFFIC).limit
  const figures = [
    { name: 'timeline', svg: timelinePlot(result) },
    { name: 'latency', svg: latencyPlot(result, limit) },
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
    head: ['locomotive', 'in the mean', 'longest pause', 'its time-out'],
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
    figures: figures.map((f) => ({ ...f, title: titleOf(f.svg) })),
    tables: [latency, refresh, places].filter((t) => t.rows.length > 0),
  }
}
