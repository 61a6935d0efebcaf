/**
 * Single faults that a power stage can have: each is a change of its resolved districts, so that the faulted stage is judged by
 * the same model as the sound one.
 */
import type { DriverModel } from '../driver.js'
import { ONE_SIDED_FILTER_US } from '../sense.js'
import type { DistrictStage } from '../stage.js'
import { hasNoLimit } from '../supply-behaviour.js'

export type StageFaultKind =
  | 'off-pin-stuck'
  | 'firmware-hangs'
  | 'sense-open'
  | 'sense-high'
  | 'shunt-bridged'
  | 'amplifier-dead'
  | 'reference-high'
  | 'filter-open'
  | 'switch-open'
  | 'driver-shorted'
  | 'fault-line-open'
  | 'breaker-stuck'
  | 'fuse-bridged'
  | 'supply-fuse-bridged'
  | 'limit-gone'
  | 'reservoir-open'
  | 'shunt-open'
  | 'capacitor-open'
  | 'terminator-shorted'

export interface StageFault {
  kind: StageFaultKind
  /** District, driver or supply that has it. */
  part: string
  /** Kind and part: `off-pin-stuck:main`. */
  id: string
  /** What it is, in words: `off pin of driver main stuck on`. */
  words: string
  /** Districts that it concerns. */
  concerns(stage: DistrictStage): boolean
  /** One of those districts with the fault. */
  faulted(stage: DistrictStage): DistrictStage
  /** Whether the trip is sure to see a short with it; when absent, the faulted stage tells. */
  isTripUnsure?: boolean
  /** It trips at once, without any current. */
  tripsAtOnce?: boolean
  /** Nothing flows any more; it is the current sense that may be harmed. */
  opens?: 'shunt'
}

type District = DistrictStage['district']

const withDistrict = (stage: DistrictStage, change: Partial<District>): DistrictStage => ({
  ...stage,
  district: { ...stage.district, ...change },
})

function without<T extends object, K extends keyof T>(of: T, ...keys: K[]): Omit<T, K> {
  const rest = { ...of }
  for (const key of keys) delete rest[key]
  return rest
}

function withoutTrip(stage: DistrictStage): DistrictStage {
  return { ...stage, district: without(stage.district, 'trip') as District }
}

/** @param logicVolt supply of the controller, V; absent when not known */
export function stageFaults(stages: readonly DistrictStage[], logicVolt: number | undefined): StageFault[] {
  const list: StageFault[] = []
  const once = new Set<string>()
  const add = (fault: Omit<StageFault, 'id'>) => {
    const id = `${fault.kind}:${fault.part}`
    if (!once.has(id)) list.push({ ...fault, id })
    once.add(id)
  }
  for (const stage of stages) {
    for (const fault of senseFaults(stage, logicVolt)) add(fault)
    for (const fault of driverFaults(stage)) add(fault)
    for (const fault of supplyFaults(stage)) add(fault)
  }
  return list
}

type Fault = Omit<StageFault, 'id'>

