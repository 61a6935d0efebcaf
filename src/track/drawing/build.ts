/** New turnouts, crossings and bus runs on the drawing, and the first section of a railroad, as changes of the file. */
import { InputError } from '../../units/index.js'
import type { TrackDesign } from '../design/track.js'
import type { Path } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
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
import { stubEnd } from './stubs.js'

export type TurnoutPort = 'points' | 'straight' | 'diverging'

interface Junction {
  name: string
  lengthMm: number
  /** Its middle on the drawing, mm. */
  at: readonly [number, number]
  /** Direction of its first way, degrees; for the drawing only. */
  along: number
  /** The free end that it is joined to. */
  meets?: EndRef | undefined
  /** A bus run that feeds it. */
  bus?: string | undefined
}

export type BuildAction =
  | (Junction & { do: 'add turnout'; hand: 'left' | 'right'; port: TurnoutPort })
  | (Junction & { do: 'add crossing'; isSlip: boolean })
  | {
      do: 'add bus'
      name: string
      wire: string
      lengthMm: number
      /** The district that feeds it at the station; left out where it branches off another run. */
      district?: string | undefined
      from?: string | undefined
      /** Where it branches off, along that run; its end when left out. */
      atMm?: number | undefined
    }

export function buildTrack({ plan }: TrackModel, raw: RawFile, action: BuildAction): TrackEdit {
  const { design } = plan
  return action.do === 'add bus' ? addBus(design, raw, action) : addJunction(design, action)
}

/** Length of the fed section that a plain crossing brings for each way of its own. */
const APPROACH_MM = 300

function addJunction(d: TrackDesign, action: Exclude<BuildAction, { do: 'add bus' }>): TrackEdit {
  const { name, lengthMm, at, along, meets, bus } = action
  const isTurnout = action.do === 'add turnout'
  const what = isTurnout ? 'turnout' : 'crossing'
  checkName(name, namesOf(d), what)
  const port = isTurnout ? action.port : 'a1'
  const path = meets ? pathOfEnd(d, meets) : undefined
  const deg = Math.round(along)
  // The two ways of a plain crossing meet nowhere: each needs a fed section.
  const isPlain = !isTurnout && !action.isSlip
  if (isPlain && bus === undefined)
    throw new InputError(
      'the ways of a crossing do not join: name the bus run that feeds the section on the other way',
    )
  const value = {
    length: length(lengthMm),
    ...(!isTurnout && action.isSlip ? { slip: true } : {}),
    at: at.map(Math.round),
    ...(meets || deg === 0 ? {} : { along: deg }),
    ...(isTurnout && action.hand === 'left' ? { hand: 'left' } : {}),
    ...(bus === undefined || isPlain ? {} : { feeders: { bus } }),
  }
  const changes: FileChange[] = [{ path: ['track', isTurnout ? 'turnouts' : 'crossings', name], value }]
  if (path) changes.push({ path, value: `${name}.${port}` })
  if (isPlain)
    for (const way of meets ? (['b'] as const) : (['a', 'b'] as const))
      changes.push(crossWay(d, name, way, lengthMm, bus, at, along))
  const joined = path ? `, its ${isTurnout ? `${port} end` : 'first way'} at ${path[2]}` : ''
  const kind = isTurnout ? `Turnout to the ${action.hand}` : action.isSlip ? 'Slip' : 'Crossing'
  return { changes, says: `${kind} ${name}${joined}` }
}

/** A fed section on a way of a plain crossing, whose ways meet nowhere. */
export function crossWay(
  d: TrackDesign,
  name: string,
  way: 'a' | 'b',
  lengthMm: number,
  bus: string | undefined,
  at: readonly [number, number] | undefined,
  along: number,
): FileChange {
  const section = `${name}-${way}`
  checkName(section, namesOf(d), 'section')
  const junction = at && ({ kind: 'crossing', centre: at, met: new Map(), along } as const)
  const points =
    junction &&
    [lengthMm / 2, lengthMm / 2 + APPROACH_MM].map((mm) => stubEnd(junction, `${way}2`, mm).map(Math.round))
  const value = {
    length: length(APPROACH_MM),
    from: `${name}.${way}2`,
    ...(points ? { points } : {}),
    feeders: { bus },
  }
  return { path: ['track', 'sections', section], value }
}

/** The key that says what a free end of a section meets. */
function pathOfEnd(d: TrackDesign, end: EndRef): Path {
  if ('section' in end) return ['track', 'sections', end.section, end.end]
  if (end.name.includes('.'))
    throw new InputError(
      `${end.name} is an end of a turnout or crossing, and two of these meet by a section: draw one from there first`,
    )
  for (const [name, section] of Object.entries(d.sections))
    for (const side of ['from', 'to'] as const)
      if (section[side] === end.name) return ['track', 'sections', name, side]
  throw new InputError(`no free end "${end.name}"`)
}

const FED = ['sections', 'turnouts', 'crossings', 'turntables'] as const

function addBus(d: TrackDesign, raw: RawFile, action: Extract<BuildAction, { do: 'add bus' }>): TrackEdit {
  const { name, wire, lengthMm, district, from, atMm } = action
  const runs = Object.keys(d.bus)
  checkName(name, runs, 'bus run')
  const changes: FileChange[] = []
  const [only, ...others] = runs
  // With a second run each feeder must say which one it is tapped from.
  if (only !== undefined && others.length === 0)
    for (const part of FED)
      for (const [group, own] of Object.entries(raw.track?.[part] ?? {})) {
        const feeders = own['feeders']
        const path = ['track', part, group, 'feeders']
        const list: [unknown, Path][] = Array.isArray(feeders)
          ? feeders.map((f, i) => [f, [...path, i]])
          : feeders
            ? [[feeders, path]]
            : []
        for (const [one, at] of list)
          if ((one as { bus?: string } | null)?.bus === undefined)
            changes.push({ path: [...at, 'bus'], value: only })
      }
  const feed =
    from === undefined
      ? { ...(district === undefined ? {} : { district }) }
      : { from, ...(atMm === undefined ? {} : { at: length(atMm) }) }
  changes.push({ path: ['track', 'bus', name], value: { ...feed, wire, length: length(lengthMm) } })
  const origin = from === undefined ? `from the station, district ${district ?? 'as before'}` : `off ${from}`
  return { changes, says: `Bus run ${name} of ${wire}, ${length(lengthMm)} long, ${origin}` }
}

/** A bus from the station that reaches a first section: a gauge that people use, and a length to correct. */
const FIRST_BUS = { wire: '2.5 mm2', leastMm: 2000 }

/**
 * The first section of a railroad, with the bus run and the feeder without which it is none.
 * @param district that feeds it, where there are several.
 */
export function beginTrack(action: AddSection, district: string | undefined): TrackEdit {
  checkName(action.name, [], 'section')
  const bus = 'main'
  const lengthMm = Math.max(FIRST_BUS.leastMm, Math.ceil(action.lengthMm / 500) * 500)
  const value = {
    bus: {
      [bus]: {
        ...(district === undefined ? {} : { district }),
        wire: FIRST_BUS.wire,
        length: length(lengthMm),
      },
    },
    sections: { [action.name]: { length: length(action.lengthMm), ...drawnAs(action), feeders: { bus } } },
  }
  return {
    changes: [{ path: ['track'], value }],
    says: `Section ${action.name}, with a bus run of ${length(lengthMm)} and a feeder: check both lengths`,
  }
}
