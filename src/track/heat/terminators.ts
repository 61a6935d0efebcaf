/**
 * Resistors across the ends of the bus: the signal alone heats them, whatever runs. Every edge charges the capacitor anew
 * through the resistor, which takes 2·C·V·V_s of it, with V_s = V·tanh(T / 2RC) the voltage that it reaches in a half-bit of T.
 */
import type { Profile } from '../../standard/index.js'
import type { TrackModel } from '../model.js'
import { terminatorWatt } from '../ringing/report.js'

export interface HotTerminator {
  district: string
  run: string
  /** With a capacitor at its upper tolerance and the highest voltage, and with the reverse of both, W. */
  watt: number
  leastWatt: number
  /** Rated power of the resistor, W; absent where the design does not give it. */
  ratedWatt?: number
}

/** The shortest half of a one where no profile is given, us: S-9.1. */
const WITHOUT_PROFILE_US = 55
/** The smallest resistor that anyone would fit, W: of one without a rating no more is counted on; common practice, no source. */
const SMALLEST_WATT = 0.0625

/** Film and ceramic capacitors of a terminator are off by so much either way, as a share; common practice, no source. */
const CAPACITOR_SPREAD = 0.1

/** @param profile where only ones are sent, the shortest halves that it allows a station follow each other */
export function hotTerminators(
  { plan, net, bestCase, worstCase }: TrackModel,
  profile: Profile | undefined,
): HotTerminator[] {
  const halfBitS = (profile?.clauses['one-half'].sender.min ?? WITHOUT_PROFILE_US) * 1e-6
  return plan.runs.flatMap(({ name, district, design: { terminator } }): HotTerminator[] => {
    if (!terminator) return []
    const at = net.districts.indexOf(district)
    const { resistance: ohm, capacitance, power } = terminator
    const wattAt = (farad: number, volt: number) =>
      terminatorWatt(farad, volt, 1 / (2 * halfBitS)) * Math.tanh(halfBitS / (2 * ohm * farad))
    const watt = wattAt(capacitance * (1 + CAPACITOR_SPREAD), bestCase.openVolt(at))
    const leastWatt = wattAt(capacitance * (1 - CAPACITOR_SPREAD), worstCase.openVolt(at))
    return [{ district, run: name, watt, leastWatt, ...(power === undefined ? {} : { ratedWatt: power }) }]
  })
}

/** What a terminator takes of its rating; of one without a rating as much as the smallest resistor, or nothing. */
export function terminatorShare(t: HotTerminator): { low: number; high: number } {
  const { watt, leastWatt, ratedWatt } = t
  return ratedWatt === undefined
    ? { low: 0, high: watt / SMALLEST_WATT }
    : { low: leastWatt / ratedWatt, high: watt / ratedWatt }
}
