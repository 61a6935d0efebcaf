/** What each hypothesis expects of each reading: a figure with its spread, or chances of words. */
import { chainOf, referenceTolerance } from '../../power/index.js'
import { INSTRUMENTS, type Instrument, type InstrumentId, type MeterError } from '../data/instruments.data.js'
import { type Quantity, READINGS, type ReadingKind } from '../data/readings.data.js'
import { type Effects, NO_EFFECT, readingKey } from '../faults/effects.js'
import { acrossGap } from './across-gap.js'
import { type Fed, fed } from './fed.js'
import type { Place, Station } from './station.js'
import type { FaultyWiring } from './wiring.js'
import type { Span } from './wiring-edit.js'

/** A reading that can be taken. */
export interface Spot {
  key: string
  place: Place
  quantity: Quantity
  kind: ReadingKind
}

/** The figure between two corners of the model. `supply`: in proportion to that supply's true voltage. */
export interface FigureSpan {
  span: Span
  supply?: string
}

export type Expected = FigureSpan | { words: Readonly<Record<string, number>> }

/** A word is misjudged in so many of a hundred, beside plainly wrong readings; common practice, no source. */
export const UNSURE = 0.02
/** Bench supply in place of the station: the least a builder has. */
const BENCH = { volt: 5, amp: 0.5 } as const
/**
 * Into a short every reading is a few joiners and wires; where the corners cancel, those of one bench still do not. Half-width
 * as a share of the reading; assumed, no source.
 */
const LEAST_SPREAD = 0.1
/** A coin and its contacts, Ohm; common practice, no source. */
const COIN_OHM = 0.03
/** Packets that an output sends in a second, all addresses together, at least and at most; from bits of 116 and 200 us. */
const PACKETS = { low: 60, high: 160 } as const
/** Overshoot with a terminator, %; common practice, no source. */
const DAMPED = { low: 0, high: 25 } as const

/** All readings that the design allows. */
export function spotsOf(station: Station): Spot[] {
  return station.places.flatMap((place) =>
    (Object.entries(READINGS) as [Quantity, ReadingKind][])
      .filter(([, kind]) => kind.at === place.kind)
      .map(([quantity, kind]) => ({ key: readingKey(place.text, quantity), place, quantity, kind }))
      .filter((spot) => expectedOf(station, NO_EFFECT, station.wiring?.with([]), spot) !== undefined),
  )
}

/** @returns `undefined` where the design tells nothing to expect: no such reading is allowed. */
export function expectedOf(
  station: Station,
  effects: Effects,
  wiring: FaultyWiring | undefined,
  spot: Spot,
): Expected | undefined {
  const expected = plainly(station, effects, wiring, spot)
  if (!expected) return undefined
  if ('words' in expected) {
    const own = effects.words.get(spot.key)
    return { words: chances(spot.kind.words!, own ?? expected.words) }
  }
  const change = effects.figures.get(spot.key)
  if (!change) {
    const span = capped(station, spot, expected.span)
    return span === expected.span ? expected : { ...expected, span }
  }
  if ('set' in change) return { span: capped(station, spot, change.set) }
  const { low, high } = expected.span
  const ends = [
    low * change.times.low,
    low * change.times.high,
    high * change.times.low,
    high * change.times.high,
  ]
  return { ...expected, span: capped(station, spot, { low: Math.min(...ends), high: Math.max(...ends) }) }
}

/** The station reports no more than its converter reaches, and an instrument shows no more than its range. */
function capped(station: Station, spot: Spot, span: Span): Span {
  const most = Math.min(spot.kind.span, rangeOf(station, spot))
  if (span.low <= most && span.high <= most) return span
  return { low: Math.min(span.low, most), high: Math.min(span.high, most) }
}

function rangeOf(station: Station, spot: Spot): number {
  if (spot.quantity !== 'reported current') return Number.POSITIVE_INFINITY
  return chainOf(station.districts.get(spot.place.name)!.stage)?.rangeAmp ?? Number.POSITIVE_INFINITY
}

