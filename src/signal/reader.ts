/**
 * The one reader: edges → half-bits → bits → packets, in one pass, in constant memory. Everything that yields a
 * signal goes through it: captures, simulated firmware, the encoder's own output.
 *
 * The level of an interval never matters for its meaning, only its duration: below {@link MIDPOINT_US} it is half
 * of a one, above it half of a zero (no legal half-bit lies between 64 and 90 us: S-9.1:2020 Table 1, derived).
 * Which half comes first is settled by the zeros: a run of ones has no phase, the first zero half after it starts
 * a bit.
 *
 * A fault is reported once. What it does to the reading afterwards (lost phase, a spoiled packet) is not reported
 * again: after a fault the reader hunts for a run of nine ones, which cannot lie inside a packet.
 */
import {
  addresseeOf,
  BROADCAST,
  decodePacket,
  NOBODY,
  type ServiceOperation,
  ServiceSequence,
} from '../packet/index.js'
import type { ClauseId, OutputMode } from '../standard/index.js'
import { formatByte, formatBytes, formatNumber } from '../units/index.js'
import { type EdgeBlock, type EdgeClock, EdgeList, type EdgeSink, OFF } from './edges.js'
import type {
  AddressReading,
  DurationStats,
  Extremes,
  Finding,
  HalfBitStats,
  PacketRecord,
  ServiceReading,
  SignalReading,
} from './reading.js'

/** Halfway between the longest half of a one and the shortest half of a zero that decoders must accept, us. */
const MIDPOINT_US = 77
/** Below this an interval is no half of any bit, however wrong the station's clock, us. */
const GLITCH_US = 40
/** Above this the signal is interrupted, us: no half-bit may be longer than 10000 us. */
const GAP_US = 20_000
/** Rails equal for less than this is a passage through zero, not an interruption, us. */
const PASSAGE_US = 8
/** An interruption after an end bit up to this long is a cut-out, us (it should end after 488). */
const CUTOUT_MAX_US = 1000
/** A zero half longer than this is stretched on purpose, us. */
const STRETCHED_US = 150
/** Ones that cannot occur in a row inside a packet. */
const CERTAIN_ONES = 9
/** Edges looked at before the first judgement, to learn whether the polarities differ by a constant. */
const PRELUDE = 4096
const LONGEST_PACKET = 64
const HISTOGRAM_BINS = 1024
const HISTOGRAM_BIN_US = 0.25
const LISTED_PER_CLAUSE = 20
const LISTED_OPERATIONS = 200
const CACHED_PACKETS = 65_536

/** Windows of S-9.1:2020 Table 1, the same in every profile, us. */
const WINDOW = {
  one: { min: 55, max: 61, receiverMin: 52, receiverMax: 64 },
  zero: { min: 95, max: 9900, receiverMin: 90, receiverMax: 10_000 },
  oneDifference: { max: 3, receiverMax: 6 },
  zeroTotal: { max: 12_000 },
  packetInterval: { max: 30_000 },
  sameAddressGap: { min: 5000 },
  // RCN-217:2019 2.4 (from memory), from the last edge of the end bit.
  cutoutStart: { min: 26, max: 32 },
  cutoutEnd: { min: 454, max: 488 },
} as const

