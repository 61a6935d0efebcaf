/**
 * What complete packets show, one after the other: their shape, order, spacing and what they say.
 *
 * Size: every judgement here needs the packet and what came before it; each is a short method.
 */
import {
  addresseeOf,
  BROADCAST,
  decodePacket,
  isFromMemory,
  NOBODY,
  SERVICE_TIME_OUT_US,
  type ServiceMode,
  type ServiceOperation,
  ServiceSequence,
} from '../packet/index.js'
import type { OutputMode, SignalLimits } from '../standard/index.js'
import { formatByte, formatBytes, formatNumber } from '../units/index.js'
import { isOnPurpose, isPowerCycle, type PowerKnowledge } from './absence.js'
import { extend, extremes } from './extremes.js'
import type { FaultList } from './fault-list.js'
import type { AddressReading, ServiceReading, SignalReading } from './reading.js'
import type { StretchVerdict } from './stretch.js'

const LISTED_OPERATIONS = 200
const CACHED_PACKETS = 65_536
/** Of the packets met last so many are found without a search, as a power of two: a refresh goes round few. */
const LATEST_BITS = 14

export interface TallyOptions {
  mode: OutputMode
  limits: SignalLimits
  tickUs: number
  uncertaintyUs: number
  power: PowerKnowledge
  /** Cut-outs are said to be there: every preamble must be long enough for one. */
  cutout: boolean
  /** The record begins when power is applied. */
  powerApplied: boolean
  serviceModes?: readonly ServiceMode[] | undefined
  /** Every acknowledgement is given to `acknowledge`. */
  acknowledgementsTold: boolean
}

export interface CompletePacket {
  bytes: Uint8Array
  length: number
  /** Exclusive-or of all bytes. */
  check: number
  startTick: number
  endTick: number
  /** A fault in it was reported. */
  spoiled: boolean
}

export interface PreambleCount {
  /** Complete ones since the end bit before. */
  sent: number
  /** The same with what the standard lets count: the end bit, and ones that a cut-out hides. */
  allowed: number
  /** Complete ones that a decoder sees after a cut-out. */
  visible?: number | undefined
}

interface About {
  defined: boolean
  fromMemory: boolean
  addressee: number
  /** What this addressee got so far, once it got anything. */
  seen: Known | undefined
  /** A CV access on the main track that takes two packets, or functions that must be sent twice where not refreshed. */
  twice: 'cv' | 'functions' | undefined
  group: number
}

interface Known extends AddressReading {
  endUs: number
  startUs: number
}

/** What the standard wants twice, and how often it came so far. */
interface Repeated {
  text: string
  count: number
  atUs: number
}

export class PacketTally {
  readonly #o: TallyOptions
  readonly #faults: FaultList
  readonly counts = {
    total: 0,
    valid: 0,
    spoiled: 0,
    errorByte: 0,
    framing: 0,
    framingDoubtful: 0,
    length: 0,
    undefined: 0,
    fromMemory: 0,
    longer: 0,
  }
  readonly #packetBytes = extremes()
  readonly #sent = extremes()
  readonly #allowed = extremes()
  readonly #visible = extremes()
  #preambleShort = 0
  readonly #interval = extremes()
  #intervalOutside = 0
  #intervalDoubtful = 0
  #lastStartTick = Number.NaN
  /** Power came back here, and no packet began since. */
  #powerBackTick = Number.NaN
  /** Power was off since the last packet, and nothing says whether on purpose. */
  #offUnexplained = false
  readonly #gap = extremes()
  #gapOutside = 0
  #gapAddressee = NOBODY
  readonly #otherGap = extremes()
  #otherGapShort = 0
  readonly #addresses = new Map<number, Known>()
  readonly #known = new Map<number, About>()
  // By a hash of the bytes; the length in `kept` is never 0, so nothing is found before it was put there.
  readonly #latest: About[] = []
  readonly #latestLow = new Int32Array(1 << LATEST_BITS)
  readonly #latestKept = new Int32Array(1 << LATEST_BITS)
  readonly #sequence: ServiceSequence | undefined
  readonly #service: ServiceReading = { operations: 0, met: 0, broken: 0, undecided: 0, list: [] }
  #acknowledgements: number[] = []
  /** Packets at the start of the record, while they are resets and then idles. */
  readonly #start = { resets: 0, idles: 0, over: false, spoiled: false }
  readonly #guard = { resets: 0, ...extremes(), outside: 0 }
  #lastResetUs = Number.NaN
  readonly #once = { cvWrites: 0, cvAtUs: 0, functions: 0, functionsAtUs: 0 }
  readonly #accesses = new Map<number, Repeated>()
  readonly #functions = new Map<number, Repeated>()

