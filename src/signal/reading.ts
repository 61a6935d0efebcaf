/** What the reader found in a signal: plain data, so that it can be stored, sent to a worker, and judged later. */
import type { ClauseId, OutputMode } from '../standard/index.js'

/** Durations of one kind of half-bit at one polarity, us. All are 0 while `count` is 0. */
export interface DurationStats {
  count: number
  minUs: number
  maxUs: number
  meanUs: number
  /** Standard deviation, us. */
  spreadUs: number
  /** When the shortest and the longest began, us. */
  minAtUs: number
  maxAtUs: number
}

export interface HalfBitStats extends DurationStats {
  high: DurationStats
  low: DurationStats
  /** Half-bits surely outside what a station may send, the capture's resolution considered. */
  outside: number
  /** Half-bits surely outside what a decoder must accept. */
  beyondReceiver: number
}

/** Lowest and highest value seen and when; absent while nothing was seen. */
export interface Extremes {
  count: number
  low: number
  high: number
  lowAtUs: number
  highAtUs: number
}

/** Something wrong at one time. Each fault is reported once, under the clause it breaks first. */
export interface Finding {
  clause: ClauseId
  timeUs: number
  text: string
  /** Bytes of the packet concerned, hexadecimal. */
  packet?: string
}

export interface PacketRecord {
  /** First edge of the start bit, us. */
  timeUs: number
  /** Last edge of the end bit, us. */
  endUs: number
  bytes: Uint8Array
  /** Error byte right and length allowed. */
  valid: boolean
  /** Complete ones since the end bit of the packet before, or since the signal came back. */
  preamble: number
}

export interface AddressReading {
  /** See `addresseeOf` in the packet room. */
  addressee: number
  count: number
  /** Shortest time from an end bit to the next start bit for it, us; Infinity for a single packet. */
  shortestGapUs: number
  /** Longest time from start bit to start bit, us; 0 for a single packet. */
  longestIntervalUs: number
}

/** A difference between the polarities that is the same for ones and zeros: made by a probe or a driver stage. */
export interface ConstantShift {
  /** The high half-bits are longer by this than they would be without it, us (negative: shorter). */
  highUs: number
  /** Half of the difference of the polarities, seen on ones and on zeros, us. */
  onesUs: number
  zerosUs: number
  /** Both agree, so that it may be taken out. */
  constant: boolean
}

export interface SignalReading {
  mode: OutputMode
  /** Spacing of the instants the level was looked at, us; 0 exact. */
  resolutionUs: number
  /** First and last edge, us. */
  startUs: number
  endUs: number
  edges: number
  one: HalfBitStats
  zero: HalfBitStats
  /** Signed difference high half minus low half of the same one bit, us. */
  oneDifference: Extremes & { outside: number; beyondReceiver: number }
  /** Whole zero bits, us. */
  zeroTotal: Extremes & { outside: number; stretched: number }
  shift: ConstantShift
  /** Counts per bin of `binUs`, from 0; the last bin holds everything longer. */
  histogram: { binUs: number; high: number[]; low: number[] }
  glitches: { count: number; shortestUs: number; longestUs: number; firstAtUs: number }
  /** Interruptions that are no cut-out. */
  gaps: { count: number; longestUs: number; firstAtUs: number }
  cutout: { start: Extremes & { outside: number }; end: Extremes & { outside: number } }
  packets: {
    /** Complete packets, valid or not. */
    total: number
    valid: number
    /** Begun and never finished, or spoiled by a glitch or gap. */
    spoiled: number
    errorByte: number
    framing: number
    length: number
    undefined: number
    bytes: Extremes
  }
  /**
   * Ones before each packet. `allowed` counts, where nothing lies between, the end bit of the packet before, as
   * S-9.2:2004 note 3 lets, and after a cut-out the ones it hides; `sent` does not.
   */
  preamble: { sent: Extremes; allowed: Extremes; short: number; longestRun: number }
  /** Start bit to start bit of successive packets, us; up to the end of the record when no packet follows. */
  packetInterval: Extremes & { outside: number }
  /** End bit to next start bit of packets to one address, us; not for broadcasts and not in service mode. */
  sameAddressGap: Extremes & { outside: number; addressee: number }
  addresses: AddressReading[]
  service?: ServiceReading
  findings: Finding[]
  /** Findings beyond those listed, per clause. */
  unlisted: Partial<Record<ClauseId, number>>
}

/** Service-mode operations seen; only on a service track. */
export interface ServiceReading {
  operations: number
  met: number
  broken: number
  /** The packets alone cannot tell, the one cut off by the end of the record left out. */
  undecided: number
  /** The first of them in words. */
  list: { timeUs: number; says: string; verdict: 'met' | 'broken' | 'undecided'; faults: string[] }[]
}
