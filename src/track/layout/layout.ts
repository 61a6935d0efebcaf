/**
 * The plan: the design file's track with repeated sections written out and every joint found. A plan still
 * has no resistances; `network.ts` makes those.
 *
 * Rails: L and R as seen from a track's `from` end to its `to` end. Looking out of a `to` end the left rail is L, out of
 * a `from` end it is R; where two ends meet, the left of one meets the right of the other.
 */
import { nearest } from '../../units/index.js'
import type { AlloyName, JoinerName } from '../conductors/conductor.data.js'
import type {
  BusRunDesign,
  FeederDesign,
  RollingStockDesign,
  TrackDesign,
  TrainDesign,
} from '../design/track.js'
import { DesignConflict } from '../design-conflict.js'

export type Path = readonly (string | number)[]

/** A stretch of two rails between two ends. A turnout has three, from its hub outwards. */
export interface Track {
  /** Name for people and in the file: `main.3`, `T1`. */
  name: string
  /** Which leg of a turnout or crossing; '' for a section. */
  leg: string
  /** What it belongs to: the name in the file. */
  group: string
  /** Number in its group, from 0, and how many there are. */
  index: number
  count: number
  kind: 'section' | 'turnout' | 'crossing' | 'slip' | 'turntable'
  lengthMm: number
  code: number
  alloy: AlloyName
  /** Ends with the same hub number share their rails directly, L with L; −1: none. */
  fromHub: number
  toHub: number
  path: Path
}

/** End 2·t is the `from` end of track t, 2·t + 1 its `to` end. */
export interface Joint {
  name: string
  a: number
  b: number
  joiner: JoinerName
  /** Cut rails, L and R of the track of end `a`. */
  gapL: boolean
  gapR: boolean
  /** Rails whose joiner is bad while the other's is not; by a fault that is tried. */
  bad?: { L: boolean; R: boolean }
  path: Path
}

export interface Run {
  name: string
  district: string
  design: BusRunDesign
  /** Index of the run it branches off; −1: the station. */
  parent: number
  atMm: number
  path: Path
}

export interface Feeder {
  /** `main.3`, with a number behind when the section has several. */
  name: string
  run: number
  busMm: number
  track: number
  railMm: number
  wire: string
  lengthMm: number
  swapped: boolean
  open: boolean
  /** Broken wires, by a fault that is tried: unlike with `open` the rails may be without feed. */
  broken?: { A: boolean; B: boolean }
  path: Path
}

export type LoadLaw = 'current' | 'power' | 'resistor'

/** A train or accessory that stands somewhere. */
export interface Stand {
  name: string
  train: boolean
  /** Track and place on it; track −1: on the bus run. */
  track: number
  atMm: number
  run: number
  amp: number
  law: LoadLaw
  /** Voltage without load that its current is told at, by corner; that of the network itself when left out. */
  openVolt?: Readonly<Record<'low' | 'high', number>>
  path: Path
}

export interface TrackLayout {
  tracks: Track[]
  joints: Joint[]
  /** Ends that meet nothing. */
  openEnds: number[]
  runs: Run[]
  feeders: Feeder[]
  stands: Stand[]
  /** Hub number → the ends at it. */
  hubs: number[][]
  design: TrackDesign
  rollingStock: RollingStockDesign
  /** Sentences about things that may be slips: a place name used by one end only. */
  remarks: string[]
}

const MAX_TRACKS = 200_000
const DEFAULT_FEEDER = { wire: '20 AWG', lengthMm: 200 }
const DEFAULTS = { rail: 100, alloy: 'nickel silver', joiner: 'slip' } as const

/**
 * Write the plan out.
 * @param districts names of the power districts there are.
 * @throws DesignConflict for names that lead nowhere, lengths that cannot be, ends that meet wrongly.
 */