  constructor(options: TallyOptions, faults: FaultList) {
    this.#o = options
    this.#faults = faults
    if (options.mode === 'service') {
      this.#sequence = new ServiceSequence({
        fromPowerOn: options.powerApplied,
        acknowledgementsTold: options.acknowledgementsTold,
        ...(options.serviceModes ? { modes: options.serviceModes } : {}),
      })
    }
  }

  /** A decoder acknowledged at this time, us; to be told before the packet that follows it is read. */
  acknowledge(timeUs: number): void {
    this.#acknowledgements.push(timeUs)
  }

  addPreamble(tick: number, { sent, allowed, visible }: PreambleCount): void {
    const atUs = tick * this.#o.tickUs
    extend(this.#sent, sent, atUs)
    extend(this.#allowed, allowed, atUs)
    if (visible !== undefined) extend(this.#visible, visible, atUs)
    const { mode, cutout } = this.#o
    const { preamble } = this.#o.limits
    const withCutout = cutout || visible !== undefined
    const min = mode === 'service' ? preamble.service : withCutout ? preamble.cutout : preamble.operations
    if (allowed >= min) return
    this.#preambleShort++
    const counted =
      sent === allowed
        ? ''
        : visible === undefined
          ? ', with the end bit before it'
          : ', with those in the cut-out'
    this.#faults.add('preamble', tick, `only ${allowed} ones before a packet${counted}`)
  }

  /** A packet with its end bit. @returns whether decoders would take it. */
  packet(packet: CompletePacket): boolean {
    const { bytes, length, check, startTick, spoiled } = packet
    const { counts } = this
    counts.total++
    const atUs = startTick * this.#o.tickUs
    const rightLength = this.#isRightLength(bytes, length)
    if (rightLength && check === 0) {
      counts.valid++
      extend(this.#packetBytes, length, atUs)
      if (length > this.#o.limits.packetBytes.max) counts.longer++
      this.#valid(packet)
      return true
    }
    // One packet breaks one clause: the length, else the error byte; nothing that a reported fault spoiled.
    if (spoiled) counts.spoiled++
    else if (!rightLength && (check === 0 || length < this.#o.limits.packetBytes.min)) {
      counts.length++
      extend(this.#packetBytes, length, atUs)
      this.#faults.add('packet-length', startTick, `a packet of ${length} bytes`, formatBytes(bytes, length))
    } else {
      counts.errorByte++
      const wanted = bytes[length - 1]! ^ check
      const text = `error byte ${formatByte(bytes[length - 1]!)} where ${formatByte(wanted)} belongs`
      this.#faults.add('error-byte', startTick, text, formatBytes(bytes, length))
    }
    if (!this.#start.over) this.#start.spoiled = true
    return false
  }

  /** Beyond the usual length only where the standard has longer packets. */
  #isRightLength(bytes: Uint8Array, length: number): boolean {
    const { packetBytes, longPackets, knowsLongerForms } = this.#o.limits
    if (length < packetBytes.min) return false
    if (length <= packetBytes.max) return true
    const first = bytes[0]!
    if (!knowsLongerForms && (first < longPackets.first || first > longPackets.last)) return false
    const { findings } = decodePacket(bytes.slice(0, length), { mode: this.#o.mode })
    return !findings.some((f) => f.kind === 'length')
  }

  #valid({ bytes, length, startTick, endTick }: CompletePacket): void {
    const { tickUs, mode } = this.#o
    const startUs = startTick * tickUs
    const endUs = endTick * tickUs
    this.#addInterval(startTick)
    this.#lastStartTick = startTick
    const about = this.#look(bytes, length)
    if (!about.defined) {
      this.counts.undefined++
      const text = 'bytes that the standards do not define'
      this.#faults.add('instruction', startTick, text, formatBytes(bytes, length))
    } else if (about.fromMemory) this.counts.fromMemory++
    const isReset = length === 3 && bytes[0] === 0 && bytes[1] === 0
    this.#addToStart(isReset, length === 3 && bytes[0] === 0xff)
    this.#addToGuard(isReset, bytes, startUs, endUs, startTick)
    if (this.#sequence) {
      while (this.#acknowledgements.length > 0 && this.#acknowledgements[0]! < startUs) {
        this.#acknowledgements.shift()
        this.#sequence.acknowledge()
      }
      const over = this.#sequence.packet(bytes.slice(0, length), startUs, endUs)
      if (over) this.#addOperation(over)
    }
    const { addressee } = about
    if (addressee === NOBODY) return
    if (mode === 'operations') this.#addRepeats(about, bytes, length, startUs)
    this.#addAddress(about, bytes, length, startTick, startUs, endUs)
  }

  #addAddress(
    about: About,
    bytes: Uint8Array,
    length: number,
    startTick: number,
    startUs: number,
    endUs: number,
  ): void {
    const { addressee } = about
    const seen = about.seen ?? this.#addresses.get(addressee)
    about.seen = seen
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
    if (addressee === BROADCAST || this.#o.mode === 'service') return
    const { minUs, first, last } = this.#o.limits.sameAddress
    const short = gap < minUs - this.#o.uncertaintyUs - 1e-6
    if (first !== undefined && last !== undefined && (addressee < first || addressee > last)) {
      // No station is bound here; a decoder may need the time all the same.
      extend(this.#otherGap, gap, startUs)
      if (short) this.#otherGapShort++
      return
    }
    if (gap < this.#gap.low) this.#gapAddressee = addressee
    extend(this.#gap, gap, startUs)
    if (!short) return
    this.#gapOutside++
    this.#faults.add(
      'same-address-gap',
      startTick,
      `${print(gap / 1000)} ms after the packet before for the same address`,
      formatBytes(bytes, length),
    )
  }

  #addToStart(isReset: boolean, isIdle: boolean): void {
    const start = this.#start
    if (start.over) return
    if (isReset && start.idles === 0) start.resets++
    else if (isIdle) start.idles++
    else start.over = true
  }

  /** After a reset no packet to some first bytes: a decoder could take it for service mode (S-9.2:2004 B). */
  #addToGuard(isReset: boolean, bytes: Uint8Array, startUs: number, endUs: number, tick: number): void {
    const guard = this.#guard
    if (isReset) {
      guard.resets++
      this.#lastResetUs = endUs
      return
    }
    if (Number.isNaN(this.#lastResetUs)) return
    const { us, first, last } = this.#o.limits.resetGuard
    const byte = bytes[0]!
    if (byte < first || byte > last) return
    // On a service track these bytes are its instructions.
    if (this.#o.mode === 'service' && byte >= SERVICE_FIRST) return
    const gap = startUs - this.#lastResetUs
    extend(guard, gap, startUs)
    if (gap >= us - this.#o.uncertaintyUs - 1e-6) return
    guard.outside++
    this.#faults.add('reset-guard', tick, `a first byte of ${byte} ${print(gap / 1000)} ms after a reset`)
  }

  /** What is sent once though the standard wants it twice: a CV access on the main track, a change of F13 to F28. */
  #addRepeats(about: About, bytes: Uint8Array, length: number, startUs: number): void {
    const { addressee, twice, group } = about
    if (twice === undefined && this.#accesses.size === 0) return
    const text = formatBytes(bytes, length)
    // Any other packet to the decoder between the two cancels the access, a broadcast too.
    if (addressee === BROADCAST) {
      for (const key of this.#accesses.keys()) this.#closeAccess(key, undefined)
    } else this.#closeAccess(addressee, text)
    if (twice === 'cv') {
      const open = this.#accesses.get(addressee)
      if (open) open.count++
      else this.#accesses.set(addressee, { text, count: 1, atUs: startUs })
    }
    if (twice !== 'functions') return
    const key = addressee * 128 + group
    const before = this.#functions.get(key)
    if (before?.text === text) before.count++
    else {
      if (before?.count === 1) this.#addOnce('functions', before.atUs)
      this.#functions.set(key, { text, count: 1, atUs: startUs })
    }
  }

  /** Another packet for a decoder ends the access to its CVs, unless it is the same again. */
  #closeAccess(addressee: number, text: string | undefined): void {
    const open = this.#accesses.get(addressee)
    if (!open || open.text === text) return
    if (open.count === 1) this.#addOnce('cvWrites', open.atUs)
    this.#accesses.delete(addressee)
  }

  #addOnce(what: 'cvWrites' | 'functions', atUs: number): void {
    const once = this.#once
    once[what]++
    if (once[what] > 1) return
    if (what === 'cvWrites') once.cvAtUs = atUs
    else once.functionsAtUs = atUs
  }

  #addOperation(operation: ServiceOperation): void {
    const { verdict, ended, says, startUs, faults } = operation
    // An operation that the end of the record cuts off says nothing, unless it is open for another reason too.
    const isCutOff = verdict === 'undecided' && faults.every((f) => f.cut)
    const service = this.#service
    service.operations++
    if (!isCutOff) service[verdict]++
    const reasons = faults.map((f) => f.says)
    if (service.list.length < LISTED_OPERATIONS || verdict !== 'met')
      service.list.push({ timeUs: startUs, says, verdict, ended, faults: reasons })
    if (service.list.length > 2 * LISTED_OPERATIONS) service.list.length = 2 * LISTED_OPERATIONS
    if (verdict === 'broken')
      this.#faults.add('service-sequence', startUs / this.#o.tickUs, `${says}: ${reasons.join('; ')}`)
  }

  /** What the packet room says of a packet, remembered by its bytes. */
  #look(bytes: Uint8Array, length: number): About {
    if (length > 6) return this.#lookUp(bytes, length)
    const low =
      bytes[0]! | (bytes[1]! << 8) | (length > 2 ? bytes[2]! << 16 : 0) | (length > 3 ? bytes[3]! << 24 : 0)
    const kept = (length << 16) | (length > 4 ? bytes[4]! : 0) | (length > 5 ? bytes[5]! << 8 : 0)
    const slot = (Math.imul(low, 0x9e3779b1) ^ Math.imul(kept, 0x85ebca6b)) >>> (32 - LATEST_BITS)
    if (this.#latestLow[slot] === low && this.#latestKept[slot] === kept) return this.#latest[slot]!
    const about = this.#lookUp(bytes, length)
    this.#latest[slot] = about
    this.#latestLow[slot] = low
    this.#latestKept[slot] = kept
    return about
  }

  #lookUp(bytes: Uint8Array, length: number): About {
    let key = length
    if (length <= 6) for (let i = 0; i < length; i++) key = key * 256 + bytes[i]!
    const known = length <= 6 ? this.#known.get(key) : undefined
    if (known) return known
    const { mode } = this.#o
    const copy = bytes.slice(0, length)
    const { packet, findings } = decodePacket(copy, { mode })
    const twice =
      packet?.kind === 'cv'
        ? 'cv'
        : packet?.kind === 'functions' && (packet.group === 13 || packet.group === 21)
          ? 'functions'
          : undefined
    const about: About = {
      // A check of its own that is wrong inside a longer packet makes it one that nobody defines.
      defined: !findings.some(
        (f) => f.kind === 'undefined' || f.kind === 'reserved' || f.kind === 'error-byte',
      ),
      fromMemory: packet !== undefined && isFromMemory(packet),
      addressee:
        mode === 'service' && bytes[0]! >= SERVICE_FIRST && bytes[0]! < 128
          ? NOBODY
          : addresseeOf(copy, 0, length),
      seen: undefined,
      twice,
      group: packet?.kind === 'functions' ? packet.group : 0,
    }
    if (length <= 6) {
      if (this.#known.size >= CACHED_PACKETS) this.#known.clear()
      this.#known.set(key, about)
    }
    return about
  }

  /** A packet begins, or the record ends. Only complete packets count: S-9.2:2004 C. */
  #addInterval(tick: number): void {
    const since = Number.isNaN(this.#powerBackTick) ? this.#lastStartTick : this.#powerBackTick
    const doubtful = this.#offUnexplained && Number.isNaN(this.#powerBackTick)
    this.#powerBackTick = Number.NaN
    this.#offUnexplained = false
    if (Number.isNaN(since)) return
    const us = (tick - since) * this.#o.tickUs
    extend(this.#interval, us, since * this.#o.tickUs)
    if (us <= this.#o.limits.packetIntervalMaxUs + this.#o.uncertaintyUs + 1e-6) return
    this.#intervalOutside++
    if (doubtful) this.#intervalDoubtful++
    else this.#faults.add('packet-interval', since, `no complete packet begins for ${print(us / 1000)} ms`)
  }

  /** Power was off between two ticks. */
  powerOff(fromTick: number, toTick: number, verdict: StretchVerdict): void {
    const { tickUs, power, mode, limits } = this.#o
    const stretch = { fromUs: fromTick * tickUs, toUs: toTick * tickUs }
    if (isOnPurpose(stretch, power)) {
      this.#closeBefore(fromTick)
      this.#lastStartTick = Number.NaN
      this.#powerBackTick = toTick
    } else if (
      !power.complete &&
      power.offFromUs === undefined &&
      verdict !== 'wrong' &&
      stretch.toUs - stretch.fromUs >= (mode === 'service' ? SERVICE_TIME_OUT_US : limits.packetIntervalMaxUs)
    ) {
      this.#offUnexplained = true
    }
    const cycle = isPowerCycle(stretch, power, SERVICE_TIME_OUT_US)
    if (cycle === 'no' || !this.#sequence) return
    const over = this.#sequence.powerOff(cycle === 'perhaps')
    if (over) this.#addOperation(over)
  }

  /** The record says nothing between two ticks: what comes next does not follow what came before. */
  recordGap(fromTick: number, toTick: number): void {
    this.#closeBefore(fromTick)
    this.#lastStartTick = Number.NaN
    this.#powerBackTick = toTick
    this.#offUnexplained = false
    const over = this.#sequence?.gap()
    if (over) this.#addOperation(over)
    this.#start.over = true
    this.#accesses.clear()
    this.#functions.clear()
  }

  /** A wait that is already too long counts, even if what ended it was no packet. */
  #closeBefore(tick: number): void {
    const since = Number.isNaN(this.#powerBackTick) ? this.#lastStartTick : this.#powerBackTick
    if (Number.isNaN(since)) return
    if ((tick - since) * this.#o.tickUs > this.#o.limits.packetIntervalMaxUs) this.#addInterval(tick)
    else {
      this.#powerBackTick = Number.NaN
      this.#offUnexplained = false
    }
  }

  /** The end of the record. @param firstTick where waiting for a packet began, if none ever came. */
  finish(endTick: number, firstTick: number): void {
    const over = this.#sequence?.finish(endTick * this.#o.tickUs)
    if (over) this.#addOperation(over)
    // What came last may have been sent again after the end of the record.
    const late = endTick * this.#o.tickUs - this.#o.limits.packetIntervalMaxUs
    for (const { count, atUs } of this.#accesses.values())
      if (count === 1 && atUs < late) this.#addOnce('cvWrites', atUs)
    for (const { count, atUs } of this.#functions.values())
      if (count === 1 && atUs < late) this.#addOnce('functions', atUs)
    // A service track may rest between operations; on the main decoders wait for the next packet.
    if (this.#o.mode !== 'operations') return
    if (Number.isNaN(this.#lastStartTick) && Number.isNaN(this.#powerBackTick))
      this.#lastStartTick = firstTick
    this.#closeBefore(endTick)
  }

  reading(): Pick<
    SignalReading,
    | 'packetInterval'
    | 'sameAddressGap'
    | 'otherAddressGap'
    | 'addresses'
    | 'service'
    | 'startUp'
    | 'resetGuard'
    | 'sentOnce'
  > & { packets: SignalReading['packets']; preamble: Omit<SignalReading['preamble'], 'longestRun'> } {
    return {
      packets: { ...this.counts, bytes: this.#packetBytes },
      preamble: {
        sent: this.#sent,
        allowed: this.#allowed,
        visible: this.#visible,
        short: this.#preambleShort,
      },
      packetInterval: {
        ...this.#interval,
        outside: this.#intervalOutside,
        doubtful: this.#intervalDoubtful,
      },
      sameAddressGap: { ...this.#gap, outside: this.#gapOutside, addressee: this.#gapAddressee },
      otherAddressGap: { ...this.#otherGap, short: this.#otherGapShort },
      addresses: [...this.#addresses.values()]
        .map(({ addressee, count, shortestGapUs, longestIntervalUs }) => {
          return { addressee, count, shortestGapUs, longestIntervalUs }
        })
        .sort((a, b) => a.addressee - b.addressee),
      ...(this.#sequence ? { service: this.#service } : {}),
      startUp: { ...this.#start },
      resetGuard: this.#guard,
      sentOnce: { ...this.#once },
    }
  }
}

/** First byte of service-mode instructions (S-9.2.3:2012 E). */
const SERVICE_FIRST = 112

function print(value: number): string {
  return formatNumber(value, 5)
}
