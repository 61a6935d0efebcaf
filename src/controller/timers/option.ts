/** One way to make the signal with one controller, judged. */
import type { Finding } from '../../finding/index.js'
import type { Output } from '../../signal/index.js'
import type { Clause, ClauseId, FactStatus } from '../../standard/index.js'
import type { PinConcern } from '../chips/index.js'
import type { ControllerDesign } from '../design.js'
import type { Behaviour, Method, RegisterLoad, Setting } from './mode.js'

export interface SearchInput {
  controller: ControllerDesign
  /** Wanted half-bits, us, and, if they are settled, the pins. */
  track: Pick<Output, 'oneHalf' | 'zeroHalf'> & Partial<Output>
  clauses: Readonly<Record<ClauseId, Clause>>
  /** Keep to the track's pin, method, timer and divider where it names them. */
  keepTo?: { pin?: boolean; method?: boolean; timer?: boolean }
}

/** A half-bit as the counter makes it. */
export interface HalfBit {
  /** Timer ticks of one half. */
  ticks: number
  /** Length with a perfect clock, us. */
  us: number
  /** Difference from what was asked for, us, and as parts per million of it. */
  errorUs: number
  errorPpm: number
  /** Shortest and longest with the clock's tolerance, us. */
  lowUs: number
  highUs: number
}

export interface Deadline {
  /** Latest moment for the write, us after the edge (or bit) that asks for it. */
  writeUs: number
  /** How late the interrupt may start beyond its usual entry, us: `writeUs` less entry and {@link RESPONSE}. */
  lateUs: number
  /** What the signal looks like when it is missed. */
  miss: Finding
  /** The longest pulse that a miss makes, us; absent where a miss repeats old data. */
  pulseUs?: number
}

export interface TimerOption {
  /** Stable name: chip's timer, mode, divider, pin. */
  id: string
  method: Method
  behaviour: Behaviour
  mode: string
  modeId: string
  timer: { kind: string; number: number; name: string; bits: number }
  clock: string
  divider: number
  tickUs: number
  channel: string
  pin: string
  inverted?: string
  settings: Setting[]
  loads: RegisterLoad[]
  interrupt: string
  one: HalfBit
  zero: HalfBit
  /** Clock tolerance that went into low and high, share, with its reason. */
  tolerance: { share: number; says: string }
  /** Margins as the proof counts them. */
  margins: { oneHalf: number; oneDifference: number; zeroHalf: number }
  /** Share of the room between nominal and limit that is left: 1 all of it, 0 at the limit; worst of the clauses. */
  headroom: number
  /** Longest half a zero can be stretched to, us, inside the clauses. */
  longestZeroUs: number
  /** Interrupts per second at most (all ones). */
  interruptsPerSecond: number
  deadline: Deadline
  /** Share of the controller's time that the interrupts take, at most, with {@link RESPONSE} as the assumption. */
  cpuShare: number
  /** What it takes away: pins, and timers that other code commonly relies on. */
  occupies: string[]
  /** What core libraries commonly use the timer for (common practice, no source); absent where nothing. */
  reliedOn?: string
  /** What speaks against its pins, or asks for care. */
  pinConcerns: PinConcern[]
  because: string
  /** Why it cannot be used; empty when it can. */
  refusals: Finding[]
  /** The same in one sentence; absent when it can be used. */
  refused?: string
  status: FactStatus
}

/**
 * Assumed work of one interrupt, cycles: at most up to the write, and in the mean in all. The 8-bit figures are those of
 * the exhibition example's firmware on the simulated controller (mean 93 with entry, at most 128 up to the write); the
 * others are guesses. `halfbit simulate` measures the real ones.
 */
export const RESPONSE: Readonly<Record<string, { toWrite: number; total: number }>> = {
  avr: { toWrite: 120, total: 90 },
  'avr-modern': { toWrite: 120, total: 90 },
  arm: { toWrite: 100, total: 100 },
  xtensa: { toWrite: 100, total: 600 },
}
