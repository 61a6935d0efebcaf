/** The coupled bench of a design: which pins, drivers, districts and decoders it puts together. */
import {
  type BenchDecoder,
  type BenchDistrict,
  type BenchHeat,
  type BenchSense,
  type BenchSetup,
  CV29,
  type DriverPins,
  narrowestWindows,
  type SupplyPlan,
} from '../bench/index.js'
import type { FirmwareImage, SimulatedChip } from '../controller/index.js'
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import {
  allStages,
  type BoardPin,
  chainOf,
  controllerPin,
  type DistrictStage,
  districtSource,
  districtTrip,
  driverThermal,
  dropVolt,
  hasNoLimit,
  ONE_SIDED_FILTER_US,
  ownLimit,
  pinsServing,
  pullInside,
  type SupplyDesign,
  supplyQuantities,
  switchingWatt,
} from '../power/index.js'
import { senderLimits } from '../standard/index.js'
import { trackName } from '../track/index.js'
import { type Locomotive, resolveTraffic, scaleSpeed, trafficInputOf } from '../traffic/index.js'
import { DEFAULT_LIMIT_US } from './behaviour.js'
import { type Railroad, railroadOf } from './railroad.js'
import { serialLineOf } from './serial-line.js'

/** Capacitor behind a decoder's rectifier; no source, of the order of what decoders have. */
const DECODER_CAPACITOR = { farad: 47e-6, ohm: 0.5 }
/** What a decoder draws by itself, A; common practice, no source. */
const DECODER_AMP = 0.02
/** Wires and rails where the design describes no track, Ohm; assumed. */
const UNKNOWN_WIRING_OHM = 0.3
/** The least acknowledgement: 60 mA for 6 ms, which may be 1 ms less (S-9.2.3:2012 D), after a few ms of storing. */
const ACKNOWLEDGEMENT = { amp: 0.06, forUs: 5000, afterUs: 1500 }
const NO_SHORT_LIMITS_OHM = 0.05
/** A breaker closes again so long after it has opened. Common practice, no source: most try again within seconds. */
const BREAKER_CLOSES_US = 2e6
/** A driver that has switched itself off tries again after this; from memory, of bridges that do so at all. */
const DRIVER_TRIES_US = 4e3

/** Name of the decoder that stands on the service track. */
export const SERVICE_DECODER = 'decoder on the service track'

/** @returns why the bench cannot be set up, where it cannot. */
export function benchSetup(
  loaded: LoadedDesign,
  image: FirmwareImage,
  chip: SimulatedChip,
): BenchSetup | { missing: 'power' } {
  const { design } = loaded
  const { power, signal, controller, firmware, track } = design
  if (!power) return { missing: 'power' }
  const profile = profileOfDesign(loaded)
  const railroad = railroadOf(loaded)
  const report = railroad?.report
  const far = new Map(report?.districts.map((d) => [d.name, d.wiringOhm]))
  const stages = allStages(power, signal)
  const districts = stages.flatMap((s) => districtOf(s, power.ambient, far.get(s.name)) ?? [])
  const minVolt = profile.clauses['track-voltage-min'].receiver?.min ?? 7
  return {
    chip,
    clockHz: controller.clock.frequency,
    image,
    outputs: Object.entries(signal.outputs).map(([name, o]) => ({
      name,
      mode: o.mode,
      pin: o.pin,
      inverted: o.inverted,
      cutoutUs: o.cutout ? cutoutUs(loaded) : undefined,
    })),
    districts,
    decoders: decodersOf(loaded, districts, minVolt, railroad),
    windows: narrowestWindows(profile),
    commands: firmware?.commands,
    line: serialLineOf(loaded),
    latencyUs: design.traffic?.limit ?? DEFAULT_LIMIT_US,
    contactOhm: track?.limits?.contact ?? NO_SHORT_LIMITS_OHM,
    sections: railroad?.model.plan.tracks.map(trackName),
    turnouts: track?.turnouts && Object.keys(track.turnouts),
    supplies: Object.entries(power.supplies).map(([name, s]) => supplyOf(name, s)),
    railroad: railroad?.model,
  }
}

/** What lasts longer than twice the longest cut-out is none. */
function cutoutUs(loaded: LoadedDesign): number {
  const { max = 0 } = senderLimits(profileOfDesign(loaded, true).clauses['cutout-end'], 'operations')
  return 2 * max
}

