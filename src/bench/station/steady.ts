/** Rails with power whose polarity does not change any more: no signal, and for many decoders analog power. */
import type { DistrictStation } from './district.js'
import type { Line } from './line.js'

/** Without a change of polarity for longer a decoder may take what is on the rails as analog power (S-9.2.4), us. */
const ANALOG_AFTER_US = 30e3
const MOST_STRETCHES = 100_000

/** A district had power of one polarity for longer than 30 ms. */
export interface Steady {
  district: string
  fromUs: number
  toUs: number
}

export class SteadyRails {
  readonly stretches: Steady[] = []

  /** Look at the districts that have power. @returns the lines of those that are steady, by district. */
  look(powered: readonly DistrictStation[], timeUs: number): ReadonlyMap<DistrictStation, Line> {
    const found = new Map<DistrictStation, Line>()
    for (const d of powered) {
      const { line, plan } = d
      if (!line || timeUs - line.lastEdgeUs <= ANALOG_AFTER_US) continue
      found.set(d, line)
      const last = this.stretches.findLast((s) => s.district === plan.name)
      if (last?.fromUs === line.lastEdgeUs) last.toUs = timeUs
      else if (this.stretches.length < MOST_STRETCHES)
        this.stretches.push({ district: plan.name, fromUs: line.lastEdgeUs, toUs: timeUs })
    }
    return found
  }
}
