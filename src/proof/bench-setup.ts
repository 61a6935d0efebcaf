/** The coupled bench of a design: which pins, drivers, districts and decoders it puts together. */
import {
  type BenchDecoder,
  type BenchDistrict,
  type BenchSetup,
  CV29,
  narrowestWindows,
} from '../bench/index.js'
import type { FirmwareImage, SimulatedChip } from '../controller/index.js'
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import {
  allStages,
  chainOf,
  type DistrictStage,
  districtSource,
  districtTrip,
  heldRange,
} from '../power/index.js'
import { trackName } from '../track/index.js'
import { type Locomotive, resolveTraffic, trafficInputOf } from '../traffic/index.js'
import { railroadOf } from './railroad.js'

/** Capacitor behind a decoder's rectifier; no source, of the order of what decoders have. */
const DECODER_CAPACITOR = { farad: 47e-6, ohm: 0.5 }
/** What a decoder draws by itself, A; common practice, no source. */
const DECODER_AMP = 0.02
/** Wires and rails where the design describes no track, Ohm; assumed. */
const UNKNOWN_WIRING_OHM = 0.3
/** The least acknowledgement: 60 mA for 5 to 7 ms (S-9.2.3:2012 D), after a few ms of storing. */
const ACKNOWLEDGEMENT = { amp: 0.06, forUs: 6000, afterUs: 1500 }
const NO_SHORT_LIMITS_OHM = 0.05

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
  const districts = stages.flatMap((s) => districtOf(s, far.get(s.name)) ?? [])
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
    })),
    districts,
    decoders: decodersOf(loaded, districts, minVolt, (train) => {
      return report?.districts.find((d) => d.trains.includes(train))?.name
    }),
    windows: narrowestWindows(profile),
    commands: firmware?.commands,
    contactOhm: track?.limits?.contact ?? NO_SHORT_LIMITS_OHM,
    sections: railroad?.model.plan.tracks.map(trackName),
    turnouts: track?.turnouts && Object.keys(track.turnouts),
    supplies: Object.keys(power.supplies),
  }
}

function districtOf(stage: DistrictStage, farOhm = UNKNOWN_WIRING_OHM): BenchDistrict | undefined {
  const { district, driver, output } = stage
  const source = districtSource(stage, district.load?.worst ?? 1)
  if (!source || output === undefined) return undefined
  const pins = (driver.pins ?? []).filter((p) => p.output === undefined || p.output === output)
  const at = (role: string) =>
    pins.flatMap((p) =>
      p.role === role && (p.wired ?? p.fixed) !== undefined ? [(p.wired ?? p.fixed)!] : [],
    )
  const [direction] = at('direction')
  const [inverted] = at('inverted')
  const [sensePin] = at('sense')
  const chain = chainOf(stage)
  const { trip, sense } = district
  const { mostAmp } = heldRange(stage)
  return {
    name: stage.name,
    output,
    driver: { direction, inverted, enable: at('enable'), brake: at('brake') },
    electrics: {
      volt: source.nominalVolt - source.dropVolt,
      ohm: source.ohm + farOhm / 2,
      limitAmp: mostAmp,
    },
    farOhm: farOhm / 2,
    ...(chain && sense && sensePin !== undefined
      ? {
          sense: {
            pin: sensePin,
            voltPerAmp: chain.voltPerAmp,
            zeroVolt: sense.zero,
            filterUs: sense.filter,
          },
        }
      : {}),
    ...(trip?.by === 'breaker' ? { breaker: { amp: trip.current, afterUs: trip.after } } : {}),
    tripBy: trip?.by ?? 'nobody',
  }
}

function decodersOf(
  { design }: LoadedDesign,
  districts: readonly BenchDistrict[],
  minVolt: number,
  districtOfTrain: (train: string) => string | undefined,
): BenchDecoder[] {
  const { fleet, rollingStock, signal } = design
  const modeOf = (d: BenchDistrict) => signal.outputs[d.output]?.mode
  const first = districts.find((d) => modeOf(d) === 'operations')?.name
  const list: BenchDecoder[] = []
  const locomotives: readonly Locomotive[] = fleet
    ? resolveTraffic(trafficInputOf({ ...design, fleet })).locomotives
    : []
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
        29: (l.long ? CV29.longAddress : 0) | (l.steps === 14 ? 0 : CV29.steps28),
        3: l.design.acceleration,
        4: l.design.deceleration,
      },
      timeoutUs: l.design.timeout ?? 0,
      idleAmp: DECODER_AMP + (stock?.lights ?? 0) + (stock?.sound ?? 0),
      motorAmp: stock?.running ?? 0.3,
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

/** How soon the design's own figures switch off a short of so many amperes, us. */
export function plannedTripUs({ design }: LoadedDesign, district: string, amp: number): number | undefined {
  const stage = design.power && allStages(design.power, design.signal).find((s) => s.name === district)
  const trip = stage && districtTrip(stage)
  return trip && trip.by !== 'driver' ? trip.timeUs(amp, 0).worstUs : undefined
}
