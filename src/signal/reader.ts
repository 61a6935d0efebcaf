/**
 * The one reader: edges → half-bits → bits → packets, in one pass, in constant memory. Everything that yields a
 * signal goes through it: captures, simulated firmware, the encoder's own output.
 *
 * The level of an interval never matters for its meaning, only its duration: below {@link MIDPOINT_US} it is half
 * of a one, above it half of a zero (no legal half-bit lies between 64 and 90 us: S-9.1:2020 Table 1, derived).
 * Which half comes first is settled by the zeros: a run of ones has no phase, the first zero half after it starts
 * a bit.
 *
 * Size: the loop and what its events do share some thirty private fields; a call or an object between them costs more
 * than reading. What needs none of them is in `half-bits.ts`, `packet-tally.ts`, `absence.ts` and `fault-list.ts`.
 *
 * A fault is reported once. What it does to the reading afterwards (lost phase, a spoiled packet) is not reported
 * again: after a fault the reader hunts for a run of nine ones, which cannot lie inside a packet.
 */
import type { ServiceMode } from '../packet/index.js'
import { DEFAULT_SIGNAL_LIMITS, type OutputMode, type SignalLimits } from '../standard/index.js'
import { formatNumber } from '../units/index.js'
import {
  type Break,
  type BreakPlace,
  isKnownOff,
  type PowerKnowledge,
  StretchLog,
  SURELY_A_POWER_CYCLE_US,
  verdictOfBreak,
} from './absence.js'
import { BINS_OF_A_COLUMN, DurationBins } from './duration-bins.js'
import { type DurationBounds, justBelow, ODD_HALF, ONE_HALF } from './duration-class.js'
import { DurationTable, scaleOf } from './duration-table.js'
import {
  durationUncertaintyUs,
  type EdgeBlock,
  type EdgeClock,
  EdgeList,
  type EdgeSink,
  GAP,
  OFF,
} from './edges.js'
import { extend, extremes } from './extremes.js'
import { FaultList } from './fault-list.js'
import { HalfBitTally } from './half-bits.js'
import { type CompletePacket, PacketTally } from './packet-tally.js'
import { CODE_BITS, PairTable } from './pair-table.js'
import type { Extremes, PacketRecord, SignalReading } from './reading.js'
import type { StretchVerdict } from './stretch.js'
import { type Thresholds, thresholdsOf } from './thresholds.js'

/** Ones that cannot occur in a row inside a packet. */
const CERTAIN_ONES = 9
/** Edges looked at before the first judgement, to learn whether the polarities differ by a constant. */
const PRELUDE = 4096
const LONGEST_PACKET = 64

export interface ReaderOptions {
  /** What the track is for; service mode wants other gaps and preambles. */
  mode?: OutputMode
  /** Limits of the profile. Default: those of the profile nmra. */
  limits?: SignalLimits
  /** The station makes cut-outs: on a record of one rail alone they look like a long level. */
  cutout?: boolean
  /** What is known of track power being off on purpose. Default: nothing. */
  power?: PowerKnowledge
  /** The record begins when power is applied, as a run from reset does. */
  powerApplied?: boolean
  /** The station starts from a saved state: no resets and idles are due. */
  savedState?: boolean
  /** The service modes the station uses, where several fit the same bytes. */
  serviceModes?: readonly ServiceMode[]
  /** Every acknowledgement is given to {@link SignalReader.acknowledge}. */
  acknowledgementsTold?: boolean
  /** Only edges in this window are read, us from the start of the record. */
  fromUs?: number
  toUs?: number
  /** Read every edge in the plain loop: slower, the same reading. The referee of the quick way. */
  plainly?: boolean
  /** Called for every complete packet; the record is the caller's to keep. */
  onPacket?: (packet: PacketRecord) => void
}

/** Edges to read plainly before the quick way is tried again, after it got nowhere: at first, and at most. */
const LEAST_PATIENCE = 2
const MOST_PATIENCE = 1024
/** Edges that pay for trying it. */
const WORTH_IT = 32

/** Level before the first edge. */
const NOTHING = 4

const HUNT = 0
const PACKET = 1

const NO_EVENT = 0
const EVENT_SHORT = 1
const EVENT_OFF = 2
const EVENT_GAP = 4
const EVENT_END = 8
const EVENT_MISMATCH = 16
const EVENT_START = 32
const EVENT_RUNAWAY = 64

/** Reads one signal. Push blocks of edges in time order, then {@link finish}. */
export class SignalReader implements EdgeSink {
  readonly #tickUs: number
  readonly #clock: EdgeClock
  /** The true duration between two edges lies less than this beside the measured one, us. */
  readonly #uncertaintyUs: number
  readonly #options: ReaderOptions
  readonly #mode: OutputMode
  readonly #limits: SignalLimits
  readonly #at: Thresholds
  readonly #power: PowerKnowledge
  readonly #fromTick: number
  readonly #toTick: number

  #prelude: EdgeList | undefined = new EdgeList()
  #edges = 0
  #firstTick = Number.NaN
  #lastTick = Number.NaN