function supplyOf(name: string, s: SupplyDesign): SupplyPlan {
  const { limit, shortCurrent } = supplyQuantities(s, name)
  // A limit that is not known is taken as that of the rating, which holds the current at the least that is sure.
  const none = hasNoLimit(s.limit)
  return {
    name,
    volt: s.voltage,
    ohm: s.resistance,
    limit: none ? 'none' : s.limit === 'foldback' || s.limit === 'hiccup' ? s.limit : 'constant',
    limitAmp: none ? Number.POSITIVE_INFINITY : (limit.usual ?? limit.low),
    shortAmp: s.limit === 'foldback' ? (shortCurrent.usual ?? shortCurrent.low) : undefined,
    hiccupOnUs: s.hiccupOn,
    hiccupOffUs: s.hiccupOff,
    farad: s.capacitance,
    fuseAmp: s.fuse,
    fuseKind: s.fuseKind,
  }
}

function districtOf(
  stage: DistrictStage,
  ambientC: number,
  farOhm = UNKNOWN_WIRING_OHM,
): BenchDistrict | undefined {
  const { district, output, supply, supplyName, model } = stage
  const source = districtSource(stage, district.load?.worst ?? 1)
  if (!source || output === undefined) return undefined
  const { trip } = district
  const own = ownLimit(stage)
  const byDriver = trip?.by === 'driver' && own
  return {
    name: stage.name,
    output,
    supply: supplyName,
    driver: driverPinsOf(stage),
    dropVolt: source.dropVolt,
    ohm: source.ohm - supply.resistance,
    // Where the driver itself trips, its limit is the threshold and holds nothing.
    holdsAmp: byDriver ? Number.POSITIVE_INFINITY : (own?.usual ?? Number.POSITIVE_INFINITY),
    delayUs: Math.max(model.risingDelayUs ?? 0, model.fallingDelayUs ?? 0),
    farOhm,
    sense: senseOf(stage),
    breaker:
      trip?.by === 'breaker'
        ? { amp: trip.current, afterUs: trip.after, closesUs: BREAKER_CLOSES_US }
        : undefined,
    ownTrip: byDriver
      ? { amp: own.usual, afterUs: model.limitUs ?? trip.after, closesUs: DRIVER_TRIES_US }
      : undefined,
    fuseAmp: district.fuse,
    fuseKind: district.fuseKind,
    heat: heatOf(stage, ambientC),
    tripBy: trip?.by ?? 'nobody',
  }
}

function driverPinsOf(stage: DistrictStage): DriverPins {
  const { model } = stage
  const pins = pinsServing(stage)
  const wired = (p: BoardPin) => p.wired ?? p.fixed
  const at = (role: BoardPin['role'], active?: 'high' | 'low') =>
    pins.flatMap((p) => {
      const pin = wired(p)
      return p.role === role && !p.tied && pin !== undefined && (active ?? p.active) === p.active ? [pin] : []
    })
  const pulls: Record<string, 0 | 1> = {}
  const inside = pullInside(pins, model)
  for (const p of pins) {
    const pin = wired(p)
    const pull = p.pull ?? inside
    const isInput = p.role !== 'sense' && p.role !== 'fault' && p.role !== 'other'
    if (isInput && pin !== undefined && (pull === 'high' || pull === 'low'))
      pulls[pin] = pull === 'high' ? 1 : 0
  }
  return {
    direction: at('direction')[0],
    inverted: at('inverted')[0],
    enable: at('enable', 'high'),
    enableLow: at('enable', 'low'),
    brake: at('brake'),
    neverOn: pins.some(
      (p) =>
        (p.role === 'enable' && p.tied !== undefined && p.tied !== p.active) ||
        (p.role === 'brake' && p.tied === 'high'),
    ),
    bothLow: model.bothLow,
    bothHigh: model.bothHigh,
    fault: at('fault')[0],
    pulls,
  }
}

function senseOf(stage: DistrictStage): BenchSense | undefined {
  const { sense } = stage.district
  const chain = chainOf(stage)
  const wired = stage.sensePin && controllerPin(stage.sensePin)
  if (!sense || !chain || wired === undefined) return undefined
  return {
    pin: wired,
    voltPerAmp: chain.voltPerAmp,
    zeroVolt: sense.zero,
    filterUs: sense.filter,
    oneSided: sense.sees === 'one' && sense.filter < ONE_SIDED_FILTER_US,
    noiseVolt: sense.noise,
  }
}

