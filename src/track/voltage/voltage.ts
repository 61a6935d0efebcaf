/** Voltage at every place of the rails: for the trains where they stand, and for the worst they can stand. */

import type { TrackLayout } from '../layout/layout.js'
import { limitsOf } from '../limits.js'
import type { Circuit, ElectricalLoad, LoadSolution } from '../network/circuit.js'
import { CUT_OFF_OHM, type Network } from '../network/network.js'

export interface TrainVoltage {
  name: string
  train: boolean
  volt: number
  amp: number
  /** Its voltage is below the decoder's minimum. */
  brownOut: boolean
}

export interface VoltageMap {
  /** False: no solution was found; the figures then mean nothing. */
  converged: boolean
  /** By place, V; without a load there too. */
  volt: Float64Array
  stands: TrainVoltage[]
  /** By district, A. */
  districtAmp: Float64Array
}

export function loadsOf(
  plan: TrackLayout,
  net: Network,
  only?: (train: boolean) => boolean,
): ElectricalLoad[] {
  const minVolt = limitsOf(plan.design).decoderVolt
  return plan.stands.flatMap((s, i) => {
    if (only && !only(s.train)) return []
    const { a, b } = net.standPlace[i]!
    return [{ a, b, amp: s.amp, law: s.law, minVolt, ...(s.openVolt ? { openVolt: s.openVolt } : {}) }]
  })
}

/** The voltage map for everything that stands on the track. */
export function mapVoltage(plan: TrackLayout, circuit: Circuit): { map: VoltageMap; solution: LoadSolution } {
  const { net } = circuit.layout
  const loads = loadsOf(plan, net)
  const solution = circuit.withLoads(loads)
  const volt = new Float64Array(net.places.length)
  net.places.forEach((p, i) => {
    // What is cut off has the voltage of its leak as long as nothing draws: that is none.
    const cutOff = net.leaky && circuit.placeOhm[i]! > CUT_OFF_OHM
    volt[i] = cutOff ? 0 : circuit.across(solution.x, p.a, p.b)
  })
  const stands = plan.stands.map((s, i): TrainVoltage => {
    const { a, b } = net.standPlace[i]!
    const v = net.leaky && circuit.between(a, b) > CUT_OFF_OHM ? 0 : solution.volt[i]!
    return {
      name: s.name,
      train: s.train,
      volt: v,
      amp: v === 0 ? 0 : solution.amp[i]!,
      brownOut: s.amp > 0 && Math.abs(v) < loads[i]!.minVolt,
    }
  })
  const districtAmp = Float64Array.from(net.districts, (_, d) => {
    const amp = circuit.sourceAmp(solution.x, d)
    // So little is what arithmetic leaves over, or the leak of what is cut off.
    return Math.abs(amp) < (net.leaky ? 1e-3 : 1e-6) ? 0 : amp
  })
  return { map: { converged: solution.converged, volt, stands, districtAmp }, solution }
}
