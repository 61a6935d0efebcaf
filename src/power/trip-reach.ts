/**
 * What else a trip switches off. Firmware switches off by the driver's enable pin: every driver on the same pin goes off
 * too. A driver goes off whole. A supply that is held at its limit takes its other districts' voltage until the
 * trip acts, and a supply's fuse takes all of them.
 */
import { CHIPS, type ChipId, freePins } from '../controller/index.js'
import type { Finding } from '../finding/index.js'
import type { SignalDesign } from '../signal/index.js'
import type { PowerDesign } from './design/index.js'
import type { DistrictModel } from './district-model.js'
import { controllerPin, pinsServing } from './driver-pins.js'
import { POWER_FINDINGS } from './findings.data.js'
import { fuseHoldsS, fuseOpensS } from './fuse.js'
import { faultRange } from './short.js'
import { allStages, type DistrictStage } from './stage.js'
import { hasNoLimit } from './supply-behaviour.js'

export interface TripReach {
  district: string
  /** Other districts that lose power when it trips, and why. */
  stops: { district: string; because: Finding }[]
  /** Other districts whose voltage falls from the short until the trip. */
  sags: { district: string; because: Finding }[]
  /** Pins of the controller that could switch its driver apart. */
  freePins?: string[]
}

interface Controller {
  chip: string
  reservedPins?: readonly string[]
  clock?: { source?: string }
}

/**
 * @param models of the districts; without them nothing is said of fuses
 */
export function tripReach(
  power: PowerDesign,
  signal: SignalDesign | undefined,
  controller: Controller | undefined,
  models: readonly DistrictModel[] = [],
): TripReach[] {
  const stages = allStages(power, signal)
  return stages.map((stage) => {
    const others = stages.filter((s) => s !== stage)
    const blows = fuseFirst(stage, models)
    const stops = others.flatMap((other) => {
      const because =
        stopsToo(stage, other) ??
        (blows && other.supplyName === stage.supplyName
          ? POWER_FINDINGS.find('shared-fuse', { ...blows, district: stage.name, other: other.name })
          : undefined)
      return because ? [{ district: other.name, because }] : []
    })
    const sags = others
      .filter((o) => o.supplyName === stage.supplyName && !stops.some((s) => s.district === o.name))
      .map((o) => ({
        district: o.name,
        because: POWER_FINDINGS.find('shared-supply', {
          district: stage.name,
          other: o.name,
          supply: stage.supplyName,
          limited: !hasNoLimit(stage.supply.limit),
        }),
      }))
    const reach: TripReach = { district: stage.name, stops, sags }
    const shared = stops.some((s) => s.because.code === 'power/shared-enable')
    const free = shared && controller ? freeOf(power, signal, controller) : []
    if (free.length > 0) reach.freePins = free
    return reach
  })
}

/** Why the other district goes off with this one; `undefined` when it does not. */
function stopsToo(stage: DistrictStage, other: DistrictStage): Finding | undefined {
  const { trip } = stage.district
  if (!trip || trip.by === 'breaker') return undefined
  const params = { district: stage.name, other: other.name }
  if (stage.driverName === other.driverName) {
    const channels = stage.channels.some((c) => other.channels.includes(c))
    // A driver of several bridges may have an enable pin for each: then only those pins tell.
    if (channels || enablesOf(stage).length <= 1)
      return POWER_FINDINGS.find('shared-driver', { ...params, driver: stage.driverName })
  }
  if (trip.by !== 'sense') return undefined
  const own = enablesOf(stage)
  const pin = enablesOf(other).find((p) => own.includes(p))
  return pin === undefined ? undefined : POWER_FINDINGS.find('shared-enable', { ...params, pin })
}

/** The supply's fuse where a short may melt it before the district is off by its trip or its own fuse. */
function fuseFirst(
  { name, supply, supplyName, district }: DistrictStage,
  models: readonly DistrictModel[],
): { supply: string; ratingAmp: number; amp: number } | undefined {
  const source = models.find((m) => m.stage.name === name)?.source
  const ratingAmp = supply.fuse
  if (!source || ratingAmp === undefined) return undefined
  const { leastAmp, mostAmp } = faultRange(source)
  for (const amp of [mostAmp, leastAmp]) {
    const tripS = (source.trip?.timeUs(amp, 0).worstUs ?? Number.POSITIVE_INFINITY) / 1e6
    const ownS =
      district.fuse === undefined
        ? Number.POSITIVE_INFINITY
        : fuseOpensS(district.fuse, amp, district.fuseKind)
    if (fuseHoldsS(ratingAmp, amp, supply.fuseKind) < Math.min(tripS, ownS))
      return { supply: supplyName, ratingAmp, amp }
  }
  return undefined
}

/** Controller pins on the enable inputs that switch a district's driver. */
function enablesOf(stage: DistrictStage): string[] {
  return pinsServing(stage)
    .filter((p) => p.role === 'enable')
    .flatMap((p) => controllerPin(p)?.toUpperCase() ?? [])
}

function freeOf(
  power: PowerDesign,
  signal: SignalDesign | undefined,
  { chip, reservedPins, clock }: Controller,
): string[] {
  if (!Object.hasOwn(CHIPS, chip)) return []
  const taken = new Set(
    [
      ...(reservedPins ?? []),
      ...Object.values(power.drivers).flatMap((d) => (d.pins ?? []).flatMap((p) => [p.wired, p.fixed])),
      ...Object.values(signal?.outputs ?? {}).flatMap((o) => [o.pin, o.inverted]),
    ]
      .filter((p) => p !== undefined)
      .map((p) => p.toUpperCase()),
  )
  return freePins(
    chip as ChipId,
    { ...(clock?.source === undefined ? {} : { clock: clock.source }) },
    taken,
  ).slice(0, 4)
}