export function expandPlan(
  design: TrackDesign,
  rollingStock: RollingStockDesign,
  districts: readonly string[],
): TrackLayout {
  const plan: TrackLayout = {
    tracks: [],
    joints: [],
    openEnds: [],
    runs: expandRuns(design, districts),
    feeders: [],
    stands: [],
    hubs: [],
    design,
    rollingStock,
    remarks: [],
  }
  const ends = new Map<string, { end: number; gap: boolean; path: Path }[]>()
  const meet = (name: string | undefined, end: number, gap: boolean, path: Path) => {
    if (name === undefined) {
      plan.openEnds.push(end)
      return
    }
    const list = ends.get(name)
    if (list) list.push({ end, gap, path })
    else ends.set(name, [{ end, gap, path }])
  }
  addSections(plan, meet)
  const ports = addSpecials(plan)
  joinEnds(plan, ends, ports)
  applyJoints(plan)
  const byName = tracksNamed(plan)
  addFeeders(plan, byName)
  addStands(plan, byName)
  return plan
}

function positive(value: number, path: Path, what: string): number {
  if (!(value > 0)) throw new DesignConflict(path, `${what} must be above 0; found ${value / 1000} m`)
  return value
}

function unknownName(path: Path, what: string, name: string, known: Iterable<string>): DesignConflict {
  const all = [...known]
  const close = nearest(name, all)
  const listed =
    all.length === 0
      ? 'the design has none'
      : all.length <= 12
        ? `expected one of ${all.join(', ')}`
        : undefined
  const hint = close ? `; the nearest is "${close}"` : listed ? `; ${listed}` : ''
  return new DesignConflict(path, `no ${what} "${name}"${hint}`)
}

function expandRuns(design: TrackDesign, districts: readonly string[]): Run[] {
  const names = Object.keys(design.bus)
  const runs = names.map((name): Run => {
    const own = design.bus[name]!
    const path = ['track', 'bus', name]
    positive(own.length, [...path, 'length'], 'the length of a bus run')
    const parent = own.from === undefined ? -1 : names.indexOf(own.from)
    if (own.from !== undefined && parent < 0) throw unknownName([...path, 'from'], 'bus run', own.from, names)
    if (own.geometry === 'spaced' && own.spacing === undefined)
      throw new DesignConflict(path, 'wires apart from each other need their spacing, such as "50 mm"')
    const above = parent < 0 ? undefined : design.bus[names[parent]!]!
    const atMm = own.at ?? above?.length ?? 0
    if (above && atMm > above.length)
      throw new DesignConflict(
        [...path, 'at'],
        `${atMm / 1000} m is beyond the end of run "${own.from}", which is ${above.length / 1000} m long`,
      )
    return { name, district: own.district ?? '', design: own, parent, atMm, path }
  })
  for (const run of runs) {
    const seen = new Set<Run>()
    let top = run
    for (; top.parent >= 0; top = runs[top.parent]!) {
      if (seen.has(top))
        throw new DesignConflict([...run.path, 'from'], 'the runs branch off each other in a ring')
      seen.add(top)
    }
    const found = top.design.district ?? (districts.length === 1 ? districts[0]! : undefined)
    if (found === undefined)
      throw new DesignConflict(
        top.path,
        `needs its district: ${districts.length ? `one of ${districts.join(', ')}` : 'there is none under power.districts'}`,
      )
    if (run.design.district !== undefined && run.design.district !== found)
      throw new DesignConflict(
        [...run.path, 'district'],
        `run "${run.name}" branches off a run of district "${found}", so it cannot belong to "${run.design.district}"`,
      )
    if (!districts.includes(found))
      throw unknownName([...top.path, 'district'], 'power district', found, districts)
    run.district = found
  }
  return runs
}

type Meet = (name: string | undefined, end: number, gap: boolean, path: Path) => void

