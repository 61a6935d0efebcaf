/** Heat of one driver with all the districts it carries, and what overloads it stands. */
import { between, exactly, type Uncertain } from '../corner/index.js'
import { formatNumber } from '../units/index.js'
import type { DriverModel, Which } from './driver.js'
import {
  junction,
  junctionOf,
  settled,
  switchingWatt,
  type ThermalModel,
  timeToTemperatureUs,
  warm,
} from './heat.js'
import { type Sharing, shareCurrent } from './share.js'
import { type DistrictStage, holdsItsLimit, limitsAtOnce, ownLimit } from './stage.js'
import { limitOf } from './supply-behaviour.js'

/** Time constants where nothing better is known, us; assumed, no source: a die and its pad, a board, a sink. */
const DIE_TAU_US = 20_000
const BOARD_TAU_US = 30e6
const SINK_TAU_US = 120e6
/** Share of the way to the air that lies inside the package when the sheet does not tell; assumed, no source. */
const DIE_SHARE = 0.15

export interface HeatPart {
  what: string
  watt: number
}

export interface DriverHeat {
  /** Currents that may flow continuously, per channel, strongest first, A; absent when not known. */
  channelAmps: { district: string; totalAmp: number; sharing: Sharing }[]
  /** Of the hottest package at its junction temperature. */
  parts: HeatPart[]
  watt?: number
  junctionC?: number
  junctionMaxC?: number
  ambientC: number
  /** Junction to air as mounted, K/W. */
  thermal?: number
  missing: string[]
  /** Losses that are taken as 0 because their figures are not known: the true junction is hotter. */
  without: string[]
}

/** The heat at running currents, and what it does under others. */
export interface DriverHeatModel {
  heat: DriverHeat
  /** How long a current of the strongest channel of a district, or of the strongest of all, may last with everything
   * else as before, us; with the reason. Where losses are not known only `atMostUs`: the true time is shorter.
   * @param fromC junction at the start, °C; its running heat when absent
   * @param restUs time without heat between that and the current, us */
  standsUs(
    channelAmp: number,
    district?: string,
    fromC?: number,
    restUs?: number,
  ): { us?: number; atMostUs?: number; because: string }
  /** Hottest junction while a channel's current follows points, °C, from cold or from a temperature; Infinity when it runs away. */
  hottestC(
    points: readonly { us: number; amp: number }[],
    district?: string,
    fromC?: number,
  ): number | undefined
}

/** What the heat is worked out with: the driver's losses, its supply voltage, and its thermal resistance to the air. */
export interface HeatCorner {
  part: Which
  volt: number
  /** The true thermal resistance to the air, as a multiple of the known one; 1 when absent. */
  mounting?: number
}

/** Greatest losses, highest voltage, worst mounting. */
export function hottestCorner(stage: DistrictStage): HeatCorner {
  const { voltage, tolerance } = stage.supply
  return { part: 'most', volt: voltage * (1 + tolerance), mounting: mountingOf(stage).high }
}

/** Typical losses, lowest voltage, best mounting. */
export function coolestCorner(stage: DistrictStage): HeatCorner {
  const { voltage, tolerance } = stage.supply
  return { part: 'typical', volt: voltage * (1 - tolerance), mounting: mountingOf(stage).low }
}

/** A builder's board takes heat away less well than the maker's test board, by up to so much; assumed, no source. */
const WORSE_BOARD = 1.3

/** How far the thermal resistance to the air may lie above the known one: where only the data sheet's is known. */
export function mountingOf({ driver, driverName, model }: DistrictStage): Uncertain {
  const name = `thermal resistance of driver ${driverName} as mounted, against that of its data sheet`
  const { junctionToAmbient, sink } = driver.cooling ?? {}
  const given = junctionToAmbient !== undefined || sink !== undefined
  return given || model.status.junctionToAmbient === 'given'
    ? exactly(name, 1, '', 'the design')
    : between(
        name,
        { low: 1, high: WORSE_BOARD },
        '',
        'the data sheet is for the board of its maker; up to 30 % more is assumed',
      )
}

