/**
 * A district's source with everything about it that is uncertain: supply, its limit, the driver cold and hot, its own
 * limit, and the trip. Power stage and track ask the same model, so that both judge one and the same source.
 */
import { between, exactly, type Quantities, type Uncertain, type Values, within } from '../corner/index.js'
import { type DistrictTrip, districtTrip } from './district-trip.js'
import { assumesGreatest, dropVolt } from './driver.js'
import { memo } from './memo.js'
import { chainOf, type DistrictStage, isShortProof, limitsAtOnce, ownLimit } from './stage.js'
import { freeAmp, hasNoLimit, supplyAmp, supplyQuantities } from './supply-behaviour.js'

export type SourceQuantity =
  | 'volt'
  | 'limit'
  | 'shortCurrent'
  | 'hiccupOn'
  | 'beside'
  | 'part'
  | 'junction'
  | 'ownLimit'
  | 'limitLasts'
  | 'trip'
  | 'delay'
  | 'clock'
  | 'capacitor'
  | 'response'
  | 'peak'
  | 'holdUp'

/** A driver that was just switched on, in a room of 20 °C; common practice, no source. */
export const COLD_C = 20

/** What a fault draws out of a source. */
export interface FaultCurrent {
  amp: number
  heldBy: 'supply' | 'driver' | 'resistance'
  /** How long it lasts before supply or driver switch off by themselves, us; Infinity where they do not. */
  lastsUs: number
  /** Left at the supply, V. */
  supplyVolt: number
}

export interface SourceModel {
  district: string
  quantities: Quantities<SourceQuantity>
  trip?: DistrictTrip
  /** Below this voltage of the supply the controller that trips loses its own, V; absent where it does not depend on it. */
  controllerVolt?: number
  /** At its own limit the driver switches off and stays off. */
  latches: boolean
  /** Into an outside resistance, Ohm: 0 is a short at the terminals. */
  fault(values: Values<SourceQuantity>, outsideOhm?: number): FaultCurrent
  /** What flows at first, before any limit of the supply acts: through its resistance, or from its output capacitors, A. */
  pulseAmp(values: Values<SourceQuantity>, outsideOhm?: number): number
}

/** What flows to the others meanwhile, A: through the same channels, and from the same supply. */
export interface BesideAmps {
  channelAmp: number
  supplyAmp: number
}

/**
 * @param hotC junction of the driver at what may flow continuously, °C: its own solved temperature
 * @param beside usual currents of the other districts; they may run or not
 * @returns `undefined` when the driver's losses are not known
 */
