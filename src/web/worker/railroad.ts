/** The railroad for the page: its map to touch, figures and tables, with a fault if one is chosen. */
import type { LoadedDesign } from '../../design/index.js'
import { type Railroad, railroadOf } from '../../proof/index.js'
import {
  adviseTrack,
  DesignConflict,
  faultIds,
  findPhases,
  gradeSections,
  layOutTracks,
  legendOf,
  lengthOf,
  type MapValue,
  PART_OF,
  pointAt,
  reportFault,
  type TrackModel,
  type TrackReport,
  trackDrawings,
  voltLabel,
} from '../../track/index.js'
import { formatNumber, formatShare, formatSi, formatTimeUs, InputError } from '../../units/index.js'
import type { DeskCalls, Report, TableData } from './calls.js'
import { titleOf } from './figures.js'
import { loadOnce } from './loaded.js'
import type { MapFeeder, MapNode, MapStand, MapTrack, TrackMapData } from './map-data.js'

const amp = (value: number) => formatSi(value, 'A', 3)
const time = (us: number | null | undefined) =>
  us === undefined ? '' : us === null || !Number.isFinite(us) ? 'never' : formatTimeUs(us, 3)

const NOTHING: Report = { figures: [], tables: [], advice: [], missing: [], cautions: [] }

export function trackFigures(loaded: LoadedDesign, fault?: string): Report & { map?: TrackMapData } {
  const railroad = soundRailroad(loaded)
  if (!railroad) {
    const what = loaded.design.track
      ? 'The track needs its power districts: describe the power stage at the driver.'
      : ''
    if (what) return { ...NOTHING, missing: [what] }
    return {
      ...NOTHING,
      map: emptyMap(loaded),
      missing: ['The design has no track yet: draw the first section.'],
    }
  }
  const { input, model: sound } = railroad
  // A fault chosen for an earlier text may be of a feeder or joint that is gone.
  const one =
    fault !== undefined && faultIds(sound.plan).includes(fault)
      ? reportFault(sound, input, fault, { ringing: false })
      : undefined
  const model = one?.model ?? sound
  const report = one?.report ?? railroad.report
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
      'voltage, trains as parked',
      'worst case',
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
    map: mapOf(model, report, sound, loaded, one && { id: one.id, says: faultSays(one) }),
    figures: trackDrawings(model, report).map(({ name, svg }) => ({ name, svg, title: titleOf(svg) })),
    tables: [districts, sections],
    // Proposals solve the railroad a dozen times: they are asked for by themselves, after what is on screen.
    advice: [],
    missing: report.findings.filter((f) => f.severity !== 'note').map((f) => f.text),
    cautions: report.cautions,
  }
}

const POLARITY = {
  good: 'left rail, seen from its start, on wire A of the bus',
  fair: 'left rail on wire B of the bus',
  poor: 'joins a rail to the opposite polarity, or is fed the wrong way round',
  none: 'no figure',
}

/** Which rail is on which wire; what is in a route that joins a rail to its opposite stands out. */
function polarityOf(model: TrackModel, report: TrackReport): MapValue[] {
  const { plan } = model
  const { phase } = findPhases(plan)
  const broken = new Map<number, string>()
  for (const route of report.polarity.routes)
    for (const t of route.tracks) broken.set(t, 'in a route that joins a rail to the opposite polarity')
  for (const s of report.polarity.swapped) {
    if (s.harm === 'harmless') continue
    const f = plan.feeders.find((x) => x.name === s.name)
    if (f) broken.set(f.track, s.because)
  }
  for (const g of report.polarity.opposed) for (const t of g.tracks) broken.set(t, g.because)
  return plan.tracks.map((_, i): MapValue => {
    const why = broken.get(i)
    if (why !== undefined) return { grade: 'poor', label: why }
    const wire = phase[i]! > 0 ? 'A' : 'B'
    return { grade: wire === 'A' ? 'good' : 'fair', label: `left rail on wire ${wire}` }
  })
}

