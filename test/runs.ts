/**
 * How often properties and fuzz tests try. `HALFBIT_RUNS` multiplies every count: less than 1 for the everyday loop, 100 and
 * more for a long search. What is tried is decided by the count and `HALFBIT_DRAWS` alone, never by how fast the machine is.
 */
import fc from 'fast-check'

const FACTOR = Number(process.env['HALFBIT_RUNS'] ?? 1)

/** @param usual times in the full suite. */
export function runs(usual: number): number {
  return Math.max(1, Math.ceil(usual * FACTOR))
}

/** What fast-check does of itself, and from where it draws: the config sets it once for all workers. */
fc.configureGlobal({ numRuns: runs(100), seed: Number(process.env['HALFBIT_DRAWS']) })
