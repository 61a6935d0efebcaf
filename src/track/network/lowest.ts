/** Which place is the worst, so that rounding does not choose between places that are alike. */

/** Values closer than this, as a share, are alike. */
const ALIKE = 1e-9

/** Whether a place is worse than the worst so far (−1: none): its value is lower, or alike and it comes earlier. */
export function isLower(place: number, value: number, worst: number, worstValue: number): boolean {
  if (worst < 0) return true
  const near = ALIKE * Math.max(Math.abs(value), Math.abs(worstValue))
  if (!(value <= worstValue + near)) return false
  return value < worstValue - near || place < worst
}