function faultSays(one: NonNullable<ReturnType<typeof reportFault>>): string[] {
  return [
    `Shown with one fault: ${one.words}.`,
    ...one.report.districts.flatMap((d) => {
      const old = one.without.find((o) => o.name === d.name)
      if (!old) return []
      const volt = `${voltLabel(d.worstVolt.low)} instead of ${voltLabel(old.worstVolt)}`
      const short = `${amp(d.weakestShort.low)} instead of ${amp(old.weakestShort)}`
      const same =
        voltLabel(d.worstVolt.low) === voltLabel(old.worstVolt) &&
        amp(d.weakestShort.low) === amp(old.weakestShort)
      return same
        ? []
        : [
            `District ${d.name}: lowest ${volt}, at ${d.worstVoltPlace}; weakest short ${short}, at ${d.weakestShortPlace}.`,
          ]
    }),
  ]
}

/** Nothing is drawn yet. */
function emptyMap({ design }: LoadedDesign): TrackMapData {
  return {
    tracks: [],
    legend: { volt: {}, short: {}, polarity: {} },
    nodes: [],
    feeders: [],
    stands: [],
    runs: [],
    districts: Object.keys(design.power?.districts ?? {}),
    drivers: Object.keys(design.power?.drivers ?? {}),
    faults: [],
  }
}

function mapOf(
  model: TrackModel,
  report: TrackReport,
  sound: TrackModel,
  loaded: LoadedDesign,
  fault: { id: string; says: string[] } | undefined,
): TrackMapData {
  const { plan } = sound
  const lines = layOutTracks(model.plan)
  const grades = gradeSections(model, report)
  const polarity = polarityOf(model, report)
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
      part: PART_OF[t.kind],
      count: t.count,
      lengthMm: t.lengthMm,
      district: s.district,
      points: lines[i]!.points,
      planned: grades.planned[i]!,
      worst: grades.worst[i]!,
      short: grades.shorts[i]!,
      polarity: polarity[i]!,
      says: `A short on ${s.name} (district ${s.district}), at its weakest place ${s.shortPlace}, draws ${amp(s.shortAmp.low)} to ${amp(s.shortAmp.high)}${share}; ${off}${heat}.`,
    }
  })
  const endAt = (end: number): [number, number] =>
    (end & 1) === 0 ? lines[end >> 1]!.points[0]! : lines[end >> 1]!.points.at(-1)!
  const headingAt = (end: number): number => {
    const { points } = lines[end >> 1]!
    const inner = (end & 1) === 0 ? points[1] : points.at(-2)
    const [x, y] = endAt(end)
    return inner ? (Math.atan2(y - inner[1], x - inner[0]) * 180) / Math.PI : 0
  }
  const nodes = [
    ...plan.joints.map((j): MapNode => {
      const [a, b] = [endAt(j.a), endAt(j.b)]
      const along = j.a <= j.b || (j.a & 1) !== (j.b & 1)
      const gap =
        j.gapL && j.gapR ? 'both' : !j.gapL && !j.gapR ? 'none' : j.gapL === along ? 'left' : 'right'
      return {
        id: `joint ${j.name}`,
        at: [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2],
        joint: { name: j.name, gap, joiner: j.joiner },
        heading: headingAt(j.a),
      }
    }),
    ...plan.openEnds.flatMap((end): MapNode[] => {
      const t = plan.tracks[end >> 1]!
      if (t.kind === 'turntable') return []
      if (t.kind !== 'section') {
        const port = t.kind === 'crossing' ? `${t.leg}${(end & 1) + 1}` : t.leg
        const name = `${t.name}.${port}`
        return [{ id: `open end ${name}`, at: endAt(end), meets: { name }, heading: headingAt(end) }]
      }
      const side = (end & 1) === 0 ? 'from' : 'to'
      const name = plan.design.sections[t.group]![side]
      return [
        {
          id: `${side === 'from' ? 'start' : 'end'} of ${t.name}`,
          at: endAt(end),
          // A road of a turntable meets one section only.
          ...(name?.includes('.')
            ? {}
            : {
                meets: name === undefined ? { section: t.group, end: side } : { name },
                heading: headingAt(end),
              }),
        },
      ]
    }),
  ]
  const on = (track: number, mm: number): [number, number] => {
    const { points } = lines[track]!
    const full = plan.tracks[track]!.lengthMm
    return pointAt(points, full > 0 ? (mm / full) * lengthOf(points) : 0)
  }
  const feeders = plan.feeders.map(
    (f): MapFeeder => ({
      path: f.path,
      name: f.name,
      bus: plan.runs[f.run]!.name,
      at: on(f.track, f.railMm),
    }),
  )
  const standing = plan.stands
    .filter((s) => s.track >= 0)
    .map(
      (s): MapStand => ({
        what: s.train ? 'train' : 'accessory',
        name: s.name,
        track: s.track,
        atMm: s.atMm,
      }),
    )
  const there = new Set(standing.map((s) => s.name))
  const nowhere = Object.keys(plan.rollingStock).filter((name) => !there.has(name))
  const byKind = new Map<string, { id: string; name: string }[]>()
  for (const id of faultIds(plan)) {
    const cut = id.indexOf(':')
    const kind = id.slice(0, cut).replace('-', ' ')
    byKind.set(kind, [...(byKind.get(kind) ?? []), { id, name: id.slice(cut + 1) }])
  }
  return {
    tracks,
    legend: { volt: { ...legendOf('volt') }, short: { ...legendOf('short') }, polarity: POLARITY },
    weakest: weakestOf(model, report),
    nodes,
    feeders,
    stands: [...standing, ...nowhere.map((name): MapStand => ({ what: 'train', name, atMm: 0 }))],
    runs: plan.runs.map((r) => ({ name: r.name, district: r.district, lengthMm: r.design.length })),
    districts: Object.keys(loaded.design.power?.districts ?? {}),
    drivers: Object.keys(loaded.design.power?.drivers ?? {}),
    faults: [...byKind].map(([kind, list]) => ({ kind, list })),
    ...(fault ? { fault } : {}),
  }
}

