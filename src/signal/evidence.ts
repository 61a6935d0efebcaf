/**
 * What a reading says of each clause.
 *
 * Size: one class, a method for each group of clauses, all through the same three ways to say something.
 */
import type { Finding } from '../finding/index.js'
import { nameAddressee } from '../packet/index.js'
import {
  type Clause,
  type ClauseId,
  type Evidence,
  isShown,
  type Limits,
  marginWithin,
  notShown,
  type Origin,
  type Place,
  type Profile,
  type SignalLimits,
  type Statement,
  senderLimits,
  signalLimitsOf,
  type Verdict,
} from '../standard/index.js'
import { formatTimeUs } from '../units/index.js'
import { joined } from './extremes.js'
import { type Decider, range, SIGNAL_FINDINGS } from './findings.data.js'
import type { Extremes, HalfBitStats, SignalReading } from './reading.js'

export interface SignalOrigin {
  origin: Origin
  /** What was read, in a few words for the sentence: `capture main.vcd`, `5 s of station.elf`. */
  source: string
  /** Output of the station it is about. */
  about?: string
  /** File and channel, for the place. */
  place?: Pick<Place, 'file' | 'channel'>
  /**
   * Where a capture was taken. On a logic pin nothing lies between the firmware and the edge; a probe at the
   * rails has an input stage that may shift one polarity.
   */
  probe?: 'rails' | 'logic'
}

const EPS = 1e-6

/** A statement on every clause that a signal can show: evidence, or why this one shows nothing. */
export function signalStatements(reading: SignalReading, profile: Profile, about: SignalOrigin): Statement[] {
  const statements = new Statements(reading, profile, about)
  statements.halfBits()
  statements.packets()
  statements.preamble()
  statements.times()
  statements.order()
  statements.service()
  statements.cutout()
  statements.interruption()
  return statements.list.map((s) => statements.unlessTooCoarse(s))
}

/** The evidence alone, without what is not shown. */
export function judgeSignal(reading: SignalReading, profile: Profile, about: SignalOrigin): Evidence[] {
  return signalStatements(reading, profile, about).filter(isShown)
}

/** What is worth knowing of a signal and breaks no clause. */
export function signalNotes(reading: SignalReading): Finding[] {
  const { recordGaps, cutout, cutoutDeclared, sentOnce, otherAddressGap, mode } = reading
  const { find } = SIGNAL_FINDINGS
  const notes: Finding[] = []
  const { count, longestUs, firstAtUs } = recordGaps
  if (count > 0) notes.push(find('record-gap', { count, longestUs, atUs: firstAtUs }))
  if (mode === 'operations' && cutout.seen > 0) {
    if (!cutoutDeclared) notes.push(find('cutout-undeclared', { count: cutout.seen }))
    if (cutout.seen < cutout.chances)
      notes.push(find('cutout-sometimes', { seen: cutout.seen, chances: cutout.chances }))
  }
  if (sentOnce.cvWrites > 0)
    notes.push(find('cv-sent-once', { count: sentOnce.cvWrites, atUs: sentOnce.cvAtUs }))
  if (sentOnce.functions > 0)
    notes.push(find('functions-sent-once', { count: sentOnce.functions, atUs: sentOnce.functionsAtUs }))
  if (otherAddressGap.short > 0)
    notes.push(find('repeats-close', { count: otherAddressGap.short, lowUs: otherAddressGap.low }))
  return notes
}

interface Found {
  low: number
  high: number
  /** The truth lies less than this beside what was found, in the clause's unit. */
  uncertain: number
  seen: number
  outside: number
  /** When the worst was, us. */
  atUs?: number | undefined
}

/** What a sentence says beside what was found, given the verdict. */
interface Tail extends Decider {
  source: string
  asked?: string | undefined
  accepts?: string | undefined
  decodersRead?: boolean | undefined
  unbound?: string | undefined
}