function addSections(plan: TrackLayout, meet: Meet): void {
  const defaults = { ...DEFAULTS, ...plan.design.defaults }
  for (const [group, s] of Object.entries(plan.design.sections)) {
    const path = ['track', 'sections', group]
    if (/[./]/.test(group))
      throw new DesignConflict(
        path,
        'a name must not have "." or "/" in it; those tell repeated sections and joints apart',
      )
    positive(s.length, [...path, 'length'], 'the length of a section')
    if (s.points && s.arc)
      throw new DesignConflict(
        [...path, 'arc'],
        'a section is drawn by "points" or by "arc", not by both; leave one of them out',
      )
    const count = s.count ?? 1
    if (plan.tracks.length + count > MAX_TRACKS)
      throw new DesignConflict(path, `more than ${MAX_TRACKS} sections in all`)
    const first = plan.tracks.length
    for (let index = 0; index < count; index++) {
      plan.tracks.push({
        name: s.count === undefined ? group : `${group}.${index + 1}`,
        leg: '',
        group,
        index,
        count,
        kind: 'section',
        lengthMm: s.length,
        code: s.rail ?? defaults.rail,
        alloy: s.alloy ?? defaults.alloy,
        fromHub: -1,
        toHub: -1,
        path,
      })
      if (index > 0)
        plan.joints.push({
          name: `${group}.${index}/${index + 1}`,
          a: 2 * (first + index) - 1,
          b: 2 * (first + index),
          joiner: s.joiner ?? defaults.joiner,
          gapL: false,
          gapR: false,
          path,
        })
    }
    meet(s.from, 2 * first, s.gaps === 'from' || s.gaps === 'both', [...path, 'from'])
    meet(s.to, 2 * (first + count) - 1, s.gaps === 'to' || s.gaps === 'both', [...path, 'to'])
  }
}

/** Turnouts, crossings and turntables; returns port name → its end (−1: electrically nothing). */
function addSpecials(plan: TrackLayout): Map<string, { end: number; path: Path }> {
  const ports = new Map<string, { end: number; path: Path }>()
  const defaults = { ...DEFAULTS, ...plan.design.defaults }
  const taken = new Set(Object.keys(plan.design.sections))
  const check = (name: string, path: Path) => {
    if (/[./]/.test(name)) throw new DesignConflict(path, 'a name must not have "." or "/" in it')
    if (taken.has(name)) throw new DesignConflict(path, `the name "${name}" is taken by something else`)
    taken.add(name)
  }
  const leg = (
    kind: Track['kind'],
    name: string,
    legName: string,
    lengthMm: number,
    own: { rail?: number; alloy?: AlloyName },
    hubs: { from?: number; to?: number },
    path: Path,
  ): number => {
    if (plan.tracks.length >= MAX_TRACKS)
      throw new DesignConflict(path, `more than ${MAX_TRACKS} sections in all`)
    const t = plan.tracks.length
    plan.tracks.push({
      name,
      leg: legName,
      group: name,
      index: 0,
      count: 1,
      kind,
      lengthMm,
      code: own.rail ?? defaults.rail,
      alloy: own.alloy ?? defaults.alloy,
      fromHub: hubs.from ?? -1,
      toHub: hubs.to ?? -1,
      path,
    })
    if (hubs.from !== undefined) plan.hubs[hubs.from]!.push(2 * t)
    if (hubs.to !== undefined) plan.hubs[hubs.to]!.push(2 * t + 1)
    return t
  }
  const hub = () => plan.hubs.push([]) - 1
  for (const [name, own] of Object.entries(plan.design.turnouts ?? {})) {
    const path = ['track', 'turnouts', name]
    check(name, path)
    const half = positive(own.length, [...path, 'length'], 'the length of a turnout') / 2
    const h = hub()
    ports.set(`${name}.points`, { end: 2 * leg('turnout', name, 'points', half, own, { to: h }, path), path })
    for (const side of ['straight', 'diverging'])
      ports.set(`${name}.${side}`, {
        end: 2 * leg('turnout', name, side, half, own, { from: h }, path) + 1,
        path,
      })
  }
  for (const [name, own] of Object.entries(plan.design.crossings ?? {})) {
    const path = ['track', 'crossings', name]
    check(name, path)
    const length = positive(own.length, [...path, 'length'], 'the length of a crossing')
    if (own.slip) {
      const h = hub()
      for (const r of ['a', 'b']) {
        const one = leg('slip', name, `${r}1`, length / 2, own, { to: h }, path)
        const two = leg('slip', name, `${r}2`, length / 2, own, { from: h }, path)
        ports.set(`${name}.${r}1`, { end: 2 * one, path })
        ports.set(`${name}.${r}2`, { end: 2 * two + 1, path })
      }
    } else {
      for (const r of ['a', 'b']) {
        const t = leg('crossing', name, r, length, own, {}, path)
        ports.set(`${name}.${r}1`, { end: 2 * t, path })
        ports.set(`${name}.${r}2`, { end: 2 * t + 1, path })
      }
    }
  }
  for (const [name, own] of Object.entries(plan.design.turntables ?? {})) {
    const path = ['track', 'turntables', name]
    check(name, path)
    positive(own.length, [...path, 'length'], 'the length of a bridge')
    const t = leg('turntable', name, '', own.length, own, {}, path)
    plan.openEnds.push(2 * t, 2 * t + 1)
    for (let road = 1; road <= own.roads; road++) ports.set(`${name}.${road}`, { end: -1, path })
  }
  return ports
}