export function sourceModel(
  stage: DistrictStage,
  hotC: number,
  ambientC: number,
  beside: BesideAmps,
): SourceModel | undefined {
  const { model, supply, channels, supplyName, name } = stage
  if (dropVolt(model, 1) === undefined) return undefined
  const n = channels.length
  const trip = districtTrip(stage)
  const own = ownLimit(stage)
  const driver = `driver ${stage.driverName}`
  const coldC = Math.min(ambientC, COLD_C)
  const quantities: Record<SourceQuantity, Uncertain> = {
    ...supplyQuantities(supply, supplyName),
    beside:
      beside.channelAmp + beside.supplyAmp > 0
        ? between('share of what the other districts draw', { low: 0, high: 1 }, 'share', 'they run or not')
        : exactly('share of what the other districts draw', 0, 'share', 'none shares its supply'),
    part: between(
      `losses of ${driver} from typical (0) to greatest (1)`,
      { low: 0, high: 1, usual: 0 },
      '',
      assumesGreatest(model)
        ? `only the typical losses of ${model.name} are known; the greatest are assumed`
        : `data sheet of ${model.name}`,
    ),
    junction: between(
      `junction of ${driver}`,
      { low: coldC, high: Math.max(coldC, hotC), usual: Math.max(coldC, hotC) },
      '°C',
      'just switched on, or hot from what may flow continuously',
    ),
    ownLimit: own
      ? between(`own current limit of ${driver}`, own, 'A', own.source)
      : exactly(`own current limit of ${driver}`, Number.POSITIVE_INFINITY, 'A', 'none is known'),
    limitLasts: limitLasts(stage),
    trip: trip
      ? {
          ...between(
            `trip current of ${name}`,
            { low: trip.lowAmp, high: trip.highAmp, usual: trip.nominalAmp },
            'A',
            trip.bandFrom,
          ),
          ...(trip.saturates ? { unknown: true as const } : {}),
        }
      : exactly(`trip current of ${name}`, Number.POSITIVE_INFINITY, 'A', 'no trip'),
    delay: trip
      ? between(`delay of the trip of ${name}`, trip.delayUs, 'us', 'tolerance of its delay')
      : exactly(`delay of the trip of ${name}`, 0, 'us', 'no trip'),
    capacitor: outputCapacitors(stage),
    response: limitResponse(stage),
    peak: peakOf(stage),
    holdUp: holdUp(stage),
    clock: trip?.clock
      ? within(
          'clock period of the controller, against the nominal one',
          1,
          trip.clock.share,
          '',
          trip.clock.says,
        )
      : exactly('clock period of the controller, against the nominal one', 1, '', 'no clock counts its trip'),
  }
  const senseOhm = chainOf(stage)?.seriesOhm ?? 0
  const pulseAmp: SourceModel['pulseAmp'] = (v, outsideOhm = 0) =>
    supplyAmp(
      v.capacitor > 0 ? { ...supply, resistance: 0 } : supply,
      { ...v, limit: Number.POSITIVE_INFINITY },
      (amp) => (senseOhm + outsideOhm) * amp + dropVolt(model, amp / n, v.junction, v.part)!,
    ).amp
  const lostIn =
    (part: number, junction: number, share: number, outsideOhm: number) =>
    (amp: number): number =>
      (senseOhm + outsideOhm) * amp + dropVolt(model, (amp + share * beside.channelAmp) / n, junction, part)!
  const besideAmp = (share: number) => share * beside.channelAmp + share * beside.supplyAmp
  // Many corners differ only in what no resistance decides.
  const freeAtTerminals = memo((volt: number, part: number, junction: number, share: number) =>
    freeAmp(supply, volt, lostIn(part, junction, share, 0), besideAmp(share)),
  )
  const fault: SourceModel['fault'] = (v, outsideOhm = 0) => {
    const lost = lostIn(v.part, v.junction, v.beside, outsideOhm)
    const others = besideAmp(v.beside)
    const unlimited =
      outsideOhm === 0
        ? freeAtTerminals(v.volt, v.part, v.junction, v.beside)
        : freeAmp(supply, v.volt, lost, others)
    const given = supplyAmp(supply, v, lost, others, unlimited)
    // Where the driver's own limit is what trips, it does not hold the current below its own threshold.
    const held = trip?.by === 'driver' ? Number.POSITIVE_INFINITY : v.ownLimit
    const free = (amp: number) => Math.max(0, v.volt - supply.resistance * (amp + others))
    if (given.amp > held)
      return { amp: held, heldBy: 'driver', lastsUs: v.limitLasts, supplyVolt: free(held) }
    return {
      supplyVolt: given.limited ? Math.min(free(given.amp), lost(given.amp)) : free(given.amp),
      amp: given.amp,
      heldBy: given.limited ? 'supply' : 'resistance',
      lastsUs: given.limited ? v.hiccupOn : Number.POSITIVE_INFINITY,
    }
  }
  return {
    district: name,
    quantities,
    fault,
    pulseAmp,
    latches: model.atLimit === 'latches',
    ...(trip ? { trip } : {}),
    ...(trip?.by === 'sense' && stage.controller ? { controllerVolt: stage.controller.leastVolt } : {}),
  }
}

