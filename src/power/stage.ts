/** The parts of the power stage joined by their names, and what the track sees of them. */
import type { SignalDesign } from '../signal/index.js'
import { InputError } from '../units/index.js'
import type { BoardPin, DistrictDesign, DriverDesign, PowerDesign, SupplyDesign } from './design/index.js'
import type { ClockShare } from './district-trip.js'
import { type DriverModel, dropVolt, onOhm, resolveDriver } from './driver.js'
import { type Sensed, sensePins, sensorOwner } from './driver-pins.js'
import { type ControllerFeed, controllerFeed } from './regulator.js'
import { type SenseChain, senseChain } from './sense.js'

export interface DistrictStage {
  name: string
  district: DistrictDesign
  driverName: string
  driver: DriverDesign
  model: DriverModel
  supplyName: string
  supply: SupplyDesign
  /** Output of the station it repeats. */
  output?: string
  channels: number[]
  /** Of the driver's pins, the one that carries the current of this district to the controller. */
  sensePin?: BoardPin
  /** District before this one that is behind the same sensor, as both are behind the same channels. */
  sensorOf?: string
  /** Clock of the controller, by which firmware samples and delays; absent where the controller is not known. */
  clock?: ClockShare
  /** The controller is fed from the same supply. */
  controller?: ControllerFeed
}

/** The only name, or the one given. */
function pick(given: string | undefined, names: string[]): string | undefined {
  return given ?? (names.length === 1 ? names[0] : undefined)
}

/** Districts that a driver feeds. */
export function districtsOfDriver(power: PowerDesign, driver: string): DistrictDesign[] {
  const names = Object.keys(power.drivers)
  return Object.values(power.districts).filter((d) => pick(d.driver, names) === driver)
}

/**
 * A district with its driver and supply.
 * @throws InputError when a name leads nowhere; `checkPower` says where in the file
 */
export function districtStage(
  power: PowerDesign,
  name: string,
  signal?: SignalDesign,
  clock?: ClockShare,
): DistrictStage {
  const district = Object.hasOwn(power.districts, name) ? power.districts[name] : undefined
  if (!district) {
    throw new InputError(
      `no power district "${name}"; expected one of ${Object.keys(power.districts).join(', ')}`,
    )
  }
  const driverName = pick(district.driver, Object.keys(power.drivers))
  const driver =
    driverName !== undefined && Object.hasOwn(power.drivers, driverName)
      ? power.drivers[driverName]
      : undefined
  if (driverName === undefined || !driver) {
    throw new InputError(
      `district "${name}": name its driver, one of ${Object.keys(power.drivers).join(', ')}`,
    )
  }
  const supplyName = pick(driver.supply, Object.keys(power.supplies))
  const supply =
    supplyName !== undefined && Object.hasOwn(power.supplies, supplyName)
      ? power.supplies[supplyName]
      : undefined
  if (supplyName === undefined || !supply) {
    throw new InputError(
      `driver "${driverName}": name its supply, one of ${Object.keys(power.supplies).join(', ')}`,
    )
  }
  const stage: DistrictStage = {
    name,
    district,
    driverName,
    driver,
    model: resolveDriver(driver),
    supplyName,
    supply,
    channels: district.channels ?? [1],
    ...(clock ? { clock } : {}),
  }
  const { controller } = power
  if (controller?.from === 'track' && pick(controller.supply, Object.keys(power.supplies)) === supplyName)
    stage.controller = controllerFeed(
      controller,
      supply.voltage * (1 - supply.tolerance) - supply.resistance * supply.rating,
    )
  const output = outputOf(district, signal)
  if (output !== undefined) stage.output = output
  const beside = sensedOf(power, driverName, signal)
  const sensePin = sensePins(beside).get(name)
  if (sensePin) stage.sensePin = sensePin
  const sensorOf = sensorOwner(beside, name)
  if (sensorOf !== undefined) stage.sensorOf = sensorOf
  return stage
}

const outputOf = (district: DistrictDesign, signal?: SignalDesign) =>
  pick(district.output, Object.keys(signal?.outputs ?? {}))

/** The districts of a driver, for who reads which of them. */
export function sensedOf(power: PowerDesign, driverName: string, signal?: SignalDesign): Sensed[] {
  const names = Object.keys(power.drivers)
  return Object.entries(power.districts).flatMap(([name, district]): Sensed[] => {
    if (pick(district.driver, names) !== driverName) return []
    const output = outputOf(district, signal)
    return [
      {
        name,
        district,
        driver: power.drivers[driverName]!,
        channels: district.channels ?? [1],
        ...(output === undefined ? {} : { output }),
      },
    ]
  })
}

export function allStages(power: PowerDesign, signal?: SignalDesign, clock?: ClockShare): DistrictStage[] {
  return Object.keys(power.districts).map((name) => districtStage(power, name, signal, clock))
}

export function chainOf(stage: DistrictStage): SenseChain | undefined {
  if (!stage.district.sense) return undefined
  const chain = senseChain(stage.district.sense, stage.model)
  return 'problem' in chain ? undefined : chain
}

/** The driver's path as a straight line about a current: a fixed drop and a resistance, both channels together. */
export function driverLine(
  model: DriverModel,
  channels: number,
  amp: number,
  junctionC: number,
  which: 'typical' | 'most' = 'most',
): { volt: number; ohm: number } | undefined {
  const ohm = onOhm(model, junctionC, which)
  if (ohm !== undefined) return { volt: 0, ohm: ohm / channels }
  const each = Math.max(amp / channels, 0.01)
  const a = dropVolt(model, each, junctionC, which)
  const b = dropVolt(model, each * 1.01, junctionC, which)
  if (a === undefined || b === undefined) return undefined
  const slope = (b - a) / (each * 0.01)
  return { volt: a - slope * each, ohm: slope / channels }
}