function joinEnds(
  plan: TrackLayout,
  ends: Map<string, { end: number; gap: boolean; path: Path }[]>,
  ports: Map<string, { end: number; path: Path }>,
): void {
  const joiner = plan.design.defaults?.joiner ?? DEFAULTS.joiner
  const lone: string[] = []
  for (const [name, list] of ends) {
    const first = list[0]!
    if (/[./]/.test(name)) {
      const port = ports.get(name)
      if (!port) throw unknownName(first.path, 'turnout, crossing or turntable end', name, ports.keys())
      if (list.length > 1) throw new DesignConflict(list[1]!.path, `"${name}" already meets another section`)
      ports.delete(name)
      if (port.end < 0) plan.openEnds.push(first.end)
      else join(plan, name, port.end, first.end, joiner, first.gap, first.path)
    } else if (list.length === 2) {
      const second = list[1]!
      join(plan, name, first.end, second.end, joiner, first.gap || second.gap, second.path)
    } else if (list.length === 1) {
      plan.openEnds.push(first.end)
      lone.push(name)
    } else {
      throw new DesignConflict(
        list[2]!.path,
        `${list.length} ends meet at "${name}"; where more than two meet, name a turnout (T1.points, T1.straight, T1.diverging) or a crossing`,
      )
    }
  }
  for (const { end } of ports.values()) if (end >= 0) plan.openEnds.push(end)
  // Looking for slips of the pen costs names × names: the first few will do.
  for (const name of lone.slice(0, 20)) {
    const close = nearest(
      name,
      [...ends.keys()].filter((n) => n !== name),
    )
    if (close)
      plan.remarks.push(
        `Only one end is at "${name}"; if "${close}" was meant, the sections do not meet yet.`,
      )
  }
}

function join(
  plan: TrackLayout,
  name: string,
  a: number,
  b: number,
  joiner: JoinerName,
  gap: boolean,
  path: Path,
): void {
  plan.joints.push({ name, a, b, joiner, gapL: gap, gapR: gap, path })
}