function chances(
  words: readonly string[],
  own: string | Readonly<Record<string, number>>,
): Record<string, number> {
  const made: Record<string, number> = {}
  for (const w of words) {
    const chance = typeof own === 'string' ? (w === own ? 1 : 0) : (own[w] ?? 0)
    made[w] = (1 - UNSURE) * chance + UNSURE / words.length
  }
  return made
}

function plainly(
  station: Station,
  effects: Effects,
  wiring: FaultyWiring | undefined,
  spot: Spot,
): Expected | undefined {
  const { place, quantity } = spot
  switch (place.kind) {
    case 'gap':
      return wiring && acrossGap(station, effects, wiring, place.index!)
    case 'track':
    case 'joint':
    case 'feeder':
      return wiring && onRails(station, effects, wiring, spot)
    case 'district':
      return atDistrict(station, effects, wiring, place.name, quantity)
    case 'supply':
      return atSupply(station, effects, place.name, quantity)
    case 'driver': {
      if (quantity !== 'temperature') return { words: { switches: 1 } }
      const temps = [...station.districts.values()].flatMap((d) =>
        d.stage.driverName === place.name && d.runningC !== undefined ? [d.runningC] : [],
      )
      const most = Math.max(...temps)
      return temps.length > 0 ? { span: { low: most * 0.6, high: most } } : undefined
    }
    case 'pin':
      return { words: { switches: 1 } }
    case 'input': {
      const cut = place.name.lastIndexOf('.')
      const pin = inputPin(station, place.name.slice(0, cut), place.name.slice(cut + 1))
      return { words: { [pin?.role === 'enable' ? pin.active : 'switches']: 1 } }
    }
    case 'output':
      return atOutput(station, place.name, quantity)
    case 'controller': {
      if (quantity === 'serial line') return { words: { legible: 1 } }
      const sense = [...station.districts.values()].find((d) => d.stage.district.sense)?.stage.district.sense
      if (!sense) return undefined
      return { span: about(sense.reference, referenceTolerance(sense)) }
    }
    case 'bus':
      return { span: DAMPED }
    case 'locomotive':
      return atLocomotive(station, effects, wiring, quantity)
  }
}

function inputPin(station: Station, driver: string, name: string) {
  return station.loaded.design.power!.drivers[driver]?.pins?.find((p) => p.name === name)
}

const about = (value: number, share: number): Span => ({
  low: value * (1 - share),
  high: value * (1 + share),
})

/** Volts at a place, with a resistor there or without, as they alternate. */
function volts(f: Fed, volt: Span, ohm: Span, load?: number): FigureSpan {
  const { share, extraOhm, wave } = f
  // Lowest with the greatest resistances.
  let low = volt.high * share.low * wave.ac
  let high = volt.low * share.high * wave.ac
  if (load !== undefined) {
    low *= load / (load + ohm.high + extraOhm.high)
    high *= load / (load + ohm.low + extraOhm.low)
  }
  return { span: { low, high }, supply: f.district.stage.supplyName }
}

function onRails(
  station: Station,
  effects: Effects,
  wiring: FaultyWiring,
  { place, quantity }: Spot,
): Expected | undefined {
  const w = station.wiring!
  const railJoint = place.kind === 'joint' ? w.joints[place.index!]! : undefined
  const track =
    place.kind === 'track'
      ? place.index!
      : railJoint
        ? w.plan.joints[railJoint.joint]!.a >> 1
        : w.plan.feeders[place.index!]!.track
  const name = station.districtOf(track)
  if (name === undefined) return undefined
  const f = fed(station, effects, wiring, name)
  const load = f.district.testOhm
  switch (quantity) {
    case 'track volts': {
      const here = wiring.track(track)
      // Rails that float show anything that couples into the meter.
      if (here.cutOff && f.wave.ac > 0) return { span: { low: 0, high: here.volt.high * f.wave.ac } }
      return volts(f, here.volt, here.ohm)
    }
    case 'track volts under load': {
      const here = wiring.track(track)
      return volts(f, here.volt, here.ohm, load)
    }
    case 'coin test':
      return coinTest(effects, wiring, track, f)
    case 'fed volts':
      return fedVolts(wiring, track, f)
    default: {
      const edge = railJoint ? railJoint.edge : w.feeders.get(place.index!)![place.side as 'A' | 'B']
      const along = wiring.along(edge, track, load)
      const { low, high } = railJoint ? along.volt : along.amp
      const scale = f.wave.ac
      return {
        span: ordered(low * scale * f.share.high, high * scale * f.share.low),
        supply: f.district.stage.supplyName,
      }
    }
  }
}