/** What flows beside a district's own current and pulls its voltage down. */
export interface Beside {
  /** Through the same channels of the driver, and the supply, A. */
  channelAmp: number
  /** From the same supply through other channels, A. */
  supplyAmp: number
}

export const NOTHING_BESIDE: Beside = { channelAmp: 0, supplyAmp: 0 }

/** What two districts share: the channels of a driver (and so the supply), the supply alone, or nothing. */
export function sharedBetween(a: DistrictStage, b: DistrictStage): 'channels' | 'supply' | undefined {
  if (a.name === b.name || a.supplyName !== b.supplyName) return undefined
  const same = a.driverName === b.driverName && a.channels.some((c) => b.channels.includes(c))
  return same ? 'channels' : 'supply'
}

/** Where only a typical current limit is known, it may lie so far either way; assumed, no source. */
const LIMIT_SPREAD = 0.3

/**
 * A limit of a driver's own that acts within this is the part's protection, of which its sheet says that it withstands
 * shorts: over-current detectors act after about 2.5 us (TI SLVA505A, from memory), here up to twice that. Of a named part that is known,
 * and its own time counts up to the longer one, as for large switches. A slower limit does not protect it.
 */
const AT_ONCE_US = { given: 5, named: 20 }

/** The driver limits its current before that can harm it. */
export function limitsAtOnce({ limitAmp, limitUs = 0, status }: DriverModel): boolean {
  const isNamed = status.limitAmp !== 'given' && status.limitUs !== 'given'
  return limitAmp !== undefined && limitUs <= (isNamed ? AT_ONCE_US.named : AT_ONCE_US.given)
}

/**
 * It withstands a short until its own limit acts. Of a named part that limits its current the short-circuit protection of its data
 * sheet is the promise, detector's delay included; of a limit that the design gives, only the design can say so.
 */
export function isShortProof({ shortProof, status }: DriverModel): boolean {
  return shortProof ?? (status.limitAmp !== 'given' && status.limitUs !== 'given')
}

/** Until its own limit acts, us; the longest that counts as at once where that is not known. */
export function limitTakesUs({ limitUs, status }: DriverModel): number {
  return limitUs ?? (status.limitAmp === 'given' ? AT_ONCE_US.given : AT_ONCE_US.named)
}

/** The driver goes on conducting at its own limit: what is left of the supply's voltage then lies across it. */
export function holdsItsLimit({ limitAmp, atLimit }: DriverModel): boolean {
  return limitAmp !== undefined && atLimit === 'holds'
}

/** The driver's own current limit, all its channels together, A; `undefined` where none is known. */
export function ownLimit({
  model,
  channels,
}: Pick<DistrictStage, 'model' | 'channels'>):
  | { low: number; usual: number; high: number; source: string }
  | undefined {
  const { limitAmp: typical, limitMinAmp: least, limitMaxAmp: most } = model
  if (typical === undefined) return undefined
  const low = least ?? typical * (1 - LIMIT_SPREAD)
  const high = most ?? (least === undefined ? typical * (1 + LIMIT_SPREAD) : 2 * typical - least)
  const n = channels.length
  const source =
    least === undefined && most === undefined
      ? `only the typical limit of ${model.name} is known; 30 % either way is assumed`
      : `limits of ${model.name}`
  return { low: n * Math.min(low, typical), usual: n * typical, high: n * Math.max(high, typical), source }
}

/** What the other districts of the stage draw beside one of them, as `amps` tells for each. */
export function besideOf(
  stage: DistrictStage,
  stages: readonly DistrictStage[],
  amps: (district: string) => number,
): Beside {
  const beside = { channelAmp: 0, supplyAmp: 0 }
  for (const other of stages) {
    const shared = sharedBetween(stage, other)
    if (shared) beside[shared === 'channels' ? 'channelAmp' : 'supplyAmp'] += amps(other.name)
  }
  return beside
}

/** What the wires of a district start from: a voltage behind a resistance, with a limit. */
export interface DistrictSource {
  district: string
  /** Supply without this district's load, V; lowered by what flows beside it, except the highest. */
  lowVolt: number
  nominalVolt: number
  highVolt: number
  /** Fixed drop of a bipolar driver, V. */
  dropVolt: number
  /** Supply, driver and sense in series, Ohm. */
  ohm: number
  /** Where the supply stops giving more, A; Infinity when that is not known. */
  limitAmp: number
  limitKind: SupplyDesign['limit']
}

/**
 * The source of a district about a current, with the driver at `junctionC`.
 * @returns `undefined` when the driver's losses are not known
 */
export function districtSource(
  stage: DistrictStage,
  amp: number,
  junctionC = 100,
  beside: Beside = NOTHING_BESIDE,
): DistrictSource | undefined {
  const line = driverLine(stage.model, stage.channels.length, amp + beside.channelAmp, junctionC)
  if (!line) return undefined
  const { supply } = stage
  const senseOhm = chainOf(stage)?.seriesOhm ?? 0
  const lost =
    supply.resistance * (beside.supplyAmp + beside.channelAmp) + (line.ohm + senseOhm) * beside.channelAmp
  return {
    district: stage.name,
    lowVolt: Math.max(0, supply.voltage * (1 - supply.tolerance) - lost),
    nominalVolt: Math.max(0, supply.voltage - lost),
    highVolt: supply.voltage * (1 + supply.tolerance),
    dropVolt: line.volt,
    ohm: supply.resistance + line.ohm + senseOhm,
    limitAmp: supply.limitCurrent ?? Number.POSITIVE_INFINITY,
    limitKind: supply.limit,
  }
}