export interface ReaderOptions {
  /** What the track is for; service mode wants other gaps and preambles. */
  mode?: OutputMode
  /** Preamble ones wanted by the profile; only the count of short ones depends on it. Default 14, service mode 20. */
  preambleMin?: number
  /** The station makes cut-outs: on a record of one rail alone they look like a long level. */
  cutout?: boolean
  /** Only edges in this window are read, us from the start of the record. */
  fromUs?: number
  toUs?: number
  /** Called for every complete packet; the record is the caller's to keep. */
  onPacket?: (packet: PacketRecord) => void
}

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
  readonly #resolutionUs: number
  readonly #options: ReaderOptions
  readonly #mode: OutputMode
  readonly #preambleMin: number
  readonly #fromTick: number
  readonly #toTick: number

  #prelude: EdgeList | undefined = new EdgeList()
  #edges = 0
  #firstTick = Number.NaN
  #lastTick = Number.NaN

  // The hot loop's state between blocks; durations in us, times in ticks.
  #level: number = OFF
  #previous = 0
  #pending = -1
  #pendingLevel = 0
  #pendingTainted = false
  #tainted = false
  /** The running interval is the first of the record or after an interruption. */
  #beginning = false
  #shorts = 0
  #shortCount = 0
  #offAt = 0
  #levelBeforeOff: number = OFF
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
  /** Class of the half that raised a mismatch. */
  #oddClass = 0
  #oddUs = 0
  #oddAt = 0
  #startTick = 0
  /** Ones before the packet being read. */
  #run = 0
  #runCounts = false
  /** Ones that the last cut-out hides, sent but not seen. */
  #hidden = 0
  /** The cut-out that is going on was found on a record of one rail. */
  #oneRail = false
  #thresholdHigh = MIDPOINT_US
  #thresholdLow = MIDPOINT_US
  #shortHigh = GLITCH_US
  #shortLow = GLITCH_US

  /** The last packet ended well and nothing has gone wrong since: short preambles and odd halves are the station's. */
  #synced = false
  /** An odd half-bit is no fault: the signal came back from a cut-out or gap in the middle of nowhere. */
  #oddAllowed = true
  /** The run of ones began with an end bit. */
  #afterEndBit = false
  /** A fault was reported since the last good packet. */
  #spoiled = false
  #endTick = Number.NaN

  // Half-bit statistics, index = class · 2 + polarity.
  readonly #count = new Float64Array(4)
  readonly #min = new Float64Array(4).fill(Number.POSITIVE_INFINITY)
  readonly #max = new Float64Array(4).fill(Number.NEGATIVE_INFINITY)
  readonly #minAt = new Float64Array(4)
  readonly #maxAt = new Float64Array(4)
  readonly #sum = new Float64Array(4)
  readonly #squares = new Float64Array(4)
  readonly #outside = new Float64Array(2)
  readonly #beyond = new Float64Array(2)
  readonly #histogram = [new Float64Array(HISTOGRAM_BINS), new Float64Array(HISTOGRAM_BINS)]
  // One bits: signed difference; zero bits: total, and the signed difference of those not stretched.
  #differenceCount = 0
  #differenceMin = Number.POSITIVE_INFINITY
  #differenceMax = Number.NEGATIVE_INFINITY
  #differenceMinAt = 0
  #differenceMaxAt = 0
  #differenceSum = 0
  #differenceOutside = 0
  #differenceBeyond = 0
  #totalCount = 0
  #totalMin = Number.POSITIVE_INFINITY
  #totalMax = Number.NEGATIVE_INFINITY
  #totalMinAt = 0
  #totalMaxAt = 0
  #totalOutside = 0
  #plainZeros = 0
  #plainZeroDifference = 0
  #stretched = 0

  #glitches = { count: 0, shortestUs: Number.POSITIVE_INFINITY, longestUs: 0, firstAtUs: 0 }
  #gaps = { count: 0, longestUs: 0, firstAtUs: 0 }
  readonly #cutoutStart = { ...extremes(), outside: 0 }
  readonly #cutoutEnd = { ...extremes(), outside: 0 }
  readonly #packets = { total: 0, valid: 0, spoiled: 0, errorByte: 0, framing: 0, length: 0, undefined: 0 }
  readonly #packetBytes = extremes()
  readonly #preambleSent = extremes()
  readonly #preambleAllowed = extremes()
  #preambleShort = 0
  #longestRun = 0
  readonly #interval = extremes()
  #intervalOutside = 0
  #lastStartTick = Number.NaN
  readonly #gap = extremes()
  #gapOutside = 0
  #gapAddressee = NOBODY
  readonly #addresses = new Map<number, AddressReading & { endUs: number; startUs: number }>()
  readonly #known = new Map<number, { defined: boolean; addressee: number }>()
  readonly #sequence: ServiceSequence | undefined
  readonly #service: ServiceReading = { operations: 0, met: 0, broken: 0, undecided: 0, list: [] }
  readonly #findings: Finding[] = []
  readonly #listed: Partial<Record<ClauseId, number>> = {}
  readonly #unlisted: Partial<Record<ClauseId, number>> = {}
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
    this.#resolutionUs = clock.resolutionUs
    this.#options = options
    this.#mode = options.mode ?? 'operations'
    this.#preambleMin = options.preambleMin ?? (this.#mode === 'service' ? 20 : 14)
    if (this.#mode === 'service') this.#sequence = new ServiceSequence()
    this.#fromTick = (options.fromUs ?? Number.NEGATIVE_INFINITY) / clock.tickUs
    this.#toTick = (options.toUs ?? Number.POSITIVE_INFINITY) / clock.tickUs
  }

  /** Packets read so far, for progress. */
  get packetsSoFar(): number {
    return this.#packets.total
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
   * @param endTick when the record ended, if later than its last edge.
   */
  finish(endTick?: number): SignalReading {
    if (this.#prelude) this.#endPrelude()
    const end = Math.min(Math.max(endTick ?? Number.NEGATIVE_INFINITY, this.#lastTick), this.#toTick)
    // The last interval has no second edge, but the half before it is complete.
    if (this.#shortCount === 0) this.#flush()
    // A service track may rest between operations; on the main decoders wait for the next packet.
    if (this.#mode === 'operations') this.#closeInterval(Number.isNaN(end) ? this.#lastTick : end)
    const last = this.#sequence?.finish()
    if (last) this.#addOperation(last)
    return this.#reading(end)
  }

  #us(tick: number): number {
    return tick * this.#tickUs
  }

  /** Learn from the first edges whether the polarities differ by a constant, then read them. */
  #endPrelude(): void {
    const list = this.#prelude!
    this.#prelude = undefined
    let pairs = 0
    let sum = 0
    for (let i = 2; i < list.count; i++) {
      const a = (list.ticks[i - 1]! - list.ticks[i - 2]!) * this.#tickUs
      const b = (list.ticks[i]! - list.ticks[i - 1]!) * this.#tickUs
      // Two halves of ones, however unequal, add up to about 116 us; no other neighbours do.
      if (a < 20 || b < 20 || a + b < 100 || a + b > 133) continue
      pairs++
      sum += list.levels[i - 2] === 1 ? a - b : b - a
    }
    const shift = pairs > 8 ? sum / pairs / 2 : 0
    if (Math.abs(shift) < 30) {
      this.#thresholdHigh = MIDPOINT_US + shift
      this.#thresholdLow = MIDPOINT_US - shift
      this.#shortHigh = Math.min(GLITCH_US, Math.max(15, GLITCH_US + shift))
      this.#shortLow = Math.min(GLITCH_US, Math.max(15, GLITCH_US - shift))
    }
    this.#read(list.ticks, list.levels, 0, list.count)
  }

  /** The hot loop. Whatever is rare leaves it with an event and is handled with the state in the fields. */
  #read(ticks: Float64Array, levels: Uint8Array, from: number, to: number): void {
    const tickUs = this.#tickUs
    const resolution = this.#resolutionUs
    const count = this.#count
    const min = this.#min
    const max = this.#max
    const sum = this.#sum
    const squares = this.#squares
    const histogramLow = this.#histogram[0]!
    const histogramHigh = this.#histogram[1]!
    const bytes = this.#bytes
    const thresholdHigh = this.#thresholdHigh
    const thresholdLow = this.#thresholdLow
    const shortHigh = this.#shortHigh
    const shortLow = this.#shortLow
    // Surely outside: the true duration lies less than one resolution beside the measured one.
    const oneMin = WINDOW.one.min - resolution
    const oneMax = WINDOW.one.max + resolution
    const zeroMin = WINDOW.zero.min - resolution
    const zeroMax = WINDOW.zero.max + resolution
    const exact = resolution === 0 ? 1e-9 : 0
    const scale = 1 / HISTOGRAM_BIN_US
    let i = from
    while (i < to) {
      let level = this.#level
      let previous = this.#previous
      let pending = this.#pending
      let pendingLevel = this.#pendingLevel
      const state = this.#state
      let phase = this.#phase
      let first = this.#first
      let firstUs = this.#firstUs
      let firstTainted = this.#firstTainted
      let ones = this.#ones
      let bitCount = this.#bitCount
      let byte = this.#byte
      let length = this.#length
      let check = this.#check
      let differenceMin = this.#differenceMin
      let differenceMax = this.#differenceMax
      let differenceSum = this.#differenceSum
      let differenceCount = this.#differenceCount
      let totalMin = this.#totalMin
      let totalMax = this.#totalMax
      let totalCount = this.#totalCount
      let plainZeros = this.#plainZeros
      let plainZeroDifference = this.#plainZeroDifference
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
        if (next === OFF || level === OFF) {
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
              this.#minAt[k] = previous - pending / tickUs
            }
            if (pending > max[k]!) {
              max[k] = pending
              this.#maxAt[k] = previous - pending / tickUs
            }
            const bin = (pending * scale) | 0
            const at = bin < HISTOGRAM_BINS ? bin : HISTOGRAM_BINS - 1
            if (pendingLevel === 1) histogramHigh[at]!++
            else histogramLow[at]!++
            if (isOne === 1) {
              if (pending <= oneMin - exact || pending >= oneMax + exact)
                this.#countOutside(1, pending, previous)
            } else if (pending <= zeroMin - exact || pending >= zeroMax + exact) {
              this.#countOutside(0, pending, previous)
            }
          }
          if (phase === 0) {
            first = isOne
            firstUs = pending
            firstTainted = pendingTainted
            phase = 1
          } else if (isOne === first) {
            phase = 0
            const difference = pendingLevel === 1 ? pending - firstUs : firstUs - pending
            if (isOne === 1) {
              if (!pendingTainted && !firstTainted && (state === PACKET || this.#synced)) {
                differenceCount++
                differenceSum += difference
                if (difference < differenceMin) {
                  differenceMin = difference
                  this.#differenceMinAt = previous
                }
                if (difference > differenceMax) {
                  differenceMax = difference
                  this.#differenceMaxAt = previous
                }
                if (difference > 3 || difference < -3) this.#countDifference(difference, previous)
              }
            } else if (!pendingTainted && !firstTainted) {
              const total = firstUs + pending
              totalCount++
              if (total < totalMin) {
                totalMin = total
                this.#totalMinAt = previous
              }
              if (total > totalMax) {
                totalMax = total
                this.#totalMaxAt = previous
              }
              if (total < 2 * STRETCHED_US) {
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
        if (duration > GAP_US) event |= EVENT_GAP
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
      this.#differenceMin = differenceMin
      this.#differenceMax = differenceMax
      this.#differenceSum = differenceSum
      this.#differenceCount = differenceCount
      this.#totalMin = totalMin
      this.#totalMax = totalMax
      this.#totalCount = totalCount
      this.#plainZeros = plainZeros
      this.#plainZeroDifference = plainZeroDifference
      if (event === NO_EVENT) continue
      if (event === EVENT_SHORT) {
        if (duration < 0) throw new RangeError(`time goes backwards at ${this.#us(tick)} us`)
        if (this.#onShort(tick, next, duration)) i--
        continue
      }
      if (event === EVENT_OFF) {
        this.#onOff(tick, next)
        continue
      }
      // Everything below happened at the edge that closed the half before the pending one.
      const edge = previous - pending / tickUs
      if (event & EVENT_END) this.#onEnd(edge)
      else if (event & EVENT_START) this.#onStart(edge)
      else if (event & EVENT_MISMATCH) this.#onMismatch()
      else if (event & EVENT_RUNAWAY) this.#onRunaway(edge)
      if (event & EVENT_GAP) this.#onGap(pending, edge)
    }
  }

  #countOutside(isOne: 0 | 1, us: number, endTick: number): void {
    const window = isOne ? WINDOW.one : WINDOW.zero
    this.#outside[isOne]!++
    const r = this.#resolutionUs
    if (us < window.receiverMin - r || us > window.receiverMax + r) this.#beyond[isOne]!++
    // Between the windows a half-bit may be either: what is lost by taking it for the wrong one is no second fault.
    const rare = this.#outside[isOne]! < 2 + 0.01 * (this.#count[isOne * 2]! + this.#count[isOne * 2 + 1]!)
    if (rare && us > WINDOW.one.receiverMax && us < WINDOW.zero.receiverMin) this.#spoiled = true
    const text = `half of a ${isOne ? 'one' : 'zero'} of ${print(us)} us`
    this.#find(isOne ? 'one-half' : 'zero-half', endTick - us / this.#tickUs, text)
  }

  #countDifference(us: number, endTick: number): void {
    const r = this.#resolutionUs
    const size = Math.abs(us)
    if (size <= WINDOW.oneDifference.max + 1e-9 || size < WINDOW.oneDifference.max + 2 * r) return
    this.#differenceOutside++
    if (size > WINDOW.oneDifference.receiverMax + 2 * r) this.#differenceBeyond++
    this.#find('one-difference', endTick, `halves of a one differ by ${print(size)} us`)
  }

  #countStretched(us: number, endTick: number): void {
    this.#stretched++
    if (us <= WINDOW.zeroTotal.max + 1e-9 || us < WINDOW.zeroTotal.max + this.#resolutionUs) return
    this.#totalOutside++
    this.#find('zero-total', endTick, `a zero bit of ${print(us)} us`)
  }

  /** A short interval, or the one after short ones. @returns whether to read the same edge again. */
  #onShort(tick: number, next: number, us: number): boolean {
    if (this.#beginning && this.#pending < 0) {
      this.#beginning = false
      this.#tainted = false
      this.#previous = tick
      this.#level = next
      return false
    }
    if (us < (this.#level === 1 ? this.#shortHigh : this.#shortLow)) {
      if (this.#startsCutout(us)) {
        this.#flush()
        this.#oneRail = true
        this.#offAt = tick
        this.#levelBeforeOff = this.#level
        this.#level = OFF
        return false
      }
      // Passages that bounce count once: the first short interval of a burst is the glitch.
      this.#glitches.count++
      this.#glitches.shortestUs = Math.min(this.#glitches.shortestUs, us)
      this.#glitches.longestUs = Math.max(this.#glitches.longestUs, us)
      if (this.#glitches.count === 1) this.#glitches.firstAtUs = this.#us(this.#previous)
      this.#find('glitch', this.#previous, `an interval of ${print(us)} us between two edges`)
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
    if (odd && shorts < GLITCH_US) {
      // The level never really changed: all is one interval.
      this.#previous = start - this.#pending / this.#tickUs
      this.#level = this.#pendingLevel
      this.#pending = -1
    } else if (odd) {
      // The burst is a half-bit of its own, cut into pieces.
      const end = this.#previous
      this.#previous = start
      this.#level = 1 - this.#pendingLevel
      this.#tainted = true
      this.#feed(end, 1 - this.#level)
    } else {
      // One real crossing: where the pieces make the likeliest half-bits.
      const before = strangeness(this.#pending + shorts) + strangeness(us)
      const after = strangeness(this.#pending) + strangeness(us + shorts)
      const share = before === after ? 0.5 : before < after ? 1 : 0
      this.#pending += shorts * share
      this.#pendingTainted = true
      this.#previous = start + (shorts * share) / this.#tickUs
    }
    this.#tainted = true
    return true
  }

  /** On a record of one rail a cut-out may begin with a short interval right after an end bit. */
  #startsCutout(us: number): boolean {
    if (!this.#options.cutout || us < 15 || this.#pending < 0 || this.#shortCount > 0) return false
    const threshold = this.#pendingLevel === 1 ? this.#thresholdHigh : this.#thresholdLow
    return (
      this.#state === PACKET &&
      this.#bitCount === 8 &&
      this.#phase === 1 &&
      this.#first === 1 &&
      this.#pending < threshold
    )
  }

  /** The rails become equal, or part again. */
  #onOff(tick: number, next: number): void {
    if (next === OFF) {
      if (tick < this.#previous) throw new RangeError(`time goes backwards at ${this.#us(tick)} us`)
      this.#offAt = tick
      this.#levelBeforeOff = this.#level
      this.#level = OFF
      return
    }
    const before = this.#levelBeforeOff
    if (before === OFF) {
      this.#begin(tick, next)
      return
    }
    const us = (tick - this.#offAt) * this.#tickUs
    if (us < 0) throw new RangeError(`time goes backwards at ${this.#us(tick)} us`)
    if (us < PASSAGE_US) {
      this.#level = before
      // Parted to the same side: a dip that never changed the polarity.
      if (next === before) return
      this.#feed((this.#offAt + tick) / 2, next)
      return
    }
    // What was cut off may have been a whole half-bit.
    const cut = (this.#offAt - this.#previous) * this.#tickUs
    this.#level = before
    if (
      this.#shortCount === 0 &&
      cut >= WINDOW.one.receiverMin &&
      (cut <= WINDOW.one.receiverMax || cut >= WINDOW.zero.receiverMin)
    ) {
      this.#tainted = true
      this.#feed(this.#offAt, 1 - before)
    }
    this.#flush()
    const end = this.#endTick
    const total = (tick - end) * this.#tickUs
    const follows = this.#state === HUNT && this.#afterEndBit && this.#ones === 1 && this.#phase === 0
    if (follows && total < CUTOUT_MAX_US) {
      this.#addCutout((this.#offAt - end) * this.#tickUs, total, tick)
      this.#hidden = onesIn(total)
      this.#ones = 0
      this.#afterEndBit = false
      this.#oddAllowed = true
    } else this.#interrupted(us, this.#offAt)
    this.#begin(tick, next)
  }

  /** On a record of one rail the end of a cut-out shows only if the level happens to change there: it is left out. */
  #addCutout(startUs: number, endUs: number, tick: number): void {
    const r = this.#resolutionUs
    const count = (
      e: Extremes & { outside: number },
      us: number,
      { min, max }: { min: number; max: number },
    ) => {
      extend(e, us, this.#us(tick))
      if (us + r < min || us - r > max) e.outside++
    }
    count(this.#cutoutStart, startUs, WINDOW.cutoutStart)
    if (!this.#oneRail) count(this.#cutoutEnd, endUs, WINDOW.cutoutEnd)
    this.#oneRail = false
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
  }

  #onGap(us: number, startTick: number): void {
    this.#interrupted(us, startTick)
    this.#begin(this.#previous, this.#level)
  }

  #interrupted(us: number, startTick: number): void {
    this.#gaps.count++
    this.#gaps.longestUs = Math.max(this.#gaps.longestUs, us)
    if (this.#gaps.count === 1) this.#gaps.firstAtUs = this.#us(startTick)
    if (this.#state === PACKET) {
      this.#fault('framing', startTick, `the signal breaks off for ${print(us)} us inside a packet`)
    }
    this.#hunt()
    this.#oddAllowed = true
    this.#phase = 0
  }

  /** Close the pending half-bit, whatever follows it. */
  #flush(): void {
    if (this.#pending < 0) return
    const level = this.#pendingLevel
    const previous = this.#previous
    const before = this.#level
    this.#level = 1 - level
    this.#feed(previous + MIDPOINT_US / this.#tickUs, level)
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
    this.#runCounts = this.#synced || run >= this.#preambleMin
    this.#oddAllowed = false
    this.#startTick = edge - (this.#firstUs + this.#oddUs) / this.#tickUs
  }

  #addInterval(tick: number): void {
    const us = (tick - this.#lastStartTick) * this.#tickUs
    extend(this.#interval, us, this.#us(this.#lastStartTick))
    if (us <= WINDOW.packetInterval.max + this.#resolutionUs + 1e-6) return
    this.#intervalOutside++
    this.#find('packet-interval', this.#lastStartTick, `no complete packet begins for ${print(us / 1000)} ms`)
  }

  #onEnd(edge: number): void {
    const bytes = this.#bytes
    const length = this.#length
    const packets = this.#packets
    if (length < 2) {
      // No packet: a zero that came from nowhere in a run of ones, as a late edge makes it.
      const text = 'a zero bit alone among ones'
      this.#fault('framing', this.#startTick, text)
      this.#hunt()
      return
    }
    packets.total++
    // Beyond six bytes only what the packet room knows as a longer form.
    const rightLength = length >= 3 && (length <= 6 || isKnownLength(bytes.slice(0, length), this.#mode))
    const rightCheck = this.#check === 0
    const valid = rightLength && rightCheck
    const sent = this.#afterEndBit ? this.#run - 1 : this.#run
    this.#options.onPacket?.({
      timeUs: this.#us(this.#startTick),
      endUs: this.#us(edge),
      bytes: bytes.slice(0, length),
      valid,
      preamble: sent,
    })
    if (this.#runCounts && (valid || this.#synced)) this.#addPreamble(sent)
    if (valid) {
      packets.valid++
      extend(this.#packetBytes, length, this.#us(this.#startTick))
      this.#addValid(edge)
      this.#spoiled = false
      this.#synced = true
    } else {
      // One packet breaks one clause: the length, else the error byte; nothing that a reported fault spoiled.
      if (this.#spoiled) packets.spoiled++
      else if (!rightLength && (rightCheck || length < 3)) {
        packets.length++
        extend(this.#packetBytes, length, this.#us(this.#startTick))
        this.#find(
          'packet-length',
          this.#startTick,
          `a packet of ${length} bytes`,
          formatBytes(bytes, length),
        )
      } else {
        packets.errorByte++
        const wanted = bytes[length - 1]! ^ this.#check
        const text = `error byte ${formatByte(bytes[length - 1]!)} where ${formatByte(wanted)} belongs`
        this.#find('error-byte', this.#startTick, text, formatBytes(bytes, length))
      }
      this.#synced = false
    }
    this.#endTick = edge
    this.#hidden = 0
    this.#state = HUNT
    this.#ones = 1
    this.#afterEndBit = true
    this.#oddAllowed = !valid
  }

  #addPreamble(sent: number): void {
    const allowed = this.#run + this.#hidden
    const atUs = this.#us(this.#startTick)
    extend(this.#preambleSent, sent, atUs)
    extend(this.#preambleAllowed, allowed, atUs)
    if (allowed >= this.#preambleMin) return
    this.#preambleShort++
    const counted = sent === allowed ? '' : ', the end bit before it counted'
    this.#find('preamble', this.#startTick, `only ${allowed} ones before a packet${counted}`)
  }

  #addValid(edge: number): void {
    // Only complete packets count: S-9.2:2004 C.
    if (!Number.isNaN(this.#lastStartTick)) this.#addInterval(this.#startTick)
    this.#lastStartTick = this.#startTick
    const bytes = this.#bytes
    const length = this.#length
    const about = this.#look(bytes, length)
    const startUs = this.#us(this.#startTick)
    if (!about.defined) {
      this.#packets.undefined++
      this.#find(
        'instruction',
        this.#startTick,
        'bytes that the standards do not define',
        formatBytes(bytes, length),
      )
    }
    if (this.#sequence) {
      const over = this.#sequence.packet(bytes.slice(0, length), startUs, this.#us(edge))
      if (over) this.#addOperation(over)
    }
    const { addressee } = about
    if (addressee === NOBODY) return
    const seen = this.#addresses.get(addressee)
    const endUs = this.#us(edge)
    if (seen === undefined) {
      const fresh = { addressee, count: 1, shortestGapUs: Number.POSITIVE_INFINITY, longestIntervalUs: 0 }
      this.#addresses.set(addressee, { ...fresh, startUs, endUs })
      return
    }
    const gap = startUs - seen.endUs
    seen.count++
    if (gap < seen.shortestGapUs) seen.shortestGapUs = gap
    if (startUs - seen.startUs > seen.longestIntervalUs) seen.longestIntervalUs = startUs - seen.startUs
    seen.startUs = startUs
    seen.endUs = endUs
    if (addressee === BROADCAST || this.#mode === 'service') return
    if (gap < this.#gap.low) this.#gapAddressee = addressee
    extend(this.#gap, gap, startUs)
    if (gap >= WINDOW.sameAddressGap.min - this.#resolutionUs - 1e-6) return
    this.#gapOutside++
    this.#find(
      'same-address-gap',
      this.#startTick,
      `${print(gap / 1000)} ms after the packet before for the same address`,
      formatBytes(bytes, length),
    )
  }

  #addOperation(operation: ServiceOperation): void {
    const { verdict, ended, says, startUs, faults } = operation
    const service = this.#service
    service.operations++
    if (verdict !== 'undecided' || ended !== 'end of record') service[verdict]++
    const reasons = faults.map((f) => f.says)
    if (service.list.length < LISTED_OPERATIONS)
      service.list.push({ timeUs: startUs, says, verdict, faults: reasons })
    if (verdict === 'broken')
      this.#find('service-sequence', startUs / this.#tickUs, `${says}: ${reasons.join('; ')}`)
  }

  /** What the packet room says of a packet, remembered by its bytes. */
  #look(bytes: Uint8Array, length: number): { defined: boolean; addressee: number } {
    let key = length
    if (length <= 6) for (let i = 0; i < length; i++) key = key * 256 + bytes[i]!
    const known = length <= 6 ? this.#known.get(key) : undefined
    if (known) return known
    const copy = bytes.slice(0, length)
    const about = {
      defined: !decodePacket(copy, { mode: this.#mode }).findings.some(isFault),
      addressee:
        this.#mode === 'service' && bytes[0]! >= 112 && bytes[0]! < 128
          ? NOBODY
          : addresseeOf(copy, 0, length),
    }
    if (length <= 6) {
      if (this.#known.size >= CACHED_PACKETS) this.#known.clear()
      this.#known.set(key, about)
    }
    return about
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
      const closesCutout =
        this.#options.cutout &&
        this.#afterEndBit &&
        this.#ones === 1 &&
        this.#firstUs > 350 &&
        this.#firstUs < 600
      if (closesCutout) {
        this.#hidden = onesIn(this.#firstUs)
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
      if (this.#state === PACKET) this.#packets.spoiled++
      return
    }
    this.#packets.framing++
    this.#find(clause, tick, text)
    this.#spoiled = true
  }

  /** Look for a run of ones again. */
  #hunt(): void {
    this.#state = HUNT
    this.#ones = 0
    this.#synced = false
    this.#afterEndBit = false
  }

  #find(clause: ClauseId, tick: number, text: string, packet?: string): void {
    const listed = this.#listed[clause] ?? 0
    if (listed >= LISTED_PER_CLAUSE) {
      this.#unlisted[clause] = (this.#unlisted[clause] ?? 0) + 1
      return
    }
    this.#listed[clause] = listed + 1
    const finding: Finding = { clause, timeUs: this.#us(tick), text }
    if (packet !== undefined) finding.packet = packet
    this.#findings.push(finding)
  }

  /** Silence at the end of the record counts as time without a packet. */
  #closeInterval(tick: number): void {
    let since = this.#lastStartTick
    if (Number.isNaN(since))
      since = Number.isNaN(this.#firstTick) ? Math.max(0, this.#fromTick) : this.#firstTick
    if (Number.isNaN(tick)) return
    this.#longestRun = Math.max(this.#longestRun, this.#ones)
    if ((tick - since) * this.#tickUs <= WINDOW.packetInterval.max) return
    this.#lastStartTick = since
    this.#addInterval(tick)
  }

  #reading(endTick: number): SignalReading {
    const one = this.#halfBits(1)
    const zero = this.#halfBits(0)
    return {
      mode: this.#mode,
      resolutionUs: this.#resolutionUs,
      startUs: Number.isNaN(this.#firstTick) ? 0 : this.#us(this.#firstTick),
      endUs: Number.isNaN(endTick) ? 0 : this.#us(endTick),
      edges: this.#edges,
      one,
      zero,
      oneDifference: {
        count: this.#differenceCount,
        low: this.#differenceMin,
        high: this.#differenceMax,
        lowAtUs: this.#us(this.#differenceMinAt),
        highAtUs: this.#us(this.#differenceMaxAt),
        outside: this.#differenceOutside,
        beyondReceiver: this.#differenceBeyond,
      },
      zeroTotal: {
        count: this.#totalCount,
        low: this.#totalMin,
        high: this.#totalMax,
        lowAtUs: this.#us(this.#totalMinAt),
        highAtUs: this.#us(this.#totalMaxAt),
        outside: this.#totalOutside,
        stretched: this.#stretched,
      },
      shift: this.#shift(one),
      histogram: {
        binUs: HISTOGRAM_BIN_US,
        high: Array.from(this.#histogram[1]!),
        low: Array.from(this.#histogram[0]!),
      },
      glitches: { ...this.#glitches, shortestUs: this.#glitches.count ? this.#glitches.shortestUs : 0 },
      gaps: { ...this.#gaps },
      cutout: { start: this.#cutoutStart, end: this.#cutoutEnd },
      packets: { ...this.#packets, bytes: this.#packetBytes },
      preamble: {
        sent: this.#preambleSent,
        allowed: this.#preambleAllowed,
        short: this.#preambleShort,
        longestRun: this.#longestRun,
      },
      packetInterval: { ...this.#interval, outside: this.#intervalOutside },
      sameAddressGap: { ...this.#gap, outside: this.#gapOutside, addressee: this.#gapAddressee },
      addresses: [...this.#addresses.values()]
        .map(({ addressee, count, shortestGapUs, longestIntervalUs }) => {
          return { addressee, count, shortestGapUs, longestIntervalUs }
        })
        .sort((a, b) => a.addressee - b.addressee),
      ...(this.#sequence ? { service: this.#service } : {}),
      findings: [...this.#findings].sort((a, b) => a.timeUs - b.timeUs),
      unlisted: { ...this.#unlisted },
    }
  }

  #durations(k: number): DurationStats {
    const count = this.#count[k]!
    if (count === 0) return { count, minUs: 0, maxUs: 0, meanUs: 0, spreadUs: 0, minAtUs: 0, maxAtUs: 0 }
    const meanUs = this.#sum[k]! / count
    const variance = Math.max(0, this.#squares[k]! / count - meanUs * meanUs)
    return {
      count,
      minUs: this.#min[k]!,
      maxUs: this.#max[k]!,
      meanUs,
      spreadUs: Math.sqrt(variance),
      minAtUs: this.#us(this.#minAt[k]!),
      maxAtUs: this.#us(this.#maxAt[k]!),
    }
  }

  #halfBits(isOne: 0 | 1): HalfBitStats {
    const low = this.#durations(isOne * 2)
    const high = this.#durations(isOne * 2 + 1)
    const rest = { high, low, outside: this.#outside[isOne]!, beyondReceiver: this.#beyond[isOne]! }
    if (low.count === 0) return { ...high, ...rest }
    if (high.count === 0) return { ...low, ...rest }
    const count = low.count + high.count
    const meanUs = (low.meanUs * low.count + high.meanUs * high.count) / count
    const squares =
      low.count * (low.spreadUs ** 2 + low.meanUs ** 2) + high.count * (high.spreadUs ** 2 + high.meanUs ** 2)
    const shortest = low.minUs < high.minUs ? low : high
    const longest = low.maxUs > high.maxUs ? low : high
    return {
      count,
      minUs: shortest.minUs,
      maxUs: longest.maxUs,
      meanUs,
      spreadUs: Math.sqrt(Math.max(0, squares / count - meanUs * meanUs)),
      minAtUs: shortest.minAtUs,
      maxAtUs: longest.maxAtUs,
      ...rest,
    }
  }

  /** Half of the polarities' difference; a probe or a driver stage shifts ones and zeros alike. */
  #shift(one: HalfBitStats): SignalReading['shift'] {
    const both = one.high.count > 0 && one.low.count > 0 && this.#plainZeros > 0
    const onesUs = both ? (one.high.meanUs - one.low.meanUs) / 2 : 0
    const zerosUs = both ? this.#plainZeroDifference / this.#plainZeros / 2 : 0
    // Means of many samples are finer than one sample; a tenth of it, and never finer than 0.1 us.
    const noise = Math.max(0.1, this.#resolutionUs / 10, Math.abs(onesUs) * 0.1)
    const constant = both && Math.abs(onesUs) > noise && Math.abs(onesUs - zerosUs) <= noise
    return { highUs: constant ? onesUs : 0, onesUs, zerosUs, constant }
  }
}

/** How far a duration is from those that decoders accept, us; a little for being far from the nominal one. */
function strangeness(us: number): number {
  const { one, zero } = WINDOW
  if (us < MIDPOINT_US)
    return Math.max(0, one.receiverMin - us, us - one.receiverMax) + Math.abs(us - 58) / 100
  return Math.max(0, zero.receiverMin - us) + Math.abs(us - 100) / 100
}

function isKnownLength(bytes: Uint8Array, mode: OutputMode): boolean {
  return !decodePacket(bytes, { mode }).findings.some((f) => f.kind === 'length')
}

/** Bytes that no standard defines, or that one reserves. */
function isFault(finding: { kind: string }): boolean {
  return finding.kind === 'undefined' || finding.kind === 'reserved'
}

/** Ones of nominal length that lie in a time, the one it ends in counted. */
function onesIn(us: number): number {
  return Math.ceil(us / 116 - 0.02)
}

function extremes(): Extremes {
  return { count: 0, low: Number.POSITIVE_INFINITY, high: Number.NEGATIVE_INFINITY, lowAtUs: 0, highAtUs: 0 }
}

function extend(e: Extremes, value: number, atUs: number): void {
  e.count++
  if (value < e.low) {
    e.low = value
    e.lowAtUs = atUs
  }
  if (value > e.high) {
    e.high = value
    e.highAtUs = atUs
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
