/**
 * Two drivers across a gap follow one signal, but not at one instant: the sooner switches, and until the later does the sides are
 * opposed. Both voltages then drive a current round through the wheels, both wirings and both drivers, which coils and resistances
 * of all these hold: i(t) = (V₁ + V₂)/R · (1 − e^(−t·R/L)), and afterwards it dies away with L/R.
 */
import {
  between,
  type CornerResult,
  cornerInWords,
  exactly,
  type Quantities,
  searchCorners,
} from '../../corner/index.js'
import { DEFAULT_SIGNAL_LIMITS, type Verdict } from '../../standard/index.js'
import type { Joint, TrackLayout } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
import { Circuit } from '../network/circuit.js'
import { EDGE, type Network } from '../network/network.js'
import { FEEDER_PAIR, RAIL_PAIR, runConstants } from '../ringing/line.js'
import { trainsOf } from '../voltage/trains.js'
import { onOneBridge } from './grounds.js'
import { WHEEL_OHM } from './wheel.js'

/** How far the edges of two drivers may be apart, us; `undefined` where a delay is not known. */
export interface SwitchingApart {
  parts: [string, string]
  us: { low: number; high: number } | undefined
}

/** @returns `undefined` for one bridge, and where nothing is told of the drivers. */
export function switchingApart(net: Network, [a, b]: readonly [number, number]): SwitchingApart | undefined {
  const [one, other] = [net.sources[a]!.wiring, net.sources[b]!.wiring]
  if (a === b || onOneBridge(net, [a, b]) || !one?.part || !other?.part) return undefined
  const parts: [string, string] = [one.part.name, other.part.name]
  const oneDie = one.driver === other.driver && one.part.matched
  const oneBatch =
    one.part.batch !== undefined && one.part.batch === other.part.batch && one.part.name === other.part.name
  const matchedUs = Math.max(one.part.matchedUs ?? Number.NaN, other.part.matchedUs ?? Number.NaN)
  if ((oneDie || oneBatch) && !Number.isNaN(matchedUs)) return { parts, us: { low: 0, high: matchedUs } }
  const [p, q] = [one.part.delays, other.part.delays]
  if (!p || !q) return { parts, us: undefined }
  const later = (x: 'rising' | 'falling') => ({
    low: p[x].low - q[x].high,
    high: p[x].high - q[x].low,
  })
  // At an edge one leg rises while the other falls, so half of either delay counts.
  const [rising, falling] = [later('rising'), later('falling')]
  const low = (rising.low + falling.low) / 2
  const high = (rising.high + falling.high) / 2
  return {
    parts,
    us: { low: Math.max(0, low, -high), high: Math.max(high, -low) },
  }
}

export interface SkewFigure extends SwitchingApart {
  /** At the worst corner: peak through a wheel and its mean over a half-bit, A. */
  peakAmp: number
  meanAmp: number
  /** What is left of the peak current of a driver beside its running load, A; undefined where that is not known. */
  headroomAmp: number | undefined
  /** Of both wirings, uH. */
  microHenry: number
  verdict: Verdict
  margin: number
  corner: string
  decides: string | undefined
}

/** Wires are not laid as the tables of their inductance take it; common practice, no source. */
const INDUCTANCE_SPREAD = 0.3

/** The shortest half of a bit that a station may send, us. */
const HALF_BIT_US = DEFAULT_SIGNAL_LIMITS.one.minUs

type SkewQuantity = 'volt' | 'us' | 'microHenry' | 'ohm' | 'wheel' | 'load'

/**
 * What wheels across a gap carry because its drivers switch apart.
 * @param sidesOhm of both sides, drivers and supplies with them
 * @param besideAmp what the difference of their supplies drives anyway
 */