/** Hottest junction of a driver, °C: Infinity when it runs away, `undefined` when its figures are not known. */
export function driverJunctionC(
  stages: readonly DistrictStage[],
  sustained: ReadonlyMap<string, number | undefined>,
  ambientC: number,
  corner: HeatCorner,
): number | undefined {
  const [first] = stages
  if (!first) return undefined
  const groups = channelGroups(stages, sustained)
  const thermal = thermalOf(first.model, first.driver.cooling, corner.mounting)
  if (thermal === undefined || groups.length === 0 || shareCurrent(first.model, 1, 1) === undefined)
    return undefined
  const watt = (junctionC: number) =>
    hottestPackage(first.model, groups, junctionC, corner).reduce((sum, p) => sum + p.watt, 0)
  return junction(watt, thermal, ambientC).junctionC
}

/**
 * @param stages the districts of one driver
 * @param sustained current that may flow continuously, by district
 */
export function driverHeat(
  stages: readonly DistrictStage[],
  sustained: ReadonlyMap<string, number | undefined>,
  ambientC: number,
  atCorner?: HeatCorner,
): DriverHeatModel {
  const missing: string[] = []
  const first = stages[0]
  const model: DriverModel | undefined = first?.model
  const nothing: DriverHeatModel = {
    heat: { channelAmps: [], parts: [], ambientC, missing, without: [] },
    standsUs: () => ({ because: 'the heat of its driver is not known' }),
    hottestC: () => undefined,
  }
  if (!first || !model) return nothing
  const groups = channelGroups(stages, sustained)
  if (groups.length === 0) missing.push('the load or trip current of its districts, so its heat is not shown')
  const lossesKnown = shareCurrent(model, 1, 1) !== undefined
  if (!lossesKnown) missing.push('its on-resistance or saturation voltage, so its heat is not shown')
  if (groups.length === 0 || !lossesKnown) return nothing
  const without: string[] = []
  const corner = atCorner ?? hottestCorner(first)
  const cooling = first.driver.cooling
  const thermal = thermalOf(model, cooling, corner.mounting)
  if (thermal === undefined)
    missing.push('its thermal resistance to the air, so its junction temperature is not shown')
  if (model.riseUs === undefined || model.fallUs === undefined) {
    missing.push('rise and fall times of its outputs: its switching loss is taken as 0')
    without.push('switching (its rise and fall times are not known)')
  }
  if (model.quiescentAmp === undefined) {
    missing.push('its own current: its heat is taken as 0')
    without.push('its own current (not known)')
  }
  const packageParts = (junctionC: number) => hottestPackage(model, groups, junctionC, corner)
  const watt = (junctionC: number) => packageParts(junctionC).reduce((sum, p) => sum + p.watt, 0)
  const found = thermal === undefined ? undefined : junction(watt, thermal, ambientC)
  const at = found && Number.isFinite(found.junctionC) ? found.junctionC : (model.junctionMaxC ?? 150)
  const heat: DriverHeat = {
    ...nothing.heat,
    channelAmps: groups.map((g) => ({
      district: g.name,
      totalAmp: g.amp,
      sharing: shareCurrent(model, g.channels, g.amp, at, corner.part)!,
    })),
    parts: packageParts(at),
    watt: watt(at),
    without,
  }
  if (found) heat.junctionC = found.junctionC
  if (thermal !== undefined) heat.thermal = thermal
  if (model.junctionMaxC !== undefined) heat.junctionMaxC = model.junctionMaxC
  const rc = thermal === undefined ? undefined : thermalModel(model, cooling, thermal, ambientC)
  /** Heat of the package with the strongest channel of a district carrying `amp` and the others as they are continuously. */
  const overload = (amp: number, district?: string) => {
    const own = groups.find((g) => district !== undefined && g.districts.includes(district)) ?? groups[0]!
    const others = groups.filter((g) => g !== own)
    // The channels beside it in parallel carry their share of an overload too.
    const total = own.amp > 0 ? own.amp : own.channels
    const strongest = shareCurrent(model, own.channels, total, at, corner.part)!.amps[0]!
    const over = { ...own, amp: amp * (total / strongest) }
    const exact = (junctionC: number) =>
      hottestPackage(model, [over, ...others], junctionC, corner).reduce((sum, p) => sum + p.watt, 0)
    return straightWhere(exact, Math.min(ambientC, 0), model.junctionMaxC ?? 150)
  }
  const leastOwn = leastOwnAmp(model)
  const standsUs: DriverHeatModel['standsUs'] = (amp, district, fromC, restUs = 0) => {
    const { peakAmp, peakUs, junctionMaxC } = model
    const protectedByItself = limitsAtOnce(model)
    if (peakAmp !== undefined && amp > peakAmp && !protectedByItself) {
      return { us: 0, because: `above the ${peakAmp} A that is the absolute maximum of ${model.name}` }
    }
    const { continuousAmp } = model
    if (peakAmp !== undefined && peakUs !== undefined && !protectedByItself) {
      const because = `${model.name} withstands up to ${peakAmp} A for ${peakUs} us`
      if (continuousAmp === undefined)
        return { because: `${because}, and what it carries continuously is not given` }
      if (amp > continuousAmp) return { us: peakUs, because }
    }
    if (!rc || junctionMaxC === undefined) return { because: `the heat of ${model.name} is not known` }
    const running = found
      ? Math.min(found.watt, (junctionMaxC - ambientC) / thermal!)
      : (junctionMaxC - ambientC) / thermal!
    const before = settled(rc, fromC === undefined ? running : Math.max(0, fromC - ambientC) / thermal!)
    const start = restUs > 0 ? warm(rc, before, 0, restUs) : before
    const conducts = overload(amp, district)
    // At a limit that it holds, the supply's voltage lies across it.
    const held = amp >= leastOwn * (1 - 1e-9) ? amp * corner.volt : 0
    const us = timeToTemperatureUs(rc, held > 0 ? (c) => held + conducts(c) : conducts, junctionMaxC, start)
    if (without.length > 0) {
      return { atMostUs: us, because: `the heat of ${model.name} lacks ${without.join(' and ')}` }
    }
    const from =
      fromC === undefined
        ? 'from its running heat (two RC stages)'
        : `from ${Math.round(fromC)} °C (two RC stages)`
    if (held > 0)
      return {
        us,
        because: `held by ${model.name} at its own limit with up to ${formatNumber(corner.volt, 3)} V across it, ${Number.isFinite(us) ? `until its junction reaches ${junctionMaxC} °C` : `its junction stays below ${junctionMaxC} °C`} ${from}`,
      }
    if (us === 0)
      return {
        us,
        because: `the heat of the continuous current alone takes its junction to ${junctionMaxC} °C`,
      }
    if (!Number.isFinite(us)) return { us, because: `its junction stays below ${junctionMaxC} °C ${from}` }
    return { us, because: `until its junction reaches ${junctionMaxC} °C ${from}` }
  }
  const hottestC: DriverHeatModel['hottestC'] = (points, district, fromC = ambientC) => {
    if (!rc) return undefined
    let state = settled(rc, Math.max(0, fromC - ambientC) / thermal!)
    let hottest = junctionOf(rc, state)
    for (let i = 1; i < points.length; i++) {
      const [a, b] = [points[i - 1]!, points[i]!]
      state = warm(rc, state, overload(a.amp, district)(junctionOf(rc, state)), b.us - a.us)
      hottest = Math.max(hottest, junctionOf(rc, state))
      if (!(hottest < 1000)) return Number.POSITIVE_INFINITY
    }
    return hottest
  }
  return { heat, standsUs, hottestC }
}