/** How long a controller on the same supply runs on in a short, for what trips by firmware. */
function holdUp({ controller, district }: DistrictStage): Uncertain {
  const name = 'time that the controller runs on without its supply'
  if (!controller || district.trip?.by !== 'sense')
    return exactly(name, NEVER, 'us', 'it does not depend on this supply')
  if (controller.holdUpUs === undefined)
    return {
      ...between(name, { low: 0, high: NEVER }, 'us', 'no capacitor before its regulator is given'),
      unknown: true,
    }
  return within(name, controller.holdUpUs, 0.2, 'us', 'the capacitor before its regulator, 20 % either way')
}

/**
 * How long the driver gives its own limit before it switches off by itself. Where nobody knows, or where it tries again and
 * again, a slower trip may see all of it or nothing.
 */
function limitLasts(stage: DistrictStage): Uncertain {
  const { model, driverName, district } = stage
  const name = `time that driver ${driverName} gives its own limit`
  const { atLimit, limitUs } = model
  if (district.trip?.by === 'driver') return exactly(name, NEVER, 'us', 'its limit is the trip')
  if (model.limitAmp === undefined || atLimit === 'holds') return exactly(name, NEVER, 'us', 'it holds it')
  if (atLimit === 'latches' && limitUs !== undefined) return exactly(name, limitUs, 'us', 'it stays off')
  const source =
    atLimit === 'retries'
      ? 'it switches off and retries, which a trip may not detect: test a short on the bench, or let the driver be the trip'
      : atLimit === 'latches'
        ? 'how soon it switches off is not known'
        : 'whether it holds the current, retries or stays off is not known'
  return { ...between(name, { low: limitUs ?? 0, high: NEVER }, 'us', source), unknown: true }
}

const NEVER = Number.POSITIVE_INFINITY

/** What a channel of the driver withstands for an instant; one that limits its own current protects itself. */
function peakOf(stage: DistrictStage): Uncertain {
  const { model, driverName } = stage
  const name = `peak current of driver ${driverName}`
  const { peakAmp } = model
  const limitsItself = model.part?.limitsItself === true && model.status.peakAmp !== 'given'
  if (peakAmp !== undefined && limitsAtOnce(model)) {
    if (limitsItself) return exactly(name, NEVER, 'A', `internally limited: data sheet of ${model.name}`)
    const source = 'what it survives between its stated peak and its own limit is not given'
    return { ...between(name, { low: peakAmp, high: NEVER, usual: peakAmp }, 'A', source), unknown: true }
  }
  if (model.peakAmp !== undefined) return exactly(name, model.peakAmp, 'A', `data sheet of ${model.name}`)
  if (limitsAtOnce(model)) {
    if (isShortProof(model)) return exactly(name, NEVER, 'A', 'it limits its own current')
    const source = 'what it survives until its own limit acts is not given'
    return { ...between(name, { low: leastOwnAmp(stage), high: NEVER }, 'A', source), unknown: true }
  }
  return { ...between(name, { low: model.continuousAmp ?? 0, high: NEVER }, 'A', 'not given'), unknown: true }
}

/** The least that its own limit lets through a channel for longer, A. */
function leastOwnAmp({ model }: DistrictStage): number {
  return ownLimit({ model, channels: [1] })?.low ?? 0
}

/**
 * The capacitors behind a supply's limit. They matter to a driver that does not hold its current back by itself; where a
 * supply has no limit anyway, what it gives is judged without them.
 */
function outputCapacitors(stage: DistrictStage): Uncertain {
  const { supply, supplyName, model } = stage
  return limitsAtOnce(model) && supply.capacitance === undefined
    ? exactly(`output capacitors of supply ${supplyName}`, 0, 'F', 'the driver holds its current back')
    : capacitorsBehind(stage)
}

/** The same for a part that a driver's own limit does not protect. */
export function capacitorsBehind({ supply, supplyName }: DistrictStage): Uncertain {
  const name = `output capacitors of supply ${supplyName}`
  if (supply.capacitance !== undefined) return exactly(name, supply.capacitance, 'F', 'the design')
  if (hasNoLimit(supply.limit)) return exactly(name, 0, 'F', 'nothing holds the supply back either')
  return { ...between(name, { low: 0, high: Number.POSITIVE_INFINITY }, 'F', 'not given'), unknown: true }
}

