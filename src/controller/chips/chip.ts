/** What a controller offers for making a signal: timers, the pins they drive, clocks. Plain data, no behaviour. */
import type { FactStatus } from '../../standard/index.js'

/** Families of timers that share registers and modes; each has its modes in `../timers/`. */
export type TimerKind =
  | 'avr8'
  | 'avr16'
  | 'avr-ocr1c'
  | 'avr-ocr4c'
  | 'tca'
  | 'tcb'
  | 'tc'
  | 'tcc'
  | 'slice'
  | 'pio'
  | 'alarm'
  | 'tim'
  | 'rmt'
  | 'group'
  | 'gpt'

/** A pin that a timer drives by itself. `channel` is the sheet's letter or number; a leading `/` is the inverted twin. */
export interface TimerOutput {
  channel: string
  pin: string
}

/** What a timer counts. */
export interface TimerClock {
  /** `system`: the clock of the design file. Otherwise a clock of the chip's own. */
  id: 'system' | 'pll' | 'bus' | 'microsecond'
  /** Frequency, Hz, where it is not the design's. */
  hz?: number
  /** The clock comes from the internal oscillator, whatever crystal is fitted. */
  fromInternal?: boolean
  says: string
}

export interface TimerInfo {
  kind: TimerKind
  /** Number in the chip's own naming; unique among timers of one kind. */
  number: number
  name: string
  bits: number
  /** Dividers in front of the counter, in rising order, or every whole number of a range. */
  dividers: readonly number[] | { from: number; to: number }
  clocks: readonly TimerClock[]
  outputs: readonly TimerOutput[]
  /** Interrupt mask register and bits, where they differ from `TIMSKn`, `OCIEnA` = 1, `TOIEn` = 0. */
  mask?: { register: string; compareA: number; overflow: number }
  /** What commonly used core libraries do with it. Common practice, no source. */
  reliedOn?: string
  status: FactStatus
}

export interface ChipInfo {
  id: string
  name: string
  /** For lists to choose from: name, width, what marks it. */
  title: string
  /** Clock of a new design: the usual one of boards with it (common practice, no source), and where it comes from. */
  usualClock: { hz: number; source: 'crystal' | 'resonator' | 'rc' | 'trimmed rc' | 'internal' }
  /** Greatest error of the chip's own oscillator as delivered, share, over temperature; from memory unless `source` says otherwise. */
  internalShare: number
  /** Highest system clock, Hz. */
  maxHz: number
  core: 'avr' | 'avr-modern' | 'arm' | 'xtensa'
  /** Cycles from the interrupt request to the first instruction of the handler, the vector's jump included. */
  interruptEntryCycles: number
  /** Its own analog converter: resolution, and conversions a second at it, of all channels together. */
  converter: { bits: number; mostPerSecond: number }
  /** Every port pin, on whatever package; `pins.data.ts` says what each may not be used for. */
  pins: readonly string[]
  /** The timers list all the pins each can drive; if not, an unlisted pin is not known to be wrong. */
  outputsComplete: boolean
  timers: readonly TimerInfo[]
  /** Data sheet the figures are from. */
  source: string
}

export const SYSTEM_CLOCK: TimerClock = { id: 'system', says: 'system clock' }

/** Pins named `PB0`…`PB7`: `pinRange('PB', 0, 7)`. */
export function pinRange(prefix: string, from: number, to: number, digits = 1): string[] {
  return Array.from({ length: to - from + 1 }, (_, i) => prefix + String(from + i).padStart(digits, '0'))
}

/** One spelling for a pin: capitals, no leading zeros after two letters (`pa08` is `PA8`), `GP5` is `GPIO5`. */
export function pinName(text: string): string {
  const name = text.trim().toUpperCase()
  const gpio = /^(?:GPIO|GP|IO)0*(\d+)$/.exec(name)
  if (gpio) return `GPIO${gpio[1]}`
  const port = /^(P[A-Z])0*(\d+)$/.exec(name)
  return port ? `${port[1]}${port[2]}` : name
}