/** From which current on a channel may be one that its driver holds at its own limit, A; Infinity where it never does. */
function leastOwnAmp(model: DriverModel): number {
  return holdsItsLimit(model) ? ownLimit({ model, channels: [1] })!.low : Number.POSITIVE_INFINITY
}

/**
 * The heat of a MOSFET rises in a straight line with its temperature: where that is so at some points of a span, the
 * line stands in for it there.
 */
function straightWhere(exact: (c: number) => number, fromC: number, toC: number): (c: number) => number {
  const [first, last] = [exact(fromC), exact(toC)]
  const slope = (last - first) / (toC - fromC)
  const line = (c: number) => first + slope * (c - fromC)
  const straight = [0.11, 0.29, 0.5, 0.73, 0.91].every((share) => {
    const c = fromC + share * (toC - fromC)
    return Math.abs(line(c) - exact(c)) <= 1e-12 * Math.abs(last)
  })
  return straight ? (c) => (c >= fromC && c <= toC ? line(c) : exact(c)) : exact
}

interface Group {
  name: string
  districts: string[]
  amp: number
  channels: number
}

/** Districts behind the same channels draw through them together, but no more than the supply gives. */
function channelGroups(
  stages: readonly DistrictStage[],
  sustained: ReadonlyMap<string, number | undefined>,
): Group[] {
  const groups = new Map<string, Group>()
  for (const s of stages) {
    const amp = sustained.get(s.name)
    if (amp === undefined) continue
    const most = limitOf(s.supply, s.supplyName).high
    const key = [...s.channels].sort((a, b) => a - b).join('+')
    const group = groups.get(key)
    if (group) {
      group.amp = Math.min(most, group.amp + amp)
      group.name += `, ${s.name}`
      group.districts.push(s.name)
    } else
      groups.set(key, {
        name: s.name,
        districts: [s.name],
        amp: Math.min(most, amp),
        channels: s.channels.length,
      })
  }
  return [...groups.values()].sort((a, b) => b.amp / b.channels - a.amp / a.channels)
}