function applyJoints(plan: TrackLayout): void {
  const wanted = Object.entries(plan.design.joints ?? {})
  if (wanted.length === 0) return
  const byName = new Map(plan.joints.map((j) => [j.name, j]))
  for (const [name, own] of wanted) {
    const path = ['track', 'joints', name]
    const joint = byName.get(name)
    if (!joint) throw unknownName(path, 'joint', name, byName.keys())
    if (own.joiner) joint.joiner = own.joiner
    joint.path = path
    // Left and right are told along the track that comes first in the file.
    const along = Math.min(joint.a, joint.b) === joint.a || jointKeepsRails(joint)
    if (own.gap === 'both' || own.gap === (along ? 'left' : 'right')) joint.gapL = true
    if (own.gap === 'both' || own.gap === (along ? 'right' : 'left')) joint.gapR = true
  }
}

/** L meets L and R meets R: one end is a `to` end, the other a `from` end. */
export function jointKeepsRails(joint: { a: number; b: number }): boolean {
  return (joint.a & 1) !== (joint.b & 1)
}

/** Every track of a named section, turnout or group. */
function tracksNamed(plan: TrackLayout): Map<string, number[]> {
  const map = new Map<string, number[]>()
  const add = (name: string, track: number) => {
    const list = map.get(name)
    if (list) list.push(track)
    else map.set(name, [track])
  }
  plan.tracks.forEach((t, i) => {
    add(t.name, i)
    if (t.group !== t.name) add(t.group, i)
  })
  return map
}

function addFeeders(plan: TrackLayout, byName: ReadonlyMap<string, number[]>): void {
  const d = plan.design
  const runNames = plan.runs.map((r) => r.name)
  const add = (group: string, kind: string, list: FeederDesign[] | undefined) => {
    list?.forEach((f, n) => {
      const path = ['track', kind, group, 'feeders', n]
      const run = f.bus === undefined ? (plan.runs.length === 1 ? 0 : -1) : runNames.indexOf(f.bus)
      if (run < 0) {
        if (f.bus !== undefined) throw unknownName([...path, 'bus'], 'bus run', f.bus, runNames)
        throw new DesignConflict(path, `needs its bus run: one of ${runNames.join(', ')}`)
      }
      const length = plan.runs[run]!.design.length
      const fallback = d.defaults?.feeder
      const lengthMm = positive(
        f.length ?? fallback?.length ?? DEFAULT_FEEDER.lengthMm,
        [...path, 'length'],
        'the length of a feeder',
      )
      const tracks = byName.get(group)!
      // A turnout is fed at its hub: the inner end of its first leg.
      const targets = kind === 'sections' ? tracks : tracks.slice(0, 1)
      if (kind === 'sections' && f.first > tracks.length)
        throw new DesignConflict(
          [...path, 'first'],
          `"${group}" has ${tracks.length === 1 ? 'one section' : `${tracks.length} sections`}; found ${f.first}`,
        )
      let step = 0
      for (let i = f.first - 1; i < targets.length; i += f.every) {
        const track = targets[i]!
        const t = plan.tracks[track]!
        const railMm = f.place ?? (t.toHub >= 0 ? t.lengthMm : t.lengthMm / 2)
        if (railMm > t.lengthMm)
          throw new DesignConflict(
            [...path, 'place'],
            `${railMm / 1000} m is beyond the end of "${t.name}", which is ${t.lengthMm / 1000} m long`,
          )
        const busMm = f.at === undefined && f.step === undefined ? length : (f.at ?? 0) + step * (f.step ?? 0)
        if (busMm > length * (1 + 1e-9))
          throw new DesignConflict(
            [...path, f.step === undefined ? 'at' : 'step'],
            `the feeder of "${t.name}" would be at ${busMm / 1000} m of run "${plan.runs[run]!.name}", which is ${length / 1000} m long`,
          )
        step++
        plan.feeders.push({
          name: list.length > 1 ? `${t.name} (${n + 1})` : t.name,
          run,
          busMm: Math.min(busMm, length),
          track,
          railMm,
          wire: f.wire ?? fallback?.wire ?? DEFAULT_FEEDER.wire,
          lengthMm,
          swapped: f.swapped,
          open: f.open,
          path,
        })
      }
    })
  }
  for (const [name, s] of Object.entries(d.sections)) add(name, 'sections', s.feeders)
  for (const [name, s] of Object.entries(d.turnouts ?? {})) add(name, 'turnouts', s.feeders)
  for (const [name, s] of Object.entries(d.crossings ?? {})) {
    if (s.feeders && !s.slip)
      throw new DesignConflict(
        ['track', 'crossings', name, 'feeders'],
        'feed the sections on both routes of a crossing instead',
      )
    add(name, 'crossings', s.feeders)
  }
  for (const [name, s] of Object.entries(d.turntables ?? {})) add(name, 'turntables', s.feeders)
}

