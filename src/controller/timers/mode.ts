/** Modes of timers: how one kind of timer can make the signal, which registers that takes, and how it fails. */
import type { Output } from '../../signal/index.js'
import type { TimerClock, TimerInfo, TimerKind } from '../chips/index.js'

export type Method = NonNullable<Output['method']>

/**
 * How new durations reach the counter. It decides the deadline and what a missed one looks like.
 * - `half-now`: the interrupt writes the top of the half-bit that has just begun (unbuffered).
 * - `half-next`: it writes the top of the half-bit that comes next (double-buffered).
 * - `bit-now`: it writes the top of the bit that has just begun (unbuffered), the edge at half of it.
 * - `bit-next`: it writes top and edge of the bit that comes next (double-buffered).
 * - `pin`: it writes the pin itself.
 * - `list`: hardware plays a list; the interrupt only refills it.
 */
export type Behaviour = 'half-now' | 'half-next' | 'bit-now' | 'bit-next' | 'pin' | 'list'

/** Each of them in a few words. */
export const TIMER_WAY: Readonly<Record<Behaviour, string>> = {
  list: 'hardware plays a list',
  'bit-next': 'bit period, buffered',
  'half-next': 'toggle, buffered',
  'bit-now': 'bit period, top unbuffered',
  'half-now': 'toggle, unbuffered',
  pin: 'interrupt writes the pin',
}

/** One register and what is written to it. */
export interface Setting {
  register: string
  /** As written in source: names of bits, or a number. */
  value: string
  /** The number, where all of it is known. */
  number?: number
  says: string
}

/** A register that the interrupt writes, with its value for a one and for a zero. */
export interface RegisterLoad {
  register: string
  one: number
  zero: number
  says: string
}

/** What a mode is asked to do. */
export interface Use {
  timer: TimerInfo
  clock: TimerClock
  divider: number
  /** Channel of the output, `any` where every pin will do. */
  channel: string
  pin: string
  /** Second output with the opposite level. */
  opposite?: { channel: string; pin: string }
  /** Timer ticks of half a one bit and half a zero bit. */
  oneTicks: number
  zeroTicks: number
}

export interface Mode {
  id: string
  method: Method
  behaviour: Behaviour
  /** How it works, a few words: `CTC, top in OCR1A (mode 4), the compare toggles OC1A`. */
  says(timer: TimerInfo, channel: string): string
  /** Channels of the timer that can carry the signal; `pins`: any port pin. */
  channels(timer: TimerInfo): string[] | 'pins'
  /** Channels that can carry the opposite level beside `channel`. */
  opposites(timer: TimerInfo, channel: string): string[]
  settings(use: Use): Setting[]
  loads(use: Use): RegisterLoad[]
  /** Interrupt that asks for the next duration. */
  interrupt(use: Use): string
  /** Bits that the hardware has in hand when it asks for more (`list`). */
  listBits?: number
}

/** A mode that looks usable and is not, with the reason: builders try it, so the answer belongs in the list. */
export interface UnusableMode {
  kinds: readonly TimerKind[]
  says: string
  why: string
}

export const channelsOf = (timer: TimerInfo) => [...new Set(timer.outputs.map((o) => o.channel))]
export const noOpposite = (): string[] => []
