/** What can be calculated from a design alone; a room with a calculation of its own joins with one entry. */
import { controllerClock, timerEvidence } from '../controller/index.js'
import { type Design, type LoadedDesign, type Path, profileOfDesign } from '../design/index.js'
import type { Finding } from '../finding/index.js'
import {
  controllerLevels,
  districtModels,
  faultNotices,
  faultReports,
  powerReport,
  requireSound,
  withDriverSkew,
} from '../power/index.js'
import { type ClauseId, type Evidence, isShown, type Statement } from '../standard/index.js'
import { DesignConflict } from '../track/index.js'
import { calculateTraffic } from '../traffic/index.js'
import { InputError } from '../units/index.js'
import { benchNoteEvidence } from './bench-notes.js'
import type { EvidenceSet } from './evidence-set.js'
import { asFinding, distinct, PROOF_FINDINGS } from './findings.data.js'
import { withOther } from './one-verdict.js'
import { powerInput } from './power-input.js'
import { railroadOf } from './railroad.js'

interface Calculated {
  evidence: Statement[]
  /** Cautions that go with the figures. */
  cautions?: readonly (Finding | string)[]
  /** What of the design could not be used, or was ignored. */
  notes?: readonly (Finding | string)[]
}

/** What the design alone shows. */
export interface DesignEvidence extends EvidenceSet {
  cautions: Finding[]
  /** False when the pace has left something out. */
  complete: boolean
  /** A part that could not be calculated. */
  fault?: Finding
}

/** How long a calculation takes: next to nothing; tenths of a second the first time; longer. */
export type Pace = 'at once' | 'soon' | 'slow'
const PACES: readonly Pace[] = ['at once', 'soon', 'slow']

interface Calculation {
  /** Two rooms that judge some clauses of the same district: they say one verdict. */
  room?: 'power' | 'track'
  /** The parts of the design it needs; without them it is left out. */
  needs: readonly (keyof Design)[]
  /** All that its results depend on. */
  reads(design: Design): unknown[]
  pace: Pace
  run(loaded: LoadedDesign): Calculated
  /** Where in the file evidence is from, as near as possible. */
  placeOf(evidence: Statement, design: Design): Path
}

/** Keys of an output that decide a clause. */
const KEY_OF: Partial<Record<ClauseId, string>> = {
  'one-half': 'oneHalf',
  'one-difference': 'oneHalf',
  'zero-half': 'zeroHalf',
  'zero-total': 'zeroHalf',
  preamble: 'preamble',
}

const CALCULATIONS: readonly Calculation[] = [
  {
    needs: ['controller', 'signal'],
    pace: 'at once',
    reads: (d) => [d.controller, d.signal, d.standard, d.scale, behindPins(d)],
    run(loaded) {
      const { controller, signal, power } = loaded.design
      const parts = { controller, signal }
      const profile = profileOfDesign(loaded)
      // What leaves the pin is one thing, what the drivers make of it another: the clauses are about the rails.
      const behindDrivers = (list: Evidence[]) =>
        power ? withDriverSkew(list, { power, signal, profile }) : list
      return { evidence: behindDrivers(timerEvidence(parts, (cutout) => profileOfDesign(loaded, cutout))) }
    },
    placeOf({ about, clause }, { signal }) {
      if (about === undefined || !Object.hasOwn(signal.outputs, about)) return ['signal']
      return ['signal', 'outputs', about, KEY_OF[clause] ?? 'pin']
    },
  },
  {
    room: 'power',
    needs: ['power'],
    pace: 'soon',
    reads: (d) => [d.power, wiring(d), d.controller, d.standard, d.scale, d.track, d.rollingStock],
    run(loaded) {
      const { input, notes } = powerInput(loaded)!
      return { ...powerReport(input), notes }
    },
    placeOf: inPower,
  },
  {
    room: 'track',
    needs: ['track', 'power'],
    pace: 'soon',
    reads: (d) => [
      d.track,
      d.power,
      wiring(d),
      d.rollingStock,
      d.standard,
      d.scale,
      // Firmware times its trips by its clock.
      d.controller?.chip,
      d.controller?.clock,
    ],
    run(loaded) {
      const { report } = railroadOf(loaded)!
      return { ...report, notes: report.findings.filter((f) => f.unjudged).map((f) => f.text) }
    },
    placeOf: inTrack,
  },
  {
    needs: ['fleet', 'signal'],
    pace: 'slow',
    reads: (d) => [
      d.fleet,
      d.traffic,
      d.signal,
      d.track,
      d.rollingStock,
      d.controller.chip,
      d.standard,
      d.scale,
    ],
    run(loaded) {
      const { fleet, traffic, signal } = loaded.design
      const cutout = Object.entries(signal.outputs).some(
        ([name, t]) => t.cutout && (traffic?.output === undefined || traffic.output === name),
      )
      return calculateTraffic({ ...loaded.design, fleet: fleet! }, profileOfDesign(loaded, cutout))
    },
    placeOf: inTraffic,
  },
  {
    needs: ['power'],
    pace: 'slow',
    reads: (d) => [d.power, wiring(d), d.controller, d.standard, d.scale, d.track, d.rollingStock],
    run: (loaded) => ({ evidence: [], cautions: singleFaults(loaded) }),
    placeOf: inPower,
  },
]

