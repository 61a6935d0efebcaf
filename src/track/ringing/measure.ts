/** What an edge looks like at a place: overshoot, slope, and whether it comes back into the ±2 V band. */

export interface EdgeMeasure {
  /** Highest voltage, V. */
  peakVolt: number
  /** Where it settles, V. */
  finalVolt: number
  /** Peak above the settled voltage, V; at least 0. */
  overshootVolt: number
  /** Slope between the last −4 V and the first +4 V, V/us; 0 when it never gets there. */
  slopeVoltPerUs: number
  /** Largest step backwards that touches the band of ±2 V, V; 0 for a clean crossing. */
  distortionVolt: number
  /** How often it leaves the band of ±2 V upwards beyond the first time. */
  recrossings: number
}

/**
 * @param timeUs, volt samples of a rising edge, in order; from below −4 V to above +4 V.
 */
export function measureEdge(timeUs: ArrayLike<number>, volt: ArrayLike<number>): EdgeMeasure {
  const n = volt.length
  let peakVolt = Number.NEGATIVE_INFINITY
  for (let i = 0; i < n; i++) peakVolt = Math.max(peakVolt, volt[i]!)
  const tail = Math.max(1, Math.floor(n / 10))
  let sum = 0
  for (let i = n - tail; i < n; i++) sum += volt[i]!
  const finalVolt = sum / tail

  let upAt = -1
  for (let i = 1; i < n && upAt < 0; i++) if (volt[i]! >= 4 && volt[i - 1]! < 4) upAt = i
  let slopeVoltPerUs = 0
  if (upAt > 0) {
    let lowAt = upAt
    while (lowAt > 0 && volt[lowAt]! > -4) lowAt--
    const when = (i: number, level: number) => {
      const rise = volt[i]! - volt[i - 1]!
      return timeUs[i - 1]! + ((timeUs[i]! - timeUs[i - 1]!) * (level - volt[i - 1]!)) / (rise || 1)
    }
    if (volt[lowAt]! <= -4) slopeVoltPerUs = 8 / Math.max(1e-9, when(upAt, 4) - when(lowAt + 1, -4))
  }

  // A step backwards counts when the trough is below +2 V and the peak before it above −2 V.
  let distortionVolt = 0
  let high = Number.NEGATIVE_INFINITY
  let recrossings = 0
  let above = false
  for (let i = 0; i < n; i++) {
    const v = volt[i]!
    high = Math.max(high, v)
    if (high > -2 && v < 2) distortionVolt = Math.max(distortionVolt, high - v)
    if (!above && v > 2) {
      above = true
      recrossings++
    } else if (above && v < 2) above = false
  }
  return {
    peakVolt,
    finalVolt,
    overshootVolt: Math.max(0, peakVolt - finalVolt),
    slopeVoltPerUs,
    distortionVolt,
    recrossings: Math.max(0, recrossings - 1),
  }
}
