/**
 * The current on a service track: how long it is above the limit, and the acknowledgements in it. Samples come in time
 * order; between two of them nothing is known, so each time is an interval. Samples closer than a bit are averaged, as
 * every change of polarity and a motor's pulses show in the current; its sign, which changes with the polarity where it
 * is measured in a rail, does not count.
 */
import { type Evidence, marginWithin, type Profile, type Verdict } from '../standard/index.js'
import type { SignalOrigin } from './evidence.js'
import { SIGNAL_FINDINGS } from './findings.data.js'

export interface CurrentLimits {
  /** May flow for a limited time only, A. */
  limitAmp: number
  /** For so long, us. */
  limitUs: number
  /** An acknowledgement is at least this much more, A, for a time between the two, us. */
  riseAmp: number
  shortestUs: number
  longestUs: number
}

/** @throws RangeError when the profile has no figures for a service track. */
export function currentLimitsOf({ rules, clauses }: Profile): CurrentLimits {
  const of = (id: keyof typeof rules) => {
    const value = rules[id]?.value
    if (value === undefined) throw new RangeError(`the profile has no rule ${id}`)
    return value
  }
  return {
    limitAmp: of('service-current-limit'),
    limitUs: clauses['service-current'].sender.max ?? Number.POSITIVE_INFINITY,
    riseAmp: of('acknowledgement-rise'),
    shortestUs: of('acknowledgement-shortest'),
    longestUs: of('acknowledgement-longest'),
  }
}

export interface CurrentReading {
  samples: number
  peakAmp: number
  /** The longest stretch above the limit: surely at least, and perhaps up to, us. */
  longestUs: number
  longestMostUs: number
  longestAtUs: number
  acknowledgements: number
}

/** Share of the base that a new sample makes: a few milliseconds at one sample a millisecond, less at more. */
const BASE_US = 5000
/** Samples within this time are averaged: a bit of value 1, us. */
const BIN_US = 116

export class CurrentWatch {
  readonly #limits: CurrentLimits
  readonly #onAcknowledge: (timeUs: number) => void
  #samples = 0
  #lastSample = Number.NEGATIVE_INFINITY
  /** The running average: when it began, its sum and its number of samples. */
  #bin = { fromUs: Number.NaN, sum: 0, count: 0 }
  #last = Number.NaN
  #base = Number.NaN
  #peak = 0
  /** First sample above the limit, and the last one below before it. */
  #aboveFrom = Number.NaN
  #belowBefore = Number.NaN
  #longest = { us: 0, mostUs: 0, atUs: 0 }
  /** A rise that may become an acknowledgement: its first sample, the one before, and its last. */
  #riseFrom = Number.NaN
  #riseBefore = Number.NaN
  #acknowledgements = 0

  /** @param onAcknowledge called when one is over, with the time it began. */
  constructor(limits: CurrentLimits, onAcknowledge: (timeUs: number) => void = () => {}) {
    this.#limits = limits
    this.#onAcknowledge = onAcknowledge
  }

  /** @throws RangeError when time goes backwards. */
  push(timeUs: number, amp: number): void {
    if (timeUs < this.#lastSample)
      throw new RangeError('time goes backwards between two samples of the current')
    this.#samples++
    this.#lastSample = timeUs
    const size = Math.abs(amp)
    this.#peak = Math.max(this.#peak, size)
    const bin = this.#bin
    if (timeUs - bin.fromUs < BIN_US) {
      bin.sum += size
      bin.count++
      return
    }
    this.#endBin()
    this.#bin = { fromUs: timeUs, sum: size, count: 1 }
  }

  #endBin(): void {
    const { fromUs, sum, count } = this.#bin
    if (count === 0) return
    this.#watchLimit(fromUs, sum / count)
    this.#watchRise(fromUs, sum / count)
    this.#last = fromUs
  }

