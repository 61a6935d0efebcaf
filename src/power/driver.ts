/** A driver with its figures put together: the named part's, overridden by those of the design file. */
import type { FactStatus } from '../standard/index.js'
import { InputError, nearest } from '../units/index.js'
import type { DriverDesign } from './design/index.js'
import {
  type AtLimit,
  type BothHigh,
  type BothLow,
  DRIVER_PARTS,
  type DriverPart,
  driverPart,
  type FigureName,
  type SaturationPoint,
} from './parts.data.js'

/** `given`: from the design file. */
export type FigureStatus = FactStatus | 'given'

/** Plain numbers in the units their names tell; thermal resistances in K/W; absent when not known. */
export interface DriverModel extends Partial<Record<FigureName, number>> {
  name: string
  part?: DriverPart
  kind: 'mosfet' | 'bipolar'
  bridgesPerPackage: number
  saturation?: readonly SaturationPoint[]
  /** Level that an open input takes by a pull resistor inside; absent when not known. */
  inputPull?: 'low' | 'high' | 'none'
  /** What it does with its outputs while both of its inputs are low; absent when not known. */
  bothLow?: BothLow
  /** The same while both are high; absent where the design does not say: parts sold as bridges join their outputs then. */
  bothHigh?: BothHigh
  /** What it does at its own current limit; absent when not known. */
  atLimit?: AtLimit
  /** Its outputs withstand a short until a limit given in the design acts. */
  shortProof?: boolean
  /** Its inputs are isolated from the controller, which delays an edge so long, us; `undefined` where that is not known. */
  isolator?: { delayUs: { low: number; high: number } | undefined }
  status: Partial<Record<FigureName | 'saturation', FigureStatus>>
}

/** Key of the design file → figure. */
const FROM_DESIGN: Readonly<Record<string, FigureName>> = {
  supplyMin: 'supplyMinVolt',
  supplyMax: 'supplyMaxVolt',
  continuous: 'continuousAmp',
  continuousParallel: 'continuousParallelAmp',
  peak: 'peakAmp',
  peakTime: 'peakUs',
  highOhm: 'highOhm',
  highOhmMax: 'highOhmMax',
  lowOhm: 'lowOhm',
  lowOhmMax: 'lowOhmMax',
  ohmPerKelvin: 'ohmPerKelvin',
  quiescent: 'quiescentAmp',
  riseTime: 'riseUs',
  fallTime: 'fallUs',
  risingDelay: 'risingDelayUs',
  risingDelayMin: 'risingDelayMinUs',
  risingDelayMax: 'risingDelayMaxUs',
  fallingDelay: 'fallingDelayUs',
  fallingDelayMin: 'fallingDelayMinUs',
  fallingDelayMax: 'fallingDelayMaxUs',
  deadTime: 'deadUs',
  junctionMax: 'junctionMaxC',
  junctionToCase: 'junctionToCase',
  junctionToAmbient: 'junctionToAmbient',
  mirror: 'mirror',
  mirrorSpread: 'mirrorSpread',
  mirrorMax: 'mirrorMaxVolt',
  limit: 'limitAmp',
  limitMin: 'limitMinAmp',
  limitMax: 'limitMaxAmp',
  limitDelay: 'limitUs',
  inputCurrent: 'inputAmp',
  inputHigh: 'inputHighVolt',
  inputLow: 'inputLowVolt',
  inputMax: 'inputMaxVolt',
}

/** Typical figure → its extremes. */
const EXTREMES: Partial<Record<FigureName, readonly FigureName[]>> = {
  highOhm: ['highOhmMax'],
  lowOhm: ['lowOhmMax'],
  risingDelayUs: ['risingDelayMinUs', 'risingDelayMaxUs'],
  fallingDelayUs: ['fallingDelayMinUs', 'fallingDelayMaxUs'],
  limitAmp: ['limitMinAmp', 'limitMaxAmp'],
}

/** Words for an unknown part, with the nearest name. */
export function unknownPart(name: string): string {
  const names = DRIVER_PARTS.map((p) => p.name)
  const close = nearest(name, names)
  const hint = close ? `; the nearest is "${close}"` : ''
  return `no driver "${name}" is known${hint}; expected "custom" with figures, or one of ${names.join(', ')}`
}

