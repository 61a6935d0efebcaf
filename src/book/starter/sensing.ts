/** Switches of the drivers and current monitoring: which pins, which counts, how often. */
import type { SimulatedChip } from '../../controller/index.js'
import type { LoadedDesign } from '../../design/index.js'
import type { Finding } from '../../finding/index.js'
import {
  allStages,
  chainOf,
  controllerPin,
  type DistrictStage,
  pinsServing,
  thresholdFor,
} from '../../power/index.js'
import { cString, listed } from './c-text.js'
import { type ConverterPlan, converterPlan } from './converter.js'
import { type DetectorPlan, detectorPlan } from './detector.js'
import { STARTER_FINDINGS as SAYS } from './findings.data.js'
import type { CutoutPlan, Outputs, Refuse } from './plan.js'
import type { SerialPlan } from './serial.js'

export interface SwitchPlan {
  /** `TRACK`, `TRACK_2`, `SERVICE`. */
  id: string
  service: boolean
  districts: string[]
  /** Pins with the level at which the driver is on. */
  pins: { pin: string; high: boolean }[]
  says: string
}

export interface SensePlan {
  id: string
  district: string
  /** The district's name as a C string. */
  cText: string
  switchId: string
  pin: string
  channel: number
  referenceVolt: number
  /** At the converter with no current, V. */
  zeroVolt: number
  /** What trips, A; counts outside of low to high are too much. */
  tripAmp: number
  low: number
  high: number
  ampPerCount: number
  /** Readings in a row that trip, as the converter makes them. */
  readings: number
  every: number
  blanking: number
  /** Up to so many readings in a row those in a cut-out count on; 0 where there is none. */
  cutoutMost: number
  /** From the first reading above to the switch, us. */
  tripUs: number
  /** Where the figures are from, where the design did not say. */
  assumed?: string
}

export interface Sensing extends ConverterPlan {
  senses: SensePlan[]
  /** The sense of the service track, by id. */
  service: string | undefined
  detector: DetectorPlan | undefined
  /** Readings of all senses between a trip and the next try; how many tries. */
  retryReadings: number
  retries: number
  /** Readings of all senses after a cut-out that do not show yet what flows; 0 where no operations track is watched. */
  quietReadings: number
}

export interface PowerPlan {
  switches: SwitchPlan[]
  sensing: Sensing | undefined
  findings: Finding[]
}

/** S-9.2.3:2012 B: no more than 250 mA for longer than 100 ms on a service track. */
const SERVICE_AMP = 0.25
/** Readings for so long leave room within the 100 ms for the one that has just missed the current, and for a slow clock. */
const SERVICE_US = 95e3
/** Between a trip and the next try, s, and how often it is tried. Common practice, no source. */
const RETRY_S = 1
const RETRIES = 3
const LONGEST_COUNT = 65_535

export function planPower(
  loaded: LoadedDesign,
  chip: SimulatedChip | undefined,
  { track, service }: Outputs,
  serial: SerialPlan,
  refuse: Refuse,
): PowerPlan {
  const { power, signal } = loaded.design
  const findings: Finding[] = []
  if (!power) {
    if (service)
      refuse(
        ['signal', 'outputs', service.name],
        'the design has no power stage, so nothing can see an acknowledgement; expected "power" with a current sense on the service track',
      )
    findings.push(SAYS.find('no-power-stage', {}))
    return { switches: [], sensing: undefined, findings }
  }
  const stages = allStages(power, signal)
  const own = [track.name, service?.name]
  for (const s of stages)
    if (s.output === undefined || !own.includes(s.output))
      refuse(['power', 'districts', s.name], 'no output feeds this district; expected the name of one')
  const isService = (s: DistrictStage) => s.output === service?.name
  const switches = switchesOf(stages, isService, refuse)
  refuseClashes(switches, stages, { track, service }, serial, refuse)
  const switchOf = (name: string) => switches.find((s) => s.districts.includes(name))
  const watched = stages.filter((s) => isService(s) || s.district.trip?.by === 'sense')
  for (const s of stages)
    if (!watched.includes(s)) findings.push(...unwatched(s, switchOf(s.name) !== undefined))
  if (service && !stages.some(isService))
    refuse(
      ['power', 'districts'],
      `no district on the output "${service.name}"; expected one, or nothing can see an acknowledgement`,
    )
  for (const s of watched)
    if (!switchOf(s.name))
      refuse(
        ['power', 'drivers', s.driverName],
        `the firmware has to switch off ${s.name}, and no enable or brake input of its driver is wired to the controller; expected one`,
      )
  if (watched.length === 0) return { switches, sensing: undefined, findings }
  const converter = converterPlan(chip, loaded, watched, refuse)
  const senses = watched.map((s) => sensePlan(s, isService(s), switchOf(s.name)!, converter, refuse))
  numbered(senses)
  const quiet = quietReadings(
    watched.filter((s) => !isService(s)),
    converter.rate,
  )
  if (track.cutout)
    for (const s of senses)
      if (s.id !== 'SERVICE')
        s.cutoutMost = cutoutMost(s, track.cutout, quiet, { rate: converter.rate, of: senses.length })
  const slowestS = Math.max(...senses.map((s) => s.tripUs)) / 1e6
  // It stays off for longer than a trip takes, or the short would flow for half of the time.
  const retryS = Math.max(RETRY_S, 10 * slowestS)
  const retryReadings = Math.round(retryS * converter.rate)
  const fits = retryReadings <= LONGEST_COUNT
  const stage = watched.find(isService)
  const sense = senses[watched.findIndex(isService)]
  const detector = stage && sense && detectorPlan(stage, sense, converter, refuse)
  if (stage && !stage.district.acknowledgement)
    findings.push(SAYS.find('acknowledgement-assumed', { district: stage.name }))
  if (detector && Math.abs(detector.rate / detector.wantedRate - 1) > 0.1)
    findings.push(
      SAYS.find('other-rate', { district: stage!.name, wanted: detector.wantedRate, rate: detector.rate }),
    )
  for (const s of senses)
    if (s.assumed !== undefined)
      findings.push(SAYS.find('trip-assumed', { district: s.district, amp: s.tripAmp }))
  return {
    switches,
    sensing: {
      ...converter,
      senses,
      service: sense?.id,
      detector,
      retryReadings: fits ? retryReadings : LONGEST_COUNT,
      retries: fits ? RETRIES : 0,
      quietReadings: quiet,
    },
    findings,
  }
}