/** Single faults of the power stage break no clause: which of them leave a short without protection is a caution. */
function singleFaults(loaded: LoadedDesign): Finding[] {
  const { power, controller } = loaded.design
  const { input } = powerInput(loaded)!
  requireSound(power!, input.signal)
  const models = districtModels(power!, input.signal, input.loads, controllerClock(controller))
  return faultNotices(faultReports(models, power!.ambient, controllerLevels(power!, controller.chip)))
}

/** What of the power stage changes the signal: each driver, and which outputs it repeats. */
function behindPins({ power }: Design): unknown {
  if (!power) return undefined
  const districts = Object.values(power.districts).map(({ driver, output }) => [driver, output])
  return [power.drivers, districts]
}

/** What of the signal matters behind the pin: where it comes out, not how long its half-bits are. */
function wiring({ signal }: Design): unknown {
  return Object.entries(signal.outputs).map(([name, { mode, pin, inverted, cutout }]) => {
    return [name, mode, pin, inverted, cutout]
  })
}

/** The section, turnout or turntable that a place such as `main.3, middle` or `T1.points` belongs to. */
function inTrack({ where }: Statement, { track }: Design): Path {
  const name = where?.section?.split(/[.,/]/)[0]
  if (name === undefined || !track) return ['track']
  for (const part of ['sections', 'turnouts', 'crossings', 'turntables'] as const)
    if (Object.hasOwn(track[part] ?? {}, name)) return ['track', part, name]
  return ['track']
}

/** The stop, the locomotive or the policy that a statement is about. */
function inTraffic({ clause, where }: Statement, { fleet, traffic }: Design): Path {
  if (clause === 'stopping-distance') return ['traffic', 'stops', where?.section ?? '']
  // Of a row of equal locomotives the name ends in a number.
  const name = where?.address?.replace(/ \d+$/, '') ?? ''
  for (const key of [where?.address ?? '', name])
    if (fleet && Object.hasOwn(fleet, key)) return ['fleet', key]
  return traffic ? ['traffic'] : ['fleet']
}

/** Keys of a district, driver or supply that decide a clause. */
const POWER_KEY_OF: Partial<Record<ClauseId, string>> = {
  'short-trip': 'trip',
  'driver-current': 'part',
  'driver-heat': 'part',
  'edge-rate': 'part',
  'supply-current': 'rating',
  'ack-detect': 'acknowledgement',
}

/** The part of the power stage that bears the name. */
function inPower({ about, clause }: Statement, { power }: Design): Path {
  const name = about?.split(', ')[0]
  for (const part of ['districts', 'drivers', 'supplies'] as const) {
    if (name === undefined || !power || !Object.hasOwn(power[part], name)) continue
    const key = POWER_KEY_OF[clause]
    const own: object = power[part][name]!
    return ['power', part, name, ...(key !== undefined && Object.hasOwn(own, key) ? [key] : [])]
  }
  return ['power']
}

const PLACES = { power: inPower, track: inTrack, traffic: inTraffic }

/** Each statement with its line of the design: what it is about, as near as possible. */
export function placeEvidence(
  part: keyof typeof PLACES,
  evidence: readonly Evidence[],
  { design, placeOf }: LoadedDesign,
  file: string,
): Evidence[] {
  return evidence.map((e) => ({
    ...e,
    where: { file, line: placeOf(PLACES[part](e, design)).line, ...e.where },
  }))
}

/** Results of earlier calculations, so that a change redoes only what depends on it. Starts empty. */
export type CalculationMemory = Map<Calculation, { from: string; result: Calculated }>

/** A result of what takes long, for another thread: plain data. */
export interface SlowResult {
  /** Which of the calculations. */
  calculation: number
  result: Calculated
}

