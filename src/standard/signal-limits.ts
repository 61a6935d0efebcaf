/** The figures the reader of signals needs, from one profile's clauses and rules: plain data, to send to a worker. */
import type { ClauseId } from './clause.js'
import { type Profile, profileOf } from './profile.js'
import type { RuleId } from './rules.data.js'

export interface HalfBitLimits {
  minUs: number
  nominalUs: number
  maxUs: number
  /** What decoders must accept. */
  receiverMinUs: number
  receiverMaxUs: number
}

export interface SignalLimits {
  one: HalfBitLimits
  zero: HalfBitLimits
  oneDifference: { maxUs: number; receiverMaxUs: number }
  zeroTotalMaxUs: number
  /** Ones before a packet; `receiver`: decoders must accept; `rejected`: they must refuse fewer. */
  preamble: { operations: number; service: number; cutout: number; receiver: number; rejected: number }
  packetBytes: { min: number; max: number }
  /** First bytes of packets that may be longer. */
  longPackets: { first: number; last: number }
  /** Longer packets of other first bytes are known, though from memory only. */
  knowsLongerForms: boolean
  packetIntervalMaxUs: number
  /** Addresses are all where `first` is absent. */
  sameAddress: { minUs: number; first?: number; last?: number }
  resetGuard: { us: number; first: number; last: number }
  startUp: { resets: number; idles: number }
  cutout: { startMinUs: number; startMaxUs: number; endMinUs: number; endMaxUs: number }
  streamAfterEndBitUs: number
}

/** @throws RangeError when the profile lacks a figure that a signal cannot be read without. */
export function signalLimitsOf(profile: Profile): SignalLimits {
  const { clauses, rules } = profile
  const limit = (id: ClauseId, side: 'sender' | 'receiver' | 'inService', end: 'min' | 'nominal' | 'max') =>
    present(clauses[id][side]?.[end], `${side} ${end} of ${id}`)
  const rule = (id: RuleId) => present(rules[id]?.value, `rule ${id}`)
  const half = (id: 'one-half' | 'zero-half'): HalfBitLimits => ({
    minUs: limit(id, 'sender', 'min'),
    nominalUs: limit(id, 'sender', 'nominal'),
    maxUs: limit(id, 'sender', 'max'),
    receiverMinUs: limit(id, 'receiver', 'min'),
    receiverMaxUs: limit(id, 'receiver', 'max'),
  })
  const first = rules['same-address-first']?.value
  const last = rules['same-address-last']?.value
  return {
    one: half('one-half'),
    zero: half('zero-half'),
    oneDifference: {
      maxUs: limit('one-difference', 'sender', 'max'),
      receiverMaxUs: limit('one-difference', 'receiver', 'max'),
    },
    zeroTotalMaxUs: limit('zero-total', 'sender', 'max'),
    preamble: {
      operations: limit('preamble', 'sender', 'min'),
      service: limit('preamble', 'inService', 'min'),
      cutout: rule('preamble-cutout'),
      receiver: limit('preamble', 'receiver', 'min'),
      rejected: rule('preamble-rejected'),
    },
    packetBytes: {
      min: limit('packet-length', 'sender', 'min'),
      max: limit('packet-length', 'sender', 'max'),
    },
    longPackets: { first: rule('long-packet-first'), last: rule('long-packet-last') },
    knowsLongerForms: profile.profile === 'rcn',
    packetIntervalMaxUs: limit('packet-interval', 'sender', 'max'),
    sameAddress: {
      minUs: limit('same-address-gap', 'sender', 'min'),
      ...(first === undefined || last === undefined ? {} : { first, last }),
    },
    resetGuard: {
      us: limit('reset-guard', 'sender', 'min'),
      first: rule('reset-guard-first'),
      last: rule('reset-guard-last'),
    },
    startUp: { resets: rule('start-up-resets'), idles: rule('start-up-idles') },
    cutout: {
      startMinUs: limit('cutout-start', 'sender', 'min'),
      startMaxUs: limit('cutout-start', 'sender', 'max'),
      endMinUs: limit('cutout-end', 'sender', 'min'),
      endMaxUs: limit('cutout-end', 'sender', 'max'),
    },
    streamAfterEndBitUs: rule('stream-after-end-bit'),
  }
}

function present(value: number | undefined, what: string): number {
  if (value === undefined) throw new RangeError(`the profile has no ${what}`)
  return value
}

/** Limits for reading a signal where no design or option names a profile. */
export const DEFAULT_SIGNAL_LIMITS: SignalLimits = signalLimitsOf(
  profileOf({ profile: 'nmra', scale: 'H0', cutout: false }),
)
