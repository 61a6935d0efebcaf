/** A second duty of controller pins, as data. */
import type { FactStatus } from '../../standard/index.js'
import type { PIN_FINDINGS } from './findings.data.js'

/** A second duty of a pin; the code of its finding. */
export type PinDuty = keyof typeof PIN_FINDINGS.meanings & string

/**
 * What a duty means for a pin that the design uses.
 * - `forbidden`: it cannot work or it stops the chip.
 * - `strap`: its level at reset decides whether the chip starts; only the circuit around it can make it safe.
 * - `check`: it works under a condition that the design file does not tell.
 * - `note`: it works; there is something to know.
 */
export type PinCare = 'forbidden' | 'strap' | 'check' | 'note'

export interface PinRule {
  pins: readonly string[]
  duty: PinDuty
  care: PinCare
  /** It binds outputs only: an input may be there. */
  outputsOnly?: true
  /** It binds only where the clock comes from outside: a crystal, a resonator. */
  outsideClockOnly?: true
  /** What is particular to this chip, as the end of the finding's sentence. */
  detail?: string
}

export interface ChipPins {
  rules: readonly PinRule[]
  /** How the table is known, and from what. */
  status: FactStatus
  source: string
}