class Statements {
  readonly list: Statement[] = []
  readonly #reading: SignalReading
  readonly #profile: Profile
  readonly #limits: SignalLimits
  readonly #about: SignalOrigin
  /** The true duration between two edges lies less than this beside the measured one, us. */
  readonly #uncertaintyUs: number

  constructor(reading: SignalReading, profile: Profile, about: SignalOrigin) {
    this.#reading = reading
    this.#profile = profile
    this.#limits = signalLimitsOf(profile)
    this.#about = about
    this.#uncertaintyUs = reading.resolutionUs + 2 * reading.roundingUs
  }

  halfBits(): void {
    const { one, zero, oneDifference, zeroTotal, glitches, edges, shift } = this.#reading
    const { source } = this.#about
    const u = this.#uncertaintyUs
    this.#halfBit('one-half', one)
    if (oneDifference.count > 0) {
      const { low, high, count, outside } = oneDifference
      const size = Math.max(Math.abs(low), Math.abs(high))
      const atUs = Math.abs(low) > Math.abs(high) ? oneDifference.lowAtUs : oneDifference.highAtUs
      const raw: Found = { low: 0, high: size, uncertain: 2 * u, seen: count, outside, atUs }
      const both = 2 * shift.highUs
      const corrected = Math.max(Math.abs(low - both), Math.abs(high - both))
      const extra = this.#probeShift('one-difference', raw, { ...raw, high: corrected })
      this.#show('one-difference', raw, extra.verdict, (tail) =>
        SIGNAL_FINDINGS.find('one-difference', {
          ...tail,
          ...extra.params,
          corrected: `up to ${range(corrected, corrected)} us`,
          highUs: size,
        }),
      )
    } else this.#hide('one-difference', 'no one could be measured with both its halves')
    this.#halfBit('zero-half', zero)
    if (zeroTotal.count > 0) {
      const { low, high, count: seen, outside, highAtUs: atUs, stretched } = zeroTotal
      this.#show('zero-total', { low, high, uncertain: u, seen, outside, atUs }, undefined, (tail) =>
        SIGNAL_FINDINGS.find('zero-total', { ...tail, lowUs: low, highUs: high, stretched }),
      )
    } else this.#hide('zero-total', 'no zero could be measured with both its halves')
    if (edges > 2 && one.count + zero.count > 0) {
      const { count, shortestUs } = glitches
      const found = none(count, edges - 1)
      this.#show('glitch', found, undefined, () =>
        SIGNAL_FINDINGS.find('glitches', { source, count, shortestUs }),
      )
    } else this.#hide('glitch', 'no half-bit could be measured')
  }

  #halfBit(id: 'one-half' | 'zero-half', stats: HalfBitStats): void {
    if (stats.count === 0) {
      this.#hide(id, `no half of a ${id === 'one-half' ? 'one' : 'zero'} could be measured`)
      return
    }
    const { shift, oneRuns } = this.#reading
    const { min = 0, max = Number.POSITIVE_INFINITY } = this.#profile.clauses[id].sender
    const tooLong = stats.maxUs - max > min - stats.minUs
    const raw: Found = {
      low: stats.minUs,
      high: stats.maxUs,
      uncertain: this.#uncertaintyUs,
      seen: stats.count,
      outside: stats.outside,
      atUs: tooLong ? stats.maxAtUs : stats.minAtUs,
    }
    const { high, low } = stats
    const ends = [high.minUs, high.maxUs].filter(() => high.count > 0).map((us) => us - shift.highUs)
    ends.push(...[low.minUs, low.maxUs].filter(() => low.count > 0).map((us) => us + shift.highUs))
    const corrected = { ...raw, low: Math.min(...ends), high: Math.max(...ends) }
    const extra = this.#probeShift(id, raw, corrected)
    // A constant shift of one polarity leaves the ones of a preamble together as they are.
    const proven =
      id === 'one-half' && oneRuns.count > 0
        ? oneRuns.aboveUs >= max - EPS
          ? { us: oneRuns.aboveUs, atUs: oneRuns.aboveAtUs }
          : oneRuns.belowUs <= min + EPS
            ? { us: oneRuns.belowUs, atUs: oneRuns.belowAtUs }
            : undefined
        : undefined
    const before = extra.verdict ?? verdictOf(raw, { min, max })
    const byRuns = proven !== undefined && before !== 'broken' && this.#uncertaintyUs > 0
    const found = byRuns
      ? { ...raw, low: Math.min(raw.low, proven.us), high: Math.max(raw.high, proven.us), atUs: proven.atUs }
      : raw
    const verdict = byRuns ? 'broken' : extra.verdict
    const decided = verdict ?? before
    this.#show(id, found, verdict, (tail) =>
      SIGNAL_FINDINGS.find('half-bits', {
        ...tail,
        ...extra.params,
        corrected: `${range(corrected.low, corrected.high)} us`,
        count: stats.count,
        lowUs: stats.minUs,
        highUs: stats.maxUs,
        meanUs: stats.meanUs,
        outside: stats.outside,
        ...(byRuns ? { runHalves: oneRuns.halves, runUs: proven.us } : {}),
        ...(decided === 'broken' ? this.#likelyCause(id, stats) : {}),
      }),
    )
  }

  /** A constant difference of the polarities may be the probe's: then it decides nothing against the station. */
  #probeShift(
    id: ClauseId,
    raw: Found,
    corrected: Found,
  ): { verdict?: Verdict; params: { shiftUs?: number; swapLeads?: boolean } } {
    const { shift } = this.#reading
    const mayBeProbe = this.#about.origin === 'measured' && this.#about.probe !== 'logic' && shift.constant
    if (!mayBeProbe) return { params: {} }
    const limits = this.#profile.clauses[id].sender
    const params = { shiftUs: shift.highUs }
    if (verdictOf(raw, limits) !== 'met' && verdictOf(corrected, limits) === 'met')
      return { verdict: 'undecided', params: { ...params, swapLeads: true } }
    return { params }
  }

  /** All wrong alike is a clock or a register, a few wrong is lateness: builders look in different places. */
  #likelyCause(
    id: 'one-half' | 'zero-half',
    { outside, count }: HalfBitStats,
  ): { cause?: 'clock' | 'timer' | 'late'; offShare?: number } {
    if (outside === 0) return {}
    const share = outside / count
    const offShare = this.#reading.one.meanUs / this.#limits.one.nominalUs - 1
    if (share > 0.3 && id === 'zero-half') return { cause: 'timer' }
    if (share > 0.3 && Math.abs(offShare) > 0.02) return { cause: 'clock', offShare }
    return share > 0.02 ? {} : { cause: 'late' }
  }

  packets(): void {
    const { valid, framing, framingDoubtful, errorByte, length, spoiled, bytes } = this.#reading.packets
    const { source } = this.#about
    const whole = valid + errorByte + length
    const noPacket = () => SIGNAL_FINDINGS.find('no-packet', { source, spoiled })
    if (framing > 0 || valid > 0) {
      const sure = framing - framingDoubtful
      const found = { ...none(framing, valid + framing), outside: sure }
      const verdict = sure > 0 ? 'broken' : framing > 0 ? 'undecided' : 'met'
      this.#show('framing', found, verdict, () =>
        SIGNAL_FINDINGS.find('framing', {
          source,
          count: framing,
          whole,
          spoiled,
          doubtful: framingDoubtful,
        }),
      )
    } else this.#hideFor('framing', noPacket())
    if (valid > 0 || length > 0) {
      const { low, high } = bytes
      const { longer } = this.#reading.packets
      const found = { low, high, uncertain: 0, seen: valid + length, outside: length, atUs: bytes.highAtUs }
      this.#show(
        'packet-length',
        found,
        length > 0 ? 'broken' : 'met',
        () =>
          SIGNAL_FINDINGS.find('packet-length', {
            source,
            low,
            high,
            wrong: length,
            longer,
            fromMemory: this.#limits.knowsLongerForms,
            spoiled,
          }),
        { whole: true },
      )
    } else this.#hideFor('packet-length', noPacket())
    if (valid > 0 || errorByte > 0) {
      this.#show('error-byte', none(errorByte, whole), undefined, () =>
        SIGNAL_FINDINGS.find('error-byte', { source, wrong: errorByte, whole, spoiled }),
      )
    } else this.#hideFor('error-byte', noPacket())
    if (valid > 0) {
      const { undefined: undefinedCount, fromMemory } = this.#reading.packets
      // A form known from memory of other texts cannot be held for defined by these.
      const open = fromMemory > 0 && this.#profile.profile === 'nmra'
      const verdict = undefinedCount > 0 ? 'broken' : open ? 'undecided' : 'met'
      this.#show('instruction', none(undefinedCount, valid), verdict, () =>
        SIGNAL_FINDINGS.find('instruction', {
          source,
          undefined: undefinedCount,
          valid,
          fromMemory,
          spoiled,
        }),
      )
    } else this.#hideFor('instruction', noPacket())
  }

  preamble(): void {
    const { preamble, packets, one, cutout, cutoutDeclared, mode } = this.#reading
    const { allowed, sent, visible } = preamble
    const clause = this.#profile.clauses.preamble
    const withCutout = mode === 'operations' && (cutoutDeclared || cutout.seen > 0 || this.#profile.cutout)
    const limits = withCutout ? { min: this.#limits.preamble.cutout } : senderLimits(clause, mode)
    if (allowed.count > 0) {
      const unseen = withCutout && visible.count === 0
      const { one: half, cutout: gap } = this.#limits
      const hidden = Math.ceil(gap.endMaxUs / (2 * half.minUs))
      const left = unseen ? Math.max(0, allowed.low - hidden) : visible.low
      const found: Found = {
        low: allowed.low,
        high: allowed.high,
        uncertain: 0,
        seen: allowed.count,
        outside: preamble.short,
        atUs: allowed.lowAtUs,
      }
      const verdict = preamble.short > 0 ? 'broken' : 'met'
      const readable = { ...found, low: withCutout ? left : found.low }
      this.#show(
        'preamble',
        found,
        verdict,
        (tail) =>
          SIGNAL_FINDINGS.find('preamble', {
            ...tail,
            low: allowed.low,
            high: allowed.high,
            cutout: visible.count > 0,
            endBit: sent.low < allowed.low,
            unseen,
            ...(withCutout ? { visible: left } : {}),
          }),
        { limits, readable },
      )
      return
    }
    const { longestRun } = preamble
    const { rejected } = this.#limits.preamble
    const many = 2 * CERTAIN_PACKETS * rejected
    if (packets.total > 0 || one.count < many || longestRun >= rejected) {
      this.#hideFor(
        'preamble',
        SIGNAL_FINDINGS.find('no-packet', { source: this.#about.source, spoiled: packets.spoiled }),
      )
      return
    }
    // Nothing that decoders could take for a preamble.
    const found = { low: longestRun, high: longestRun, uncertain: 0, seen: 1, outside: 1 }
    this.#show(
      'preamble',
      found,
      'broken',
      (tail) => SIGNAL_FINDINGS.find('no-preamble', { ...tail, longest: longestRun }),
      { limits },
    )
  }

  times(): void {
    const { packetInterval, packets, sameAddressGap, mode } = this.#reading
    const u = this.#uncertaintyUs
    if (packetInterval.count > 0) {
      const { low, high, count: seen, outside, doubtful, highAtUs: atUs } = packetInterval
      const sure = outside - doubtful
      const verdict = sure > 0 ? 'broken' : doubtful > 0 ? 'undecided' : undefined
      const found = { low, high, uncertain: u, seen, outside: sure, atUs }
      this.#show('packet-interval', found, verdict, (tail) =>
        SIGNAL_FINDINGS.find('packet-interval', {
          ...tail,
          lowUs: low,
          highUs: high,
          valid: packets.valid,
          doubtful,
        }),
      )
    } else {
      this.#hide(
        'packet-interval',
        packets.valid > 0
          ? 'only one packet, and too little after it'
          : mode === 'service'
            ? 'no packet, and a service track may rest'
            : this.#reading.breaks.longestUs > this.#limits.packetIntervalMaxUs
              ? 'no packet, and the power was known to be off'
              : `no packet, and the record is shorter than ${formatTimeUs(this.#limits.packetIntervalMaxUs)}`,
      )
    }
    if (mode === 'service') return
    const { first, last } = this.#limits.sameAddress
    if (sameAddressGap.count > 0) {
      const { low, high, count: seen, outside, lowAtUs: atUs, addressee } = sameAddressGap
      const address = seen === 1 ? nameAddressee(addressee) : 'one address'
      this.#show('same-address-gap', { low, high, uncertain: u, seen, outside, atUs }, undefined, (tail) =>
        SIGNAL_FINDINGS.find('same-address-gap', { ...tail, lowUs: low, address }),
      )
    } else {
      const which = first === undefined ? 'the same address' : `the same address from ${first} to ${last}`
      this.#hide('same-address-gap', `no two packets to ${which}`)
    }
  }

  /** What must come first, and what must not come after a reset. */
  order(): void {
    const { startUp, resetGuard, packets, mode, shows, savedState, powerApplied } = this.#reading
    const { recordStartUs, startUs, stretches } = this.#reading
    const { startUp: wanted, resetGuard: guard, packetIntervalMaxUs } = this.#limits
    const { source } = this.#about
    if (mode === 'operations') {
      const beganOff =
        shows === 'rails' &&
        (startUs - recordStartUs >= packetIntervalMaxUs ||
          stretches.some(
            (s) => s.kind === 'off' && s.fromUs <= startUs && s.toUs - s.fromUs >= packetIntervalMaxUs,
          ))
      if (savedState) this.#hide('start-up', 'the station starts from a saved state')
      else if (!powerApplied && !beganOff)
        this.#hide('start-up', 'the record does not show power being applied')
      else if (packets.valid === 0)
        this.#hideFor('start-up', SIGNAL_FINDINGS.find('no-packet', { source, spoiled: packets.spoiled }))
      else {
        const { resets, idles, over, spoiled } = startUp
        const missing = Math.max(0, wanted.resets - resets) + Math.max(0, wanted.idles - idles)
        const verdict = missing === 0 ? 'met' : over && !spoiled ? 'broken' : 'undecided'
        this.#show(
          'start-up',
          { ...none(missing, resets + idles + missing), atUs: startUs },
          verdict,
          (tail) =>
            SIGNAL_FINDINGS.find('start-up', {
              source,
              unbound: tail.unbound,
              resets,
              idles,
              wantedResets: wanted.resets,
              wantedIdles: wanted.idles,
              cut: missing > 0 && !over,
              spoiled: missing > 0 && spoiled,
            }),
        )
      }
    }
    if (resetGuard.resets === 0) {
      this.#hide('reset-guard', 'no reset packet')
      return
    }
    const { count, outside, resets } = resetGuard
    const none_ = count === 0
    const found = {
      low: none_ ? guard.us : resetGuard.low,
      high: none_ ? guard.us : resetGuard.high,
      uncertain: none_ ? 0 : this.#uncertaintyUs,
      seen: resets,
      outside,
      atUs: none_ ? undefined : resetGuard.lowAtUs,
    }
    this.#show(
      'reset-guard',
      found,
      undefined,
      (tail) =>
        SIGNAL_FINDINGS.find('reset-guard', {
          ...tail,
          resets,
          seen: count,
          lowUs: found.low,
          first: guard.first,
          last: guard.last,
          limitUs: guard.us,
        }),
      // Nothing barred at all is as good as it can be.
      { whole: none_ },
    )
  }

  service(): void {
    const { service, mode } = this.#reading
    if (mode !== 'service') return
    if (!service || service.operations === 0) {
      this.#hide('service-sequence', 'no service-mode operation')
      return
    }
    const { operations, met, broken, undecided, list } = service
    const verdict = broken > 0 ? 'broken' : undecided > 0 || met === 0 ? 'undecided' : 'met'
    const wanted = verdict === 'met' ? undefined : verdict
    const first = list.find((o) => o.verdict === wanted)
    const found = { ...none(broken, operations), atUs: first?.timeUs }
    this.#show('service-sequence', found, verdict, (tail) =>
      SIGNAL_FINDINGS.find('service-sequence', {
        source: tail.source,
        operations,
        broken,
        undecided: operations - met - broken,
        ...(first
          ? { first: `at ${formatTimeUs(first.timeUs)} ${first.says}: ${first.faults.join('; ')}` }
          : {}),
      }),
    )
  }

  cutout(): void {
    const { cutout, cutoutDeclared, mode, shows } = this.#reading
    const { chances, seen, late, held } = cutout
    const { source } = this.#about
    if (mode !== 'operations' || (!cutoutDeclared && seen === 0)) return
    if (seen === 0 && cutout.start.count === 0 && late.count === 0) {
      if (shows !== 'rails' || chances === 0) {
        const finding =
          chances === 0
            ? SIGNAL_FINDINGS.find('no-packet', { source, spoiled: this.#reading.packets.spoiled })
            : SIGNAL_FINDINGS.find('one-level', { source })
        this.#hideFor('cutout-start', finding)
        this.#hideFor('cutout-end', finding)
        return
      }
      this.#show('cutout-start', unmeasured(chances, chances), 'broken', () =>
        SIGNAL_FINDINGS.find('cutout-missing', { source, chances }),
      )
      this.#hide('cutout-end', NO_END)
      return
    }
    const ends: [ClauseId, Extremes & { outside: number }, number][] = [
      ['cutout-start', cutout.start, 0],
      ['cutout-end', { ...joined(cutout.end, late), outside: cutout.end.outside + late.count }, late.count],
    ]
    const isHeld = shows === 'rails' && held.count > 0
    for (const [id, { low, high, count, outside, lowAtUs, highAtUs }, tooLate] of ends) {
      if (isHeld && id === 'cutout-start') {
        const found = { ...unmeasured(outside + held.count, chances), atUs: held.firstAtUs }
        this.#show(id, found, 'broken', (tail) =>
          SIGNAL_FINDINGS.find('cutout-held', { ...tail, held: held.count, chances }),
        )
        continue
      }
      if (isHeld && count === 0) {
        this.#hide(id, NO_END)
        continue
      }
      if (count === 0) {
        this.#hideFor(id, SIGNAL_FINDINGS.find('one-level', { source }))
        continue
      }
      const { min = 0, max = 0 } = this.#profile.clauses[id].sender
      const atUs = high - max > min - low ? highAtUs : lowAtUs
      const found = { low, high, uncertain: this.#uncertaintyUs, seen: count, outside, atUs }
      this.#show(id, found, undefined, (tail) =>
        SIGNAL_FINDINGS.find('cutout', {
          ...tail,
          end: id === 'cutout-end',
          count,
          lowUs: low,
          highUs: high,
          late: tooLate,
          without: Math.max(0, chances - seen),
        }),
      )
    }
  }

  interruption(): void {
    const { breaks, recordGaps, account, shows, edges, one, packets } = this.#reading
    const { wrong, unknown, allowed, longestUs, firstUnknownAtUs } = breaks
    const { source, origin } = this.#about
    // Where there never was a signal, nothing could break off.
    if (edges > 0 && wrong + unknown === 0 && one.count === 0 && packets.total === 0) {
      this.#hideFor('interruption', SIGNAL_FINDINGS.find('no-packet', { source, spoiled: packets.spoiled }))
      return
    }
    if (edges === 0) {
      this.#hideFor('interruption', SIGNAL_FINDINGS.find('no-edges', { source }))
      return
    }
    const rails = shows === 'rails'
    if (wrong + unknown === 0 && !rails && origin !== 'simulated') {
      this.#hideFor('interruption', SIGNAL_FINDINGS.find('one-level', { source }))
      return
    }
    const found: Found = {
      low: wrong,
      high: wrong + unknown,
      uncertain: 0,
      seen: wrong + unknown + allowed,
      outside: wrong,
      atUs: unknown > 0 ? firstUnknownAtUs : undefined,
    }
    this.#show('interruption', found, wrong > 0 ? 'broken' : unknown > 0 ? 'undecided' : 'met', (tail) =>
      SIGNAL_FINDINGS.find('interruption', {
        source: tail.source,
        wrong,
        unknown,
        allowed,
        longestUs,
        gaps: recordGaps.count,
        gapUs: account.gap,
        logic: !rails,
      }),
    )
  }

  /**
   * Where a one of a legal signal may look like a zero, what is read as packets may be nothing of the kind: what seems
   * wrong with them is the record's fault. Packets whose error bytes are right were read all the same.
   */
  unlessTooCoarse(statement: Statement): Statement {
    const { 'one-half': one, 'zero-half': zero } = this.#profile.clauses
    const apart = (zero.sender.min ?? 0) - (one.sender.max ?? 0)
    if (2 * this.#uncertaintyUs < apart || statement.verdict !== 'broken') return statement
    if (BY_LENGTH.has(statement.clause)) return statement
    const { origin, about, place, source } = this.#about
    const { resolutionUs } = this.#reading
    const finding = SIGNAL_FINDINGS.find('too-coarse', { source, resolutionUs, neededUs: apart / 4 })
    return notShown(statement.clause, origin, finding, { about, ...(place ? { where: { ...place } } : {}) })
  }

  /** @param verdict where it is more than a matter of the limits. */
  #show(
    id: ClauseId,
    found: Found,
    verdict: Verdict | undefined,
    say: (tail: Tail) => Finding,
    held: { limits?: Limits; readable?: Found; whole?: boolean } = {},
  ): void {
    const clause = this.#profile.clauses[id]
    const limits = held.limits ?? senderLimits(clause, this.#reading.mode)
    const byLimits = verdict ?? verdictOf(found, limits)
    // Where no sheet binds the sender, nothing is held against it.
    const unbound = clause.unbound === true && byLimits === 'broken'
    const decided = unbound ? 'undecided' : byLimits
    const { origin, source, about, place } = this.#about
    const tail: Tail = {
      source,
      ...(unbound ? { unbound: `${clause.source.document}:${clause.source.edition}` } : {}),
      ...(decided === 'undecided' && verdict === undefined && !unbound
        ? this.#whatWouldDecide(found, limits)
        : {}),
      ...(decided === 'broken' ? receiverSays(held.readable ?? found, clause, limits) : {}),
    }
    const finding = say(tail)
    const where: Place = { ...place }
    const first = this.#reading.findings.find((f) => f.clause === id)
    const atUs = decided === 'met' ? found.atUs : (first?.timeUs ?? found.atUs)
    if (atUs !== undefined) where.timeUs = atUs
    if (first?.packet !== undefined) where.packet = first.packet
    const evidence: Evidence = {
      clause: id,
      origin,
      verdict: decided,
      value: { low: found.low, high: found.high, unit: clause.unit },
      margin: marginOf(found, limits, decided, held.whole === true),
      count: { seen: found.seen, outside: found.outside },
      because: finding.sentence,
      finding,
    }
    if (held.limits) evidence.limits = held.limits
    if (Object.keys(where).length > 0) evidence.where = where
    if (about !== undefined) evidence.about = about
    this.list.push(evidence)
  }

  #hide(id: ClauseId, what: string): void {
    const { source } = this.#about
    const { edges } = this.#reading
    this.#hideFor(
      id,
      edges === 0
        ? SIGNAL_FINDINGS.find('no-edges', { source })
        : SIGNAL_FINDINGS.find('nothing-of-it', { source, what }),
    )
  }

  #hideFor(id: ClauseId, finding: Finding): void {
    const { origin, about, place, source } = this.#about
    const why =
      this.#reading.edges === 0 && id !== 'interruption'
        ? SIGNAL_FINDINGS.find('no-edges', { source })
        : finding
    this.list.push(notShown(id, origin, why, { about, ...(place ? { where: { ...place } } : {}) }))
  }

  /** The sampling or writing at which the same signal would be told inside from outside. */
  #whatWouldDecide(found: Found, limits: Limits): Decider {
    const { resolutionUs, roundingUs } = this.#reading
    const u = this.#uncertaintyUs
    const near = [limits.min === undefined ? undefined : found.low - limits.min]
    near.push(limits.max === undefined ? undefined : limits.max - found.high)
    const distance = Math.min(...near.filter((d) => d !== undefined).map(Math.abs))
    const neededUs = Math.max((distance * u) / found.uncertain, u / 20)
    return { resolutionUs, roundingUs, neededUs, needsAtLeast: distance * u < (found.uncertain * u) / 20 }
  }
}

