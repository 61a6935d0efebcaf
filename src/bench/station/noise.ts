/** Noise that is the same for the same seed, whatever the machine. */

/** Normally distributed numbers of mean 0 and deviation 1 (Box–Muller), from a 32-bit generator (mulberry32). */
export function noiseOf(seed: string): () => number {
  const uniform = randomOf(seed)
  return () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform())
}

/** Numbers from 0 up to 1. */
export function randomOf(seed: string): () => number {
  let state = 2166136261
  for (let i = 0; i < seed.length; i++) state = Math.imul(state ^ seed.charCodeAt(i), 16777619)
  return () => {
    state = (state + 0x6d2b79f5) | 0
    let t = Math.imul(state ^ (state >>> 15), 1 | state)
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296
  }
}
