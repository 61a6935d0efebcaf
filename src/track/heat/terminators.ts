/**
 * Resistors across the ends of the bus: the signal alone heats them, whatever runs. Every edge charges the capacitor anew
 * through the resistor, which takes 2·C·V·V_s of it, with V_s = V·tanh(T / 2RC) the voltage that it reaches in a half-bit of T.
 */
import type { TrackModel } from '../model.js'

export interface HotTerminator {
  district: string
  run: string
  watt: number
  /** Rated power of the resistor, W; absent where the design does not give it. */
  ratedWatt?: number
}

/** Where only ones are sent, the shortest half-bits follow each other, s: nominal, as 55 us would heat it by a twentieth more. */
const HALF_BIT_S = 58e-6
/** The smallest resistor that anyone would fit, W: of one without a rating no more is counted on. */
const SMALLEST_WATT = 0.0625

export function hotTerminators({ plan, net, bestCase }: TrackModel): HotTerminator[] {
  return plan.runs.flatMap(({ name, district, design: { terminator } }): HotTerminator[] => {
    if (!terminator) return []
    const volt = bestCase.openVolt(net.districts.indexOf(district))
    const { resistance: ohm, capacitance: farad, power } = terminator
    const reached = volt * Math.tanh(HALF_BIT_S / (2 * ohm * farad))
    const watt = (2 * farad * volt * reached) / HALF_BIT_S
    return [{ district, run: name, watt, ...(power === undefined ? {} : { ratedWatt: power }) }]
  })
}

/** What a terminator takes of its rating: the same in both corners, unless nobody gives it. */
export function terminatorShare({ watt, ratedWatt }: HotTerminator): { low: number; high: number } {
  const share = watt / (ratedWatt ?? SMALLEST_WATT)
  return { low: ratedWatt === undefined ? 0 : share, high: share }
}