  #watchLimit(timeUs: number, amp: number): void {
    // Nothing is known of a long pause: what was above may have gone on in it, or may not.
    if (timeUs - this.#last > this.#limits.limitUs) {
      this.#extend(0, timeUs - (Number.isNaN(this.#aboveFrom) ? this.#last : this.#belowBefore), this.#last)
      this.#aboveFrom = Number.NaN
    }
    if (amp > this.#limits.limitAmp) {
      if (Number.isNaN(this.#aboveFrom)) {
        this.#aboveFrom = timeUs
        this.#belowBefore = Number.isNaN(this.#last) ? timeUs : this.#last
      }
      this.#extend(timeUs - this.#aboveFrom, timeUs - this.#belowBefore, this.#aboveFrom)
      return
    }
    if (!Number.isNaN(this.#aboveFrom)) {
      this.#extend(this.#last - this.#aboveFrom, timeUs - this.#belowBefore, this.#aboveFrom)
      this.#aboveFrom = Number.NaN
    }
  }

  #extend(us: number, mostUs: number, atUs: number): void {
    const longest = this.#longest
    if (us > longest.us || (us === longest.us && mostUs > longest.mostUs)) longest.atUs = atUs
    longest.us = Math.max(longest.us, us)
    longest.mostUs = Math.max(longest.mostUs, mostUs)
  }

  #watchRise(timeUs: number, amp: number): void {
    const { riseAmp, shortestUs, longestUs } = this.#limits
    if (Number.isNaN(this.#base)) this.#base = amp
    if (amp >= this.#base + riseAmp) {
      if (Number.isNaN(this.#riseFrom)) {
        this.#riseFrom = timeUs
        this.#riseBefore = Number.isNaN(this.#last) ? timeUs : this.#last
      }
      // What lasts much longer is a new load, from which the next rise counts.
      if (timeUs - this.#riseFrom > 2 * longestUs) {
        this.#base = amp
        this.#riseFrom = Number.NaN
      }
      return
    }
    if (!Number.isNaN(this.#riseFrom)) {
      const least = this.#last - this.#riseFrom
      const most = timeUs - this.#riseBefore
      if (most >= shortestUs && least <= longestUs) {
        this.#acknowledgements++
        this.#onAcknowledge(this.#riseFrom)
      }
      this.#riseFrom = Number.NaN
    }
    const share = Math.min(1, Number.isNaN(this.#last) ? 1 : (timeUs - this.#last) / BASE_US)
    this.#base += (amp - this.#base) * share
  }

  finish(): CurrentReading {
    this.#endBin()
    const { us, mostUs, atUs } = this.#longest
    return {
      samples: this.#samples,
      peakAmp: this.#peak,
      longestUs: us,
      longestMostUs: mostUs,
      longestAtUs: atUs,
      acknowledgements: this.#acknowledgements,
    }
  }
}

/** Evidence for `service-current`; undecided where the samples are too far apart to tell. */
export function serviceCurrentEvidence(
  reading: CurrentReading,
  profile: Profile,
  { origin, source, about, place }: SignalOrigin,
): Evidence {
  const clause = profile.clauses['service-current']
  const max = clause.sender.max ?? Number.POSITIVE_INFINITY
  const { longestUs: low, longestMostUs: high, longestAtUs, peakAmp, samples } = reading
  const verdict: Verdict = low > max ? 'broken' : high > max ? 'undecided' : 'met'
  const { limitAmp } = currentLimitsOf(profile)
  const finding = SIGNAL_FINDINGS.find('service-current', { source, longestUs: low, limitAmp, peakAmp })
  return {
    clause: 'service-current',
    origin,
    verdict,
    value: { low, high, unit: clause.unit },
    margin: marginWithin(low, high, clause.sender),
    count: { seen: samples, outside: verdict === 'broken' ? 1 : 0 },
    where: { ...place, ...(high > 0 ? { timeUs: longestAtUs } : {}) },
    because: finding.sentence,
    finding,
    ...(about === undefined ? {} : { about }),
  }
}
