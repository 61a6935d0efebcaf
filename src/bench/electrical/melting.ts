/** A fuse over time: how much of its melting lies behind it. */
import { type FuseKind, fuseHoldsS, fuseOpensS } from '../../power/index.js'

/** Heat of an overload that ends before it melts leaves it with this time constant, us; assumed. */
const COOLS_US = 1e6
/** Where only the longest time is known, the usual one is so much shorter; assumed. */
const LEAST_SHARE = 0.01

export class Melting {
  readonly ratingAmp: number
  readonly kind: FuseKind
  isBlown = false
  #melted = 0

  constructor(ratingAmp: number, kind: FuseKind = 'glass') {
    this.ratingAmp = ratingAmp
    this.kind = kind
  }

  /** Between the least and the longest time of its gates, on a logarithmic scale, us; Infinity where it may not open. */
  usualUs(amp: number): number {
    const longest = fuseOpensS(this.ratingAmp, amp, this.kind)
    if (!Number.isFinite(longest)) return longest
    const holds = fuseHoldsS(this.ratingAmp, amp, this.kind)
    return (
      1e6 * Math.sqrt(longest * (Number.isFinite(holds) ? Math.max(holds, LEAST_SHARE * longest) : longest))
    )
  }

  /** @returns whether it has just melted */
  pass(amp: number, us: number): boolean {
    if (this.isBlown) return false
    const usual = this.usualUs(amp)
    if (!Number.isFinite(usual)) this.#melted *= Math.exp(-us / COOLS_US)
    else this.#melted += us / usual
    this.isBlown = this.#melted >= 1
    return this.isBlown
  }
}