/** Judged by how long something lasts, give or take the uncertainty. */
const BY_LENGTH: ReadonlySet<ClauseId> = new Set([
  'one-half',
  'one-difference',
  'zero-half',
  'zero-total',
  'interruption',
])

/** A record with ones for so many packets and no preamble has none. */
const CERTAIN_PACKETS = 20

/** A count that must be zero. */
const NO_END = 'no cut-out that could end'

/** Of what is absent there is no time to show. */
function unmeasured(outside: number, seen: number): Found {
  return { low: 0, high: 0, uncertain: 0, seen, outside }
}

function none(outside: number, seen: number): Found {
  return { low: 0, high: outside, uncertain: 0, seen, outside }
}

/** Met only if the whole uncertainty lies inside, broken only if an end lies surely outside. */
function verdictOf(found: Pick<Found, 'low' | 'high' | 'uncertain'>, limits: Limits): Verdict {
  const { low, high, uncertain } = found
  const min = limits.min ?? Number.NEGATIVE_INFINITY
  const max = limits.max ?? Number.POSITIVE_INFINITY
  if (uncertain === 0) return low < min - EPS || high > max + EPS ? 'broken' : 'met'
  // The truth lies strictly nearer than `uncertain`.
  if (low + uncertain <= min + EPS || high - uncertain >= max - EPS) return 'broken'
  return low - uncertain < min - EPS || high + uncertain > max + EPS ? 'undecided' : 'met'
}

/** A verdict that is more than a matter of the limits has a margin that agrees with it. */
function marginOf(found: Found, limits: Limits, verdict: Verdict, isWhole: boolean): number {
  if (isWhole) return verdict === 'met' ? 1 : -1
  const margin = marginWithin(found.low, found.high, limits)
  if (verdict === 'met') return Math.max(0, margin)
  return verdict === 'broken' && margin >= 0 ? -1 : margin
}

function receiverSays(
  found: Found,
  clause: Clause,
  limits: Limits,
): Pick<Tail, 'asked' | 'accepts' | 'decodersRead'> {
  if (!clause.receiver) return {}
  const { min, max } = clause.receiver
  const accepts = [min === undefined ? '' : `from ${min}`, max === undefined ? '' : `to ${max}`]
  const asked = [
    limits.min === undefined ? '' : `at least ${limits.min}`,
    limits.max === undefined ? '' : `at most ${limits.max}`,
  ]
  return {
    asked: asked.filter(Boolean).join(' and '),
    accepts: `${accepts.filter(Boolean).join(' ')} ${clause.unit}`,
    decodersRead: verdictOf(found, clause.receiver) !== 'broken',
  }
}
