/** How finely a record was sampled, from the times it holds. */

/**
 * Times that a sampling produced lie on a grid. A signal whose durations vary shows the grid: the smallest step
 * between two different durations. Without such variation nothing coarser than the written digits is shown.
 *
 * @param ticks times of the first edges, in units of the file.
 * @returns the step in ticks; 1 when the file's own unit is all that can be told.
 */
export function gridOf(ticks: ArrayLike<number>, count: number): number {
  const durations = new Set<number>()
  for (let i = 1; i < count; i++) {
    const d = ticks[i]! - ticks[i - 1]!
    if (d > 0) durations.add(d)
  }
  const sorted = [...durations].sort((a, b) => a - b)
  // Steps between neighbouring durations of one kind of half-bit; different kinds lie far apart.
  const steps: number[] = []
  for (let i = 1; i < sorted.length; i++) {
    const step = sorted[i]! - sorted[i - 1]!
    if (step < sorted[i]! * 0.05) steps.push(step)
  }
  if (steps.length < 1) return 1
  const smallest = Math.min(...steps)
  if (smallest < 2) return 1
  // On a grid every step is a multiple of the smallest, give or take the rounding of both ends.
  const onGrid = steps.every((s) => Math.abs(s / smallest - Math.round(s / smallest)) * smallest <= 2)
  return onGrid ? smallest : 1
}