  // The hot loop's state between blocks; durations in us, times in ticks.
  #level: number = NOTHING
  #previous = 0
  #pending = -1
  #pendingLevel = 0
  #pendingTainted = false
  #tainted = false
  /** The running interval is the first of the record or after an interruption. */
  #beginning = false
  #shorts = 0
  #shortCount = 0
  #state = HUNT
  #phase = 0
  #first = 1
  #firstUs = 0
  #firstTainted = false
  #ones = 0
  #bitCount = 0
  #byte = 0
  #length = 0
  #check = 0
  readonly #bytes = new Uint8Array(LONGEST_PACKET + 1)
  /** Used again for every packet. */
  readonly #complete: CompletePacket = {
    bytes: this.#bytes,
    length: 0,
    check: 0,
    startTick: 0,
    endTick: 0,
    spoiled: false,
  }
  /** Class of the half that raised a mismatch. */
  #oddClass = 0
  #oddUs = 0
  #oddAt = 0
  #startTick = 0
  /** Ones before the packet being read. */
  #run = 0
  #runCounts = false
  /** The last cut-out since the end bit: its length from the end bit, us, and when it ended. */
  #cutoutUs = 0
  #cutoutEndTick = Number.NaN
  /** The cut-out that is going on was found on a record of one rail. */
  #oneRail = false
  #thresholdHigh: number
  #thresholdLow: number
  #shortHigh: number
  #shortLow: number
  /** A stretch without signal: when it began, when its present part began, and the level before it. */
  #absentSince = Number.NaN
  #partSince = Number.NaN
  #levelBefore: number = OFF
  #sawGap = false

  /** The last packet ended well and nothing has gone wrong since: short preambles and odd halves are the station's. */
  #synced = false
  /** An odd half-bit is no fault: the signal came back from a cut-out or gap in the middle of nowhere. */
  #oddAllowed = true
  /** The run of ones began with an end bit. */
  #afterEndBit = false
  /** A fault was reported since the last good packet. */
  #spoiled = false
  #endTick = Number.NaN

  readonly #halves = new HalfBitTally()
  /** For the quick way; undefined before the first edges are known. */
  #bins: DurationBins | undefined
  /** Where edges lie on whole steps that are not too fine. */
  #table: DurationTable | undefined
  /** Index = level of the first half; undefined too where durations are many. */
  #pairs: readonly [PairTable, PairTable] | undefined
  /** Between these a whole bit is neither a new extreme nor one to speak of; index = class. */
  readonly #bits = {
    signOfFirst: Float64Array.of(1, 1),
    signOfSecond: Float64Array.of(1, 1),
    knownLow: new Float64Array(2),
    knownHigh: new Float64Array(2),
  }
  readonly #packets: PacketTally
  readonly #faults: FaultList
  readonly #stretches = new StretchLog()
  #longestRun = 0
  #glitches = { count: 0, shortestUs: Number.POSITIVE_INFINITY, longestUs: 0, firstAtUs: 0 }
  #gaps = { count: 0, longestUs: 0, firstAtUs: 0 }
  #recordGaps = { count: 0, longestUs: 0, firstAtUs: 0 }
  #breaks = { wrong: 0, unknown: 0, allowed: 0, longestUs: 0, firstUnknownAtUs: 0 }
  readonly #cutoutStart = { ...extremes(), outside: 0 }
  readonly #cutoutEnd = { ...extremes(), outside: 0 }
  readonly #lateCutouts = extremes()
  #cutoutChances = 0
  #cutoutsSeen = 0
  /** Those in whose place one level was held. */
  readonly #heldCutouts = { count: 0, firstAtUs: 0 }
  /** A cut-out was seen, and no packet began since: it is a chance that is not counted yet. */
  #cutoutWaits = false
  readonly #runs = {
    count: 0,
    halves: 0,
    aboveUs: Number.NEGATIVE_INFINITY,
    belowUs: Number.POSITIVE_INFINITY,
    aboveAtUs: 0,
    belowAtUs: 0,
  }
  readonly #oneTick = new Float64Array(1)
  readonly #oneLevel = new Uint8Array(1)

  /** @throws RangeError when the clock's tick is not a positive number or its resolution negative. */
  constructor(clock: EdgeClock, options: ReaderOptions = {}) {
    if (!(clock.tickUs > 0) || !(clock.resolutionUs >= 0)) {
      throw new RangeError(
        `a tick of ${clock.tickUs} us at a resolution of ${clock.resolutionUs} us cannot be read`,
      )
    }
    this.#tickUs = clock.tickUs
    this.#clock = clock
    this.#uncertaintyUs = durationUncertaintyUs(clock)
    this.#options = options
    this.#mode = options.mode ?? 'operations'
    this.#limits = options.limits ?? DEFAULT_SIGNAL_LIMITS
    this.#at = thresholdsOf(this.#limits)
    this.#thresholdHigh = this.#thresholdLow = this.#at.midpointUs
    this.#shortHigh = this.#shortLow = this.#at.glitchUs
    this.#power = options.power ?? {}
    this.#faults = new FaultList(clock.tickUs)
    this.#packets = new PacketTally(
      {
        mode: this.#mode,
        limits: this.#limits,
        tickUs: clock.tickUs,
        uncertaintyUs: this.#uncertaintyUs,
        power: this.#power,
        cutout: options.cutout === true && this.#mode === 'operations',
        powerApplied: options.powerApplied === true,
        serviceModes: options.serviceModes,
        acknowledgementsTold: options.acknowledgementsTold === true,
      },
      this.#faults,
    )
    this.#fromTick = (options.fromUs ?? Number.NEGATIVE_INFINITY) / clock.tickUs
    this.#toTick = (options.toUs ?? Number.POSITIVE_INFINITY) / clock.tickUs
  }

  /** A decoder acknowledged at this time, us. Tell it before the edges after it are pushed. */
  acknowledge(timeUs: number): void {
    this.#packets.acknowledge(timeUs)
  }

  /** @throws RangeError when time goes backwards. */
  push(block: EdgeBlock): void {
    const { ticks, levels } = block
    let from = 0
    let to = block.count
    if (to === 0) return
    if (ticks[0]! < this.#fromTick) from = firstAtOrAfter(ticks, to, this.#fromTick)
    if (ticks[to - 1]! > this.#toTick) to = firstAtOrAfter(ticks, to, this.#toTick)
    if (to <= from) return
    if (Number.isNaN(this.#firstTick)) this.#firstTick = ticks[from]!
    if (ticks[from]! < this.#lastTick) throw new RangeError('time goes backwards between two blocks of edges')
    this.#lastTick = ticks[to - 1]!
    this.#edges += to - from
    if (this.#prelude) {
      const room = Math.min(to, from + PRELUDE - this.#prelude.count)
      for (; from < room; from++) this.#prelude.add(ticks[from]!, levels[from]!)
      if (this.#prelude.count >= PRELUDE) this.#endPrelude()
    }
    if (from < to) this.#read(ticks, levels, from, to)
  }

  /**
   * End of the record.
   * @param endTick when the record ended: silence after the last edge is part of it.
   * @param startTick when it began, if before its first edge. Default: with the first edge.
   */
  finish(endTick: number, startTick = Number.NaN): SignalReading {
    if (this.#prelude) this.#endPrelude()
    const start = Math.max(Number.isNaN(startTick) ? this.#firstTick : startTick, this.#fromTick)
    const first = Number.isNaN(this.#firstTick) ? start : this.#firstTick
    const last = Number.isNaN(this.#lastTick) ? first : this.#lastTick
    const end = Math.min(Math.max(endTick, last), Math.max(this.#toTick, last))
    if (this.#edges === 0) {
      const from = Number.isFinite(start) ? start : Math.min(0, end)
      this.#stretches.add('before', this.#us(from), this.#us(Math.max(end, from)))
      this.#packets.finish(end, from)
      return this.#reading(Math.max(end, from), from)
    }
    const begin = Math.min(start, this.#firstTick)
    this.#stretches.add('before', this.#us(begin), this.#us(this.#firstTick))
    this.#finishTail(end)
    this.#longestRun = Math.max(this.#longestRun, this.#ones)
    this.#packets.finish(end, begin)
    this.#table?.flushTo(this.#halves)
    this.#settlePairs()
    return this.#reading(end, begin)
  }

  /** From the last edge to the end of the record. */
  #finishTail(end: number): void {
    const level = this.#level
    if (level < OFF) {
      this.#settleBurst()
      const tailUs = this.#us(end - this.#previous)
      // The last half-bit has no second edge: it is complete if the record goes on for long enough.
      const full = tailUs >= this.#limits.one.minUs && this.#isOpenEndBit()
      const previous = this.#previous
      if (full) {
        this.#tainted = true
        this.#feed(previous + this.#limits.one.nominalUs / this.#tickUs, 1 - level)
      }
      this.#flush()
      if (full) this.#halves.taintedUs -= this.#limits.one.nominalUs
      this.#previous = previous
      if (tailUs > this.#at.heldUs) this.#break('held', previous, end)
      else this.#stretches.add('after', this.#us(previous), this.#us(end))
      return
    }
    if (this.#levelBefore === OFF) {
      // Nothing was ever driven.
      this.#closePart(end)
      return
    }
    if (this.#sawGap) this.#closePart(end)
    this.#closeHalfBefore()
    if (this.#sawGap) {
      this.#loseRecord(this.#absentSince, end)
      return
    }
    const us = this.#us(end - this.#absentSince)
    const sinceEndBitUs = this.#us(end - this.#endTick)
    const place = this.#placeOfBreak()
    // A cut-out may be under way when the record ends.
    const short =
      us < this.#at.passageUs || (place === 'after an end bit' && sinceEndBitUs < this.#at.cutoutMostUs)
    if (short) this.#stretches.add('after', this.#us(this.#absentSince), this.#us(end))
    else this.#break('off', this.#absentSince, end)
  }

  /** All but the second half of an end bit is there. */
  #isOpenEndBit(): boolean {
    if (this.#state !== PACKET || this.#bitCount !== 8 || this.#pending < 0) return false
    const threshold = this.#pendingLevel === 1 ? this.#thresholdHigh : this.#thresholdLow
    return this.#phase === 0 && this.#pending < threshold
  }

  #us(tick: number): number {
    return tick * this.#tickUs
  }

  /** Learn from the first edges whether the polarities differ by a constant, then read them. */
  #endPrelude(): void {
    const list = this.#prelude!
    this.#prelude = undefined
    const { midpointUs, glitchUs, oneMinUs, oneMaxUs } = this.#at
    let pairs = 0
    let sum = 0
    for (let i = 2; i < list.count; i++) {
      const a = (list.ticks[i - 1]! - list.ticks[i - 2]!) * this.#tickUs
      const b = (list.ticks[i]! - list.ticks[i - 1]!) * this.#tickUs
      // Two halves of ones, however unequal, add up to about one bit; no other neighbours do.
      if (a < glitchUs / 2 || b < glitchUs / 2 || a + b < oneMinUs || a + b > oneMaxUs) continue
      pairs++
      sum += list.levels[i - 2] === 1 ? a - b : b - a
    }
    const shift = pairs > 8 ? sum / pairs / 2 : 0
    if (Math.abs(shift) < this.#limits.one.nominalUs / 2) {
      this.#thresholdHigh = midpointUs + shift
      this.#thresholdLow = midpointUs - shift
      this.#shortHigh = Math.min(glitchUs, Math.max(glitchUs / 3, glitchUs + shift))
      this.#shortLow = Math.min(glitchUs, Math.max(glitchUs / 3, glitchUs - shift))
    }
    if (!this.#options.plainly) this.#makeTables(list)
    this.#read(list.ticks, list.levels, 0, list.count)
  }

  #makeTables(list: EdgeList): void {
    const stretchedUs = 2 * this.#at.stretchedUs
    const bounds: DurationBounds = {
      limits: this.#limits,
      uncertaintyUs: this.#uncertaintyUs,
      plainZeroBelowUs: stretchedUs,
      shortUs: [this.#shortLow, this.#shortHigh],
      thresholdUs: [this.#thresholdLow, this.#thresholdHigh],
    }
    this.#bins = new DurationBins(bounds)
    const scale = scaleOf(list.ticks, list.count)
    if (scale === undefined) return
    const table = DurationTable.for({ ...bounds, tickUs: this.#tickUs, scale })
    this.#table = table
    if (table === undefined) return
    const { maxUs } = this.#limits.oneDifference
    // Up to here a difference is not counted as one too large.
    const mostDifferenceUs = Math.max(maxUs, maxUs + 2 * this.#uncertaintyUs - 1e-9)
    const ofPairs = { mostDifferenceUs, stretchedUs }
    this.#pairs = [new PairTable(table, 0, ofPairs), new PairTable(table, 1, ofPairs)]
  }

  /** What the pairs have counted goes to the rest. */
  #settlePairs(): void {
    this.#pairs?.[0].flushTo(this.#halves)
    this.#pairs?.[1].flushTo(this.#halves)
  }

  /** Reads edges: whole bits the quick way, the rest in the plain loop. */
  #read(ticks: Float64Array, levels: Uint8Array, from: number, to: number): void {
    let at = from
    let retryAt = from
    let patience = LEAST_PATIENCE
    while (at < to) {
      let stop = to
      if (this.#bins && this.#synced && this.#level < OFF) {
        if (at < retryAt) stop = Math.min(to, retryAt)
        else if (this.#isBetweenBits()) {
          const start = at
          if (this.#pairs?.[0].isFull || this.#pairs?.[1].isFull) {
            this.#settlePairs()
            this.#pairs = undefined
          }
          const pairs = this.#pairs?.[this.#pendingLevel as 0 | 1]
          if (pairs) at = this.#readPairs(pairs, ticks, levels, at, to)
          else if (this.#table) at = this.#readBits(this.#table, ticks, levels, at, to)
          else at = this.#readBins(this.#bins, ticks, levels, at, to)
          if (at - start >= WORTH_IT) patience = LEAST_PATIENCE
          else {
            retryAt = at + patience
            patience = Math.min(MOST_PATIENCE, 2 * patience)
          }
          if (at >= to) return
          stop = Math.min(to, Math.max(at + 1, retryAt))
        } else stop = Math.min(to, at + this.#leastToCleanBit())
      }
      at = this.#readPlainly(ticks, levels, at, stop)
    }
  }

  /** The pending interval is the first half of a bit, and nothing about it is in doubt. */
  #isBetweenBits(): boolean {
    return (
      this.#phase === 0 &&
      this.#pending >= 0 &&
      this.#shortCount === 0 &&
      !this.#pendingTainted &&
      !this.#tainted
    )
  }

  /** At least so many edges come before the pending interval can be a clean first half again. */
  #leastToCleanBit(): number {
    if (this.#pending < 0) return this.#tainted ? 3 : 2
    return this.#pendingTainted ? 2 : 1
  }

  /** What is compared with each whole bit, for bits whose second half is high (1) or low (−1). */
  #lookAtKnown(sign: number): void {
    const { signOfFirst, signOfSecond, knownLow, knownHigh } = this.#bits
    const { differenceMin, differenceMax, totalMin, totalMax } = this.#halves
    const { maxUs } = this.#limits.oneDifference
    signOfFirst[1] = -sign
    signOfSecond[1] = sign
    knownLow[0] = totalMin
    knownLow[1] = Math.max(differenceMin, -maxUs)
    knownHigh[0] = Math.min(totalMax, justBelow(2 * this.#at.stretchedUs))
    knownHigh[1] = Math.min(differenceMax, maxUs)
  }

  /**
   * Whole bits about which there is nothing to say, two edges at a time: both durations are looked up and counted. At
   * the first bit that is not like that the state is as the plain loop would have it there.
   * @returns the edge to go on from.
   */
  #readBits(table: DurationTable, ticks: Float64Array, levels: Uint8Array, from: number, to: number): number {
    const tickUs = this.#tickUs
    const firstLevel = this.#pendingLevel
    const secondLevel = 1 - firstLevel
    const { scale, stepUs } = table
    let first = Math.round(this.#pending / stepUs)
    let firstUs = this.#pending
    if (this.#level !== secondLevel || first * stepUs !== firstUs) return from
    const entries = table.entries
    if (first >= entries || firstLevel >= OFF) return from
    table.isUsed = true
    const firstClasses = table.classes[firstLevel]!
    const secondClasses = table.classes[secondLevel]!
    const firstCounts = table.counts[firstLevel]!
    const secondCounts = table.counts[secondLevel]!
    const halves = this.#halves
    const bytes = this.#bytes
    const last = to - 1
    // Of a one the signed difference counts, of a zero the total: one expression for both, as which comes is chance.
    const sign = secondLevel === 1 ? 1 : -1
    const leastOne = -this.#limits.oneDifference.maxUs
    const mostOne = this.#limits.oneDifference.maxUs
    const stretchedUs = 2 * this.#at.stretchedUs
    // Between these it is neither a new extreme nor one to speak of; index = class.
    const { signOfFirst, signOfSecond, knownLow, knownHigh } = this.#bits
    this.#lookAtKnown(sign)
    const { differenceBins } = halves
    const { perUs, middle: middleBin, last: lastBin } = HalfBitTally.difference
    let isOne = firstClasses[first]!
    if (isOne === ODD_HALF) return from
    let previous = this.#previous
    let inPacket = this.#state === PACKET
    let ones = this.#ones
    let bitCount = this.#bitCount
    let byte = this.#byte
    let length = this.#length
    let check = this.#check
    let oneBits = 0
    let onesUs = 0
    let bits = 0
    let at = from
    while (at < last) {
      const middle = ticks[at]!
      const end = ticks[at + 1]!
      const second = (middle - previous) * scale
      const next = (end - middle) * scale
      const index = second | 0
      const nextIndex = next | 0
      // Between two steps, back in time, or beyond the table. The loads after it need no checks of their own.
      if (index !== second || nextIndex !== next || index >>> 0 >= entries || nextIndex >>> 0 >= entries)
        break
      const nextIsOne = firstClasses[nextIndex]!
      if (
        secondClasses[index] !== isOne ||
        nextIsOne === ODD_HALF ||
        levels[at] !== firstLevel ||
        levels[at + 1] !== secondLevel
      )
        break
      const secondUs = second * stepUs
      const us = signOfFirst[isOne]! * firstUs + signOfSecond[isOne]! * secondUs
      if (us < knownLow[isOne]! || us > knownHigh[isOne]!) {
        if (isOne === ONE_HALF) {
          if (us < leastOne || us > mostOne) this.#countDifference(us, middle)
        } else if (us >= stretchedUs) break
        halves.meetBit(isOne, us, middle)
        knownLow[isOne] = Math.min(us, knownLow[isOne]!)
        knownHigh[isOne] = Math.max(us, knownHigh[isOne]!)
        if (isOne === ONE_HALF) {
          knownLow[1] = Math.max(knownLow[1]!, leastOne)
          knownHigh[1] = Math.min(knownHigh[1]!, mostOne)
        }
      }
      if (inPacket && bitCount === 8 && isOne !== ONE_HALF && length >= LONGEST_PACKET) break
      bits++
      oneBits += isOne
      differenceBins[isOne * (lastBin + 1) + (((us * perUs + middleBin) | 0) & lastBin)]!++
      onesUs += isOne * (firstUs + secondUs)
      if (firstCounts[first]!++ === 0) halves.meet(isOne, firstLevel, firstUs, previous, tickUs)
      if (secondCounts[index]!++ === 0) halves.meet(isOne, secondLevel, secondUs, middle, tickUs)
      const bitFirstUs = firstUs
      first = nextIndex
      firstUs = next * stepUs
      previous = end
      at += 2
      if (inPacket) {
        if (bitCount < 8) {
          byte = (byte << 1) | isOne
          if (++bitCount === 8) {
            bytes[length++] = byte
            check ^= byte
          }
        } else if (isOne === ONE_HALF) {
          halves.addOpen(bits, oneBits, onesUs)
          bits = oneBits = onesUs = 0
          this.#length = length
          this.#check = check
          this.#onEnd(middle)
          inPacket = false
          ones = this.#ones
          if (!this.#synced) break
        } else bitCount = byte = 0
      } else if (isOne === ONE_HALF) ones++
      else {
        this.#ones = ones
        this.#firstUs = bitFirstUs
        this.#oddUs = secondUs
        this.#onStart(middle)
        inPacket = true
        ones = bitCount = byte = length = check = 0
      }
      isOne = nextIsOne
    }
    halves.addOpen(bits, oneBits, onesUs)
    this.#pending = firstUs
    this.#previous = previous
    this.#state = inPacket ? PACKET : HUNT
    this.#ones = ones
    this.#bitCount = bitCount
    this.#byte = byte
    this.#length = length
    this.#check = check
    return at
  }

  /**
   * The same where durations are no whole steps: what they mean is looked up by bin, and they are added up in the order of the
   * plain loop, to the same bit. A loop of its own: with one for both, compilers make either a third slower.
   * @returns the edge to go on from.
   */
  #readBins(bins: DurationBins, ticks: Float64Array, levels: Uint8Array, from: number, to: number): number {
    const tickUs = this.#tickUs
    const firstLevel = this.#pendingLevel
    const secondLevel = 1 - firstLevel
    if (this.#level !== secondLevel || firstLevel >= OFF) return from
    const { belowUs, perUs } = bins
    let firstUs = this.#pending
    if (!(firstUs < belowUs)) return from
    let index = (firstUs * perUs) | 0
    const firstClasses = bins.classes[firstLevel]!
    const secondClasses = bins.classes[secondLevel]!
    let isOne = firstClasses[index]!
    if (isOne === ODD_HALF) return from
    const halves = this.#halves
    const { count, min, max, sum, squares } = halves
    const firstHistogram = halves.histogram[firstLevel]!
    const secondHistogram = halves.histogram[secondLevel]!
    const { differenceBins } = halves
    const { perUs: perDifferenceUs, middle: middleBin, last: lastBin } = HalfBitTally.difference
    const bytes = this.#bytes
    const last = to - 1
    const sign = secondLevel === 1 ? 1 : -1
    const leastOne = -this.#limits.oneDifference.maxUs
    const mostOne = this.#limits.oneDifference.maxUs
    const stretchedUs = 2 * this.#at.stretchedUs
    const { signOfFirst, signOfSecond, knownLow, knownHigh } = this.#bits
    this.#lookAtKnown(sign)
    let previous = this.#previous
    let inPacket = this.#state === PACKET
    let ones = this.#ones
    let bitCount = this.#bitCount
    let byte = this.#byte
    let length = this.#length
    let check = this.#check
    let differenceCount = halves.differenceCount
    let totalCount = halves.totalCount
    let plainZeroDifference = halves.plainZeroDifference
    let at = from
    while (at < last) {
      const middle = ticks[at]!
      const end = ticks[at + 1]!
      const secondUs = (middle - previous) * tickUs
      const nextUs = (end - middle) * tickUs
      // Back in time, or beyond the table.
      if (!(secondUs >= 0 && secondUs < belowUs && nextUs >= 0 && nextUs < belowUs)) break
      const secondIndex = (secondUs * perUs) | 0
      const nextIndex = (nextUs * perUs) | 0
      const nextIsOne = firstClasses[nextIndex]!
      if (
        secondClasses[secondIndex] !== isOne ||
        nextIsOne === ODD_HALF ||
        ((levels[at]! ^ firstLevel) | (levels[at + 1]! ^ secondLevel)) !== 0
      )
        break
      const us = signOfFirst[isOne]! * firstUs + signOfSecond[isOne]! * secondUs
      if (us < knownLow[isOne]! || us > knownHigh[isOne]!) {
        if (isOne === ONE_HALF) {
          if (us < leastOne || us > mostOne) this.#countDifference(us, middle)
        } else if (us >= stretchedUs) break
        halves.meetBit(isOne, us, middle)
        knownLow[isOne] = Math.min(us, knownLow[isOne]!)
        knownHigh[isOne] = Math.max(us, knownHigh[isOne]!)
        if (isOne === ONE_HALF) {
          knownLow[1] = Math.max(knownLow[1]!, leastOne)
          knownHigh[1] = Math.min(knownHigh[1]!, mostOne)
        }
      }
      if (inPacket && bitCount === 8 && isOne !== ONE_HALF && length >= LONGEST_PACKET) break
      const first = isOne * 2 + firstLevel
      const second = isOne * 2 + secondLevel
      if (firstUs < min[first]! || firstUs > max[first]!)
        halves.meet(isOne, firstLevel, firstUs, previous, tickUs)
      if (secondUs < min[second]! || secondUs > max[second]!)
        halves.meet(isOne, secondLevel, secondUs, middle, tickUs)
      count[first]!++
      count[second]!++
      sum[first]! += firstUs
      sum[second]! += secondUs
      squares[first]! += firstUs * firstUs
      squares[second]! += secondUs * secondUs
      firstHistogram[index >> BINS_OF_A_COLUMN]!++
      secondHistogram[secondIndex >> BINS_OF_A_COLUMN]!++
      differenceBins[isOne * (lastBin + 1) + (((us * perDifferenceUs + middleBin) | 0) & lastBin)]!++
      differenceCount += isOne
      totalCount += 1 - isOne
      plainZeroDifference += sign * (1 - isOne) * (secondUs - firstUs)
      const bitFirstUs = firstUs
      index = nextIndex
      firstUs = nextUs
      previous = end
      at += 2
      if (inPacket) {
        if (bitCount < 8) {
          byte = (byte << 1) | isOne
          if (++bitCount === 8) {
            bytes[length++] = byte
            check ^= byte
          }
        } else if (isOne === ONE_HALF) {
          this.#length = length
          this.#check = check
          this.#onEnd(middle)
          inPacket = false
          ones = this.#ones
          if (!this.#synced) break
        } else bitCount = byte = 0
      } else if (isOne === ONE_HALF) ones++
      else {
        this.#ones = ones
        this.#firstUs = bitFirstUs
        this.#oddUs = secondUs
        this.#onStart(middle)
        inPacket = true
        ones = bitCount = byte = length = check = 0
      }
      isOne = nextIsOne
    }
    halves.plainZeros += totalCount - halves.totalCount
    halves.totalCount = totalCount
    halves.differenceCount = differenceCount
    halves.plainZeroDifference = plainZeroDifference
    this.#pending = firstUs
    this.#previous = previous
    this.#state = inPacket ? PACKET : HUNT
    this.#ones = ones
    this.#bitCount = bitCount
    this.#byte = byte
    this.#length = length
    this.#check = check
    return at
  }

  /**
   * The same with one look for both halves: a pair of durations has a class and one counter. Everything else follows from
   * those, so nothing else is done between the ends of packets.
   * @returns the edge to go on from.
   */
  #readPairs(pairs: PairTable, ticks: Float64Array, levels: Uint8Array, from: number, to: number): number {
    const { codes, classes, counts, entries, oneSteps } = pairs
    const halves = this.#halves
    const { scale, stepUs } = pairs.durations
    const firstLevel = this.#pendingLevel
    const secondLevel = 1 - firstLevel
    const pendingSteps = Math.round(this.#pending / stepUs)
    if (this.#level !== secondLevel || pendingSteps * stepUs !== this.#pending || pendingSteps >= entries)
      return from
    let code = pairs.codeOf(pendingSteps)
    if (code === 0) return from
    const bytes = this.#bytes
    const last = to - 1
    let previous = this.#previous
    let inPacket = this.#state === PACKET
    let ones = this.#ones
    let bitCount = this.#bitCount
    let byte = this.#byte
    let length = this.#length
    let check = this.#check
    let counted = from
    let oneBits = 0
    let oneBitSteps = 0
    let at = from
    // The look is written twice, for ones between packets and for bits in a packet: which it is costs more to ask each time.
    reading: while (at < last) {
      if (!inPacket) {
        let isOne = ONE_HALF
        let middle = 0
        while (isOne === ONE_HALF) {
          if (at >= last) break reading
          middle = ticks[at]!
          const end = ticks[at + 1]!
          const second = ((middle - previous) * scale) | 0
          const next = ((end - middle) * scale) | 0
          // Beyond the table or back in time; not whole, as no two fractions add up to nothing; a level that was not due.
          if (
            (second | next) >>> 0 >= entries ||
            second + next !== (end - previous) * scale ||
            ((levels[at]! ^ firstLevel) | (levels[at + 1]! ^ secondLevel)) !== 0
          )
            break reading
          const nextCode = codes[next]!
          const slot = (code << CODE_BITS) | codes[second]!
          isOne = classes[slot]!
          if (isOne > ONE_HALF || nextCode === 0) {
            if (!this.#meetPair(pairs, code, second, next, previous, middle)) break reading
            isOne = ONE_HALF
            continue
          }
          counts[slot]!++
          oneBits += isOne
          oneBitSteps += oneSteps[slot]!
          if (isOne === ONE_HALF) ones++
          else {
            this.#firstUs = pairs.usOf(code)
            this.#oddUs = second * stepUs
          }
          at += 2
          previous = end
          code = nextCode
        }
        this.#ones = ones
        this.#onStart(middle)
        inPacket = true
        ones = bitCount = byte = length = check = 0
      }
      let endTick = Number.NaN
      while (at < last) {
        const middle = ticks[at]!
        const end = ticks[at + 1]!
        const second = ((middle - previous) * scale) | 0
        const next = ((end - middle) * scale) | 0
        if (
          (second | next) >>> 0 >= entries ||
          second + next !== (end - previous) * scale ||
          ((levels[at]! ^ firstLevel) | (levels[at + 1]! ^ secondLevel)) !== 0
        )
          break reading
        const nextCode = codes[next]!
        const slot = (code << CODE_BITS) | codes[second]!
        const isOne = classes[slot]!
        if (isOne > ONE_HALF || nextCode === 0) {
          if (!this.#meetPair(pairs, code, second, next, previous, middle)) break reading
          continue
        }
        if (bitCount < 8) {
          byte = (byte << 1) | isOne
          if (++bitCount === 8) {
            bytes[length++] = byte
            check ^= byte
          }
        } else if (isOne === ONE_HALF) endTick = middle
        else if (length >= LONGEST_PACKET) break reading
        else bitCount = byte = 0
        counts[slot]!++
        oneBits += isOne
        oneBitSteps += oneSteps[slot]!
        at += 2
        previous = end
        code = nextCode
        if (endTick === middle) break
      }
      if (Number.isNaN(endTick)) break
      halves.addOpen((at - counted) >> 1, oneBits, oneBitSteps * stepUs)
      counted = at
      oneBits = oneBitSteps = 0
      this.#length = length
      this.#check = check
      this.#onEnd(endTick)
      inPacket = false
      ones = this.#ones
      if (!this.#synced) break
    }
    halves.addOpen((at - counted) >> 1, oneBits, oneBitSteps * stepUs)
    this.#pending = pairs.usOf(code)
    this.#previous = previous
    this.#state = inPacket ? PACKET : HUNT
    this.#ones = ones
    this.#bitCount = bitCount
    this.#byte = byte
    this.#length = length
    this.#check = check
    return at
  }

  /** A pair met for the first time: its extremes are now. @returns false where the bit is one for the plain loop. */
  #meetPair(
    pairs: PairTable,
    first: number,
    secondSteps: number,
    nextSteps: number,
    startTick: number,
    middle: number,
  ): boolean {
    const second = pairs.codeOf(secondSteps)
    if (second === 0 || pairs.codeOf(nextSteps) === 0) return false
    const isOne = pairs.classOf(first, second)
    if (isOne > ONE_HALF) return false
    const halves = this.#halves
    const { firstLevel } = pairs
    const secondLevel = 1 - firstLevel
    const firstUs = pairs.usOf(first)
    const secondUs = pairs.usOf(second)
    halves.meet(isOne, firstLevel, firstUs, startTick, this.#tickUs)
    halves.meet(isOne, secondLevel, secondUs, middle, this.#tickUs)
    const difference = secondLevel === 1 ? secondUs - firstUs : firstUs - secondUs
    halves.meetBit(isOne, isOne === ONE_HALF ? difference : firstUs + secondUs, middle)
    return true
  }

  /** The hot loop. Whatever is rare leaves it with an event and is handled with the state in the fields. */
  #readPlainly(ticks: Float64Array, levels: Uint8Array, from: number, to: number): number {
    const tickUs = this.#tickUs
    const uncertainty = this.#uncertaintyUs
    const halves = this.#halves
    const { count, min, max, sum, squares } = halves
    const histogramLow = halves.histogram[0]!
    const histogramHigh = halves.histogram[1]!
    const bytes = this.#bytes
    const thresholdHigh = this.#thresholdHigh
    const thresholdLow = this.#thresholdLow
    const shortHigh = this.#shortHigh
    const shortLow = this.#shortLow
    // Surely outside: the true duration lies less than the uncertainty beside the measured one.
    const { one, zero, oneDifference } = this.#limits
    const exact = uncertainty === 0 ? 1e-9 : 0
    const oneMin = one.minUs - uncertainty - exact
    const oneMax = one.maxUs + uncertainty + exact
    const zeroMin = zero.minUs - uncertainty - exact
    const zeroMax = zero.maxUs + uncertainty + exact
    const differenceLimit = oneDifference.maxUs
    const stretchedUs = 2 * this.#at.stretchedUs
    const heldUs = this.#at.heldUs
    const scale = 1 / HalfBitTally.binUs
    const bins = HalfBitTally.bins
    let i = from
    while (i < to) {
      let level = this.#level
      let previous = this.#previous
      let pending = this.#pending
      let pendingLevel = this.#pendingLevel
      const state = this.#state
      // Phase is known: inside a packet, or in the preamble after one.
      const phased = state === PACKET || this.#synced
      let phase = this.#phase
      let first = this.#first
      let firstUs = this.#firstUs
      let firstTainted = this.#firstTainted
      let ones = this.#ones
      let bitCount = this.#bitCount
      let byte = this.#byte
      let length = this.#length
      let check = this.#check
      let differenceMin = halves.differenceMin
      let differenceMax = halves.differenceMax
      let differenceCount = halves.differenceCount
      let totalMin = halves.totalMin
      let totalMax = halves.totalMax
      let totalCount = halves.totalCount
      let plainZeros = halves.plainZeros
      let plainZeroDifference = halves.plainZeroDifference
      const shortsOpen = this.#shortCount > 0
      let pendingTainted = this.#pendingTainted
      let tainted = this.#tainted
      let event = NO_EVENT
      let tick = previous
      let next = level
      let duration = 0
      while (i < to) {
        next = levels[i]!
        if (next === level) {
          i++
          continue
        }
        tick = ticks[i]!
        i++
        // Both at once: LOW and HIGH are 0 and 1, everything else is more.
        if ((next | level) >= OFF) {
          event = EVENT_OFF
          break
        }
        duration = (tick - previous) * tickUs
        if (duration < (level === 1 ? shortHigh : shortLow) || shortsOpen) {
          event = EVENT_SHORT
          break
        }
        if (pending >= 0) {
          const isOne = pending < (pendingLevel === 1 ? thresholdHigh : thresholdLow) ? 1 : 0
          if (!pendingTainted) {
            const k = isOne * 2 + pendingLevel
            count[k]!++
            sum[k]! += pending
            squares[k]! += pending * pending
            if (pending < min[k]!) {
              min[k] = pending
              halves.minAt[k] = previous - pending / tickUs
            }
            if (pending > max[k]!) {
              max[k] = pending
              halves.maxAt[k] = previous - pending / tickUs
            }
            const bin = (pending * scale) | 0
            const at = bin < bins ? bin : bins - 1
            if (pendingLevel === 1) histogramHigh[at]!++
            else histogramLow[at]!++
            if (isOne === 1) {
              if (pending <= oneMin || pending >= oneMax) this.#countOutside(1, pending, previous)
            } else if (pending <= zeroMin || pending >= zeroMax) {
              this.#countOutside(0, pending, previous)
            }
          } else halves.taintedUs += pending
          if (phase === 0) {
            first = isOne
            firstUs = pending
            firstTainted = pendingTainted
            phase = 1
          } else if (isOne === first) {
            phase = 0
            const difference = pendingLevel === 1 ? pending - firstUs : firstUs - pending
            if (isOne === 1) {
              if (!pendingTainted && !firstTainted && phased) {
                differenceCount++
                halves.addDifference(difference, 1)
                if (difference < differenceMin) {
                  differenceMin = difference
                  halves.differenceMinAt = previous
                }
                if (difference > differenceMax) {
                  differenceMax = difference
                  halves.differenceMaxAt = previous
                }
                if (difference > differenceLimit || difference < -differenceLimit)
                  this.#countDifference(difference, previous)
              }
            } else if (!pendingTainted && !firstTainted) {
              const total = firstUs + pending
              totalCount++
              if (total < totalMin) {
                totalMin = total
                halves.totalMinAt = previous
              }
              if (total > totalMax) {
                totalMax = total
                halves.totalMaxAt = previous
              }
              if (total < stretchedUs) {
                plainZeros++
                plainZeroDifference += difference
              } else this.#countStretched(total, previous)
            }
            if (state === PACKET) {
              if (bitCount < 8) {
                byte = (byte << 1) | isOne
                if (++bitCount === 8) {
                  bytes[length++] = byte
                  check ^= byte
                }
              } else if (isOne === 1) event = EVENT_END
              else if (length >= LONGEST_PACKET) event = EVENT_RUNAWAY
              else {
                bitCount = 0
                byte = 0
              }
            } else if (isOne === 1) ones++
            else {
              this.#oddUs = pending
              event = EVENT_START
            }
          } else {
            this.#oddClass = isOne
            this.#oddUs = pending
            this.#oddAt = previous - pending / tickUs
            event = EVENT_MISMATCH
          }
        }
        if (duration > heldUs) event |= EVENT_GAP
        pending = duration
        pendingLevel = level
        pendingTainted = tainted
        tainted = false
        previous = tick
        level = next
        if (event !== NO_EVENT) break
      }
      this.#level = level
      this.#previous = previous
      this.#pending = pending
      this.#pendingLevel = pendingLevel
      this.#pendingTainted = pendingTainted
      this.#tainted = tainted
      this.#state = state
      this.#phase = phase
      this.#first = first
      this.#firstUs = firstUs
      this.#firstTainted = firstTainted
      this.#ones = ones
      this.#bitCount = bitCount
      this.#byte = byte
      this.#length = length
      this.#check = check
      halves.differenceMin = differenceMin
      halves.differenceMax = differenceMax
      halves.differenceCount = differenceCount
      halves.totalMin = totalMin
      halves.totalMax = totalMax
      halves.totalCount = totalCount
      halves.plainZeros = plainZeros
      halves.plainZeroDifference = plainZeroDifference
      if (event === NO_EVENT) continue
      if (event === EVENT_SHORT) {
        if (duration < 0) throw new RangeError(`time goes backwards at ${this.#us(tick)} us`)
        if (this.#onShort(tick, next, duration)) i--
        continue
      }
      if (event === EVENT_OFF) {
        this.#onUndriven(tick, next)
        continue
      }
      // Everything below happened at the edge that closed the half before the pending one.
      const edge = previous - pending / tickUs
      if (event & EVENT_END) this.#onEnd(edge)
      else if (event & EVENT_START) this.#onStart(edge)
      else if (event & EVENT_MISMATCH) this.#onMismatch()
      else if (event & EVENT_RUNAWAY) this.#onRunaway(edge)
      if (event & EVENT_GAP) this.#onHeld(pending, edge)
      if (this.#bins && this.#synced) return i
    }
    return i
  }

  #countOutside(isOne: 0 | 1, us: number, endTick: number): void {
    const { one, zero } = this.#limits
    const { outside, beyond } = this.#halves
    const limits = isOne ? one : zero
    outside[isOne]!++
    const u = this.#uncertaintyUs
    if (us < limits.receiverMinUs - u || us > limits.receiverMaxUs + u) beyond[isOne]!++
    // Between the windows a half-bit may be either: what is lost by taking it for the wrong one is no second fault.
    const rare = outside[isOne]! < 2 + 0.01 * this.#halves.halvesOf(isOne)
    if (rare && us > one.receiverMaxUs && us < zero.receiverMinUs) this.#spoiled = true
    const text = `half of a ${isOne ? 'one' : 'zero'} of ${print(us)} us`
    this.#faults.add(isOne ? 'one-half' : 'zero-half', endTick - us / this.#tickUs, text)
  }

  #countDifference(us: number, endTick: number): void {
    const { maxUs, receiverMaxUs } = this.#limits.oneDifference
    const u = 2 * this.#uncertaintyUs
    const size = Math.abs(us)
    if (size <= maxUs + 1e-9 || size < maxUs + u) return
    this.#halves.differenceOutside++
    if (size > receiverMaxUs + u) this.#halves.differenceBeyond++
    this.#faults.add('one-difference', endTick, `halves of a one differ by ${print(size)} us`)
  }

  #countStretched(us: number, endTick: number): void {
    this.#halves.stretched++
    const max = this.#limits.zeroTotalMaxUs
    if (us <= max + 1e-9 || us < max + this.#uncertaintyUs) return
    this.#halves.totalOutside++
    this.#faults.add('zero-total', endTick, `a zero bit of ${print(us)} us`)
  }

  /** A short interval, or the one after short ones. @returns whether to read the same edge again. */
  #onShort(tick: number, next: number, us: number): boolean {
    if (this.#beginning && this.#pending < 0) {
      this.#halves.taintedUs += us
      this.#beginning = false
      this.#tainted = false
      this.#previous = tick
      this.#level = next
      return false
    }
    if (us < (this.#level === 1 ? this.#shortHigh : this.#shortLow)) {
      if (this.#startsCutout(us)) {
        this.#flush()
        this.#halves.taintedUs += us
        this.#oneRail = true
        this.#absentSince = this.#partSince = tick
        this.#levelBefore = this.#level
        this.#sawGap = false
        this.#previous = tick
        this.#level = OFF
        return false
      }
      // Passages that bounce count once: the first short interval of a burst is the glitch.
      this.#glitches.count++
      this.#glitches.shortestUs = Math.min(this.#glitches.shortestUs, us)
      this.#glitches.longestUs = Math.max(this.#glitches.longestUs, us)
      if (this.#glitches.count === 1) this.#glitches.firstAtUs = this.#us(this.#previous)
      this.#faults.add('glitch', this.#previous, `an interval of ${print(us)} us between two edges`)
      this.#stretches.add('glitch', this.#us(this.#previous), this.#us(this.#previous) + us)
      this.#spoiled = true
      if (this.#pending >= 0) {
        this.#shorts += us
        this.#shortCount++
      }
      this.#previous = tick
      this.#level = next
      return false
    }
    // The burst is over; the interval after it is long. What were the half-bits without the stray edges?
    const start = this.#previous - this.#shorts / this.#tickUs
    const shorts = this.#shorts
    const odd = this.#shortCount % 2 === 1
    this.#shorts = 0
    this.#shortCount = 0
    // The short intervals are glitches in the account; read, they become part of the half-bits.
    this.#halves.taintedUs -= shorts
    // What of them joins the long interval that ends now.
    let joinedUs = 0
    if (odd && shorts < this.#at.glitchUs) {
      // The level never really changed: all is one interval.
      this.#previous = start - this.#pending / this.#tickUs
      this.#level = this.#pendingLevel
      this.#pending = -1
      joinedUs = shorts
    } else if (odd) {
      // The burst is a half-bit of its own, cut into pieces.
      const end = this.#previous
      this.#previous = start
      this.#level = 1 - this.#pendingLevel
      this.#tainted = true
      this.#feed(end, 1 - this.#level)
    } else {
      // One real crossing: where the pieces make the likeliest half-bits.
      const before = this.#strangeness(this.#pending + shorts) + this.#strangeness(us)
      const after = this.#strangeness(this.#pending) + this.#strangeness(us + shorts)
      const share = before === after ? 0.5 : before < after ? 1 : 0
      this.#pending += shorts * share
      this.#pendingTainted = true
      this.#previous = start + (shorts * share) / this.#tickUs
      joinedUs = shorts * (1 - share)
    }
    if (this.#us(tick - this.#previous) > this.#at.heldUs) {
      // It is a held level and no half-bit: what is a glitch within it is named once.
      this.#halves.taintedUs += joinedUs
      this.#stretches.account.held -= joinedUs
    }
    this.#tainted = true
    return true
  }

  /** How far a duration is from those that decoders accept, us; a little for being far from the nominal one. */
  #strangeness(us: number): number {
    const { one, zero } = this.#limits
    if (us < this.#at.midpointUs)
      return Math.max(0, one.receiverMinUs - us, us - one.receiverMaxUs) + Math.abs(us - one.nominalUs) / 100
    return Math.max(0, zero.receiverMinUs - us) + Math.abs(us - zero.nominalUs) / 100
  }

  /** Short intervals that nothing follows: they and the half-bit before them are given up. */
  #settleBurst(): void {
    if (this.#shortCount === 0) return
    this.#halves.taintedUs += Math.max(0, this.#pending)
    this.#pending = -1
    this.#shorts = 0
    this.#shortCount = 0
    this.#hunt()
  }

  /** On a record of one rail a cut-out may begin with a short interval right after an end bit. */
  #startsCutout(us: number): boolean {
    const { cutout } = this.#limits
    if (!this.#options.cutout || us < cutout.startMinUs / 2 || this.#pending < 0 || this.#shortCount > 0)
      return false
    const threshold = this.#pendingLevel === 1 ? this.#thresholdHigh : this.#thresholdLow
    return (
      this.#state === PACKET &&
      this.#bitCount === 8 &&
      this.#phase === 1 &&
      this.#first === 1 &&
      this.#pending < threshold
    )
  }

  /** Nothing drives the rails any more, or the record falls silent; or that ends. */
  #onUndriven(tick: number, next: number): void {
    const level = this.#level
    if (level < OFF) {
      if (tick < this.#previous) throw new RangeError(`time goes backwards at ${this.#us(tick)} us`)
      this.#absentSince = this.#partSince = tick
      this.#levelBefore = level
      this.#sawGap = next === GAP
      this.#level = next
      return
    }
    if (tick < this.#partSince) throw new RangeError(`time goes backwards at ${this.#us(tick)} us`)
    if (level === NOTHING && next >= OFF) {
      this.#partSince = tick
      this.#level = next
      return
    }
    if (next >= OFF) {
      this.#closePart(tick)
      this.#sawGap = true
      this.#level = next
      return
    }
    const before = this.#levelBefore
    if (before === OFF) {
      // The signal begins.
      this.#closePart(tick)
      this.#begin(tick, next)
      return
    }
    const us = (tick - this.#absentSince) * this.#tickUs
    if (us < this.#at.passageUs && !this.#sawGap) {
      this.#level = before
      // Parted to the same side: a dip that never changed the polarity.
      if (next === before) return
      this.#feed((this.#absentSince + tick) / 2, next)
      return
    }
    if (this.#sawGap) this.#closePart(tick)
    this.#closeHalfBefore()
    if (this.#sawGap) this.#loseRecord(this.#absentSince, tick)
    else if (this.#isCutout(tick, us)) {
      const since = this.#us(this.#absentSince - this.#endTick)
      const total = this.#us(tick - this.#endTick)
      this.#addCutout(since, total, tick)
    } else this.#break('off', this.#absentSince, tick)
    this.#begin(tick, next)
  }

  /**
   * Close the half-bit before an absence, and the one that the absence cut off if it completes a bit: what was cut
   * off in the middle says nothing.
   */
  #closeHalfBefore(): void {
    const { one, zero } = this.#limits
    const before = this.#levelBefore
    const cutUs = this.#us(this.#absentSince - this.#previous)
    this.#level = before
    const whole = this.#shortCount === 0
    this.#settleBurst()
    this.#flush()
    if (cutUs > this.#at.heldUs) {
      this.#break('held', this.#previous, this.#absentSince)
      return
    }
    const completes =
      whole &&
      this.#phase === 1 &&
      (this.#first === 1
        ? cutUs >= one.receiverMinUs && cutUs <= one.receiverMaxUs
        : cutUs >= zero.receiverMinUs)
    if (!completes) {
      this.#halves.taintedUs += cutUs
      return
    }
    this.#tainted = true
    this.#feed(this.#absentSince, 1 - before)
    this.#flush()
  }

  /** A part of an absence ends: rails equal, or no record. */
  #closePart(tick: number): void {
    if (!Number.isNaN(this.#partSince) && tick > this.#partSince) {
      const kind = this.#level === GAP ? 'gap' : 'off'
      this.#stretches.add(kind, this.#us(this.#partSince), this.#us(tick))
    }
    this.#partSince = tick
  }

  /** Right after an end bit, or nearly; a cut-out that begins or ends at the wrong time is one all the same. */
  #isCutout(tick: number, us: number): boolean {
    if (!this.#afterEndBit || this.#state !== HUNT) return false
    const { cutoutLatestUs, cutoutLeastUs, cutoutMostUs } = this.#at
    const since = this.#us(this.#absentSince - this.#endTick)
    const total = this.#us(tick - this.#endTick)
    const afterEndBit = this.#placeOfBreak() === 'after an end bit'
    const declared = this.#options.cutout === true
    if (total < (declared ? this.#limits.packetIntervalMaxUs : cutoutMostUs))
      return afterEndBit || (since <= cutoutLatestUs && us >= cutoutLeastUs)
    if (afterEndBit && total < this.#limits.packetIntervalMaxUs)
      extend(this.#lateCutouts, total, this.#us(tick))
    return false
  }

  #addCutout(startUs: number, endUs: number, tick: number): void {
    const u = this.#uncertaintyUs
    const { startMinUs, startMaxUs, endMinUs, endMaxUs } = this.#limits.cutout
    const count = (e: Extremes & { outside: number }, us: number, min: number, max: number) => {
      extend(e, us, this.#us(tick))
      if (us + u <= min - 1e-6 || us - u >= max + 1e-6) e.outside++
    }
    count(this.#cutoutStart, startUs, startMinUs, startMaxUs)
    // On a record of one rail the end shows only if the level happens to change there: it is left out.
    if (!this.#oneRail) count(this.#cutoutEnd, endUs, endMinUs, endMaxUs)
    const good = this.#oneRail || (endUs + u > endMinUs && endUs - u < endMaxUs)
    this.#stretches.add('cutout', this.#us(this.#absentSince), this.#us(tick), good ? 'allowed' : 'wrong')
    this.#oneRail = false
    this.#cutoutsSeen++
    this.#cutoutWaits = true
    this.#cutoutUs = endUs
    this.#cutoutEndTick = tick
    this.#ones = 0
    this.#afterEndBit = false
    this.#oddAllowed = true
  }

  /** The signal begins, or comes back: its first interval may be the rest of a half-bit and enters no statistics. */
  #begin(tick: number, level: number): void {
    this.#pending = -1
    this.#pendingTainted = false
    this.#shorts = 0
    this.#shortCount = 0
    this.#previous = tick
    this.#level = level
    this.#tainted = true
    this.#beginning = true
    this.#oneRail = false
    this.#absentSince = this.#partSince = Number.NaN
    this.#levelBefore = level
  }

  #onHeld(us: number, startTick: number): void {
    this.#break('held', startTick, startTick + us / this.#tickUs)
    this.#begin(this.#previous, this.#level)
  }

  #placeOfBreak(): BreakPlace {
    const inPreamble = this.#synced || this.#ones >= CERTAIN_ONES
    if (this.#state === PACKET) return 'inside a packet'
    if (this.#phase === 1 && this.#first === 0 && inPreamble) return 'inside a packet'
    if (this.#afterEndBit && this.#ones === 1 && this.#phase === 0 && !this.#isPastEndBit())
      return 'after an end bit'
    if (this.#afterEndBit || inPreamble) return 'in a preamble'
    return 'at an unknown place'
  }

  /** Half of the next one was there before the rails became equal: the preamble has begun. */
  #isPastEndBit(): boolean {
    return this.#us(this.#absentSince - this.#endTick) >= this.#limits.one.receiverMinUs
  }

  /** The signal stopped for a while, and it was no cut-out. */
  #break(kind: 'off' | 'held', fromTick: number, toTick: number): void {
    const place = this.#isSwitchedOff(kind, fromTick, toTick) ? 'after an end bit' : this.#placeOfBreak()
    const b: Break = { kind, place, fromUs: this.#us(fromTick), toUs: this.#us(toTick) }
    const verdict = this.#verdictOf(b)
    const us = b.toUs - b.fromUs
    this.#stretches.add(kind, b.fromUs, b.toUs, verdict)
    this.#gaps.count++
    this.#gaps.longestUs = Math.max(this.#gaps.longestUs, us)
    if (this.#gaps.count === 1) this.#gaps.firstAtUs = b.fromUs
    this.#breaks[verdict]++
    this.#breaks.longestUs = Math.max(this.#breaks.longestUs, us)
    if (verdict === 'unknown' && this.#breaks.unknown === 1) this.#breaks.firstUnknownAtUs = b.fromUs
    const what = kind === 'off' ? 'no voltage' : 'one level held'
    if (verdict === 'wrong')
      this.#faults.add('interruption', fromTick, `${what} for ${print(us / 1000)} ms ${place}`)
    if (place === 'inside a packet') {
      if (verdict === 'allowed') this.#packets.counts.spoiled++
      else {
        if (verdict === 'unknown') this.#packets.counts.framingDoubtful++
        this.#fault('framing', fromTick, `the signal breaks off for ${print(us)} us inside a packet`)
      }
    }
    // A level that is held shows no missing power, however long; a run knows when its driver was off.
    if (kind === 'off' || isKnownOff(b, this.#power)) this.#packets.powerOff(fromTick, toTick, verdict)
    this.#lose()
  }

  /**
   * The signal ended a few ones after an end bit and stayed away: those are the stream that must go on for a moment,
   * fewer than any preamble that decoders could take, and no packet is lost.
   */
  #isSwitchedOff(kind: 'off' | 'held', fromTick: number, toTick: number): boolean {
    return (
      kind === 'off' &&
      this.#afterEndBit &&
      this.#state === HUNT &&
      this.#ones - 1 < this.#limits.preamble.rejected &&
      this.#us(toTick - fromTick) >= SURELY_A_POWER_CYCLE_US
    )
  }

  #verdictOf(b: Break): StretchVerdict {
    const verdict = verdictOfBreak(b, this.#power, this.#limits)
    const since = b.fromUs - this.#us(this.#endTick)
    const early = this.#limits.streamAfterEndBitUs - this.#uncertaintyUs - 1e-6
    if (verdict !== 'allowed' || b.place !== 'after an end bit' || since >= early) return verdict
    // The stream must go on for a moment after an end bit, unless power was switched off on purpose.
    return verdictOfBreak({ ...b, place: 'in a preamble' }, this.#power, this.#limits)
  }

  #loseRecord(fromTick: number, toTick: number): void {
    const us = this.#us(toTick - fromTick)
    const gaps = this.#recordGaps
    gaps.count++
    gaps.longestUs = Math.max(gaps.longestUs, us)
    if (gaps.count === 1) gaps.firstAtUs = this.#us(fromTick)
    if (this.#state === PACKET) this.#packets.counts.spoiled++
    this.#packets.recordGap(fromTick, toTick)
    this.#lose()
  }

  /** What comes next does not continue what came before. */
  #lose(): void {
    this.#hunt()
    this.#oddAllowed = true
    this.#phase = 0
    this.#cutoutEndTick = Number.NaN
  }

  /** Close the pending half-bit, whatever follows it. */
  #flush(): void {
    if (this.#pending < 0) return
    const level = this.#pendingLevel
    const previous = this.#previous
    const before = this.#level
    this.#level = 1 - level
    this.#feed(previous + this.#at.midpointUs / this.#tickUs, level)
    this.#pending = -1
    this.#pendingTainted = false
    this.#previous = previous
    this.#level = before
  }

  #feed(tick: number, level: number): void {
    this.#oneTick[0] = tick
    this.#oneLevel[0] = level
    this.#read(this.#oneTick, this.#oneLevel, 0, 1)
  }

  /** A zero bit after ones: the start bit of a packet, if the ones are a preamble. */
  #onStart(edge: number): void {
    const run = this.#ones
    this.#longestRun = Math.max(this.#longestRun, run)
    this.#ones = 0
    if (!this.#synced && run < CERTAIN_ONES) {
      this.#afterEndBit = false
      return
    }
    this.#state = PACKET
    this.#bitCount = 0
    this.#byte = 0
    this.#length = 0
    this.#check = 0
    this.#run = run
    // A shorter run may be the rest of a preamble that the record begins in, or that a fault has cut.
    this.#runCounts = this.#synced || run >= this.#preambleMin()
    this.#oddAllowed = false
    this.#startTick = edge - (this.#firstUs + this.#oddUs) / this.#tickUs
    if (this.#synced || this.#cutoutWaits) this.#cutoutChances++
    this.#cutoutWaits = false
    if (this.#afterEndBit && this.#synced && !this.#spoiled) this.#addRun(run - 1)
  }

  #preambleMin(): number {
    const { preamble } = this.#limits
    if (this.#mode === 'service') return preamble.service
    return this.#options.cutout ? preamble.cutout : preamble.operations
  }

  /**
   * Ones in a row together are known as exactly as one of them alone, so their mean is known better. At least one
   * half of them is as long as the mean, and at least one as short.
   */
  #addRun(ones: number): void {
    const halves = 2 * ones
    if (halves < CERTAIN_ONES) return
    const mean = this.#us(this.#startTick - this.#endTick) / halves
    const u = this.#uncertaintyUs / halves
    const runs = this.#runs
    runs.count++
    runs.halves += halves
    if (mean - u > runs.aboveUs) {
      runs.aboveUs = mean - u
      runs.aboveAtUs = this.#us(this.#endTick)
    }
    if (mean + u < runs.belowUs) {
      runs.belowUs = mean + u
      runs.belowAtUs = this.#us(this.#endTick)
    }
  }

  #onEnd(edge: number): void {
    const bytes = this.#bytes
    const length = this.#length
    if (length < 2) {
      // No packet: a zero that came from nowhere in a run of ones, as a late edge makes it.
      this.#fault('framing', this.#startTick, 'a zero bit alone among ones')
      this.#hunt()
      return
    }
    const preamble = this.#preambleCount()
    const complete = this.#complete
    complete.length = length
    complete.check = this.#check
    complete.startTick = this.#startTick
    complete.endTick = edge
    complete.spoiled = this.#spoiled
    const valid = this.#packets.packet(complete)
    this.#options.onPacket?.({
      timeUs: this.#us(this.#startTick),
      endUs: this.#us(edge),
      bytes: bytes.slice(0, length),
      valid,
      preamble: preamble.sent,
    })
    if (this.#runCounts && (valid || this.#synced)) this.#packets.addPreamble(this.#startTick, preamble)
    if (valid) this.#spoiled = false
    this.#synced = valid
    this.#endTick = edge
    this.#cutoutEndTick = Number.NaN
    this.#state = HUNT
    this.#ones = 1
    this.#afterEndBit = true
    this.#oddAllowed = !valid
  }

  /** Ones before the packet; after a cut-out also those that it hides, and of the first one only a whole one. */
  #preambleCount(): { sent: number; allowed: number; visible?: number } {
    const run = this.#run
    if (Number.isNaN(this.#cutoutEndTick)) return { sent: this.#afterEndBit ? run - 1 : run, allowed: run }
    const oneUs = this.#halves.meanOneUs ?? 2 * this.#limits.one.nominalUs
    const tolerance = (this.#limits.one.nominalUs / 20 + this.#uncertaintyUs) / oneUs
    const seen = this.#us(this.#startTick - this.#cutoutEndTick) / oneUs
    const visible = Math.min(run, Math.floor(seen + tolerance))
    // The bit clock ran on through the cut-out: all ones since the end bit are known by time.
    const clocked = this.#us(this.#startTick - this.#endTick) / oneUs
    const whole = Math.round(clocked)
    const hidden = Math.ceil(this.#cutoutUs / oneUs - 0.02)
    const ranOn = Math.abs(clocked - whole) <= Math.min(0.25, tolerance)
    return { sent: visible, allowed: ranOn ? whole : visible + hidden, visible }
  }

  /** The two halves of what should be one bit differ in kind. */
  #onMismatch(): void {
    const oddIsOne = this.#oddClass === 1
    const halves = `${print(this.#firstUs)} and ${print(this.#oddUs)} us`
    if (this.#state === PACKET) {
      const place = this.#bitCount === 8 ? 'after' : `in bit ${7 - this.#bitCount} of`
      const byte = this.#bitCount === 8 ? this.#length : this.#length + 1
      this.#fault('framing', this.#oddAt, `two halves of ${halves} ${place} byte ${byte}`)
      this.#hunt()
    } else if (oddIsOne) {
      // A zero half alone among ones.
      const { startMaxUs, endMinUs, endMaxUs } = this.#limits.cutout
      const closesCutout =
        this.#options.cutout &&
        this.#afterEndBit &&
        this.#ones === 1 &&
        this.#firstUs > (endMinUs + startMaxUs) * 0.72 &&
        this.#firstUs < endMaxUs * 1.23
      if (closesCutout) {
        // On one rail the level stayed through the cut-out and the half-bits beside it.
        this.#cutoutUs = this.#firstUs
        this.#cutoutEndTick = this.#oddAt
        this.#cutoutsSeen++
        if (this.#heldCutouts.count++ === 0)
          this.#heldCutouts.firstAtUs = this.#us(this.#oddAt) - this.#firstUs
        this.#cutoutWaits = true
        this.#ones = 0
        this.#afterEndBit = false
        this.#oddAllowed = true
      } else {
        if (this.#synced) this.#fault('framing', this.#oddAt, `half of a zero alone in a preamble: ${halves}`)
        this.#hunt()
      }
    } else if (this.#synced && !this.#oddAllowed) {
      // The ones before were an odd number of halves; the zero half begins the start bit all the same.
      this.#fault('framing', this.#oddAt, `half of a one too many or too few before a packet: ${halves}`)
    }
    // The second half is the first of whatever comes.
    this.#phase = 1
    this.#first = this.#oddClass
    this.#firstUs = this.#oddUs
    this.#firstTainted = false
  }

  #onRunaway(edge: number): void {
    this.#fault('framing', edge, `a packet without an end bit after ${LONGEST_PACKET} bytes`)
    this.#hunt()
  }

  /** Report a fault unless it follows from one that was reported. */
  #fault(clause: 'framing', tick: number, text: string): void {
    if (this.#spoiled) {
      if (this.#state === PACKET) this.#packets.counts.spoiled++
      return
    }
    this.#packets.counts.framing++
    this.#faults.add(clause, tick, text)
    this.#spoiled = true
  }

  /** Look for a run of ones again. */
  #hunt(): void {
    this.#state = HUNT
    this.#ones = 0
    this.#synced = false
    this.#afterEndBit = false
  }

  #reading(endTick: number, startTick: number): SignalReading {
    const halves = this.#halves
    const one = halves.halfBits(1, this.#tickUs)
    const zero = halves.halfBits(0, this.#tickUs)
    const { preamble, ...packets } = this.#packets.reading()
    return {
      mode: this.#mode,
      resolutionUs: this.#clock.resolutionUs,
      roundingUs: this.#clock.roundingUs ?? 0,
      ...(this.#clock.shows === undefined ? {} : { shows: this.#clock.shows }),
      cutoutDeclared: this.#options.cutout === true,
      powerApplied: this.#options.powerApplied === true,
      savedState: this.#options.savedState === true,
      recordStartUs: Number.isNaN(startTick) ? 0 : this.#us(startTick),
      startUs: Number.isNaN(this.#firstTick) ? 0 : this.#us(this.#firstTick),
      endUs: Number.isNaN(endTick) ? 0 : this.#us(endTick),
      edges: this.#edges,
      one,
      zero,
      oneDifference: halves.differences(this.#tickUs),
      zeroTotal: halves.zeroTotals(this.#tickUs),
      shift: halves.shift(one, this.#uncertaintyUs),
      histogram: {
        binUs: HalfBitTally.binUs,
        high: Array.from(halves.histogram[1]!),
        low: Array.from(halves.histogram[0]!),
        windows: {
          one: [this.#limits.one.minUs, this.#limits.one.maxUs],
          zero: [this.#limits.zero.minUs, this.#limits.zero.maxUs],
        },
      },
      glitches: { ...this.#glitches, shortestUs: this.#glitches.count ? this.#glitches.shortestUs : 0 },
      gaps: { ...this.#gaps },
      breaks: { ...this.#breaks },
      recordGaps: { ...this.#recordGaps },
      account: { ...this.#stretches.account, driven: halves.totalUs },
      stretches: [...this.#stretches.list].sort((a, b) => a.fromUs - b.fromUs),
      oneRuns: { ...this.#runs },
      cutout: {
        start: this.#cutoutStart,
        end: this.#cutoutEnd,
        late: this.#lateCutouts,
        chances: this.#cutoutChances + (this.#cutoutWaits ? 1 : 0),
        seen: this.#cutoutsSeen,
        held: { ...this.#heldCutouts },
      },
      preamble: { ...preamble, longestRun: this.#longestRun },
      ...packets,
      findings: this.#faults.inOrder(),
      unlisted: { ...this.#faults.unlisted },
    }
  }
}

/** Index of the first of `count` ascending ticks that is not below `tick`. */
function firstAtOrAfter(ticks: Float64Array, count: number, tick: number): number {
  let low = 0
  let high = count
  while (low < high) {
    const middle = (low + high) >> 1
    if (ticks[middle]! < tick) low = middle + 1
    else high = middle
  }
  return low
}

function print(value: number): string {
  return formatNumber(value, 5)
}
