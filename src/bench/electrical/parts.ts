/** What the electrical side is made of, beside wires and rails. */
import type { FuseKind } from '../../power/index.js'
import type { Spot } from './network.js'

export type SupplyLimit = 'constant' | 'foldback' | 'hiccup' | 'none'

export interface SupplyPlan {
  name: string
  volt: number
  /** Volts lost per ampere, Ohm. */
  ohm: number
  limit: SupplyLimit
  /** Where its limit begins, A; Infinity without one. */
  limitAmp: number
  /** What a foldback leaves into a short, A. */
  shortAmp?: number | undefined
  hiccupOnUs?: number | undefined
  hiccupOffUs?: number | undefined
  /** Output capacitors, F. */
  farad?: number | undefined
  fuseAmp?: number | undefined
  fuseKind?: FuseKind | undefined
}

/** How the outputs of a driver are connected: to the supply, to nothing, or to each other. */
export type DriverOutput = 'driving' | 'open' | 'braking'

export interface SourcePlan {
  district: string
  supply: string
  /** Fixed drop of a bipolar driver, V. */
  dropVolt: number
  /** Driver and sense, Ohm. */
  ohm: number
  /** Where the driver itself holds the current, A; Infinity where it does not. */
  holdsAmp: number
}

/**
 * A decoder with what hangs on it: a rectifier, a capacitor behind it, perhaps a stay-alive that charges through a resistor
 * and gives through a diode, and a current drawn from them.
 */
export interface RailLoad {
  spot: Spot
  /** False: its wheels touch nothing. */
  contact: boolean
  /** Drawn from its capacitors, A. */
  amp: number
  /** In series with its rectifier, Ohm. */
  ohm: number
  farad: number
  volt: number
  stay?: { farad: number; ohm: number; volt: number } | undefined
  /** The next crossing of this voltage is of interest, V. */
  watchVolt?: number | undefined
}

export interface Short {
  spot: Spot
  ohm: number
}

/** A wheel across the gaps between two districts joins them on both rails. */
export interface Bridge {
  from: Spot
  to: Spot
  ohm: number
  /** The two districts drive the opposite of each other. */
  opposed: boolean
}
