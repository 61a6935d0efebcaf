/**
 * Service-mode sequences: which operations a row of packets makes, and whether each has the packets it takes.
 * Source of every rule: S-9.2.3:2012 C, D, E (confirmed); the counts are in `sequence.data.ts`. How bytes that fit
 * several modes and counts that fit two steps are judged: `docs/method/packets.md`.
 */
import { decodePacket } from './decode.js'
import type { Packet } from './packet.js'
import { pagedCv } from './paging.js'
import {
  PACKETS_TO_ACT,
  POWER_ON_PACKETS,
  SERVICE_STEPS,
  SERVICE_TIME_OUT_US,
  type ServiceMode,
  type ServiceSteps,
} from './sequence.data.js'
import { cvWords, registerWords } from './words.js'

export type ServiceFaultKind =
  | 'entry'
  | 'power-on'
  | 'resets'
  | 'page'
  | 'instructions'
  | 'recovery'
  | 'acknowledged'
  | 'undefined'

export interface ServiceFault {
  kind: ServiceFaultKind
  /** `undecided`: the packets alone cannot tell. */
  verdict: 'broken' | 'undecided'
  /** Packets counted and wanted, where it is a matter of counting. */
  found?: number
  wanted?: number
  /** Only because the record ends here: what is missing may have followed. */
  cut?: true
  /** One sentence. */
  says: string
}

/** What ended the counting of an operation. */
export type ServiceEnd = 'next operation' | 'other packet' | 'time-out' | 'power off' | 'end of record'

export interface ServiceOperation {
  /** `direct: verify CV8 bit 7 is 1`. */
  says: string
  /** The repeated packet; absent when its bytes have no meaning. */
  packet?: Packet
  /** The modes these bytes may belong to. */
  modes: ServiceMode[]
  does: 'verify' | 'write' | 'page'
  /** First start bit and last end bit of the repeated packet, us. */
  startUs: number
  endUs: number
  resetsBefore: number
  /** Times the packet was sent in a row. */
  instructions: number
  resetsAfter: number
  acknowledged: boolean
  ended: ServiceEnd
  verdict: 'met' | 'broken' | 'undecided'
  faults: ServiceFault[]
  /** Worth knowing, no fault. */
  notes: string[]
}

export interface ServiceSequenceOptions {
  /** The first packet follows the application of power. Default: not known. */
  fromPowerOn?: boolean
  /** Every acknowledgement is told by {@link ServiceSequence.acknowledge}. Default: they cannot be seen. */
  acknowledgementsTold?: boolean
  /** The modes the station uses, where several fit the same bytes. Default: all. */
  modes?: readonly ServiceMode[]
}

export interface ServiceCounts {
  operations: number
  met: number
  broken: number
  undecided: number
}

interface Run {
  bytes: number[]
  packet: Packet | undefined
  undefinedSays: string | undefined
  modes: ServiceMode[]
  does: 'verify' | 'write' | 'page'
  startUs: number
  endUs: number
  resetsBefore: number
  count: number
  resetsAfter: number
  acknowledged: boolean
  /** Page register as decoders have it: a value, none written, or not known. */
  page: number | undefined
  /** Of the resets before it, those that the operation before still wanted as recovery. */
  owed: number
  /** It was the first thing in the record: what came before is not known. */
  first: boolean
  inService: boolean
  /** Valid packets since power came; undefined when that was not seen. */
  sincePower: number | undefined
  /** It is not known whether power was off for long enough to count. */
  powerDoubtful: boolean
  /** Power was off after the page register was written. */
  pageLost: boolean
}

/**
 * Fed with the valid packets of a service-mode track, one by one in their order; tells each operation once it is
 * over. Its memory does not grow with the record.
 */
export class ServiceSequence {
  readonly #options: ServiceSequenceOptions
  readonly counts: ServiceCounts = { operations: 0, met: 0, broken: 0, undecided: 0 }
  #run: Run | undefined
  #resets = 0
  #inService = false
  /** Nothing but what is still counted has been seen since the record began. */
  #atStart: boolean
  #lastUs = Number.NEGATIVE_INFINITY
  #page: number | undefined
  #owed = 0
  #sincePower: number | undefined
  #powerDoubtful = false
  #pageLost = false