/** With a coin on the rails: whether the protection trips, from the current into it at both ends of what is known. */
function coinTest(effects: Effects, wiring: FaultyWiring, track: number, f: Fed): Expected | undefined {
  const { trip } = f.district
  if (!trip) return undefined
  const { volt, ohm } = wiring.track(track)
  const { share, extraOhm, wave } = f
  const times = timesOf(effects, `district ${f.name}`, 'trip current')
  const most = (volt.low * share.high * wave.ac) / (ohm.low + extraOhm.low + COIN_OHM)
  const least = (volt.high * share.low * wave.ac) / (ohm.high + extraOhm.high + COIN_OHM)
  const trips = (tripChance(most, trip.amp * times.low) + tripChance(least, trip.amp * times.high)) / 2
  return { words: { trips, 'does not trip': 1 - trips } }
}

function tripChance(amp: number, tripAmp: number): number {
  return 1 / (1 + Math.exp(-(amp / tripAmp - 1) / 0.05))
}

/** From the bench supply at the terminals of the district, which holds back where it is shorted. */
function fedVolts(wiring: FaultyWiring, track: number, f: Fed): Expected | undefined {
  const { index } = f.district
  if (index === undefined) return undefined
  const here = wiring.track(track)
  if (here.cutOff) return { span: { low: 0, high: BENCH.volt } }
  const { volt, amp } = wiring.terminals(index)
  const a = fromBench(here.volt.low, volt.low, amp.low)
  const b = fromBench(here.volt.high, volt.high, amp.high)
  const { low, high } = ordered(a, b)
  const least = Math.min(amp.low, amp.high) > BENCH.amp ? (LEAST_SPREAD * (low + high)) / 2 : 0
  const more = Math.max(0, least - (high - low) / 2)
  return { span: { low: low - more, high: high + more } }
}

/** Volts at a place, from those that the station makes there, and what it then has and gives at its terminals. */
function fromBench(volt: number, terminalVolt: number, terminalAmp: number): number {
  const byAmp = terminalAmp > 1e-9 ? BENCH.amp / terminalAmp : Number.POSITIVE_INFINITY
  return volt * Math.min(byAmp, BENCH.volt / Math.max(1e-9, terminalVolt))
}

const ONCE: Span = { low: 1, high: 1 }

function timesOf({ figures }: Effects, place: string, quantity: Quantity): Span {
  if (figures.size === 0) return ONCE
  const change = figures.get(readingKey(place, quantity))
  return change && 'times' in change ? change.times : ONCE
}

const ordered = (a: number, b: number): Span => ({ low: Math.min(a, b), high: Math.max(a, b) })

function atDistrict(
  station: Station,
  effects: Effects,
  wiring: FaultyWiring | undefined,
  name: string,
  quantity: Quantity,
): Expected | undefined {
  const f = fed(station, effects, wiring, name)
  const { district } = f
  const { index, openVolt, sourceOhm, trip, testOhm, stage } = district
  const t = index === undefined || !wiring ? undefined : wiring.terminals(index)
  const volt = t?.volt ?? { low: openVolt, high: openVolt }
  const ohm = t?.ohm ?? sourceOhm
  switch (quantity) {
    case 'output volts':
      return volts(f, volt, ohm)
    case 'output volts under load':
      return volts(f, volt, ohm, testOhm)
    case 'output DC volts': {
      const dc = ordered(volt.high * f.wave.dc * f.share.low, volt.low * f.wave.dc * f.share.high)
      return { span: dc, supply: stage.supplyName }
    }
    case 'reported current': {
      const chain = chainOf(stage)
      if (!chain) return undefined
      const flows = volts(f, volt, ohm, testOhm)
      const { gainError } = chain
      return {
        ...flows,
        span: {
          low: Math.min(chain.rangeAmp, (flows.span.low / testOhm) * (1 - gainError)),
          high: Math.min(chain.rangeAmp, (flows.span.high / testOhm) * (1 + gainError)),
        },
      }
    }
    case 'trip current':
      if (!trip || !Number.isFinite(trip.high)) return undefined
      return { span: f.wave.ac === 0 ? { low: 0, high: 0 } : { low: trip.low, high: trip.high } }
    case 'fuse':
      return stage.district.fuse === undefined ? undefined : { words: { whole: 1 } }
    default:
      return undefined
  }
}

