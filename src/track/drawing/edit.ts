/**
 * Edits of a railroad as one does them on its drawing: what each changes in the design file. Nothing is changed here;
 * whoever holds the text makes the changes and reads it again, so that the reader has the last word.
 */
import { formatNumber, InputError } from '../../units/index.js'
import type { JoinerName } from '../conductors/conductor.data.js'
import type { TrackDesign } from '../design/track.js'
import type { Path } from '../layout/layout.js'
import { PART_OF } from '../layout/names.js'
import type { TrackModel } from '../model.js'
import { type BuildAction, buildTrack } from './build.js'
import {
  type AddSection,
  checkName,
  drawnAs,
  type EndRef,
  type FileChange,
  length,
  namesOf,
  type RawFile,
  type TrackEdit,
} from './file-change.js'
import { type InsertCrossing, type InsertTurnout, insertPart } from './insert.js'

export type Gap = 'none' | 'both' | 'left' | 'right'

export type TrackAction =
  | AddSection
  | BuildAction
  | InsertTurnout
  | InsertCrossing
  | { do: 'change section'; name: string; lengthMm?: number | undefined; count?: number | undefined }
  | { do: 'remove section'; name: string }
  | {
      do: 'add feeder'
      track: string
      placeMm?: number | undefined
      bus: string
      busMm?: number | undefined
      wire?: string
      lengthMm?: number
    }
  | { do: 'remove feeder'; path: Path }
  | { do: 'set joint'; name: string; gap?: Gap | undefined; joiner?: JoinerName | undefined }
  | { do: 'assign district'; names: readonly string[]; bus: string }
  | { do: 'new district'; names: readonly string[]; district: string; driver: string }
  | { do: 'place'; what: 'train' | 'accessory'; name: string; track: string; atMm: number }
  | { do: 'add load'; name: string; currentA: number; track: string; atMm: number }

/** Until an electronic breaker is off; common practice, no source. */
const BREAKER_AFTER = '2 ms'

/**
 * What an edit changes in the file.
 * @param model of the railroad before the edit; @param raw the same file's plain data, as written.
 * @throws InputError with the reason when the edit makes no sense.
 */
export function editTrack(model: TrackModel, raw: RawFile, action: TrackAction): TrackEdit {
  const { design } = model.plan
  switch (action.do) {
    case 'add section':
      return addSection(design, action)
    case 'add turnout':
    case 'add crossing':
    case 'add bus':
      return buildTrack(model, raw, action)
    case 'insert turnout':
    case 'insert crossing':
      return insertPart(model, raw, action)
    case 'change section':
      return changeSection(design, action)
    case 'remove section':
      return removeSection(model, action.name)
    case 'add feeder':
      return addFeeder(model, raw, action)
    case 'remove feeder':
      return removeFeeder(raw, action.path)
    case 'set joint':
      return setJoint(model, action)
    case 'assign district': {
      const run = model.plan.runs.find((r) => r.name === action.bus)
      if (!run) throw new InputError(`no bus run "${action.bus}"`)
      return assign(model, raw, action.names, run.name, run.district, [])
    }
    case 'new district':
      return newDistrict(model, raw, action)
    case 'place': {
      const part = action.what === 'train' ? ['rollingStock'] : ['track', 'accessories']
      const path = [...part, action.name]
      return {
        changes: [
          { path: [...path, 'section'], value: action.track },
          { path: [...path, 'at'], value: length(action.atMm) },
        ],
        says: `${action.name} stands on ${action.track}, ${length(action.atMm)} from its start`,
      }
    }
    case 'add load': {
      checkName(action.name, Object.keys(design.accessories ?? {}), 'load')
      const { name, currentA, track, atMm } = action
      const value = { current: `${formatNumber(currentA, 4)} A`, section: track, at: length(atMm) }
      return {
        changes: [{ path: ['track', 'accessories', name], value }],
        says: `Load ${name} of ${value.current} on ${track}`,
      }
    }
  }
}

function addSection(d: TrackDesign, action: AddSection): TrackEdit {
  const { name, lengthMm } = action
  checkName(name, namesOf(d), 'section')
  const changes: FileChange[] = []
  const used = new Set(Object.values(d.sections).flatMap((s) => [s.from, s.to]))
  const meet = (end: EndRef | undefined): string | undefined => {
    if (!end) return undefined
    if ('name' in end) return end.name
    let place = `${end.section}-${end.end === 'from' ? 'start' : 'end'}`
    for (let n = 2; used.has(place); n++) place = `${end.section}-${n}`
    used.add(place)
    changes.push({ path: ['track', 'sections', end.section, end.end], value: place })
    return place
  }
  const from = meet(action.from)
  const to = meet(action.to)
  if (from !== undefined && from === to)
    throw new InputError(`both ends of ${name} would be at ${from}; choose another place for one of them`)
  changes.push({
    path: ['track', 'sections', name],
    value: {
      length: length(lengthMm),
      ...(from === undefined ? {} : { from }),
      ...(to === undefined ? {} : { to }),
      ...drawnAs(action),
      ...(action.bus === undefined ? {} : { feeders: { bus: action.bus } }),
    },
  })
  return { changes, says: `Section ${name}, ${length(lengthMm)} long` }
}