/** The reading that was under way when the cut-out ended, and those until the slowest filter shows 95 % again. */
function quietReadings(stages: readonly DistrictStage[], rate: number): number {
  if (stages.length === 0) return 0
  const filterUs = Math.max(...stages.map((s) => s.district.sense?.filter ?? 0))
  return Math.min(250, 1 + Math.ceil(((3 * filterUs) / 1e6) * rate))
}

/** Most readings in a row that those in a cut-out may make: no trip unless half of its readings are real ones. */
function cutoutMost(
  { readings, every }: SensePlan,
  { startUs, endUs }: CutoutPlan,
  quiet: number,
  { rate, of }: { rate: number; of: number },
): number {
  const hidden = Math.ceil((((endUs - startUs) / 1e6) * rate + quiet) / of / every)
  return readings >= 2 * hidden ? readings : readings - 1
}

/** A district that this firmware does not watch: who does, or that nobody does. */
function unwatched(s: DistrictStage, switched: boolean): Finding[] {
  const by = s.district.trip?.by
  if (by === undefined) return [SAYS.find('no-trip', { district: s.name, switched })]
  return [
    SAYS.find('trip-elsewhere', {
      district: s.name,
      by: by === 'breaker' ? 'its electronic breaker' : 'its driver',
    }),
  ]
}

type Pin = NonNullable<DistrictStage['driver']['pins']>[number]

/** Pins of a driver that go to the controller, for the output and the channels of the district. */
function wiredPins(stage: DistrictStage, roles: readonly Pin['role'][]): Pin[] {
  return pinsServing(stage).filter((p) => roles.includes(p.role) && pinOf(p) !== undefined)
}

const pinOf = (p: Pin) => controllerPin(p)?.toUpperCase()

function switchesOf(
  stages: readonly DistrictStage[],
  isService: (s: DistrictStage) => boolean,
  refuse: Refuse,
): SwitchPlan[] {
  const byPins = new Map<string, SwitchPlan>()
  for (const s of stages) {
    const pins = wiredPins(s, ['enable', 'brake']).map((p) => ({
      pin: pinOf(p)!,
      high: p.role === 'enable' ? p.active === 'high' : false,
    }))
    if (pins.length === 0) continue
    const key = pins
      .map((p) => `${p.pin}${p.high}`)
      .sort()
      .join()
    const known = byPins.get(key)
    if (known && known.service !== isService(s))
      refuse(
        ['power', 'drivers', s.driverName],
        `${s.name} is switched by the same pins as ${listed(known.districts)}, and the service track must go off by itself; expected a pin of its own`,
      )
    if (known) known.districts.push(s.name)
    else byPins.set(key, { id: '', service: isService(s), districts: [s.name], pins, says: '' })
  }
  const list = [...byPins.values()]
  let tracks = 0
  for (const s of list) {
    if (!s.service) tracks++
    s.id = s.service ? 'SERVICE' : tracks === 1 ? 'TRACK' : `TRACK_${tracks}`
    s.says = listed(s.districts)
  }
  const services = list.filter((s) => s.service)
  if (services.length > 1)
    refuse(
      ['power', 'districts', services[1]!.districts[0]!],
      'a second switch on the service track; expected one',
    )
  return list
}