function atSupply(
  station: Station,
  effects: Effects,
  name: string,
  quantity: Quantity,
): Expected | undefined {
  const supply = station.loaded.design.power!.supplies[name]!
  const change = effects.supplies.get(name)
  const share = change?.share ?? { low: 1, high: 1 }
  const ohm = change?.ohm ?? { low: 0, high: 0 }
  const own = [...station.districts.values()].find((d) => d.stage.supplyName === name)!
  const load = quantity === 'supply volts' ? Number.POSITIVE_INFINITY : own.testOhm + own.sourceOhm.low
  const one = (s: number, r: number) => supply.voltage * s * (Number.isFinite(load) ? load / (load + r) : 1)
  return { span: { low: one(share.low, ohm.high), high: one(share.high, ohm.low) }, supply: name }
}

function atOutput(station: Station, name: string, quantity: Quantity): Expected | undefined {
  const { signal, fleet } = station.loaded.design
  const output = signal!.outputs[name]!
  const isService = output.mode === 'service'
  switch (quantity) {
    case 'half of a one':
      return { span: about(output.oneHalf, 0.01) }
    case 'preamble': {
      const bits = station.preambleOf(name)
      return { span: { low: bits, high: bits } }
    }
    case 'lateness':
      return { span: { low: 0, high: 2 } }
    case 'refresh': {
      const count = Object.values(fleet ?? {}).reduce((sum, l) => sum + l.count, 0)
      if (isService || count === 0) return undefined
      return { span: { low: PACKETS.low / (2 * count), high: PACKETS.high } }
    }
    default:
      return undefined
  }
}

function atLocomotive(
  station: Station,
  effects: Effects,
  wiring: FaultyWiring | undefined,
  quantity: Quantity,
): Expected {
  const names = [...station.districts.keys()]
  const isDead = names.some((n) => fed(station, effects, wiring, n).wave.ac === 0)
  const stands = effects.trains === 'stand' || isDead
  switch (quantity) {
    case 'runs at its address': {
      const runs = stands ? 0 : effects.trains === 'perhaps' ? 0.5 : 1
      return { words: { runs, 'does not run': 1 - runs } }
    }
    case 'wheel contact':
      return { words: { good: 1 } }
    default: {
      const reads = stands ? 0 : effects.trains === 'perhaps' ? 0.5 : 1
      return { words: { 'as designed': reads, another: 0, 'no answer': 1 - reads } }
    }
  }
}

/**
 * Spread of the model and the meter together, and of the model alone, in the unit of the reading.
 * @param error of the instrument, where it is known better than that of its kind
 */
export function figureOf(
  { span }: FigureSpan,
  instrument: InstrumentId,
  error: MeterError = INSTRUMENTS[instrument],
): { mean: number; sd: number; modelSd: number; meterSd: number } {
  const { shows }: Instrument = INSTRUMENTS[instrument]
  const mean = (shows * (span.low + span.high)) / 2
  // Uniform between the corners; the meter's greatest error is taken as two standard deviations.
  const model = (shows * Math.abs(span.high - span.low)) / Math.sqrt(12)
  const meterSd = (error.share * Math.abs(mean) + error.fixed) / 2
  return { mean, sd: Math.hypot(model, meterSd), modelSd: model, meterSd }
}
