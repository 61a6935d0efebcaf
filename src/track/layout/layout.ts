/**
 * The plan: the design file's track with repeated sections written out and every joint found. A plan still
 * has no resistances; `network.ts` makes those.
 *
 * Rails: L and R as seen from a track's `from` end to its `to` end. Looking out of a `to` end the left rail is L, out of
 * a `from` end it is R; where two ends meet, the left of one meets the right of the other.
 */
import { nearest } from '../../units/index.js'
import type { AlloyName, JoinerName } from '../conductors/conductor.data.js'
import type { RollingStockDesign, TrackDesign } from '../design/track.js'
import { DesignConflict } from '../design-conflict.js'
import { applySwitches, type SwitchSetting } from '../switches/setting.js'
import { addFeeders } from './feeders.js'
import { expandRuns } from './runs.js'
import { positive, unknownName } from './slips.js'
import { addStands } from './stands.js'
import { jointKeepsRails, type Path, type Track, type TrackLayout } from './types.js'

export { runningAmp, stalledAmp } from './stands.js'
export * from './types.js'

const MAX_TRACKS = 200_000
const DEFAULTS = { rail: 100, alloy: 'nickel silver', joiner: 'slip' } as const

/**
 * Write the plan out.
 * @param districts names of the power districts there are.
 * @param setting which positions the hand switches are in.
 * @throws DesignConflict for names that lead nowhere, lengths that cannot be, ends that meet wrongly.
 */
export function expandPlan(
  design: TrackDesign,
  rollingStock: RollingStockDesign,
  districts: readonly string[],
  setting: SwitchSetting = {},
): TrackLayout {
  const plan: TrackLayout = {
    tracks: [],
    joints: [],
    roads: [],
    openEnds: [],
    runs: expandRuns(design, districts, setting),
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
  applySwitches(plan)
  return plan
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

/** End −1: the road of a turntable, whose bridge comes to meet it. */
interface Port {
  end: number
  path: Path
  /** The bridge's `from` end. */
  bridge?: number
}

/** Turnouts, crossings and turntables; returns port name → its end. */
function addSpecials(plan: TrackLayout): Map<string, Port> {
  const ports = new Map<string, Port>()
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
    for (let road = 1; road <= own.roads; road++)
      ports.set(`${name}.${road}`, { end: -1, path, bridge: 2 * t })
  }
  return ports
}

function joinEnds(
  plan: TrackLayout,
  ends: Map<string, { end: number; gap: boolean; path: Path }[]>,
  ports: Map<string, Port>,
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
      if (port.bridge !== undefined) {
        plan.openEnds.push(first.end)
        const ends = { a: port.bridge, b: first.end }
        plan.roads.push({ name, ...ends, joiner, gapL: true, gapR: true, path: first.path })
      } else join(plan, name, port.end, first.end, joiner, first.gap, first.path)
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