/** @throws InputError when the part is unknown. */
export function resolveDriver(
  design: Pick<DriverDesign, 'part' | 'figures'> & Partial<Pick<DriverDesign, 'isolator'>>,
): DriverModel {
  const custom = design.part.trim().toLowerCase() === 'custom'
  const part = custom ? undefined : driverPart(design.part)
  if (!custom && !part) throw new InputError(unknownPart(design.part))
  const model: DriverModel = {
    name: part?.name ?? 'custom part',
    kind: part?.kind ?? 'mosfet',
    bridgesPerPackage: part?.bridgesPerPackage ?? 1,
    status: {},
  }
  if (part) {
    model.part = part
    if (part.inputPull) model.inputPull = part.inputPull
    if (part.bothLow) model.bothLow = part.bothLow
    if (part.atLimit) model.atLimit = part.atLimit
    if (part.saturation) {
      model.saturation = part.saturation.points
      model.status.saturation = part.saturation.status
    }
    for (const [name, fact] of Object.entries(part.figures) as [
      FigureName,
      { value: number; status: FactStatus },
    ][]) {
      model[name] = fact.value
      model.status[name] = fact.status
    }
  }
  if (design.isolator) {
    const { delayMin: low, delayMax: high } = design.isolator
    const known = low !== undefined && high !== undefined
    model.isolator = { delayUs: known ? { low: Math.min(low, high), high: Math.max(low, high) } : undefined }
  }
  const given = design.figures
  if (!given) return model
  const figures = Object.entries(FROM_DESIGN).flatMap(([key, name]) => {
    const value = (given as Record<string, unknown>)[key]
    return typeof value === 'number' ? [[name, value] as const] : []
  })
  // A typical figure of the builder's own must not stand beside the named part's extremes.
  for (const [name] of figures) for (const extreme of EXTREMES[name] ?? []) delete model[extreme]
  for (const [name, value] of figures) {
    model[name] = value
    model.status[name] = 'given'
  }
  if (given.inputPull !== undefined) model.inputPull = given.inputPull
  if (given.bothLow !== undefined) model.bothLow = given.bothLow
  if (given.bothHigh !== undefined) model.bothHigh = given.bothHigh
  if (given.atLimit !== undefined) model.atLimit = given.atLimit
  if (given.shortProof !== undefined) model.shortProof = given.shortProof
  if (given.bridgesPerPackage !== undefined) model.bridgesPerPackage = given.bridgesPerPackage
  if (given.saturation) {
    model.kind = 'bipolar'
    model.saturation = [...given.saturation]
      .map((p) => ({ atAmp: p.at, typicalVolt: p.typical, mostVolt: p.most }))
      .sort((a, b) => a.atAmp - b.atAmp)
    model.status.saturation = 'given'
  } else if (given.highOhm !== undefined && given.lowOhm !== undefined) {
    model.kind = 'mosfet'
    model.saturation = undefined
  }
  return model
}

/** Losses of a part: typical, the greatest of its data sheet or assumed, or between them (0 typical, 1 greatest). */
export type Which = 'typical' | 'most' | number

function shareOf(which: Which): number {
  return which === 'typical' ? 0 : which === 'most' ? 1 : which
}

/**
 * Voltage lost in both conducting switches at a current. MOSFET: R(T) = R25 · (1 + a·(T − 25)). Bipolar: straight
 * lines through the saturation points, prolonged at both ends; no temperature law.
 * @returns V; `undefined` when the figures are not known.
 */
export function dropVolt(
  driver: DriverModel,
  amp: number,
  junctionC = 25,
  which: Which = 'typical',
): number | undefined {
  if (driver.saturation?.length) return saturationVolt(driver.saturation, amp, which)
  const ohm = onOhm(driver, junctionC, which)
  return ohm === undefined ? undefined : ohm * amp
}

/**
 * Where only a switch's typical on-resistance is known, its greatest is taken as so many times that: MOSFETs of one type
 * spread by about a third; common practice, no source.
 */
const ASSUMED_GREATEST = 1.3
/** Rise of the on-resistance per kelvin where it is not known: the upper end of 0.4 to 0.8 %; common practice, no source. */
const ASSUMED_PER_KELVIN = 0.008
/** Spread of a sense output either way where it is not known; common practice, no source. */
const ASSUMED_MIRROR_SPREAD = 0.25

/** How far a driver's sense output may be off either way, as a share; assumed where it is not known. */
export function mirrorSpread({ mirrorSpread: known }: DriverModel): number {
  return known ?? ASSUMED_MIRROR_SPREAD
}

/** Whether a switch's greatest on-resistance is assumed, as only the typical one is known. */
export function assumesGreatest({
  saturation,
  highOhm,
  lowOhm,
  highOhmMax,
  lowOhmMax,
}: DriverModel): boolean {
  if (saturation?.length || highOhm === undefined || lowOhm === undefined) return false
  return highOhmMax === undefined || lowOhmMax === undefined
}

/**
 * On-resistance of both conducting switches, Ohm; `undefined` for bipolar parts and unknown figures. A greatest one
 * that is not known is taken as 1.3 times the typical one, its unknown rise per kelvin as 0.8 %; common practice, no
 * source.
 */
export function onOhm(driver: DriverModel, junctionC = 25, which: Which = 'typical'): number | undefined {
  if (driver.saturation?.length || driver.highOhm === undefined || driver.lowOhm === undefined)
    return undefined
  const typical = driver.highOhm + driver.lowOhm
  const most =
    (driver.highOhmMax ?? driver.highOhm * ASSUMED_GREATEST) +
    (driver.lowOhmMax ?? driver.lowOhm * ASSUMED_GREATEST)
  const cold = typical + shareOf(which) * (most - typical)
  return cold * (1 + (driver.ohmPerKelvin ?? ASSUMED_PER_KELVIN) * (junctionC - 25))
}

function saturationVolt(points: readonly SaturationPoint[], amp: number, which: Which): number {
  const share = shareOf(which)
  const volt = (p: SaturationPoint) => p.typicalVolt + share * (p.mostVolt - p.typicalVolt)
  if (amp <= 0) return 0
  if (points.length === 1) return volt(points[0]!)
  let i = 1
  while (i < points.length - 1 && points[i]!.atAmp < amp) i++
  const [a, b] = [points[i - 1]!, points[i]!]
  const slope = (volt(b) - volt(a)) / (b.atAmp - a.atAmp)
  return Math.max(0, volt(a) + slope * (amp - a.atAmp))
}
