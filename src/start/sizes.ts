/**
 * How strong things are: a first sizing by rules of thumb, and what to make stronger, or weaker, when a clause is not met.
 * The engine judges each sizing with the whole design; nothing here decides whether it is sound.
 */
import { driverPart, FUSES, fuseFor } from '../power/index.js'
import { type ClauseId, scaleRatio } from '../standard/index.js'
import type { Answers } from './answers.js'
import { CONVERTERS } from './parts.data.js'
import type { Plan } from './plan.js'
import { type Train, worstLoadAmp } from './trains.js'

export interface Sizes {
  tripAmp: number
  /** Readings in a row above it; of the breakers, ms. */
  samples: number
  breakerMs: number
  limitAmp: number
  /** Of the supplies' voltage. */
  toleranceShare: number
  supplyFuseAmp: number
  fuseAmp: number
  coolingKPerW: number | undefined
  coolingSays: string
  senseOhm: number
  senseWatt: number
  joiner: 'slip' | 'soldered'
  feederWire: string
  busWire: string
  terminator: { ohm: number; nF: number } | undefined
  reverserAmp: number
  stopKmh: number
  haltMm: number
  /** Which of the sizes of fuse around the first is tried. */
  fuseTry: number
  /** The trip was made slower for the sake of the capacitors: it cannot be made quicker again. */
  isSlower: boolean
}

const BUS_WIRES = ['1.5 mm2', '2.5 mm2', '4 mm2', '6 mm2']
const FEEDER_WIRES = ['0.5 mm2', '0.75 mm2', '1 mm2', '1.5 mm2']
const TERMINATORS = [
  { ohm: 100, nF: 10 },
  { ohm: 47, nF: 100 },
  { ohm: 100, nF: 100 },
  { ohm: 33, nF: 100 },
]
const SHUNT_WATTS = [1, 2, 3, 5, 10]
/** Junction to air as mounted. Common practice, no source. */
const COOLING: readonly (readonly [number, string])[] = [
  [35, 'wide copper on its board'],
  [25, 'wide copper and a small glued-on sink'],
  [17, 'a glued-on sink and a small fan'],
  [10, 'a sink of its own'],
  [5, 'a large sink'],
  [3, 'a large sink and a fan'],
]
const SPEEDS = [40, 30, 25, 20, 15, 10, 5]

const up = (value: number, step: number) => Math.round(Math.ceil(value / step - 1e-9) * step * 1000) / 1000

export function firstSizes(a: Answers, plan: Plan, trains: readonly Train[]): Sizes {
  const worstAmp = worstLoadAmp(trains)
  const figures = driverPart(a.driver)!.figures
  const peakAmp = figures.peakAmp?.value ?? 2 * (figures.continuousAmp?.value ?? 3)
  // Trips above the worst load in spite of the sense's own error.
  const share = 1 + CONVERTERS[a.chip].referenceShare + 0.02
  const tripAmp = Math.max(0.5, up(worstAmp * 1.05 * share, 0.1))
  const limitAmp = Math.max(a.rating, Math.min(a.rating * 1.1, (peakAmp / 1.1) * 0.99))
  return {
    tripAmp,
    // A reverser swaps the polarity before the trip takes its work for a short.
    samples: a.shape === 'loop' ? 200 : 20,
    breakerMs: a.shape === 'loop' ? 20 : 2,
    toleranceShare: a.districts > 1 ? 0.01 : 0.03,
    limitAmp: Math.round(limitAmp * 100) / 100,
    supplyFuseAmp: fuseFor(a.rating * 0.8),
    fuseAmp: fuseFor(worstAmp),
    coolingKPerW: undefined,
    coolingSays: '',
    senseOhm: 0.1,
    senseWatt: 2,
    joiner: 'slip',
    feederWire: FEEDER_WIRES[0]!,
    busWire: BUS_WIRES[0]!,
    terminator: undefined,
    reverserAmp: Math.max(0.4, up(tripAmp * 0.6, 0.1)),
    stopKmh: SPEEDS[0]!,
    haltMm: haltMm(a, plan),
    fuseTry: 0,
    isSlower: false,
  }
}

