/** What a reading says of each clause. */
import {
  type Clause,
  type ClauseId,
  type Evidence,
  type Limits,
  marginWithin,
  type Origin,
  type Place,
  type Profile,
  senderLimits,
  type Verdict,
} from '../standard/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../units/index.js'
import type { HalfBitStats, SignalReading } from './reading.js'

export interface SignalOrigin {
  origin: Origin
  /** What was read, in a few words for the sentence: `capture main.vcd`, `5 s of station.elf`. */
  source: string
  /** Output of the station it is about. */
  about?: string
  /** File and channel, for the place. */
  place?: Pick<Place, 'file' | 'channel'>
  /**
   * Where a capture was taken. On a logic pin nothing stands between the firmware and the edge; a probe at the
   * rails has an input stage that may shift one polarity.
   */
  probe?: 'rails' | 'logic'
}

const EPS = 1e-6

/** Evidence for every clause that the reading shows anything about; a clause that is not there is not shown. */
export function judgeSignal(reading: SignalReading, profile: Profile, about: SignalOrigin): Evidence[] {
  const judge = new Judge(reading, profile, about)
  judge.halfBits()
  judge.counts()
  judge.preamble()
  judge.times()
  judge.service()
  judge.cutout()
  return judge.evidence
}

interface Found {
  low: number
  high: number
  /** The truth lies less than this beside what was found, in the clause's unit. */
  uncertain: number
  seen: number
  outside: number
  /** When the worst was, us. */
  atUs?: number
  says: string
}

class Judge {
  readonly evidence: Evidence[] = []
  readonly #reading: SignalReading
  readonly #profile: Profile
  readonly #about: SignalOrigin

  constructor(reading: SignalReading, profile: Profile, about: SignalOrigin) {
    this.#reading = reading
    this.#profile = profile
    this.#about = about
  }