/** The place of each layer that decides, as the report names it. */
function weakestOf({ plan }: TrackModel, report: TrackReport): NonNullable<TrackMapData['weakest']> {
  const least = (of: (s: TrackReport['sections'][number]) => number | undefined) => {
    let best: number | undefined
    report.sections.forEach((s, i) => {
      const [v, had] = [of(s), best === undefined ? undefined : of(report.sections[best]!)]
      if (v !== undefined && (had === undefined || v < had)) best = i
    })
    return best
  }
  const at = (track: number | undefined, says: (s: TrackReport['sections'][number]) => string) => {
    if (track === undefined) return undefined
    const [s, t] = [report.sections[track]!, plan.tracks[track]!]
    const atMm = t.fromHub >= 0 ? 0 : t.toHub >= 0 ? t.lengthMm : t.lengthMm / 2
    return { track, atMm, name: s.name, says: says(s) }
  }
  return {
    planned: at(
      least((s) => s.volt.low),
      (s) => voltLabel(s.volt.low),
    ),
    worst: at(
      least((s) => s.envelopeVolt),
      (s) => voltLabel(s.envelopeVolt!),
    ),
    short: at(
      least((s) => s.shortShare?.low),
      (s) => `${amp(s.shortAmp.low)}, ${formatNumber(s.shortShare!.low, 3)} × trip`,
    ),
  }
}

/** The railroad of a design, with a message that has its place where it cannot be. */
export function soundRailroad(loaded: LoadedDesign): Railroad | undefined {
  const railroad = railroadOf(loaded)
  try {
    void railroad?.model
  } catch (error) {
    if (error instanceof DesignConflict) throw new InputError(error.message, loaded.placeOf(error.path))
    throw error
  }
  return railroad
}

/** What to change about a railroad, by what a metre of wire buys; with a fault if one is chosen. */
export function railroadAdvice(text: string, fault?: string): string[] {
  const railroad = soundRailroad(loadOnce(text))
  if (!railroad) return []
  const { input, model: sound } = railroad
  const one =
    fault !== undefined && faultIds(sound.plan).includes(fault)
      ? reportFault(sound, input, fault, { ringing: false, faults: false })
      : undefined
  return adviseTrack(one?.model ?? sound, input)
    .list.slice(0, 8)
    .map((a) => `${a.what} (${formatNumber(a.wireM, 2)} m of wire${a.parts ? `, ${a.parts}` : ''}).`)
}

/** Figures and map of a design's text. */
export function railroadFigures(text: string, fault?: string): DeskCalls['track']['gives'] {
  return trackFigures(loadOnce(text), fault)
}
