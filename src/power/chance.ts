/** The little statistics that acknowledgement and trip rules need, in closed form. */

/**
 * Share of a standard normal above x. Series of erf near zero (Abramowitz and Stegun 7.1.6), continued fraction of
 * erfc in the tail (7.1.14): relative error below 1e-12 down to 1e-300.
 */
export function normalTail(x: number): number {
  if (Number.isNaN(x)) return Number.NaN
  if (x < 0) return 1 - normalTail(-x)
  const z = x / Math.SQRT2
  if (z > 26.5) return 0
  if (z < 2) {
    let term = z
    let sum = z
    for (let n = 1; n < 200; n++) {
      term *= (2 * z * z) / (2 * n + 1)
      sum += term
      if (term < sum * 1e-17) break
    }
    return 0.5 - (sum * Math.exp(-z * z)) / Math.sqrt(Math.PI)
  }
  let fraction = 0
  for (let n = 120; n >= 1; n--) fraction = n / 2 / (z + fraction)
  return Math.exp(-z * z) / (2 * Math.sqrt(Math.PI) * (z + fraction))
}

/** Chance of at least k successes in n independent trials. */
export function atLeast(k: number, n: number, p: number): number {
  if (k <= 0) return 1
  if (k > n) return 0
  if (p <= 0) return 0
  if (p >= 1) return 1
  // Sum the smaller side, from its greatest term, so that tiny chances keep their digits.
  const upper = k > n * p
  let sum = 0
  const [from, to] = upper ? [k, n] : [0, k - 1]
  for (let i = from; i <= to; i++)
    sum += Math.exp(logChoose(n, i) + i * Math.log(p) + (n - i) * Math.log1p(-p))
  return Math.min(1, Math.max(0, upper ? sum : 1 - sum))
}

function logChoose(n: number, k: number): number {
  let sum = 0
  for (let i = 1; i <= Math.min(k, n - k); i++) sum += Math.log((n - Math.min(k, n - k) + i) / i)
  return sum
}

/** The longest window of {@link windowChance}: it keeps 2^(m−1) states. */
export const LONGEST_WINDOW = 14

/**
 * Chance that some m neighbouring samples out of `total` hold at least k hits; hits independent with chance p.
 * Exact, by a Markov chain over the last m − 1 samples (for k = m: over the length of the run).
 * @throws RangeError when k is not m, m is beyond {@link LONGEST_WINDOW} and shorter than `total`.
 */
export function windowChance(k: number, m: number, total: number, p: number): number {
  if (k <= 0) return 1
  if (total < k) return 0
  if (m >= total) return atLeast(k, total, p)
  if (k === m) return runChance(k, total, p)
  if (m > LONGEST_WINDOW) throw new RangeError(`window of ${m} samples; at most ${LONGEST_WINDOW}`)
  const size = 1 << (m - 1)
  const mask = size - 1
  const ones = Uint8Array.from({ length: size }, (_, s) => bits(s))
  let state = new Float64Array(size)
  let after = new Float64Array(size)
  state[0] = 1
  return chain(total, 4 * m, () => {
    after.fill(0)
    let done = 0
    for (let s = 0; s < size; s++) {
      const weight = state[s]!
      if (weight === 0) continue
      after[(s << 1) & mask]! += weight * (1 - p)
      if (ones[s]! + 1 >= k) done += weight * p
      else after[((s << 1) | 1) & mask]! += weight * p
    }
    ;[state, after] = [after, state]
    return done
  })
}

function runChance(k: number, total: number, p: number): number {
  const state = new Float64Array(k)
  state[0] = 1
  return chain(total, 4 * k, () => {
    let miss = 0
    for (let r = 0; r < k; r++) miss += state[r]!
    const done = state[k - 1]! * p
    for (let r = k - 1; r > 0; r--) state[r] = state[r - 1]! * p
    state[0] = miss * (1 - p)
    return done
  })
}

/**
 * Chance that the chain ends within `total` steps. Once it has forgotten its start it ends at a constant rate
 * (Perron and Frobenius), so that a long window costs no more than a short one.
 * @param step makes a step and tells the chance that it ended just then
 */
function chain(total: number, memory: number, step: () => number): number {
  const walk = Math.min(total, memory + 200)
  let done = 0
  let rate = 0
  for (let i = 0; i < walk; i++) {
    const now = step()
    rate = done < 1 ? now / (1 - done) : 0
    done += now
  }
  const left = Math.max(0, 1 - done)
  const rest = total - walk
  if (rest > 0) done += left * -Math.expm1(rest * Math.log1p(-Math.min(rate, 1 - 1e-16)))
  return Math.min(1, done)
}

function bits(x: number): number {
  let n = 0
  for (let v = x; v; v &= v - 1) n++
  return n
}