function senseFaults(stage: DistrictStage, logicVolt: number | undefined): Fault[] {
  const { name, district, driverName } = stage
  const { trip, sense } = district
  const concerns = (s: DistrictStage) => s.name === name
  if (trip?.by === 'breaker')
    return [
      {
        kind: 'breaker-stuck',
        part: name,
        words: `breaker of district ${name} stuck closed`,
        concerns,
        faulted: withoutTrip,
      },
    ]
  if (trip?.by !== 'sense' || !sense) return []
  const tripless = (kind: StageFaultKind, words: string): Fault => ({
    kind,
    part: name,
    words,
    concerns,
    faulted: withoutTrip,
  })
  const tripsByFirmware = (s: DistrictStage) => s.district.trip?.by === 'sense'
  const faults: Fault[] = [
    {
      kind: 'firmware-hangs',
      part: 'controller',
      words: 'the firmware hangs with its outputs on',
      concerns: tripsByFirmware,
      faulted: withoutTrip,
    },
    {
      kind: 'off-pin-stuck',
      part: driverName,
      words: `off pin of driver ${driverName} stuck on`,
      concerns: (s) => s.driverName === driverName && tripsByFirmware(s),
      faulted: withoutTrip,
    },
    tripless('sense-open', `current-sense line of district ${name} open, so that it reads nothing`),
    {
      kind: 'sense-high',
      part: name,
      words: `current-sense line of district ${name} shorted to the logic supply`,
      concerns,
      faulted: (s) => s,
      tripsAtOnce: true,
    },
  ]
  if (sense.kind === 'shunt')
    faults.push({
      kind: 'shunt-bridged',
      part: name,
      words: `shunt of district ${name} bridged`,
      concerns,
      faulted: (s) => ({ ...s, district: without(s.district, 'trip', 'sense') as District }),
    })
  if (sense.kind === 'shunt')
    faults.push({
      kind: 'shunt-open',
      part: name,
      words: `shunt of district ${name} burnt open`,
      concerns,
      faulted: (s) => s,
      opens: 'shunt',
    })
  if (sense.kind === 'hall') faults.push(tripless('amplifier-dead', `Hall sensor of district ${name} dead`))
  else if (sense.gain !== 1 || sense.amplifierSupply !== undefined)
    faults.push(
      tripless('amplifier-dead', `sense amplifier of district ${name} dead, so that it gives nothing`),
    )
  if (logicVolt !== undefined && sense.reference < 0.95 * logicVolt)
    faults.push({
      kind: 'reference-high',
      part: name,
      words: `converter reference of district ${name} at the voltage of the logic supply`,
      concerns,
      faulted: (s) => withReference(s, logicVolt),
    })
  if (sense.filter > 0)
    faults.push({
      kind: 'filter-open',
      part: name,
      words: `filter capacitor at the current sense of district ${name} open`,
      concerns,
      faulted: (s) => withDistrict(s, { sense: { ...s.district.sense!, filter: 0 } }),
    })
  return faults
}

/** The firmware compares with the same count, which stands for more current. */
function withReference(stage: DistrictStage, volt: number): DistrictStage {
  const sense = stage.district.sense!
  const trip = stage.district.trip!
  const times = volt / sense.reference
  const perAmp =
    sense.kind === 'hall'
      ? (sense.sensitivity ?? 0) * sense.gain
      : (sense.kind === 'mirror' ? (stage.model.mirror ?? 0) : 1) * (sense.resistance ?? 0) * sense.gain
  const more = perAmp > 0 ? (sense.zero * (times - 1)) / perAmp : 0
  return withDistrict(stage, {
    sense: { ...sense, reference: volt },
    trip: { ...trip, current: trip.current * times + more },
  })
}

function driverFaults({ driverName, driver, district, model }: DistrictStage): Fault[] {
  const concerns = (s: DistrictStage) => s.driverName === driverName
  const faults: Fault[] = [
    {
      kind: 'driver-shorted',
      part: driverName,
      words: `driver ${driverName} failed short, with one output stuck`,
      concerns,
      faulted: failedShort,
    },
  ]
  if (district.trip?.by === 'sense' && district.sense)
    faults.push({
      kind: 'switch-open',
      part: driverName,
      words: `one half of driver ${driverName} conducts in one polarity only`,
      concerns,
      faulted: oneSided,
      // Without a filter a sample meets the polarity that conducts by chance.
      ...(district.sense.sees === 'both' && district.sense.filter < ONE_SIDED_FILTER_US
        ? { isTripUnsure: true }
        : {}),
    })
  const tells = driver.pins?.some((p) => p.role === 'fault')
  if (district.trip?.by === 'driver' && tells && model.atLimit !== 'latches')
    faults.push({
      kind: 'fault-line-open',
      part: driverName,
      words: `fault output of driver ${driverName} open`,
      concerns: (s) => concerns(s) && s.district.trip?.by === 'driver',
      faulted: withoutTrip,
    })
  return faults
}