function changeSection(
  d: TrackDesign,
  { name, lengthMm, count }: Extract<TrackAction, { do: 'change section' }>,
): TrackEdit {
  const own = d.sections[name]
  if (!own) throw new InputError(`no section "${name}"`)
  const path = ['track', 'sections', name]
  const changes: FileChange[] = []
  if (lengthMm !== undefined && lengthMm !== own.length)
    changes.push({ path: [...path, 'length'], value: length(lengthMm) })
  if (count !== undefined && count !== own.count && (count > 1 || own.count !== undefined))
    changes.push({ path: [...path, 'count'], value: count })
  const each = (own.count ?? 1) > 1 ? 'each of them' : 'it'
  return { changes, says: `${name}: ${each} is ${length(lengthMm ?? own.length)} long` }
}

/** A joint's own settings go with the section that made it; trains that stand there keep it. */
function removeSection({ plan }: TrackModel, name: string): TrackEdit {
  const tracks = new Set(plan.tracks.flatMap((t, i) => (t.kind === 'section' && t.group === name ? [i] : [])))
  if (tracks.size === 0) {
    const row = plan.tracks.find((t) => t.name === name)
    throw new InputError(
      row
        ? `${name} is one of the ${row.count} of ${row.group}, which the file writes as one row: remove the whole row, or change how many there are`
        : `no section "${name}"`,
    )
  }
  const there = plan.stands.filter((s) => tracks.has(s.track)).map((s) => s.name)
  if (there.length > 0)
    throw new InputError(
      `${there.join(' and ')} would stand nowhere: move ${there.length > 1 ? 'them' : 'it'} first`,
    )
  const changes: FileChange[] = [{ path: ['track', 'sections', name] }]
  for (const j of plan.joints)
    if ((tracks.has(j.a >> 1) || tracks.has(j.b >> 1)) && Object.hasOwn(plan.design.joints ?? {}, j.name))
      changes.push({ path: ['track', 'joints', j.name] })
  return { changes, says: `Section ${name} is taken away` }
}

function addFeeder(
  { plan }: TrackModel,
  raw: RawFile,
  action: Extract<TrackAction, { do: 'add feeder' }>,
): TrackEdit {
  const t = plan.tracks.find((x) => x.name === action.track || `${x.name}.${x.leg}` === action.track)
  if (!t) throw new InputError(`no section "${action.track}"`)
  const value = {
    bus: action.bus,
    ...(action.busMm === undefined ? {} : { at: length(action.busMm) }),
    // In a row of sections this one alone, without taking the row apart.
    ...(t.count > 1 ? { first: t.index + 1, every: t.count } : {}),
    ...(action.placeMm === undefined ? {} : { place: length(action.placeMm) }),
    ...(action.wire === undefined ? {} : { wire: action.wire }),
    ...(action.lengthMm === undefined ? {} : { length: length(action.lengthMm) }),
  }
  const path = ['track', PART_OF[t.kind], t.group, 'feeders']
  const had = raw.track?.[PART_OF[t.kind]]?.[t.group]?.['feeders']
  const says = `Feeder from ${action.bus} to ${t.name}`
  if (Array.isArray(had)) return { changes: [{ path: [...path, had.length], value }], says }
  return { changes: [{ path, value: had ? [had, value] : value }], says }
}

function removeFeeder(raw: RawFile, path: Path): TrackEdit {
  const [, part, group] = path
  const had = raw.track?.[String(part)]?.[String(group)]?.['feeders']
  const says = `A feeder of ${group} is taken away`
  const alone = !Array.isArray(had) || had.length === 1
  return { changes: [{ path: alone ? path.slice(0, 4) : path }], says }
}

function setJoint(
  { plan }: TrackModel,
  { name, gap, joiner }: Extract<TrackAction, { do: 'set joint' }>,
): TrackEdit {
  const joint = plan.joints.find((j) => j.name === name)
  if (!joint) throw new InputError(`no joint "${name}"`)
  const path = ['track', 'joints', name]
  const changes: FileChange[] = []
  if (joiner !== undefined) changes.push({ path: [...path, 'joiner'], value: joiner })
  if (gap !== undefined) {
    // `gaps` of a section cuts both rails whatever the joint says.
    if (gap !== 'both')
      for (const end of [joint.a, joint.b]) {
        const t = plan.tracks[end >> 1]!
        const own = t.kind === 'section' ? plan.design.sections[t.group] : undefined
        const side = (end & 1) === 0 ? 'from' : 'to'
        const outer = side === 'from' ? t.index === 0 : t.index === t.count - 1
        if (!own || !outer || (own.gaps !== side && own.gaps !== 'both')) continue
        const left = own.gaps === 'both' ? (side === 'from' ? 'to' : 'from') : 'none'
        changes.push({ path: ['track', 'sections', t.group, 'gaps'], value: left })
      }
    changes.push({ path: [...path, 'gap'], value: gap })
  }
  const words = {
    none: 'no gap',
    both: 'both rails cut',
    left: 'the left rail cut',
    right: 'the right rail cut',
  }
  const says = [gap === undefined ? '' : words[gap], joiner === undefined ? '' : `joiner ${joiner}`]
  return { changes, says: `Joint ${name}: ${says.filter((s) => s !== '').join(', ')}` }
}