/** What takes long, by itself; what cannot be calculated is left to {@link evidenceOfDesign} to tell. */
export function slowResults(loaded: LoadedDesign): SlowResult[] {
  return CALCULATIONS.flatMap(({ pace, needs, run }, calculation) => {
    if (pace !== 'slow' || !needs.every((part) => loaded.design[part] !== undefined)) return []
    try {
      const { evidence, cautions = [], notes = [] } = run(loaded)
      return [{ calculation, result: { evidence, cautions, notes } }]
    } catch (error) {
      if (error instanceof InputError || error instanceof DesignConflict) return []
      throw error
    }
  })
}

/** A memory that holds results from another thread, of the same design. */
export function memoryOf({ design }: LoadedDesign, results: readonly SlowResult[]): CalculationMemory {
  return new Map(
    results.map(({ calculation, result }) => {
      const of = CALCULATIONS[calculation]!
      return [of, { from: JSON.stringify(of.reads(design)), result }]
    }),
  )
}

export interface CalculateOptions {
  memory?: CalculationMemory
  /**
   * Leave out what takes longer than this and is not in the memory as it now should be; what the memory has of it
   * stands in. Usually nothing is left out.
   */
  pace?: Pace
  faults?: 'throw' | 'tell'
}

/**
 * All that the design alone shows, each statement with its line.
 * @param source the design file, as reports name it.
 * @param options.faults `throw`: an InputError with the place in the file when a part cannot be calculated; `tell`: it is
 * told as the fault, and nothing is calculated from what comes after it.
 */
export function evidenceOfDesign(
  loaded: LoadedDesign,
  source: { file: string; sha256?: string | undefined },
  { memory, pace = 'slow', faults = 'throw' }: CalculateOptions = {},
): DesignEvidence {
  const { design } = loaded
  const { file, sha256 } = source
  const found: DesignEvidence = {
    statements: [],
    notes: [],
    cautions: [],
    complete: true,
    inputs: [{ role: 'design', file, ...(sha256 === undefined ? {} : { sha256 }) }],
  }
  const rooms: Record<'power' | 'track', Statement[]> = { power: [], track: [] }
  for (const calculation of CALCULATIONS) {
    const { needs, room } = calculation
    if (!needs.every((part) => design[part] !== undefined)) continue
    const from = memory ? JSON.stringify(calculation.reads(design)) : ''
    const known = memory?.get(calculation)
    let result = known?.from === from ? known.result : undefined
    if (result === undefined && PACES.indexOf(calculation.pace) > PACES.indexOf(pace)) {
      found.complete = false
      result = known?.result ?? { evidence: [] }
    } else if (result === undefined) {
      try {
        result = calculation.run(loaded)
      } catch (error) {
        const fault =
          error instanceof DesignConflict
            ? new InputError(error.message, { file, ...loaded.placeOf(error.path) })
            : error
        if (faults === 'throw' || !(fault instanceof InputError)) throw fault
        found.fault = PROOF_FINDINGS.find('calculation-failed', { why: fault.describe() })
        found.notes.unshift(found.fault)
        break
      }
      memory?.set(calculation, { from, result })
    }
    for (const e of result.evidence) {
      const place = loaded.placeOf(calculation.placeOf(e, design))
      const placed = { ...e, where: { file, line: place.line, ...e.where } }
      const statement: Statement =
        isShown(placed) && isOfParts(placed, design) ? { ...placed, byParts: true } : placed
      found.statements.push(statement)
      if (room) rooms[room].push(statement)
    }
    found.cautions.push(...(result.cautions ?? []).map(asFinding))
    found.notes.push(...(result.notes ?? []).map(asFinding))
  }
  const agreed = new Map<Statement, Statement>()
  const agree = (own: Statement[], other: Statement[]) =>
    withOther(own, other).forEach((e, i) => {
      agreed.set(own[i]!, e)
    })
  agree(rooms.power, rooms.track)
  agree(rooms.track, rooms.power)
  found.statements = found.statements.map((e) => agreed.get(e) ?? e)
  if (design.benchNotes && !found.fault) {
    const { evidence, notes } = benchNoteEvidence(loaded, found.statements)
    found.statements.push(...evidence.map((e) => ({ ...e, where: { file, ...e.where } })))
    found.notes.push(...notes)
  }
  found.cautions = distinct(found.cautions)
  found.notes = distinct(found.notes)
  return found
}

/** A breaker or the driver itself switches a short off whatever the firmware does. */
function isOfParts({ clause, about }: Statement, { power }: Design): boolean {
  // `yard, every current` is about the district yard.
  const name = about?.split(', ')[0]
  if (clause !== 'short-trip' || name === undefined || !power || !Object.hasOwn(power.districts, name))
    return false
  const by = power.districts[name]!.trip?.by
  return by === 'breaker' || by === 'driver'
}