/** No pin has two duties, the signal's and the serial line's included. */
function refuseClashes(
  switches: readonly SwitchPlan[],
  stages: readonly DistrictStage[],
  { track, service }: Outputs,
  serial: SerialPlan,
  refuse: Refuse,
): void {
  const duties = new Map<string, string>()
  const claim = (pin: string | undefined, duty: string, path: (string | number)[]) => {
    if (pin === undefined) return
    const other = duties.get(pin)
    if (other !== undefined && other !== duty)
      refuse(path, `${pin} is wanted for ${other} and for ${duty}; expected a pin of its own for each`)
    duties.set(pin, duty)
  }
  for (const pin of serial.pins) claim(pin, 'the serial line', ['controller'])
  for (const o of [track, service]) {
    if (!o) continue
    const path = ['signal', 'outputs', o.name]
    claim(o.option.pin.toUpperCase(), `the signal of ${o.name}`, path)
    claim(o.option.inverted?.toUpperCase(), `the opposite signal of ${o.name}`, path)
  }
  for (const s of switches)
    for (const { pin } of s.pins) claim(pin, `switching ${s.says}`, ['power', 'districts', s.districts[0]!])
  for (const s of stages)
    if (s.sensePin) claim(pinOf(s.sensePin), `the current of ${s.name}`, ['power', 'drivers', s.driverName])
}

function sensePlan(
  s: DistrictStage,
  service: boolean,
  by: SwitchPlan,
  converter: ConverterPlan,
  refuse: Refuse,
): SensePlan {
  const path = ['power', 'districts', s.name]
  const sense = s.district.sense
  const pin = s.sensePin
  const why = service ? 'its acknowledgements are seen by the current' : 'the firmware has to trip it'
  if (!sense) refuse(path, `${why}, and the district has no current sense; expected "sense"`)
  if (!pin)
    refuse(
      ['power', 'drivers', s.driverName],
      `${why}, and no pin carries the current of ${s.name} to the controller; expected a pin with the role "sense"`,
    )
  const chain = chainOf(s)
  if (!chain)
    refuse([...path, 'sense'], 'the sense has no known gain; expected its resistance or sensitivity')
  const channel = converter.channelOf(pinOf(pin)!)
  if (channel === undefined)
    refuse(
      ['power', 'drivers', s.driverName],
      `${pinOf(pin)} has no analog input; expected a pin that has one`,
    )
  const trip = s.district.trip?.by === 'sense' ? s.district.trip : undefined
  refuseFilters(trip, path, refuse)
  const tripAmp = trip?.current ?? SERVICE_AMP
  const counts = 2 ** sense.bits
  const perVolt = counts / sense.reference
  // The power stage trips at this count and above, the firmware above the one below it.
  const high = thresholdFor(chain, tripAmp).count - 1
  const zero = Math.round(sense.zero * perVolt)
  const rise = high - zero
  if (rise < 2 || high >= counts - 1)
    refuse(
      [...path, 'trip'],
      `${tripAmp} A is count ${high} of a converter that goes to ${counts - 1}, so ${high >= counts - 1 ? 'it never trips' : 'noise would trip it'}; expected a sense whose range suits the trip`,
    )
  const { every, rate } = converter.pace(sense.rate)
  const seconds = trip ? trip.samples / sense.rate : SERVICE_US / 1e6
  const readings = Math.max(1, Math.floor(seconds * rate * (1 + 1e-9)))
  if (readings > LONGEST_COUNT)
    refuse([...path, 'trip', 'samples'], 'so many samples do not fit; expected less than 65535')
  return {
    id: '',
    district: s.name,
    cText: cString(s.name),
    switchId: by.id,
    pin: pinOf(pin)!,
    channel,
    referenceVolt: sense.reference,
    zeroVolt: sense.zero,
    tripAmp,
    // A sense with its zero in the middle shows a short of either direction.
    low: sense.zero > 0 ? Math.max(0, zero - rise) : 0,
    high,
    ampPerCount: 1 / (chain.voltPerAmp * perVolt),
    readings,
    every,
    cutoutMost: 0,
    blanking: Math.min(LONGEST_COUNT, Math.floor(((trip?.blanking ?? 0) / 1e6) * rate)),
    tripUs: (readings / rate) * 1e6,
    ...(trip ? {} : { assumed: 'S-9.2.3:2012 B' }),
  }
}

/** The watch counts readings in a row; what the design filters otherwise would trip at another time. */
function refuseFilters(
  trip: NonNullable<DistrictStage['district']['trip']> | undefined,
  path: readonly (string | number)[],
  refuse: Refuse,
): void {
  if (!trip) return
  if ((trip.of ?? trip.samples) !== trip.samples)
    refuse(
      [...path, 'trip', 'of'],
      `${trip.samples} of ${trip.of}; this firmware trips after readings in a row, expected as many as "samples"`,
    )
  if (trip.average !== 1)
    refuse(
      [...path, 'trip', 'average'],
      'a moving average; this firmware trips on single readings, expected 1',
    )
  if (trip.smoothing !== 1)
    refuse([...path, 'trip', 'smoothing'], 'smoothing; this firmware trips on single readings, expected 1')
}

/** `TRACK`, `TRACK_2`, `SERVICE`: as many senses as there are. */
function numbered(senses: SensePlan[]): void {
  const seen = new Map<string, number>()
  for (const s of senses) {
    const stem = s.switchId === 'SERVICE' ? 'SERVICE' : 'TRACK'
    const n = (seen.get(stem) ?? 0) + 1
    seen.set(stem, n)
    s.id = n === 1 ? stem : `${stem}_${n}`
  }
}
