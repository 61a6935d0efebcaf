/** A district with everything that its clauses are judged by; made once, asked by the power stage and by the track. */
import type { Uncertain } from '../corner/index.js'
import type { SignalDesign } from '../signal/index.js'
import type { PowerDesign } from './design/index.js'
import type { ClockShare } from './district-trip.js'
import { coolestCorner, driverHeat, driverJunctionC, hottestCorner } from './driver-heat.js'
import { type DistrictLoad, loadOfDesign } from './load.js'
import type { HeatModels } from './short.js'
import { type SourceModel, sourceModel } from './source.js'
import { allStages, besideOf, type DistrictStage } from './stage.js'
import { sustainedOf } from './sustained.js'

export interface DistrictModel {
  stage: DistrictStage
  load?: DistrictLoad
  /** What may flow for ever; absent when neither trip nor load tells. */
  sustained?: Uncertain
  /** Absent when the driver's losses are not known. */
  source?: SourceModel
  heats: HeatModels
  /** Junction of its driver at what may flow for ever, greatest losses, °C; a warm guess where it is not known. */
  hotC: number
  /** At the usual load, °C; absent when not known. */
  runningC?: number
}

/** Where a junction's temperature is not known its resistance is taken at this, °C; assumed, no source. */
const WARM_C = 100
/** A driver hotter than this has long switched off, °C; assumed, no source. */
const HOTTEST_C = 175

/**
 * @param loads what each district feeds, from the railroad; the design's own `load` where it is absent
 */
export function districtModels(
  power: PowerDesign,
  signal?: SignalDesign,
  loads?: Readonly<Record<string, DistrictLoad>>,
  clock?: ClockShare,
): DistrictModel[] {
  const stages = allStages(power, signal, clock)
  const loadOf = new Map(stages.map((s) => [s.name, loads?.[s.name] ?? loadOfDesign(s.district)]))
  const sustained = new Map(stages.map((s) => [s.name, sustainedOf(s, loadOf.get(s.name))]))
  const ends = (end: 'low' | 'high') => new Map(stages.map((s) => [s.name, sustained.get(s.name)?.[end]]))
  const drivers = new Map<string, { heats: HeatModels; hotC: number; runningC?: number }>()
  for (const [name, driver] of Object.entries(power.drivers)) {
    const own = stages.filter((s) => s.driverName === name)
    const [first] = own
    if (!first) continue
    const ambientC = driver.cooling?.ambient ?? power.ambient
    const most = driverHeat(own, ends('high'), ambientC, hottestCorner(first))
    const typical = driverHeat(own, ends('low'), ambientC, coolestCorner(first))
    const { junctionC, junctionMaxC } = most.heat
    const running = new Map(own.map((s) => [s.name, loadOf.get(s.name)?.runningAmp]))
    const runningC = driverJunctionC(own, running, ambientC, hottestCorner(first))
    drivers.set(name, {
      heats: { most, typical },
      hotC:
        junctionC === undefined
          ? WARM_C
          : Math.max(ambientC, Math.min(junctionC, junctionMaxC ?? HOTTEST_C, HOTTEST_C)),
      ...(runningC === undefined || !Number.isFinite(runningC) ? {} : { runningC }),
    })
  }
  return stages.map((stage) => {
    const { heats, hotC, runningC } = drivers.get(stage.driverName)!
    const ambientC = stage.driver.cooling?.ambient ?? power.ambient
    const beside = besideOf(stage, stages, (other) => loadOf.get(other)?.runningAmp ?? 0)
    const source = sourceModel(stage, hotC, ambientC, beside)
    const load = loadOf.get(stage.name)
    const flows = sustained.get(stage.name)
    return {
      stage,
      heats,
      hotC,
      ...(load ? { load } : {}),
      ...(flows ? { sustained: flows } : {}),
      ...(source ? { source } : {}),
      ...(runningC === undefined ? {} : { runningC }),
    }
  })
}