/** Slower limits than this are not taken for one where nobody gives their response, us; assumed, no source. */
const SLOWEST_RESPONSE_US = 1000

/** How long a supply gives what resistances let through before its limit acts; as its capacitors, it matters only to some drivers. */
function limitResponse(stage: DistrictStage): Uncertain {
  const { model, supplyName, supply } = stage
  const name = `time until the limit of supply ${supplyName} acts`
  if (limitsAtOnce(model)) return exactly(name, 0, 'us', 'the driver holds its current back')
  const response = responseOf(stage)
  const { limitAmp, limitUs } = model
  if (limitAmp === undefined || limitUs === undefined) return response
  // Until its own slow limit acts, a supply without one gives what resistances let through.
  if (hasNoLimit(supply.limit) || supply.limit === 'unknown')
    return exactly(`time until driver ${stage.driverName} limits its current`, limitUs, 'us', 'its limit')
  return {
    ...response,
    low: Math.min(response.low, limitUs),
    usual: Math.min(response.usual, limitUs),
    high: Math.min(response.high, limitUs),
  }
}

/** The same for a part that a driver's own limit does not protect. */
export function responseOf({ supply, supplyName }: DistrictStage): Uncertain {
  const name = `time until the limit of supply ${supplyName} acts`
  if (hasNoLimit(supply.limit) || supply.limit === 'unknown')
    return exactly(name, 0, 'us', 'no limit is counted on')
  if (supply.limitResponse !== undefined) return exactly(name, supply.limitResponse, 'us', 'the design')
  return {
    ...between(name, { low: 0, high: SLOWEST_RESPONSE_US }, 'us', 'not given, up to 1 ms assumed'),
    unknown: true,
  }
}

/** A source's voltage as one interval: for those who need no more than that. */
export function supplyVolt(stage: DistrictStage): Uncertain {
  const { supply, supplyName } = stage
  return within(`voltage of supply ${supplyName}`, supply.voltage, supply.tolerance, 'V', 'its tolerance')
}

/**
 * What holds the current of a short besides resistance, A: supply and the driver's own limit, from the least that is
 * sure to the most that may be; Infinity where nothing does. Where the driver itself trips, its limit is the threshold
 * and holds nothing.
 */
export function heldRange(stage: DistrictStage): { leastAmp: number; mostAmp: number } {
  const { limit, shortCurrent } = supplyQuantities(stage.supply, stage.supplyName)
  const own = stage.district.trip?.by === 'driver' ? undefined : ownLimit(stage)
  return {
    // Where it folds back, how much it leaves depends on where the short is: `foldbackAmp` tells.
    leastAmp: Math.min(
      limit.low,
      stage.supply.limit === 'foldback' ? limit.low : shortCurrent.low,
      own?.low ?? Number.POSITIVE_INFINITY,
    ),
    mostAmp: Math.min(limit.high, own?.high ?? Number.POSITIVE_INFINITY),
  }
}

/**
 * The current that a foldback supply leaves into a resistance: more, the farther away the short is. Undefined for
 * supplies that do not fold back.
 * @param ohm from the supply to the short and back, with driver and sense
 * @param most at the most it may leave, or at the least
 */
export function foldbackAmp(stage: DistrictStage, ohm: number, most: boolean): number | undefined {
  const { supply } = stage
  if (supply.limit !== 'foldback') return undefined
  const q = supplyQuantities(supply, stage.supplyName)
  const end = most ? 'high' : 'low'
  const v = {
    volt: q.volt[end],
    limit: q.limit[end],
    shortCurrent: q.shortCurrent[end],
    hiccupOn: q.hiccupOn[end],
  }
  return supplyAmp(supply, v, (amp) => ohm * amp).amp
}