/** Heat of the package that gets hottest: as many of the hottest channels as one package holds. */
function hottestPackage(
  model: DriverModel,
  groups: readonly Group[],
  junctionC: number,
  { part, volt }: HeatCorner,
): HeatPart[] {
  const channels: { conduction: number; amp: number }[] = []
  for (const g of groups) {
    const sharing = shareCurrent(model, g.channels, g.amp, junctionC, part)!
    for (const [i, amp] of sharing.amps.entries()) channels.push({ amp, conduction: sharing.watts[i]! })
  }
  channels.sort((a, b) => b.conduction - a.conduction)
  const inside = channels.slice(0, Math.max(1, Math.floor(model.bridgesPerPackage)))
  // Of a half bridge's two packages each takes half of the heat, over both polarities.
  const share = Math.min(1, model.bridgesPerPackage)
  const parts: HeatPart[] = [
    { what: 'conduction', watt: share * inside.reduce((sum, c) => sum + c.conduction, 0) },
  ]
  if (model.riseUs !== undefined && model.fallUs !== undefined) {
    const each = (amp: number) => 2 * switchingWatt(volt, amp, model.riseUs!, model.fallUs!)
    parts.push({ what: 'switching', watt: share * inside.reduce((sum, c) => sum + each(c.amp), 0) })
  }
  if (model.quiescentAmp !== undefined)
    parts.push({ what: 'its own current', watt: volt * model.quiescentAmp })
  return parts
}

function thermalOf(
  model: DriverModel,
  cooling: DistrictStage['driver']['cooling'],
  mounting = 1,
): number | undefined {
  if (cooling?.junctionToAmbient !== undefined) return cooling.junctionToAmbient
  if (cooling?.sink !== undefined && model.junctionToCase !== undefined)
    return model.junctionToCase + cooling.sink
  if (cooling?.sink !== undefined || model.junctionToAmbient === undefined) return undefined
  return model.junctionToAmbient * mounting
}

/** Two stages from junction to air as mounted; `undefined` where its thermal resistance is not known. */
export function driverThermal(
  model: DriverModel,
  cooling: DistrictStage['driver']['cooling'],
  ambientC: number,
): ThermalModel | undefined {
  const thermal = thermalOf(model, cooling)
  return thermal === undefined ? undefined : thermalModel(model, cooling, thermal, ambientC)
}

function thermalModel(
  model: DriverModel,
  cooling: DistrictStage['driver']['cooling'],
  thermal: number,
  ambientC: number,
): ThermalModel {
  const inside = Math.min(model.junctionToCase ?? DIE_SHARE * thermal, thermal)
  const tau = cooling?.timeConstant ?? (cooling?.sink !== undefined ? SINK_TAU_US : BOARD_TAU_US)
  return {
    ambientC,
    stages: [
      { kelvinPerWatt: inside, tauUs: DIE_TAU_US },
      { kelvinPerWatt: thermal - inside, tauUs: Math.max(tau, 1) },
    ],
  }
}
