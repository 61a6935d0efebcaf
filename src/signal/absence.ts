/** Stretches without signal: where power may be missing, and what is known of why it was. */
import type { SignalLimits } from '../standard/index.js'
import { emptyAccount, type Stretch, type StretchAccount, type StretchVerdict } from './stretch.js'

/** What is known of track power being off on purpose. */
export interface PowerKnowledge {
  /** A trip, a switching off or a power cycle that is known to have happened, us (a run knows them). */
  known?: readonly { fromUs: number; toUs: number }[]
  /** Stated for a capture: power missing for at least this long was switched off on purpose, us. */
  offFromUs?: number
  /** Nothing outside takes power away (a run): a short break is a fault, a long one the firmware's own doing. */
  complete?: boolean
}

/** Where in the stream of bits the signal stopped. */
export type BreakPlace = 'after an end bit' | 'inside a packet' | 'in a preamble' | 'at an unknown place'

const LISTED_STRETCHES = 200
/** What a switch, a breaker or a station restarting takes at least: common practice, no source, us. */
export const SURELY_A_POWER_CYCLE_US = 100_000

export interface Break {
  kind: 'off' | 'held'
  place: BreakPlace
  fromUs: number
  toUs: number
}

/**
 * Track power may be missing only between an end bit and the next preamble (S-9.2:2004 C), except on purpose: a trip,
 * a switching off, a power cycle. A level that is held is no missing power, so nothing excuses it but a statement.
 */
export function verdictOfBreak(b: Break, power: PowerKnowledge, limits: SignalLimits): StretchVerdict {
  if (b.place === 'after an end bit' || isOnPurpose(b, power)) return 'allowed'
  if (b.place === 'at an unknown place') return 'unknown'
  if (b.kind === 'held' || power.offFromUs !== undefined) return 'wrong'
  // In a run the firmware itself takes the power away: for so long it may be its answer to an overload.
  if (power.complete) return b.toUs - b.fromUs < SURELY_A_POWER_CYCLE_US ? 'wrong' : 'unknown'
  // Too short for anybody to have switched it off, or for a breaker to have closed again.
  return b.toUs - b.fromUs < limits.packetIntervalMaxUs ? 'wrong' : 'unknown'
}

/** It is known or stated that power was off on purpose. */
export function isOnPurpose(
  { fromUs, toUs }: Pick<Break, 'fromUs' | 'toUs'>,
  power: PowerKnowledge,
): boolean {
  if (power.offFromUs !== undefined && toUs - fromUs >= power.offFromUs) return true
  return isKnownOff({ fromUs, toUs }, power)
}

/** A run knows that the driver was off, whatever level its input had meanwhile. */
export function isKnownOff({ fromUs, toUs }: Pick<Break, 'fromUs' | 'toUs'>, power: PowerKnowledge): boolean {
  return power.known?.some((k) => k.fromUs <= fromUs + 1 && k.toUs >= toUs - 1) ?? false
}

/** Whether a stretch without power makes decoders start anew: a power cycle, perhaps one, or none. */
export function isPowerCycle(
  { fromUs, toUs }: Pick<Break, 'fromUs' | 'toUs'>,
  power: PowerKnowledge,
  timeOutUs: number,
): 'yes' | 'perhaps' | 'no' {
  if (isOnPurpose({ fromUs, toUs }, power)) return 'yes'
  const us = toUs - fromUs
  if (power.offFromUs !== undefined) return 'no'
  if (us < timeOutUs) return 'no'
  return us >= SURELY_A_POWER_CYCLE_US ? 'yes' : 'perhaps'
}

/** Keeps account of every stretch that is no half-bit. */
export class StretchLog {
  readonly account: StretchAccount = emptyAccount()
  readonly list: Stretch[] = []

  add(kind: Stretch['kind'], fromUs: number, toUs: number, verdict?: StretchVerdict): void {
    this.account[kind] += toUs - fromUs
    if (toUs <= fromUs || this.list.length >= LISTED_STRETCHES) return
    this.list.push(verdict === undefined ? { kind, fromUs, toUs } : { kind, fromUs, toUs, verdict })
  }
}
