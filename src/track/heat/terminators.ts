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
  watt: number
  /** Rated power of the resistor, W; absent where the design does not give it. */
  ratedWatt?: number
}

/** The shortest half of a one where no profile is given, us: S-9.1. */
const WITHOUT_PROFILE_US = 55
/** The smallest resistor that anyone would fit, W: of one without a rating no more is counted on; common practice, no source. */
const SMALLEST_WATT = 0.0625

/** @param profile where only ones are sent, the shortest halves that it allows a station follow each other */
export function hotTerminators(
  { plan, net, bestCase }: TrackModel,
  profile: Profile | undefined,
): HotTerminator[] {
  const halfBitS = (profile?.clauses['one-half'].sender.min ?? WITHOUT_PROFILE_US) * 1e-6
  return plan.runs.flatMap(({ name, district, design: { terminator } }): HotTerminator[] => {
    if (!terminator) return []
    const volt = bestCase.openVolt(net.districts.indexOf(district))
    const { resistance: ohm, capacitance: farad, power } = terminator
    const reached = Math.tanh(halfBitS / (2 * ohm * farad))
    const watt = terminatorWatt(farad, volt, 1 / (2 * halfBitS)) * reached
    return [{ district, run: name, watt, ...(power === undefined ? {} : { ratedWatt: power }) }]
  })
}

/** What a terminator takes of its rating: the same in both corners, unless nobody gives it. */
export function terminatorShare({ watt, ratedWatt }: HotTerminator): { low: number; high: number } {
  const share = watt / (ratedWatt ?? SMALLEST_WATT)
  return { low: ratedWatt === undefined ? 0 : share, high: share }
}
