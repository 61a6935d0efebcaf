/** Kinds of fuses: how long they take at multiples of their rating, what they carry continuously and what they can break. */
import { FUSE_LOAD, FUSE_MELTS } from './supply.js'

export type FuseKind = 'glass' | 'resettable'

/** Least and longest time to open at a multiple of the rating, s. */
export interface FuseGate {
  times: number
  leastS: number
  mostS: number
}

export interface FuseKindFacts {
  gates: readonly FuseGate[]
  /** Share of its rating that it surely carries continuously in air of up to 60 °C. */
  loadShare: number
  /** What it carries less for each kelvin above that, as a share of its rating; 0 when absent. */
  lessPerKelvin?: number
  /** Multiple of its rating from which on it surely opens. */
  opensAt: number
  /** Current that it can break, from its rating, A. */
  breaksAmp(ratingAmp: number): number
  /** Voltage that it can break, of the weakest part that is sold and of the best, V. */
  withstandsVolt: { low: number; high: number }
}

export const FUSE_KINDS: Readonly<Record<FuseKind, FuseKindFacts>> = {
  // IEC 60127-2 sheet 3, time-lag glass: gates, 250 V, 35 A or ten times the rating, whichever is more; from memory.
  glass: {
    gates: [
      { times: 1.5, leastS: 3600, mostS: Number.POSITIVE_INFINITY },
      { times: FUSE_MELTS, leastS: 0, mostS: 120 },
      { times: 2.75, leastS: 0.6, mostS: 10 },
      { times: 4, leastS: 0.15, mostS: 3 },
      { times: 10, leastS: 0.02, mostS: 0.3 },
    ],
    loadShare: FUSE_LOAD,
    opensAt: FUSE_MELTS,
    breaksAmp: (rating) => Math.max(35, 10 * rating),
    withstandsVolt: { low: 250, high: 250 },
  },
  // Polymer PTC, radial leads, rated by the current it holds at 23 °C: catalogue figures of 1 to 9 A parts, from memory. At
  // 60 °C it holds two thirds of that, and at 0 °C it opens at 2.3 times; five times take up to 20 s; 40 A; 16 to 60 V.
  resettable: {
    gates: [
      { times: 0.65, leastS: 60, mostS: Number.POSITIVE_INFINITY },
      { times: 2.3, leastS: 5, mostS: 600 },
      { times: 5, leastS: 0.5, mostS: 20 },
    ],
    loadShare: 0.65,
    // From all of it at 23 °C on: 0.41 at 85 °C.
    lessPerKelvin: 0.0095,
    opensAt: 2.3,
    breaksAmp: () => 40,
    withstandsVolt: { low: 16, high: 60 },
  },
}

const WARM_C = 60
/** However hot, a little: a fuse that carries nothing has no share of a rating. */
const LEAST_SHARE = 0.05

/** Share of its rating that a fuse surely carries continuously in air of a temperature, °C. */
export function fuseLoadShare(kind: FuseKind, airC: number): number {
  const { loadShare, lessPerKelvin = 0 } = FUSE_KINDS[kind]
  return Math.max(LEAST_SHARE, loadShare - lessPerKelvin * Math.max(0, airC - WARM_C))
}
