/** What the reader found in a signal: plain data, so that it can be stored, sent to a worker, and judged later. */
import type { ClauseId, OutputMode } from '../standard/index.js'
import type { Stretch, StretchAccount } from './stretch.js'

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
  /** How far writing down may have moved each instant either way, us. */
  roundingUs: number
  /** See `EdgeClock.shows`. */
  shows?: 'rails' | 'one level'
  /** Cut-outs were said to be there. */
  cutoutDeclared: boolean
  /** The record began when power was applied; else only a stretch without power at its start shows that. */
  powerApplied: boolean
  /** The station starts from a saved state. */
  savedState: boolean
  /** Start of the record, us. */
  recordStartUs: number
  /** First and last edge, us. */
  startUs: number
  endUs: number
  edges: number
  one: HalfBitStats
  zero: HalfBitStats
  /** Signed difference high half minus low half of the same one bit, us. */
  oneDifference: Extremes & {
    outside: number
    beyondReceiver: number
    /** Counts of bins `binUs` wide; the middle of the first is at `firstUs`. The outermost hold everything beyond 64 us. */
    histogram: { binUs: number; firstUs: number; counts: number[] }
  }
  /** Whole zero bits, us. */
  zeroTotal: Extremes & { outside: number; stretched: number }
  shift: ConstantShift
  /** Counts per bin of `binUs`, from 0; the last bin holds everything longer. */
  histogram: {
    binUs: number
    high: number[]
    low: number[]
    /** What the station must keep, us. */
    windows: { one: [number, number]; zero: [number, number] }
  }
  glitches: { count: number; shortestUs: number; longestUs: number; firstAtUs: number }
  /** Interruptions that are no cut-out. */
  gaps: { count: number; longestUs: number; firstAtUs: number }
  /** The same by what is known of them. */
  breaks: { wrong: number; unknown: number; allowed: number; longestUs: number; firstUnknownAtUs: number }
  /** Where the record says nothing. */
  recordGaps: { count: number; longestUs: number; firstAtUs: number }
  /** Time of each kind of stretch, us; the sum is the length of the record. */
  account: StretchAccount
  /** The first stretches that are no half-bits, in time order. */
  stretches: Stretch[]
  /** What the ones of a preamble prove together: a mean half is surely above `aboveUs`, another below `belowUs`. */
  oneRuns: {
    count: number
    halves: number
    aboveUs: number
    belowUs: number
    aboveAtUs: number
    belowAtUs: number
  }
  cutout: {
    start: Extremes & { outside: number }
    end: Extremes & { outside: number }
    /** Interruptions right after an end bit, too long to be taken for a cut-out where none is known; their ends. */
    late: Extremes
    /** Packets that something follows, and those with a cut-out between. */
    chances: number
    seen: number
    /** Of those seen, the ones in whose place one level was held: all that one level alone can show of a cut-out. */
    held: { count: number; firstAtUs: number }
  }
  packets: {
    /** Complete packets, valid or not. */
    total: number
    valid: number
    /** Begun and never finished, or spoiled by a glitch or gap. */
    spoiled: number
    errorByte: number
    framing: number
    /** Of those, broken off by missing power that may have been switched off on purpose. */
    framingDoubtful: number
    length: number
    undefined: number
    /** Valid ones whose form is known from memory only. */
    fromMemory: number
    /** Valid ones longer than usual. */
    longer: number
    bytes: Extremes
  }
  /**
   * Ones before each packet. `allowed` counts, where nothing lies between, the end bit of the packet before, as
   * S-9.2:2004 note 3 lets, and after a cut-out the ones it hides; `sent` does not.
   */
  preamble: {
    sent: Extremes
    allowed: Extremes
    /** Complete ones left after a cut-out. */
    visible: Extremes
    short: number
    longestRun: number
  }
  /** Start bit to start bit of successive packets, us; up to the end of the record when no packet follows. */
  packetInterval: Extremes & {
    outside: number
    /** Of those, with power missing that may have been switched off on purpose. */
    doubtful: number
  }
  /**
   * End bit to next start bit of packets to one address that the standard sets a time for, us; not for broadcasts and
   * not in service mode.
   */
  sameAddressGap: Extremes & { outside: number; addressee: number }
  /** The same for other addresses: a decoder may need the time, no station is bound. */
  otherAddressGap: Extremes & { short: number }
  addresses: AddressReading[]
  service?: ServiceReading
  /** First valid packets of the record, while they are resets and then idles; `over`: another one followed. */
  startUp: { resets: number; idles: number; over: boolean; spoiled: boolean }
  /** From a reset to a packet with one of the first bytes that are barred after it, us. */
  resetGuard: Extremes & { resets: number; outside: number }
  /** Sent once though the standard wants it twice. */
  sentOnce: { cvWrites: number; cvAtUs: number; functions: number; functionsAtUs: number }
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
  list: {
    timeUs: number
    says: string
    verdict: 'met' | 'broken' | 'undecided'
    /** What ended the counting. */
    ended: string
    faults: string[]
  }[]
}
