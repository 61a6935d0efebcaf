/**
 * Power-up: all stay-alive capacitors charge together through supply, driver and wiring and each through its own
 * resistor, behind the decoder's rectifier. One state per group of like capacitors; trapezoidal rule, which is
 * stable at any step, with steps that grow as the charging slows down.
 */
import { dependence, Remembered } from '../units/index.js'
import type { StayAlive } from './load.js'

export interface InrushCircuit {
  /** Open-circuit track voltage, V. */
  volt: number
  /** Supply, driver and wiring, Ohm. */
  sourceOhm: number
  /** Where the supply holds its current; Infinity when it does not. */
  limitAmp: number
  groups: readonly StayAlive[]
  /** Current of everything else, A. */
  besideAmp: number
}

/** Two diodes of a decoder's bridge rectifier, V; common practice, no source. */
export const RECTIFIER_VOLT = 1.4
/** A capacitor without a charging resistor still has its own and the rectifier's resistance; assumed, no source. */
const LEAST_OHM = 0.1

export interface InrushPoint {
  us: number
  amp: number
}

export interface Inrush {
  points: InrushPoint[]
  /** With the other loads. */
  peakAmp: number
  /** Until the capacitors hold all but 0.5 % of their charge; Infinity when that takes too long to follow. */
  lastsUs: number
}

/** An edit of a trip or of another district leaves the capacitors and what charges them as they are. */
const lastCharged = new Remembered<Inrush>(64)

/** Current at power-up over time, A. The capacitors start empty. */
export function inrush(c: InrushCircuit): Inrush {
  return lastCharged.get(dependence(c), () => charge(c))
}

function charge(c: InrushCircuit): Inrush {
  const groups = c.groups.filter((g) => g.count > 0 && g.capacitanceFarad > 0)
  const volt = Math.max(0, c.volt - RECTIFIER_VOLT)
  if (groups.length === 0 || volt === 0) {
    return { points: [{ us: 0, amp: c.besideAmp }], peakAmp: c.besideAmp, lastsUs: 0 }
  }
  const n = groups.length
  const ohm = groups.map((g) => Math.max(g.resistanceOhm, LEAST_OHM))
  const total = groups.reduce((sum, g, i) => sum + g.count / ohm[i]!, 0)
  const state = new Float64Array(n)
  const source = Math.max(c.sourceOhm, 1e-6)
  const limit = Math.max(0, c.limitAmp - c.besideAmp)
  /** Voltage behind the rectifiers: the source's straight line, or what the limited current leaves. */
  const railVolt = (v: Float64Array): number => {
    let drawn = 0
    for (let i = 0; i < n; i++) drawn += (v[i]! * groups[i]!.count) / ohm[i]!
    const free = (volt / source + drawn) / (1 / source + total)
    const held = (limit + drawn) / total
    return Math.min(free, held)
  }
  const current = (v: Float64Array, rail: number): number => {
    let sum = 0
    for (let i = 0; i < n; i++) sum += (groups[i]!.count * (rail - v[i]!)) / ohm[i]!
    return sum
  }
  const points: InrushPoint[] = []
  let us = 0
  let rail = railVolt(state)
  const first = current(state, rail)
  points.push({ us, amp: first + c.besideAmp })
  const charge = volt * groups.reduce((sum, g) => sum + g.count * g.capacitanceFarad, 0)
  const tau = groups.map((g, i) => ohm[i]! * g.capacitanceFarad * 1e6)
  let step = Math.min(...tau) / 400
  let lasts = Number.POSITIVE_INFINITY
  const next = new Float64Array(n)
  for (let k = 0; k < 4000; k++) {
    // Trapezoidal rule: each next voltage is a straight line of the next rail voltage, so the rail solves in one go.
    let fixed = 0
    let slope = 0
    for (let i = 0; i < n; i++) {
      const h = step / (2 * tau[i]!)
      const weight = groups[i]!.count / ohm[i]!
      next[i] = (state[i]! + h * (rail - state[i]!)) / (1 + h)
      fixed += weight * next[i]!
      slope += (weight * h) / (1 + h)
    }
    const ahead = Math.min(
      (volt / source + fixed) / (1 / source + total - slope),
      (limit + fixed) / (total - slope),
    )
    for (let i = 0; i < n; i++) {
      const h = step / (2 * tau[i]!)
      state[i]! += next[i]! - state[i]! + (h * ahead) / (1 + h)
    }
    rail = ahead
    us += step
    const now = current(state, rail)
    points.push({ us, amp: now + c.besideAmp })
    let missing = 0
    for (let i = 0; i < n; i++) missing += groups[i]!.count * groups[i]!.capacitanceFarad * (volt - state[i]!)
    if (missing < 0.005 * charge) {
      lasts = us
      break
    }
    step *= 1.02
  }
  return { points, peakAmp: first + c.besideAmp, lastsUs: lasts }
}

/** The current between the points, straight lines; the last value holds. */
export function waveOf(points: readonly InrushPoint[]): (us: number) => number {
  let at = 0
  return (us) => {
    if (points[at]!.us > us) at = 0
    while (at < points.length - 1 && points[at + 1]!.us <= us) at++
    const a = points[at]!
    const b = points[at + 1]
    if (!b) return a.amp
    return a.amp + ((b.amp - a.amp) * (us - a.us)) / (b.us - a.us)
  }
}

/** Until the current falls below `amp` for good, us: what a trip must be blind for. 0 when it never was above. */
export function timeAboveUs(points: readonly InrushPoint[], amp: number): number {
  const last = points.findLastIndex((p) => p.amp >= amp)
  if (last < 0) return 0
  const [a, b] = [points[last]!, points[last + 1]]
  if (!b) return Number.POSITIVE_INFINITY
  return a.us + ((a.amp - amp) / (a.amp - b.amp)) * (b.us - a.us)
}