/** What a train draws while it runs, A. */
export function runningAmp(t: TrainDesign): number {
  return t.running + t.lights + t.sound
}

/** Where the design does not say what a stalled motor draws: so many times what it draws running; assumed, no source. */
const STALL_TIMES = 2

/** What a train draws while its motor is stalled, A. */
export function stalledAmp(t: TrainDesign): number {
  return (t.stall ?? STALL_TIMES * t.running) + t.lights + t.sound
}

function addStands(plan: TrackLayout, byName: ReadonlyMap<string, number[]>): void {
  const at = (
    own: { section?: string; at?: number },
    path: Path,
  ): { track: number; atMm: number } | undefined => {
    if (own.section === undefined) return undefined
    const tracks = byName.get(own.section)
    if (!tracks) throw unknownName([...path, 'section'], 'section', own.section, byName.keys())
    const track = tracks[0]!
    const t = plan.tracks[track]!
    if (t.kind === 'section' && tracks.length > 1)
      throw new DesignConflict(
        [...path, 'section'],
        `"${own.section}" is ${tracks.length} sections; say which: ${t.name} to ${plan.tracks[tracks.at(-1)!]!.name}`,
      )
    const atMm = own.at ?? (t.toHub >= 0 ? t.lengthMm : t.lengthMm / 2)
    if (atMm > t.lengthMm)
      throw new DesignConflict(
        [...path, 'at'],
        `${atMm / 1000} m is beyond the end of "${t.name}", which is ${t.lengthMm / 1000} m long`,
      )
    return { track, atMm }
  }
  for (const [name, t] of Object.entries(plan.rollingStock)) {
    const path = ['rollingStock', name]
    if (t.stall !== undefined && t.stall < t.running)
      throw new DesignConflict(
        [...path, 'stall'],
        `a stalled motor draws no less than a running one; found ${t.stall} A under ${t.running} A running`,
      )
    const place = at(t, path)
    if (!place) continue
    plan.stands.push({
      name,
      train: true,
      ...place,
      run: -1,
      amp: t.count * runningAmp(t),
      law: t.load,
      path,
    })
  }
  for (const [name, a] of Object.entries(plan.design.accessories ?? {})) {
    const path = ['track', 'accessories', name]
    const place = at(a, path)
    const run = a.bus === undefined ? -1 : plan.runs.findIndex((r) => r.name === a.bus)
    if (a.bus !== undefined && run < 0)
      throw unknownName(
        [...path, 'bus'],
        'bus run',
        a.bus,
        plan.runs.map((r) => r.name),
      )
    if (!place && run < 0) throw new DesignConflict(path, 'needs a section or a bus run that feeds it')
    if (place && run >= 0)
      throw new DesignConflict(path, 'is fed from a section or from a bus run, not from both')
    const atMm = place?.atMm ?? a.at ?? plan.runs[run]!.design.length
    if (run >= 0 && atMm > plan.runs[run]!.design.length)
      throw new DesignConflict([...path, 'at'], `is beyond the end of run "${plan.runs[run]!.name}"`)
    plan.stands.push({
      name,
      train: false,
      track: place?.track ?? -1,
      atMm,
      run,
      amp: a.current,
      law: a.load,
      path,
    })
  }
}