/** Room to stop in: a fifth of the plan, and never too little for the slow. */
function haltMm(a: Answers, plan: Plan): number {
  return Math.round(Math.max(plan.trackMm / 6, 40_000 / scaleRatio(a.scale, a.profile)))
}

function next<T>(ladder: readonly T[], now: T): T | undefined {
  return ladder[ladder.indexOf(now) + 1]
}

/** One step that may mend a clause; undefined where there is none left. The smallest change comes first. */
export function adjusted(z: Sizes, clause: ClauseId): Sizes | undefined {
  const wire = () => {
    const busWire = next(BUS_WIRES, z.busWire)
    if (busWire !== undefined) return { ...z, busWire }
    const feederWire = next(FEEDER_WIRES, z.feederWire)
    if (feederWire !== undefined) return { ...z, feederWire }
    return z.joiner === 'slip' ? { ...z, joiner: 'soldered' as const } : undefined
  }
  const fuse = (): Sizes | undefined => {
    const steps = [1, 1]
    const step = steps[z.fuseTry]
    const fuseAmp = step === undefined ? undefined : FUSES[FUSES.indexOf(z.fuseAmp) + step]
    return fuseAmp === undefined ? undefined : { ...z, fuseAmp, fuseTry: z.fuseTry + 1 }
  }
  const cooler = (): Sizes | undefined => {
    const at = z.coolingKPerW === undefined ? 0 : COOLING.findIndex(([k]) => k === z.coolingKPerW) + 1
    const cooling = COOLING[at]
    return cooling && { ...z, coolingKPerW: cooling[0], coolingSays: cooling[1] }
  }
  const sooner = () =>
    z.samples > 4 && !z.isSlower
      ? { ...z, samples: Math.floor(z.samples / 2), breakerMs: z.breakerMs / 2 }
      : undefined
  switch (clause) {
    case 'voltage-drop':
    case 'short-current':
    case 'track-voltage-min':
      return wire()
    case 'conductor-heat': {
      const feederWire = next(FEEDER_WIRES, z.feederWire)
      return feederWire === undefined ? wire() : { ...z, feederWire }
    }
    case 'joint-heat':
      return z.joiner === 'slip' ? { ...z, joiner: 'soldered' } : undefined
    case 'crossing-distortion':
    case 'decoder-withstand':
    case 'edge-rate': {
      const at = z.terminator === undefined ? 0 : TERMINATORS.indexOf(z.terminator) + 1
      return TERMINATORS[at] && { ...z, terminator: TERMINATORS[at] }
    }
    case 'driver-heat':
      return cooler()
    case 'driver-current':
      return sooner()
    case 'short-trip':
      return z.coolingKPerW === undefined ? cooler() : (sooner() ?? cooler())
    case 'inrush':
      return z.samples < 400
        ? { ...z, samples: z.samples * 2, breakerMs: z.breakerMs * 2, isSlower: true }
        : undefined
    case 'sense-stress': {
      const senseWatt = next(SHUNT_WATTS, z.senseWatt)
      return senseWatt === undefined
        ? z.senseOhm > 0.05
          ? { ...z, senseOhm: z.senseOhm / 2, senseWatt: 3 }
          : undefined
        : { ...z, senseWatt }
    }
    case 'fuse':
      return fuse()
    case 'gap-bridging':
    case 'polarity':
      // The reverser alone, while it still acts well before the trip: every ampere of trip is missing in a short.
      if (z.reverserAmp < 0.7 * z.tripAmp) return { ...z, reverserAmp: up(z.reverserAmp * 1.1, 0.1) }
      return z.tripAmp < 0.8 * z.limitAmp
        ? {
            ...z,
            tripAmp: up(z.tripAmp * 1.15, 0.1),
            reverserAmp: up(z.reverserAmp * 1.1, 0.1),
            fuseAmp: Math.max(z.fuseAmp, fuseFor(z.tripAmp)),
          }
        : undefined
    case 'stopping-distance': {
      const stopKmh = next(SPEEDS, z.stopKmh)
      return stopKmh === undefined ? undefined : { ...z, stopKmh }
    }
    default:
      return undefined
  }
}
