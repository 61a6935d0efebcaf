/** A small seeded generator, so that every simulated figure can be made again. */

export interface Random {
  /** 0 ≤ x < 1, 32 bits. */
  uniform(): number
  /** Standard normal. */
  normal(): number
}

/**
 * PCG-XSH-RR with 64-bit state would need big integers; this is xoshiro128** 1.1 (Blackman and Vigna, 2018), seeded
 * over splitmix32. Normal numbers by Box and Muller (1958).
 */
export function seededRandom(seed: number): Random {
  let mix = seed >>> 0
  const next = (): number => {
    mix = (mix + 0x9e3779b9) >>> 0
    let z = mix
    z = Math.imul(z ^ (z >>> 16), 0x85ebca6b)
    z = Math.imul(z ^ (z >>> 13), 0xc2b2ae35)
    return (z ^ (z >>> 16)) >>> 0
  }
  let [a, b, c, d] = [next(), next(), next(), next() | 1]
  const turn = (x: number, k: number) => (x << k) | (x >>> (32 - k))
  const uniform = (): number => {
    const result = Math.imul(turn(Math.imul(b, 5), 7), 9) >>> 0
    const t = b << 9
    c ^= a
    d ^= b
    b ^= c
    a ^= d
    c ^= t
    d = turn(d, 11)
    return result / 4294967296
  }
  let spare: number | undefined
  const normal = (): number => {
    if (spare !== undefined) {
      const value = spare
      spare = undefined
      return value
    }
    const radius = Math.sqrt(-2 * Math.log(1 - uniform()))
    const angle = 2 * Math.PI * uniform()
    spare = radius * Math.sin(angle)
    return radius * Math.cos(angle)
  }
  return { uniform, normal }
}