/** Sections change their district by their feeders' bus run; where another district begins both rails are cut. */
function assign(
  model: TrackModel,
  raw: RawFile,
  names: readonly string[],
  bus: string,
  district: string,
  before: FileChange[],
): TrackEdit {
  const { plan, net } = model
  const chosen = new Set<number>()
  const changes = [...before]
  const groups = new Map<string, (typeof plan.tracks)[number]>()
  for (const name of names) {
    const one = plan.tracks.find((t) => t.name === name && t.group !== name)
    if (one) {
      const rest = plan.tracks.filter((t) => t.group === one.group && !names.includes(t.name))
      if (rest.length > 0 && !names.includes(one.group))
        throw new InputError(
          `${name} is one of the ${one.count} of ${one.group}, whose feeders the file writes as one row: choose the whole row ${one.group}, or write it as two rows in the text first`,
        )
    }
    plan.tracks.forEach((t, i) => {
      if (t.name !== name && t.group !== name) return
      chosen.add(i)
      groups.set(t.group, t)
    })
  }
  if (chosen.size === 0) throw new InputError('choose at least one section for the district')
  let moved = 0
  for (const [group, t] of groups) {
    const had = raw.track?.[PART_OF[t.kind]]?.[group]?.['feeders']
    const path = ['track', PART_OF[t.kind], group, 'feeders']
    const list = Array.isArray(had) ? had.map((_, i) => [...path, i]) : had ? [path] : []
    moved += list.length
    for (const one of list) changes.push({ path: [...one, 'bus'], value: bus })
  }
  if (moved === 0)
    throw new InputError(
      `none of ${[...groups.keys()].join(', ')} has a feeder: add one first, so that the district reaches its rails`,
    )
  const wanted = (end: number) =>
    chosen.has(end >> 1) ? district : (net.districts[net.districtOfTrack[end >> 1]!] ?? '')
  let cut = 0
  for (const j of plan.joints) {
    if (wanted(j.a) === wanted(j.b) || (j.gapL && j.gapR)) continue
    cut++
    changes.push({ path: ['track', 'joints', j.name, 'gap'], value: 'both' })
  }
  const gaps = cut === 0 ? '' : `; both rails are cut at ${cut === 1 ? 'one joint' : `${cut} joints`}`
  return { changes, says: `${[...groups.keys()].join(', ')} in district ${district}${gaps}` }
}

function newDistrict(
  model: TrackModel,
  raw: RawFile,
  { names, district, driver }: Extract<TrackAction, { do: 'new district' }>,
): TrackEdit {
  const { plan, net } = model
  const had = raw.power?.districts ?? {}
  checkName(district, Object.keys(had), 'district')
  checkName(district, Object.keys(plan.design.bus), 'bus run')
  const first = plan.tracks.findIndex((t) => names.includes(t.name) || names.includes(t.group))
  if (first < 0) throw new InputError('choose at least one section for the district')
  const old = net.districts[net.districtOfTrack[first]!] ?? ''
  // Load and channels are the old district's own; the rest is a start that the form then changes.
  const { load: _load, channels: _channels, ...like } = had[old] ?? {}
  const shares = Object.values(had).some((d) => d['driver'] === driver || d['driver'] === undefined)
  if (shares) {
    // Behind one channel each district needs a breaker of its own, and the driver's sense is not its.
    const trip = (like['trip'] ?? {}) as Record<string, unknown>
    const { current, after } = trip
    delete like['sense']
    like['trip'] = {
      ...(current === undefined ? {} : { current }),
      by: 'breaker',
      after: trip['by'] === 'breaker' && after !== undefined ? after : BREAKER_AFTER,
    }
  }
  const feeder =
    plan.feeders.find((f) => names.includes(plan.tracks[f.track]!.group)) ??
    plan.feeders.find((f) => f.track === first)
  const run = feeder ? plan.runs[feeder.run]!.name : plan.runs.find((r) => r.district === old)!.name
  const { from: _from, at: _at, reverser: _reverser, ...bus } = raw.track?.['bus']?.[run] ?? {}
  const edit = assign(model, raw, names, district, district, [
    { path: ['power', 'districts', district], value: { ...like, driver } },
    { path: ['track', 'bus', district], value: { ...bus, district } },
  ])
  return {
    ...edit,
    says: `New district ${district}: ${edit.says}. Its protection is copied from ${old}${shares ? ' with a breaker of its own' : ''}, its bus from ${run}: check both`,
  }
}
