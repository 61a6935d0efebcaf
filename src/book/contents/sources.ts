/** Everything that a book is made of, worked out once. */
import { type Choice, chosenOptions, logicLevels } from '../../controller/index.js'
import { type LoadedDesign, profileOfDesign } from '../../design/index.js'
import {
  ACK_AMP,
  ACK_SHORTEST_US,
  allStages,
  type DistrictStage,
  type PowerReport,
  powerReport,
} from '../../power/index.js'
import { designSum, type Proof, powerInput, railroadOf } from '../../proof/index.js'
import type { TrackLayout, TrackReport } from '../../track/index.js'
import { type PlannedStarter, plannedStarter } from '../starter/constants.js'
import { Figures } from './figure.js'
import { type BookOptions, USUAL_CONTROLLER_AMP, USUAL_SERIES_OHM } from './options.js'

export interface BookSources {
  loaded: LoadedDesign
  options: BookOptions
  proof: Proof
  /** Digits by which bench notes name this state of the design. */
  sum: string
  stages: readonly DistrictStage[]
  power?: PowerReport
  track?: TrackReport
  plan?: TrackLayout
  /** By track of the plan: +1 when its left rail is on wire A. */
  phase?: Int8Array
  timers: ReadonlyMap<string, Choice>
  /** The starter firmware; absent where none can be made for the design. */
  starter?: PlannedStarter
  /** All of it as plain data, for the paths of figures. */
  data: Readonly<Record<string, unknown>>
  figures: Figures
}

/** What the wiring follows from. */
export type WiringSources = Pick<BookSources, 'loaded' | 'stages' | 'power' | 'plan' | 'phase'>

/** For a drawing alone: without the currents that size its wires. */
export function wiringSources(loaded: LoadedDesign): WiringSources {
  const { power, signal } = loaded.design
  const model = railroadOf(loaded)?.model
  return {
    loaded,
    stages: power ? allStages(power, signal) : [],
    ...(model ? { plan: model.plan, phase: model.net.phase } : {}),
  }
}

export function bookSources(loaded: LoadedDesign, proof: Proof, options: BookOptions): BookSources {
  const { design } = loaded
  const { controller, signal } = design
  const input = design.power && powerInput(loaded)
  const power = input ? powerReport({ ...input.input, faults: true }) : undefined
  const railroad = railroadOf(loaded)
  const timers = chosenOptions({ controller, signal }, (o) => profileOfDesign(loaded, o.cutout).clauses)
  const stages = design.power ? allStages(design.power, signal) : []
  const starter = plannedStarter(loaded)
  const sensing = starter?.plan.sensing
  const retry = sensing &&
    sensing.retries > 0 && {
      retryUs: (sensing.retryReadings / sensing.rate) * 1e6,
      retries: sensing.retries,
    }
  const data = {
    design,
    options,
    proof,
    power,
    track: railroad?.report,
    plan: railroad?.model.plan,
    drivers: stages.map((s) => ({ name: s.driverName, model: s.model })),
    timers: Object.fromEntries([...timers].map(([name, { option }]) => [name, option])),
    clauses: profileOfDesign(loaded).clauses,
    controller: { supplyVolt: supplyVoltOf(design) },
    usual: { seriesOhm: USUAL_SERIES_OHM, controllerAmp: USUAL_CONTROLLER_AMP },
    ...(retry ? { starter: retry } : {}),
    standard: { ackAmp: ACK_AMP, ackShortestUs: ACK_SHORTEST_US },
  }
  return {
    loaded,
    options,
    proof,
    sum: designSum(design),
    stages,
    ...(power ? { power } : {}),
    ...(railroad
      ? { track: railroad.report, plan: railroad.model.plan, phase: railroad.model.net.phase }
      : {}),
    timers,
    ...(starter === undefined ? {} : { starter }),
    data,
    figures: new Figures(data),
  }
}

/** Supply of the chip, V: the design's where the chip allows it, else the usual one. */
function supplyVoltOf({ controller, power }: LoadedDesign['design']): number | undefined {
  const own = power?.controller?.voltage
  const at = own === undefined ? undefined : logicLevels(controller.chip, { supplyVolt: own })
  return (at ?? logicLevels(controller.chip))?.supplyVolt
}
