/** What a design may choose to be held against; the shape's defaults where it chooses nothing. */
import type { TrackDesign } from './design/track.js'

export interface TrackLimits {
  /** Share of the voltage without load that wires and rails may lose. */
  dropShare: number
  /** Lowest voltage at which decoders work, V. */
  decoderVolt: number
  /** Contact of a short, Ohm. */
  contactOhm: number
  /** Least short current, as a multiple of the trip current. */
  reserve: number
  /** Longest time until a short is off, us. */
  tripWithinUs: number
  /** Highest temperature rise of a conductor during a short, K. */
  riseK: number
}

/** Common practice, no source. */
export const LIMITS: TrackLimits = {
  dropShare: 0.1,
  decoderVolt: 7,
  contactOhm: 0.1,
  reserve: 1.25,
  tripWithinUs: 500_000,
  riseK: 40,
}

export function limitsOf({ limits }: Pick<TrackDesign, 'limits'>): TrackLimits {
  if (!limits) return LIMITS
  return {
    dropShare: limits.drop,
    decoderVolt: limits.decoder,
    contactOhm: limits.contact,
    reserve: limits.reserve,
    tripWithinUs: limits.tripWithin,
    riseK: limits.rise,
  }
}
