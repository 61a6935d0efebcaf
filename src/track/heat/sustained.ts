/** The greatest current that nothing ends: just below where the trip acts, or what the source gives where nothing trips. */
import type { DistrictSource } from '../network/network.js'

/**
 * @param prospectiveAmp what wires let through where neither trip nor supply holds it
 * @returns from the lowest to the highest that it may be, A
 */
export function sustainedAmp(source: DistrictSource, prospectiveAmp: number): { low: number; high: number } {
  const high = Math.min(
    source.tripAmp ?? Number.POSITIVE_INFINITY,
    source.limitHighAmp ?? Number.POSITIVE_INFINITY,
    prospectiveAmp,
  )
  const low = Math.min(
    high,
    source.tripLowAmp ?? source.tripAmp ?? Number.POSITIVE_INFINITY,
    source.limitAmp ?? Number.POSITIVE_INFINITY,
  )
  return { low, high }
}