  constructor(options: ServiceSequenceOptions = {}) {
    this.#options = options
    this.#atStart = !options.fromPowerOn
    this.#sincePower = options.fromPowerOn ? 0 : undefined
  }

  /**
   * The next valid packet, with its error byte; invalid ones are left out, as decoders leave them.
   * @param startUs start of its start bit; @param endUs end of its end bit.
   * @returns the operation that it shows to be over, if any.
   */
  packet(bytes: ArrayLike<number>, startUs: number, endUs: number): ServiceOperation | undefined {
    let over: ServiceOperation | undefined
    if (endUs - this.#lastUs > SERVICE_TIME_OUT_US) over = this.#leave('time-out')
    const first = bytes[0] ?? 0
    if (first === 0 && bytes.length === 3 && bytes[1] === 0) {
      this.#resets++
      if (this.#run) this.#run.resetsAfter++
      this.#lastUs = endUs
    } else if (first >= 112 && first < 128 && (bytes.length === 3 || bytes.length === 4)) {
      over = this.#instruction(bytes, startUs, endUs) ?? over
      this.#lastUs = endUs
    } else {
      over = this.#leave('other packet') ?? over
      this.#lastUs = Number.NEGATIVE_INFINITY
      this.#atStart = false
    }
    if (this.#sincePower !== undefined) this.#sincePower++
    return over
  }

  /** A decoder acknowledged; give it between the packets it lies between. */
  acknowledge(): void {
    if (this.#run && this.#run.count >= PACKETS_TO_ACT) this.#run.acknowledged = true
  }

  /**
   * Power was taken from the track, and the next packet follows its return.
   * @param doubtful it may have been too short for decoders to start anew.
   */
  powerOff(doubtful = false): ServiceOperation | undefined {
    const over = this.#leave('power off')
    this.#lastUs = Number.NEGATIVE_INFINITY
    this.#atStart = false
    this.#powerDoubtful = doubtful
    this.#pageLost = this.#page !== undefined
    this.#sincePower = 0
    return over
  }

  /** The record says nothing for a while: what was under way may have gone on, what comes may have begun. */
  gap(): ServiceOperation | undefined {
    const over = this.#leave('end of record')
    this.#lastUs = Number.NEGATIVE_INFINITY
    this.#atStart = true
    this.#page = undefined
    this.#pageLost = false
    this.#sincePower = undefined
    return over
  }

  /**
   * The record ends: the operation that was still open, if any.
   * @param endUs when; silence before it shows that nothing more belonged to the operation.
   */
  finish(endUs = Number.NEGATIVE_INFINITY): ServiceOperation | undefined {
    return this.#leave(endUs - this.#lastUs > SERVICE_TIME_OUT_US ? 'time-out' : 'end of record')
  }

  #instruction(bytes: ArrayLike<number>, startUs: number, endUs: number): ServiceOperation | undefined {
    const run = this.#run
    if (run && run.resetsAfter === 0 && sameBytes(run.bytes, bytes)) {
      run.count++
      run.endUs = endUs
      return undefined
    }
    const over = this.#close('next operation')
    const list = Array.from(bytes)
    const { packet, findings } = decodePacket(list, { mode: 'service' })
    const wrong = findings.find((f) => f.kind !== 'note')
    this.#run = {
      bytes: list,
      packet,
      undefinedSays: wrong?.says,
      ...readingsOf(packet, this.#page, this.#options.modes),
      startUs,
      endUs,
      resetsBefore: this.#resets,
      count: 1,
      resetsAfter: 0,
      acknowledged: false,
      page: this.#page,
      owed: this.#owed,
      first: this.#atStart,
      inService: this.#inService,
      sincePower: this.#sincePower,
      powerDoubtful: this.#powerDoubtful,
      pageLost: this.#pageLost,
    }
    if (this.#resets > 0) this.#inService = true
    this.#resets = 0
    this.#owed = 0
    this.#atStart = false
    return over
  }

  #leave(ended: ServiceEnd): ServiceOperation | undefined {
    const over = this.#close(ended)
    if (over && this.#page !== undefined && this.#page !== 1 && ended !== 'end of record') {
      over.notes.push(`the page register still holds ${this.#page}; it should be put back to 1`)
    }
    if (this.#resets > 0) this.#atStart = false
    this.#inService = false
    this.#resets = 0
    this.#owed = 0
    return over
  }

  #close(ended: ServiceEnd): ServiceOperation | undefined {
    const run = this.#run
    if (!run) return undefined
    this.#run = undefined
    const told = this.#options.acknowledgementsTold === true
    const { faults, owed } = judge(run, ended, told)
    const notes: string[] = []
    if (run.packet?.kind === 'service-register' && run.packet.register === 8 && run.does === 'write') {
      notes.push('CV8 reads 255 until the decoder is finished')
    }
    this.#owed = owed
    if (run.does === 'page' && run.count >= PACKETS_TO_ACT && run.packet?.kind === 'service-register') {
      this.#page = run.packet.value
      this.#pageLost = false
    }
    const verdict = faults.some((f) => f.verdict === 'broken')
      ? 'broken'
      : faults.length > 0
        ? 'undecided'
        : 'met'
    this.counts.operations++
    this.counts[verdict]++
    return {
      says: says(run),
      ...(run.packet ? { packet: run.packet } : {}),
      modes: run.modes,
      does: run.does,
      startUs: run.startUs,
      endUs: run.endUs,
      resetsBefore: run.resetsBefore,
      instructions: run.count,
      resetsAfter: run.resetsAfter,
      acknowledged: run.acknowledged,
      ended,
      verdict,
      faults,
      notes,
    }
  }
}

/** Judge a whole list of valid packets. */
export function serviceOperations(
  packets: Iterable<{ bytes: ArrayLike<number>; timeUs: number; endUs: number }>,
  options: ServiceSequenceOptions = {},
): ServiceOperation[] {
  const sequence = new ServiceSequence(options)
  const list: ServiceOperation[] = []
  for (const { bytes, timeUs, endUs } of packets) {
    const over = sequence.packet(bytes, timeUs, endUs)
    if (over) list.push(over)
  }
  const last = sequence.finish()
  if (last) list.push(last)
  return list
}

function sameBytes(a: readonly number[], b: ArrayLike<number>): boolean {
  return a.length === b.length && a.every((byte, i) => byte === b[i])
}

/** The modes that bytes may belong to; register, paged and address-only instructions have the same form. */
function readingsOf(
  packet: Packet | undefined,
  page: number | undefined,
  allowed: readonly ServiceMode[] | undefined,
): { modes: ServiceMode[]; does: 'verify' | 'write' | 'page' } {
  const { modes, does } = everyReading(packet, page)
  const wanted = allowed ? modes.filter((m) => allowed.includes(m)) : modes
  return { modes: wanted.length > 0 ? wanted : modes, does }
}

function everyReading(
  packet: Packet | undefined,
  page: number | undefined,
): { modes: ServiceMode[]; does: 'verify' | 'write' | 'page' } {
  if (packet?.kind === 'service-direct') {
    return { modes: ['direct'], does: packet.access.op.startsWith('write') ? 'write' : 'verify' }
  }
  if (packet?.kind !== 'service-register') return { modes: ['direct'], does: 'verify' }
  const { register, value, op } = packet
  if (register === 6 && op === 'write') {
    return { modes: value === 1 ? ['address-only', 'register', 'paged'] : ['paged'], does: 'page' }
  }
  if (register >= 6) return { modes: ['register'], does: op }
  if (page !== undefined && page !== 1) return { modes: ['paged'], does: op }
  if (register === 1 && value < 128) return { modes: ['address-only', 'register', 'paged'], does: op }
  return { modes: ['register', 'paged'], does: op }
}

/** What the checks of one operation share. */
interface Judgement {
  run: Run
  /** The steps of each mode it may belong to, in the order of `run.modes`. */
  steps: ServiceSteps[]
  /** The record ends here, so what is missing may have followed. */
  cut: boolean
  faults: ServiceFault[]
}

function judge(run: Run, ended: ServiceEnd, told: boolean): { faults: ServiceFault[]; owed: number } {
  const steps = run.modes.map((mode) => SERVICE_STEPS[mode])
  const j: Judgement = { run, steps, cut: ended === 'end of record', faults: [] }
  if (run.undefinedSays !== undefined) {
    j.faults.push({ kind: 'undefined', verdict: 'broken', says: run.undefinedSays })
  }
  judgePowerOn(j)
  judgeResets(j)
  judgePage(j)
  judgeTimesSent(j, told)
  if (run.does === 'verify') {
    judgeAfterVerify(j)
    return { faults: j.faults, owed: 0 }
  }
  return { faults: j.faults, owed: judgeRecovery(j) }
}

const RESETS = SERVICE_STEPS.direct.resets

function judgePowerOn({ run, faults }: Judgement): void {
  const found = run.sincePower
  if (found === undefined || found >= POWER_ON_PACKETS + RESETS) return
  const few = found < POWER_ON_PACKETS
  faults.push({
    kind: 'power-on',
    verdict: few && !run.powerDoubtful ? 'broken' : 'undecided',
    found,
    wanted: few ? POWER_ON_PACKETS : POWER_ON_PACKETS + RESETS,
    says: few
      ? `${packets(found, 'packet')} since power came; ${POWER_ON_PACKETS} or more come before any operation`
      : `${found} packets since power came; the ${POWER_ON_PACKETS} of the power-on cycle leave fewer than ${RESETS} resets`,
  })
}

function judgeResets({ run, faults }: Judgement): void {
  const found = run.resetsBefore
  if (found === 0 && !run.inService && !run.first) {
    const says = 'no reset packet comes right before it, so decoders do not enter service mode'
    faults.push({ kind: 'entry', verdict: 'broken', says })
  } else if (found < RESETS) {
    const verdict = run.first ? 'undecided' : 'broken'
    const begins = run.first ? '; the record begins here' : ''
    const says = `${packets(found, 'reset')} before it; ${RESETS} or more belong there${begins}`
    faults.push({ kind: 'resets', verdict, found, wanted: RESETS, says })
  } else if (found - run.owed < RESETS) {
    // Two steps of the table that follow each other; it does not say whether a reset may count for both.
    const wanted = run.owed + RESETS
    const says = `of the ${found} resets before it ${run.owed} are the recovery of the operation before; fewer than ${RESETS} are left`
    faults.push({ kind: 'resets', verdict: 'undecided', found, wanted, says })
  }
}

function judgePage({ run, steps, faults }: Judgement): void {
  if (run.does === 'page' || steps.some((s) => s.page === undefined)) return
  if (run.page === undefined) {
    const says = 'no page preset or write to the page register was seen before it'
    faults.push({ kind: 'page', verdict: run.sincePower === undefined ? 'undecided' : 'broken', says })
  } else if (run.page !== 1 && !run.modes.includes('paged')) {
    const says = `no page preset before it: the page register holds ${run.page}`
    faults.push({ kind: 'page', verdict: 'broken', says })
  } else if (run.pageLost && run.modes.includes('paged')) {
    // Between preset and operation power may be off in address-only and register mode, not inside paged work.
    const surely = run.modes.length === 1 && !run.powerDoubtful
    const says = 'power was off after the page register was written, which paged mode does not allow'
    faults.push({ kind: 'page', verdict: surely ? 'broken' : 'undecided', says })
  }
}

function judgeTimesSent({ run, steps, cut: ends, faults }: Judgement, told: boolean): void {
  // Resets behind it end the row of instructions, whatever the record does.
  const cut = ends && run.resetsAfter === 0
  const each = steps.map((s) => (run.does === 'page' ? (s.page ?? 0) : s[run.does]))
  const least = Math.min(...each)
  const most = Math.max(...each)
  const found = run.count
  if (found < PACKETS_TO_ACT) {
    const says = `sent once; decoders act on ${PACKETS_TO_ACT} identical packets in a row`
    const verdict = cut ? 'undecided' : 'broken'
    faults.push({ kind: 'instructions', verdict, found, wanted: least, says, ...(cut ? { cut } : {}) })
  } else if (run.acknowledged) {
    // An acknowledgement may end the run early.
  } else if (found < least) {
    const early = !told && run.does !== 'page'
    const why = cut
      ? '; the record ends here'
      : early
        ? '; fewer are right only after an acknowledgement'
        : ''
    const verdict = cut || early ? 'undecided' : 'broken'
    const says = `sent ${found} times; ${least} or more belong there${why}`
    faults.push({ kind: 'instructions', verdict, found, wanted: least, says, ...(cut ? { cut } : {}) })
  } else if (found < most) {
    const meant = run.modes.filter((_, i) => each[i]! > found).join(' or ')
    const says = `sent ${found} times; that is right unless ${meant} mode is meant, which takes ${most}`
    faults.push({ kind: 'instructions', verdict: 'undecided', found, wanted: most, says })
  }
}

function judgeAfterVerify({ run, steps, cut, faults }: Judgement): void {
  const wanted = Math.max(...steps.map((s) => s.afterAcknowledgedVerify))
  const found = run.resetsAfter
  if (!run.acknowledged || cut || found >= wanted) return
  const says = `${packets(found, 'reset')} after an acknowledged verify; ${wanted} or more belong there`
  faults.push({ kind: 'acknowledged', verdict: 'broken', found, wanted, says })
}

/** @returns how many of the resets behind it are its recovery. */
function judgeRecovery({ run, steps, cut, faults }: Judgement): number {
  const left = steps.map((s) => recoveryLeft(s, run))
  const best = Math.min(...left)
  const worst = Math.max(...left)
  if (best > 0) {
    const wanted = recoveryOf(steps[left.indexOf(best)]!, run)
    const ends = cut ? '; the record ends here' : ''
    const says = `${packets(wanted - best, 'packet')} of recovery after it; ${wanted} or more belong there${ends}`
    faults.push({
      kind: 'recovery',
      verdict: cut ? 'undecided' : 'broken',
      found: wanted - best,
      wanted,
      says,
      ...(cut ? { cut } : {}),
    })
    return 0
  }
  if (worst > 0) {
    const wanted = recoveryOf(steps[left.indexOf(worst)]!, run)
    const meant = run.modes.filter((_, i) => left[i]! > 0).join(' or ')
    const says = `its recovery is long enough unless ${meant} mode is meant, which takes ${wanted}`
    faults.push({ kind: 'recovery', verdict: 'undecided', found: wanted - worst, wanted, says })
  }
  return Math.max(0, best + run.resetsAfter)
}

function recoveryOf(s: ServiceSteps, run: Run): number {
  if (run.does === 'page') return s.pageRecovery ?? 0
  const address = run.packet?.kind === 'service-register' && run.packet.register === 1
  return address ? s.recoveryOfAddress : s.recovery
}

/** Packets of recovery still missing after a write and what followed it; at most 0 when there are enough. */
function recoveryLeft(s: ServiceSteps, run: Run): number {
  const sent = run.does === 'page' ? (s.page ?? 0) : s.write
  const repeats = run.does === 'page' && !s.presetsRecover ? 0 : Math.max(0, run.count - sent)
  return recoveryOf(s, run) - repeats - run.resetsAfter
}

function packets(count: number, what: string): string {
  return count === 1 ? `1 ${what}` : `${count === 0 ? 'no' : count} ${what}s`
}

function says(run: Run): string {
  const { packet, page } = run
  if (packet?.kind === 'service-direct') return `direct: ${cvWords(packet.access)}`
  if (packet?.kind !== 'service-register') return 'undefined instruction'
  const modes = run.modes.join(' or ')
  if (run.does !== 'page' && packet.register <= 4 && page !== undefined && page !== 1) {
    const cv = pagedCv(page, packet.register)
    return `paged: ${cvWords({ op: packet.op, cv, value: packet.value })} (page ${page}, data register ${packet.register - 1})`
  }
  return `${modes}: ${registerWords(packet)}`
}