  halfBits(): void {
    const { one, zero, oneDifference, zeroTotal, resolutionUs: r } = this.#reading
    this.#halfBit('one-half', one)
    if (oneDifference.count > 0) {
      const high = Math.max(Math.abs(oneDifference.low), Math.abs(oneDifference.high))
      const atLow = Math.abs(oneDifference.low) > Math.abs(oneDifference.high)
      const raw: Found = {
        low: 0,
        high,
        uncertain: 2 * r,
        seen: oneDifference.count,
        outside: oneDifference.outside,
        atUs: atLow ? oneDifference.lowAtUs : oneDifference.highAtUs,
        says: `the halves of a one differ by up to ${print(high)} us`,
      }
      const shift = 2 * this.#reading.shift.highUs
      const corrected = Math.max(Math.abs(oneDifference.low - shift), Math.abs(oneDifference.high - shift))
      this.#withShift('one-difference', raw, { ...raw, high: corrected }, `up to ${print(corrected)} us`)
    }
    this.#halfBit('zero-half', zero)
    if (zeroTotal.count > 0) {
      this.#window('zero-total', {
        low: zeroTotal.low,
        high: zeroTotal.high,
        uncertain: r,
        seen: zeroTotal.count,
        outside: zeroTotal.outside,
        atUs: zeroTotal.highAtUs,
        says: `whole zeros last ${range(zeroTotal.low, zeroTotal.high)} us, ${zeroTotal.stretched} of them stretched`,
      })
    }
  }

  #halfBit(id: 'one-half' | 'zero-half', stats: HalfBitStats): void {
    if (stats.count === 0) return
    const clause = this.#profile.clauses[id]
    const tooLong = stats.maxUs - (clause.sender.max ?? 0) > (clause.sender.min ?? 0) - stats.minUs
    const raw: Found = {
      low: stats.minUs,
      high: stats.maxUs,
      uncertain: this.#reading.resolutionUs,
      seen: stats.count,
      outside: stats.outside,
      atUs: tooLong ? stats.maxAtUs : stats.minAtUs,
      says: `${stats.count} halves last ${range(stats.minUs, stats.maxUs)} us, ${print(stats.meanUs)} in the mean`,
    }
    const shift = this.#reading.shift.highUs
    const { high, low } = stats
    const ends = [high.minUs - shift, high.maxUs - shift, low.minUs + shift, low.maxUs + shift]
    const lowest = Math.min(...ends)
    const highest = Math.max(...ends)
    this.#withShift(id, raw, { ...raw, low: lowest, high: highest }, `${range(lowest, highest)} us`)
  }

  /** A constant difference of the polarities may be the probe's: then it decides nothing against the station. */
  #withShift(id: ClauseId, raw: Found, corrected: Found, correctedSays: string): void {
    const { shift } = this.#reading
    const mayBeProbe = this.#about.origin === 'measured' && this.#about.probe !== 'logic' && shift.constant
    if (!mayBeProbe) {
      this.#window(id, raw)
      return
    }
    const limits = this.#profile.clauses[id].sender
    const size = print(Math.abs(shift.highUs))
    const which = shift.highUs > 0 ? 'longer' : 'shorter'
    const why = `the high halves of ones and zeros alike are ${size} us ${which} than their share, by the probe or the driver`
    const without = `without it ${correctedSays}`
    const rawVerdict = verdictOf(raw, limits)
    if (rawVerdict !== 'met' && verdictOf(corrected, limits) === 'met') {
      const swap = 'swap the leads of the probe: if the high halves still are, it is the probe'
      this.#window(id, { ...raw, says: `${raw.says}; ${why}; ${without}; ${swap}` }, 'undecided')
      return
    }
    this.#window(id, { ...raw, says: `${raw.says}; ${why}; ${without}` })
  }

  counts(): void {
    const { glitches, packets, edges } = this.#reading
    if (edges > 2) {
      const shortest = glitches.count > 0 ? `, the shortest ${print(glitches.shortestUs)} us` : ''
      this.#mustBeNone(
        'glitch',
        glitches.count,
        edges - 1,
        `${glitches.count} too short intervals${shortest}`,
      )
    }
    const { total, valid, framing, errorByte, length, spoiled } = packets
    if (total + framing === 0) return
    const tail = spoiled > 0 ? `; ${spoiled} more were spoiled by a fault named elsewhere` : ''
    this.#mustBeNone(
      'framing',
      framing,
      total + framing,
      `${framing} packets break off or lose their shape${tail}`,
    )
    if (total === 0) return
    const bytes = packets.bytes
    if (bytes.count > 0) {
      this.#window(
        'packet-length',
        {
          low: bytes.low,
          high: bytes.high,
          uncertain: 0,
          seen: total,
          outside: length,
          atUs: bytes.highAtUs,
          says: `packets have ${range(bytes.low, bytes.high)} bytes`,
        },
        length > 0 ? 'broken' : 'met',
      )
    }
    this.#mustBeNone(
      'error-byte',
      errorByte,
      total,
      `${errorByte} of ${total} packets have a wrong error byte`,
    )
    if (valid > 0) {
      const { undefined: undefinedCount } = packets
      const says = `${undefinedCount} of ${valid} valid packets carry undefined or reserved bytes`
      this.#mustBeNone('instruction', undefinedCount, valid, says)
    }
  }

  preamble(): void {
    const { preamble, packets, one, cutout } = this.#reading
    const { allowed, sent } = preamble
    if (allowed.count > 0) {
      const hidden = cutout.start.count > 0 ? ', those that the cut-out hides counted' : ''
      const endBit =
        sent.low < allowed.low ? ', the end bit before them counted where nothing lies between' : ''
      const shared = hidden || endBit
      this.#window('preamble', {
        low: allowed.low,
        high: allowed.high,
        uncertain: 0,
        seen: allowed.count,
        outside: preamble.short,
        atUs: allowed.lowAtUs,
        says: `${range(allowed.low, allowed.high)} ones precede each packet${shared}`,
      })
    } else if (packets.total === 0 && one.count > 400 && preamble.longestRun < 10) {
      // Nothing that decoders could take for a preamble.
      const { longestRun } = preamble
      this.#window('preamble', {
        low: longestRun,
        high: longestRun,
        uncertain: 0,
        seen: 1,
        outside: longestRun < 14 ? 1 : 0,
        says: `no packet could be read: the longest run of ones is ${longestRun}`,
      })
    }
  }

  times(): void {
    const { packetInterval, packets, sameAddressGap, resolutionUs: r } = this.#reading
    if (packetInterval.count > 0) {
      this.#window('packet-interval', {
        low: packetInterval.low,
        high: packetInterval.high,
        uncertain: r,
        seen: packetInterval.count,
        outside: packetInterval.outside,
        atUs: packetInterval.highAtUs,
        says:
          packets.valid === 0
            ? `no complete packet in ${formatTimeUs(packetInterval.high)}`
            : `from start bit to start bit pass ${formatTimeUs(packetInterval.low)} to ${formatTimeUs(packetInterval.high)}`,
      })
    }
    if (sameAddressGap.count > 0) {
      this.#window('same-address-gap', {
        low: sameAddressGap.low,
        high: sameAddressGap.high,
        uncertain: r,
        seen: sameAddressGap.count,
        outside: sameAddressGap.outside,
        atUs: sameAddressGap.lowAtUs,
        says: `between two packets to one address pass ${formatTimeUs(sameAddressGap.low)} or more`,
      })
    }
  }

  service(): void {
    const { service } = this.#reading
    if (!service || service.operations === 0) return
    const { operations, met, broken, undecided } = service
    const verdict = broken > 0 ? 'broken' : undecided > 0 || met === 0 ? 'undecided' : 'met'
    const open =
      undecided > 0
        ? `; of ${undecided} the packets alone cannot tell, acknowledgements are not among them`
        : ''
    const says = `${broken} of ${operations} service-mode operations lack packets or order${open}`
    this.#window(
      'service-sequence',
      { low: 0, high: broken, uncertain: 0, seen: operations, outside: broken, says },
      verdict,
    )
  }

  cutout(): void {
    const { cutout, resolutionUs: r } = this.#reading
    for (const [id, seen] of [
      ['cutout-start', cutout.start],
      ['cutout-end', cutout.end],
    ] as const) {
      if (seen.count === 0) continue
      const limits = this.#profile.clauses[id].sender
      const tooHigh = seen.high - (limits.max ?? 0) > (limits.min ?? 0) - seen.low
      this.#window(id, {
        low: seen.low,
        high: seen.high,
        uncertain: r,
        seen: seen.count,
        outside: seen.outside,
        atUs: tooHigh ? seen.highAtUs : seen.lowAtUs,
        says: `${seen.count} cut-outs ${id === 'cutout-start' ? 'start' : 'end'} ${range(seen.low, seen.high)} us after the end bit`,
      })
    }
  }

  #mustBeNone(id: ClauseId, outside: number, seen: number, says: string): void {
    this.#window(id, { low: 0, high: outside, uncertain: 0, seen, outside, says })
  }

  #window(id: ClauseId, found: Found, verdict?: Verdict): void {
    const clause = this.#profile.clauses[id]
    const limits = senderLimits(clause, this.#reading.mode)
    const decided = verdict ?? verdictOf(found, limits)
    const { origin, source, about, place } = this.#about
    const because = [`${source}: ${found.says}`]
    if (decided === 'undecided' && verdict === undefined) because.push(this.#whatWouldDecide(found, limits))
    if (decided === 'broken')
      because.push(...receiverSays(found, clause, limits), ...this.#likelyCause(id, found))
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
      margin:
        id === 'packet-length' ? (decided === 'met' ? 1 : -1) : marginWithin(found.low, found.high, limits),
      count: { seen: found.seen, outside: found.outside },
      because: because.join('; '),
    }
    if (Object.keys(where).length > 0) evidence.where = where
    if (about !== undefined) evidence.about = about
    this.evidence.push(evidence)
  }

  /** All wrong alike is a clock or a register, a few wrong is lateness: builders look in different places. */
  #likelyCause(id: ClauseId, found: Found): string[] {
    if ((id !== 'one-half' && id !== 'zero-half') || found.outside === 0) return []
    const { one } = this.#reading
    const share = found.outside / found.seen
    const off = one.meanUs / 58 - 1
    if (share > 0.3 && (id === 'zero-half' || Math.abs(off) > 0.02)) {
      const mean = `the mean is ${formatNumber(Math.abs(off) * 100, 2)} % ${off > 0 ? 'above' : 'below'} 58 us`
      const all = 'so many alike are a timer value or the clock, not late interrupts'
      return [id === 'zero-half' ? all : `${mean}: ${all}`]
    }
    if (share > 0.02) return []
    return [
      `only ${found.outside} of ${found.seen}: late interrupts or a compare value written too late, not the clock`,
    ]
  }

  /** The sampling rate at which the same signal would be told inside from outside. */
  #whatWouldDecide(found: Found, limits: Limits): string {
    const r = this.#reading.resolutionUs
    const near = [limits.min === undefined ? undefined : found.low - limits.min]
    near.push(limits.max === undefined ? undefined : limits.max - found.high)
    const distance = Math.min(...near.filter((d) => d !== undefined).map(Math.abs))
    const neededUs = Math.max((distance * r) / found.uncertain, r / 20)
    const closer = distance * r < (found.uncertain * r) / 20 ? 'at least ' : ''
    return `sampled every ${formatTimeUs(r)} this cannot be told from outside; ${closer}${formatSi(1e6 / neededUs, 'Hz', 3)} would decide it`
  }
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

function receiverSays(found: Found, clause: Clause, limits: Limits): string[] {
  if (!clause.receiver) return []
  const { min, max } = clause.receiver
  const accepts = [min === undefined ? '' : `from ${min}`, max === undefined ? '' : `to ${max}`]
    .filter(Boolean)
    .join(' ')
  const inside = verdictOf(found, clause.receiver) !== 'broken'
  const asked = [
    limits.min === undefined ? '' : `at least ${limits.min}`,
    limits.max === undefined ? '' : `at most ${limits.max}`,
  ]
  const says = inside
    ? `decoders should still read it, they must accept ${accepts} ${clause.unit}`
    : `decoders need not read it, they must accept only ${accepts} ${clause.unit}`
  return [`the station must keep ${asked.filter(Boolean).join(' and ')}`, says]
}

function print(value: number): string {
  return formatNumber(value, 5)
}

function range(low: number, high: number): string {
  const a = print(low)
  const b = print(high)
  return a === b ? a : `${a} to ${b}`
}