/** It neither limits its current nor switches off, and is no longer there to be protected. */
function failedShort(stage: DistrictStage): DistrictStage {
  const { trip } = stage.district
  const model: DriverModel = {
    ...without(stage.model, 'limitAmp', 'limitMinAmp', 'limitMaxAmp', 'atLimit', 'peakAmp', 'junctionMaxC'),
    ...(stage.model.highOhm === undefined ? {} : { highOhm: 0, highOhmMax: 0 }),
    ...(stage.model.saturation
      ? {
          saturation: stage.model.saturation.map((p) => ({
            ...p,
            typicalVolt: p.typicalVolt / 2,
            mostVolt: p.mostVolt / 2,
          })),
        }
      : {}),
  }
  const left = { ...stage, model }
  return trip && trip.by !== 'breaker' ? withoutTrip(left) : left
}

/** A filter sees half of a current that flows in one polarity only; a sense of one polarity may see nothing. */
function oneSided(stage: DistrictStage): DistrictStage {
  const { trip, sense } = stage.district
  if (trip?.by !== 'sense' || !sense) return stage
  if (sense.sees === 'one') return withoutTrip(stage)
  return sense.filter < ONE_SIDED_FILTER_US
    ? stage
    : withDistrict(stage, { trip: { ...trip, current: 2 * trip.current } })
}

function supplyFaults(stage: DistrictStage): Fault[] {
  const { name, district, supply, supplyName, controller } = stage
  const ofSupply = (s: DistrictStage) => s.supplyName === supplyName
  const faults: Fault[] = []
  if (district.fuse !== undefined)
    faults.push({
      kind: 'fuse-bridged',
      part: name,
      words: `${district.fuseKind === 'resettable' ? 'resettable fuse' : 'fuse'} of district ${name} bridged`,
      concerns: (s) => s.name === name,
      faulted: (s) => ({ ...s, district: without(s.district, 'fuse', 'fuseI2t') as District }),
    })
  if (supply.fuse !== undefined)
    faults.push({
      kind: 'supply-fuse-bridged',
      part: supplyName,
      words: `${supply.fuseKind === 'resettable' ? 'resettable fuse' : 'fuse'} of supply ${supplyName} bridged`,
      concerns: ofSupply,
      faulted: (s) => ({ ...s, supply: without(s.supply, 'fuse') as DistrictStage['supply'] }),
    })
  if ((supply.capacitance ?? 0) > 0)
    faults.push({
      kind: 'capacitor-open',
      part: supplyName,
      words: `output capacitors of supply ${supplyName} open`,
      concerns: ofSupply,
      faulted: (s) => ({ ...s, supply: { ...s.supply, capacitance: 0 } }),
    })
  if (!hasNoLimit(supply.limit) && supply.limit !== 'unknown')
    faults.push({
      kind: 'limit-gone',
      part: supplyName,
      words: `current limit of supply ${supplyName} gone`,
      concerns: ofSupply,
      faulted: (s) => ({
        ...s,
        supply: {
          ...(without(s.supply, 'limitCurrent', 'shortCurrent', 'hiccupOn', 'hiccupOff') as typeof s.supply),
          limit: 'none',
        },
      }),
    })
  if (controller && (controller.reservoirFarad ?? 0) > 0 && district.trip?.by === 'sense')
    faults.push({
      kind: 'reservoir-open',
      part: 'controller',
      words: 'capacitor before the controller’s regulator open',
      concerns: (s) => s.controller !== undefined && s.district.trip?.by === 'sense',
      faulted: (s) => ({ ...s, controller: { ...s.controller!, reservoirFarad: 0, holdUpUs: 0 } }),
    })
  return faults
}
