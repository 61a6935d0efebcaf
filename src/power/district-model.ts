/** A district with everything that its clauses are judged by; made once, asked by the power stage and by the track. */
import type { Uncertain } from '../corner/index.js'
import type { SignalDesign } from '../signal/index.js'
import { dependence, Remembered } from '../units/index.js'
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
  /** What may flow continuously; absent when neither trip nor load tells. */
  sustained?: Uncertain
  /** Absent when the driver's losses are not known. */
  source?: SourceModel
  heats: HeatModels
  /** Air around its driver and fuse, °C. */
  ambientC: number
  /** Junction of its driver at what may flow continuously, greatest losses, °C; a warm guess where it is not known. */
  hotC: number
  /** At the usual load, °C; absent when not known. */
  runningC?: number
}

/** Where a junction's temperature is not known its resistance is taken at this, °C; assumed, no source. */
const WARM_C = 100
/** A driver hotter than this has long switched off, °C; assumed, no source. */
const HOTTEST_C = 175

/** Models made last, by supply. */
const lastModels = new Remembered<DistrictModel[]>(48)

/**
 * Districts of one supply weigh on each other, those of different supplies do not: each supply's are modelled by themselves, and
 * are the same objects as before where nothing of them has changed.
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
  const models = new Map<string, DistrictModel>()
  for (const supply of new Set(stages.map((s) => s.supplyName))) {
    const own = stages.filter((s) => s.supplyName === supply)
    const on = dependence([power.ambient, own.map(({ model: _, ...s }) => [s, loadOf.get(s.name)])])
    for (const m of lastModels.get(on, () => supplyModels(own, loadOf, power.ambient)))
      models.set(m.stage.name, m)
  }
  return stages.map((s) => models.get(s.name)!)
}

/**
 * @param stages of one supply
 * @param wanted districts to model; all when absent
 */
export function supplyModels(
  stages: readonly DistrictStage[],
  loadOf: ReadonlyMap<string, DistrictLoad | undefined>,
  ambient: number,
  wanted: (stage: DistrictStage) => boolean = () => true,
): DistrictModel[] {
  const sustained = new Map(stages.map((s) => [s.name, sustainedOf(s, loadOf.get(s.name))]))
  const ends = (end: 'low' | 'high') => new Map(stages.map((s) => [s.name, sustained.get(s.name)?.[end]]))
  const drivers = new Map<string, { heats: HeatModels; hotC: number; runningC?: number }>()
  for (const first of stages.filter(wanted)) {
    if (drivers.has(first.driverName)) continue
    const own = stages.filter((s) => s.driverName === first.driverName)
    const ambientC = first.driver.cooling?.ambient ?? ambient
    const most = driverHeat(own, ends('high'), ambientC, hottestCorner(first))
    const typical = driverHeat(own, ends('low'), ambientC, coolestCorner(first))
    const { junctionC, junctionMaxC } = most.heat
    const running = new Map(own.map((s) => [s.name, loadOf.get(s.name)?.runningAmp]))
    const runningC = driverJunctionC(own, running, ambientC, hottestCorner(first))
    drivers.set(first.driverName, {
      heats: { most, typical },
      hotC:
        junctionC === undefined
          ? WARM_C
          : Math.max(ambientC, Math.min(junctionC, junctionMaxC ?? HOTTEST_C, HOTTEST_C)),
      ...(runningC === undefined || !Number.isFinite(runningC) ? {} : { runningC }),
    })
  }
  return stages.filter(wanted).map((stage) => {
    const { heats, hotC, runningC } = drivers.get(stage.driverName)!
    const ambientC = stage.driver.cooling?.ambient ?? ambient
    const beside = besideOf(stage, stages, (other) => loadOf.get(other)?.runningAmp ?? 0)
    const source = sourceModel(stage, hotC, ambientC, beside)
    const load = loadOf.get(stage.name)
    const flows = sustained.get(stage.name)
    return {
      stage,
      heats,
      ambientC,
      hotC,
      ...(load ? { load } : {}),
      ...(flows ? { sustained: flows } : {}),
      ...(source ? { source } : {}),
      ...(runningC === undefined ? {} : { runningC }),
    }
  })
}