export function skewAt(
  model: TrackModel,
  joint: Joint,
  districts: readonly [number, number],
  sidesOhm: () => { low: number; high: number },
  besideAmp: number,
): SkewFigure | undefined {
  const { net, plan } = model
  const apart = switchingApart(net, districts)
  if (!apart || apart.us?.high === 0) return undefined
  const sources = districts.map((d) => net.sources[d]!)
  const coils = inductances(model)
  const microHenry = [joint.a, joint.b].reduce((sum, end) => {
    const { a, b } = net.places[placeOfEnd(net, end)]!
    return sum + coils.between(a, b)
  }, 0)
  const loads = districts.map((d) => runningAmp(plan, net, d))
  const peaks = sources.map((s) => s.wiring?.part?.peakAmp)
  const known = peaks.every((p) => p !== undefined) && apart.us !== undefined
  const quantities: Quantities<SkewQuantity> = {
    volt: between(
      'voltage of both supplies',
      {
        low: sources[0]!.openVolt.low + sources[1]!.openVolt.low,
        high: sources[0]!.openVolt.high + sources[1]!.openVolt.high,
      },
      'V',
      'the supplies',
    ),
    us: between(
      'time between the edges of both drivers',
      apart.us ?? { low: 0, high: HALF_BIT_US },
      'us',
      'their data sheets; a third off where these give no extremes',
    ),
    microHenry: between(
      'inductance of both wirings',
      { low: microHenry * (1 - INDUCTANCE_SPREAD), high: microHenry * (1 + INDUCTANCE_SPREAD) },
      'uH',
      'wires and rails; common practice',
    ),
    ohm: between('resistance of both sides', sidesOhm(), 'Ohm', 'rails, wires and drivers'),
    wheel: between('contact of the wheel', WHEEL_OHM, 'Ohm', 'common practice, no source'),
    load:
      Math.max(...loads) > 0
        ? between('share of the trains that draw', { low: 0, high: 1 }, 'share', 'the rolling stock')
        : exactly('share of the trains that draw', 0, 'share', 'no rolling stock'),
  }
  const wheelAmp = (v: Record<SkewQuantity, number>) => surge(v.volt, v.ohm + 2 * v.wheel, v.microHenry, v.us)
  const margin = (v: Record<SkewQuantity, number>) => {
    const { peakAmp, meanAmp } = wheelAmp(v)
    const spare = sources.map((s, i) => {
      const drawn = v.load * loads[i]! + besideAmp
      const peak = peaks[i] === undefined ? 1 : 1 - (drawn + peakAmp) / peaks[i]
      const trip = s.tripLowAmp ?? s.tripAmp
      // As for two supplies: it must not trip by itself, whatever else runs.
      return Math.min(peak, trip === undefined ? 1 : 1 - (besideAmp + meanAmp) / trip)
    })
    return Math.min(...spare)
  }
  const corners: CornerResult<SkewQuantity> = searchCorners({
    quantities,
    margin,
    unfavourable: { volt: 'high', us: 'high', microHenry: 'low', ohm: 'low', wheel: 'low', load: 'high' },
  })
  const { peakAmp, meanAmp } = wheelAmp(corners.worst.values)
  const headroom = peaks.map((p, i) =>
    p === undefined ? Number.POSITIVE_INFINITY : p - loads[i]! - besideAmp,
  )
  const verdict = known ? corners.verdict : 'undecided'
  const unknown = apart.us === undefined ? 'delays of both drivers' : 'peak current of both drivers'
  return {
    ...apart,
    peakAmp,
    meanAmp,
    headroomAmp: Number.isFinite(Math.min(...headroom)) ? Math.min(...headroom) : undefined,
    microHenry,
    verdict,
    margin: known ? Math.max(-1, corners.worst.margin) : 0,
    corner: cornerInWords(quantities, corners.worst.values, corners.matters.slice(0, 2)),
    decides:
      verdict !== 'undecided'
        ? undefined
        : known
          ? corners.decider && quantities[corners.decider].name
          : unknown,
  }
}

/**
 * A voltage that stays on a coil and a resistance for a time at the beginning of every half-bit. One driver may be the later one at
 * rising edges and the sooner at falling ones; it then drives the current the same way each time, on top of what is left of the last.
 * @returns the peak, and the mean over a half-bit, A
 */
export function surge(
  volt: number,
  ohm: number,
  microHenry: number,
  us: number,
): { peakAmp: number; meanAmp: number } {
  const tau = microHenry / ohm
  const once = (volt / ohm) * -Math.expm1(-us / tau)
  return { peakAmp: once / -Math.expm1(-HALF_BIT_US / tau), meanAmp: (volt / ohm) * (us / HALF_BIT_US) }
}

/** What the trains of a district draw running, those that may run anywhere among them, A. */
/** What runs in a district, A: trains that stand nowhere run in each. */
export function runningAmp(plan: TrackLayout, net: Network, district: number): number {
  const here = plan.stands.filter((s) =>
    s.track < 0
      ? plan.runs[s.run]!.district === net.districts[district]
      : net.districtOfTrack[s.track] === district,
  )
  const placed = here.reduce((sum, s) => sum + s.amp, 0)
  return trainsOf(plan)
    .filter((t) => plan.rollingStock[t.name]!.section === undefined)
    .reduce((sum, t) => sum + t.amp, placed)
}

const known = new WeakMap<Network, Circuit>()

/** The network with inductances in the place of resistances, uH; half of a pair's in either wire or rail. */
function inductances({ plan, net, worstCase }: TrackModel): Circuit {
  const had = known.get(net)
  if (had) return had
  const micro = new Float64Array(net.from.length).fill(LEAST_MICRO_HENRY)
  const perM = new Map<string, number>()
  const microPerM = (e: number, conductor: number): number => {
    if (net.kind[e] === EDGE.feeder) return (FEEDER_PAIR.henryPerM * 1e6) / 2
    if (net.kind[e] === EDGE.rail) return (RAIL_PAIR.henryPerM * 1e6) / 2
    const { geometry, spacing } = plan.runs[net.owner[e]!]!.design
    const { diameterMm } = net.conductors[conductor]!
    const key = `${geometry} ${spacing} ${diameterMm}`
    const own = perM.get(key) ?? (runConstants(geometry, diameterMm, spacing).henryPerM * 1e6) / 2
    perM.set(key, own)
    return own
  }
  for (let e = 0; e < micro.length; e++) {
    const conductor = net.conductorOf[e]!
    if (conductor < 0) continue
    const metres = net.ohm.usual[e]! / net.conductors[conductor]!.ohmPerM.usual
    micro[e] = Math.max(LEAST_MICRO_HENRY, metres * microPerM(e, conductor))
  }
  const made = new Circuit(worstCase.layout, 'usual', undefined, micro)
  known.set(net, made)
  return made
}

/** Of a driver, a joiner or a contact: next to nothing. */
const LEAST_MICRO_HENRY = 1e-3

export function placeOfEnd(net: Network, end: number): number {
  return (end & 1) === 0 ? net.placeStart[end >> 1]! : net.placeStart[(end >> 1) + 1]! - 1
}
