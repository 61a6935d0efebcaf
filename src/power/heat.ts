/**
 * Heat. Losses by conduction, switching and the driver's own current; junction temperature, iterated because a
 * MOSFET's resistance rises with it; and how long an overload may last.
 */

/** Edges of the track signal per second when nothing but ones is sent: two per 116 us. */
export const EDGES_PER_SECOND = 1e6 / 58

/**
 * Switching loss of one leg: ½ · V · I · (rise + fall) at each edge, W. It takes the full current through both
 * ramps of each edge, as with a resistive load; inductive loads lose less.
 */
export function switchingWatt(
  volt: number,
  amp: number,
  riseUs: number,
  fallUs: number,
  edgesPerSecond = EDGES_PER_SECOND,
): number {
  return 0.5 * volt * amp * (riseUs + fallUs) * 1e-6 * edgesPerSecond
}

export interface Junction {
  /** °C; Infinity when it runs away: each kelvin makes more heat than the cooling takes. */
  junctionC: number
  watt: number
  /** Rounds until it stood. */
  rounds: number
}

/**
 * Junction temperature T = ambient + thermal · P(T), iterated from the ambient until it changes less than 1 µK.
 * @param watt heat at a junction temperature, W; rising with it
 * @param thermal junction to ambient, K/W
 */
export function junction(watt: (junctionC: number) => number, thermal: number, ambientC: number): Junction {
  let t = ambientC
  for (let rounds = 1; rounds <= 5000; rounds++) {
    const p = watt(t)
    const next = ambientC + thermal * p
    if (!(next < 1000)) return { junctionC: Number.POSITIVE_INFINITY, watt: p, rounds }
    if (Math.abs(next - t) < 1e-6) return { junctionC: next, watt: watt(next), rounds }
    t = next
  }
  return { junctionC: Number.POSITIVE_INFINITY, watt: watt(t), rounds: 5000 }
}

/**
 * Two stages in series (Foster): junction to case with a short time constant, case to air with a long one. The
 * transient impedance of a data sheet has more stages; two bracket what a builder can know.
 */
export interface ThermalModel {
  /** Thermal resistances, K/W, and time constants, us. */
  stages: readonly { kelvinPerWatt: number; tauUs: number }[]
  ambientC: number
}

/** Temperatures of the stages over the ambient, K; the junction is their sum with it. */
export type ThermalState = number[]

export function junctionOf(model: ThermalModel, state: ThermalState): number {
  return model.ambientC + state.reduce((a, b) => a + b, 0)
}

/** The stages after `us` at constant heat; exact for a constant heat. */
export function warm(model: ThermalModel, state: ThermalState, watt: number, us: number): ThermalState {
  return model.stages.map((s, i) => {
    const target = watt * s.kelvinPerWatt
    return target + (state[i]! - target) * Math.exp(-us / s.tauUs)
  })
}

/** Stages standing at constant heat. */
export function settled(model: ThermalModel, watt: number): ThermalState {
  return model.stages.map((s) => s.kelvinPerWatt * watt)
}

/**
 * How long until the junction reaches `limitC` when heat changes at time 0 to `watt(T)`, us.
 * @param from state of the stages before; cold when absent
 * @returns 0 when it is there already, Infinity when it never gets there
 */
export function timeToTemperatureUs(
  model: ThermalModel,
  watt: (junctionC: number) => number,
  limitC: number,
  from: ThermalState = model.stages.map(() => 0),
): number {
  const { stages, ambientC } = model
  // Asked thousands of times for one design: nothing is allocated on the way.
  let state = Float64Array.from(from)
  let next = new Float64Array(stages.length)
  let t = 0
  let now = junctionOf(model, from)
  if (now >= limitC) return 0
  const longest = Math.max(...stages.map((s) => s.tauUs))
  let step = Math.min(...stages.map((s) => s.tauUs)) / 1000
  while (t < longest * 30) {
    const p = watt(now)
    let then = ambientC
    for (let i = 0; i < stages.length; i++) {
      const { kelvinPerWatt, tauUs } = stages[i]!
      const target = p * kelvinPerWatt
      next[i] = target + (state[i]! - target) * Math.exp(-step / tauUs)
      then += next[i]!
    }
    if (then >= limitC) {
      const before = Array.from(state)
      // Inside the step the heat is constant: bisect its exact law.
      let [low, high] = [0, step]
      for (let i = 0; i < 50; i++) {
        const middle = (low + high) / 2
        if (junctionOf(model, warm(model, before, p, middle)) >= limitC) high = middle
        else low = middle
      }
      return t + high
    }
    t += step
    ;[state, next] = [next, state]
    // Small steps while it moves, longer ones when it has settled, so that minutes cost no more than milliseconds.
    if (then - now < 0.02) step *= 1.5
    else if (then - now > 0.2) step = Math.max(step / 1.5, 1e-3)
    else step *= 1.05
    now = then
  }
  return Number.POSITIVE_INFINITY
}