/** Two RC stages, and the losses of one channel times those in a package. */
function heatOf(stage: DistrictStage, ambientC: number): BenchHeat | undefined {
  const { model, driver, channels, supply } = stage
  const thermal = driverThermal(model, driver.cooling, driver.cooling?.ambient ?? ambientC)
  const { junctionMaxC, bridgesPerPackage, riseUs = 0, fallUs = 0, quiescentAmp = 0 } = model
  if (!thermal || junctionMaxC === undefined || dropVolt(model, 1) === undefined) return undefined
  const n = channels.length
  const inside = Math.min(n, Math.max(1, Math.floor(bridgesPerPackage)))
  const share = Math.min(1, bridgesPerPackage)
  return {
    model: thermal,
    limitC: junctionMaxC,
    watt: (amp, junctionC) => {
      const each = amp / n
      const conduction = each > 0 ? dropVolt(model, each, junctionC)! * each : 0
      const switching = 2 * switchingWatt(supply.voltage, each, riseUs, fallUs)
      return share * inside * (conduction + switching) + supply.voltage * quiescentAmp
    },
  }
}

function decodersOf(
  { design }: LoadedDesign,
  districts: readonly BenchDistrict[],
  minVolt: number,
  railroad: Railroad | undefined,
): BenchDecoder[] {
  const model = railroad?.model
  const districtOfTrain = (train: string) =>
    railroad?.report.districts.find((d) => d.trains.includes(train))?.name
  const { fleet, rollingStock, signal } = design
  const modeOf = (d: BenchDistrict) => signal.outputs[d.output]?.mode
  const first = districts.find((d) => modeOf(d) === 'operations')?.name
  const list: BenchDecoder[] = []
  const input = fleet && trafficInputOf({ ...design, fleet })
  const locomotives: readonly Locomotive[] = input ? resolveTraffic(input).locomotives : []
  const ratio = input?.ratio ?? 1
  const positions = new Map(
    model?.plan.stands.flatMap((s) =>
      s.train && s.track >= 0 ? [[s.name, { track: s.track, mm: s.atMm }]] : [],
    ),
  )
  for (const l of locomotives) {
    const stock = rollingStock?.[l.key]
    const district = districtOfTrain(l.key) ?? first
    if (district === undefined) continue
    const { stayAlive } = stock ?? {}
    list.push({
      name: l.name,
      district,
      address: l.address,
      cvs: {
        ...(l.long ? { 17: 192 + (l.address >> 8), 18: l.address & 255 } : { 1: l.address }),
        // Decoders come with direct current allowed, and few builders turn it off: common practice, no source.
        29: (l.long ? CV29.longAddress : 0) | (l.steps === 14 ? 0 : CV29.steps28) | CV29.analog,
        3: l.design.acceleration,
        4: l.design.deceleration,
      },
      timeoutUs: l.design.timeout ?? 0,
      functions: l.design.functions,
      idleAmp: DECODER_AMP + (stock?.sound ?? 0),
      motorAmp: stock?.running ?? 0.3,
      stallAmp: stock?.stall,
      at: positions.get(l.key),
      topMmPerS: scaleSpeed(l.design.topSpeed, ratio),
      runOutMm: l.design.runOut,
      lengthMm: l.trainMm ?? stock?.length,
      tailAmp: stock?.lights,
      capacitors: [
        DECODER_CAPACITOR,
        ...(stayAlive ? [{ farad: stayAlive.capacitance, ohm: stayAlive.resistance }] : []),
      ],
      minVolt,
      acknowledgement: ACKNOWLEDGEMENT,
    })
  }
  const service = districts.find((d) => modeOf(d) === 'service')
  if (service)
    list.push({
      name: SERVICE_DECODER,
      district: service.name,
      address: 3,
      cvs: {},
      timeoutUs: 0,
      idleAmp: DECODER_AMP,
      motorAmp: 0.3,
      capacitors: [DECODER_CAPACITOR],
      minVolt,
      acknowledgement: ACKNOWLEDGEMENT,
    })
  return list
}

/**
 * How soon a short of so many amperes must be off, us: as the design's own figures have it, and on a service track no later
 * than the standard lets it carry so much.
 * @param slower so much longer a period of the controller's clock is, share
 */
export function plannedTripUs(
  loaded: LoadedDesign,
  district: string,
  amp: number,
  slower: number,
): number | undefined {
  const { power, signal } = loaded.design
  const clock = { share: slower, says: 'as drawn' }
  const stage = power && allStages(power, signal, clock).find((s) => s.name === district)
  if (!stage) return undefined
  const trip = districtTrip(stage)
  const plannedUs = trip && trip.by !== 'driver' ? trip.timeUs(amp, 0).worstUs : undefined
  const profile = profileOfDesign(loaded)
  const isService = signal.outputs?.[stage.output ?? '']?.mode === 'service'
  const { sender, unbound } = profile.clauses['service-current']
  const most = unbound ? undefined : sender.max
  const isAbove = amp > (profile.rules['service-current-limit']?.value ?? Number.POSITIVE_INFINITY)
  return isService && isAbove && most !== undefined ? Math.min(most, plannedUs ?? most) : plannedUs
}
