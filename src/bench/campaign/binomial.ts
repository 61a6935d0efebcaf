/** Exact confidence intervals of a share (Clopper and Pearson, Biometrika 26, 1934). */

/**
 * The interval that holds the true share with at least this confidence, whatever the share is.
 * @param hits of `runs`; both whole.
 * @throws RangeError when there are more hits than runs, or fewer than none.
 */
export function exactInterval(hits: number, runs: number, confidence = 0.95): { low: number; high: number } {
  if (!(Number.isInteger(hits) && Number.isInteger(runs) && hits >= 0 && hits <= runs))
    throw new RangeError(`${hits} of ${runs}`)
  if (runs === 0) return { low: 0, high: 1 }
  const tail = (1 - confidence) / 2
  return {
    // The share at which so many hits or more have just the probability of a tail; the closed forms at the ends.
    low:
      hits === 0
        ? 0
        : hits === runs
          ? tail ** (1 / runs)
          : crossing((p) => incompleteBeta(hits, runs - hits + 1, p) - tail),
    high:
      hits === runs
        ? 1
        : hits === 0
          ? 1 - tail ** (1 / runs)
          : crossing((p) => incompleteBeta(hits + 1, runs - hits, p) - (1 - tail)),
  }
}

/** How many runs without a failure show at least this share. */
export function runsToShow(share: number, confidence = 0.95): number {
  return Math.ceil(Math.log((1 - confidence) / 2) / Math.log(share))
}

/** Where a rising function of 0 to 1 passes zero. */
function crossing(rising: (p: number) => number): number {
  let [low, high] = [0, 1]
  for (let i = 0; i < 100 && high - low > 1e-15; i++) {
    const middle = (low + high) / 2
    if (rising(middle) < 0) low = middle
    else high = middle
  }
  return (low + high) / 2
}

/** Regularised incomplete beta function for whole a and b, by its continued fraction (Abramowitz and Stegun 26.5.8). */
function incompleteBeta(a: number, b: number, x: number): number {
  if (x <= 0) return 0
  if (x >= 1) return 1
  const front = Math.exp(logChoose(a + b - 1, a - 1) + Math.log(b) + a * Math.log(x) + b * Math.log1p(-x))
  // The fraction converges fast below its mean, and the function is symmetrical.
  return x < (a + 1) / (a + b + 2) ? (front * fraction(a, b, x)) / a : 1 - (front * fraction(b, a, 1 - x)) / b
}

/** Lentz's method. */
function fraction(a: number, b: number, x: number): number {
  const tiny = 1e-300
  let c = 1
  let d = 1 / nonZero(1 - ((a + b) * x) / (a + 1), tiny)
  let h = d
  for (let m = 1; m < 10_000; m++) {
    for (const term of [
      (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m)),
      (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1)),
    ]) {
      d = 1 / nonZero(1 + term * d, tiny)
      c = nonZero(1 + term / c, tiny)
      h *= d * c
    }
    if (Math.abs(d * c - 1) < 1e-15) break
  }
  return h
}

function nonZero(x: number, tiny: number): number {
  return Math.abs(x) < tiny ? tiny : x
}

/** log of n over k. */
function logChoose(n: number, k: number): number {
  return logFactorial(n) - logFactorial(k) - logFactorial(n - k)
}

/** Exact sums for small numbers, Stirling's series above. */
function logFactorial(n: number): number {
  if (n < 64) {
    let sum = 0
    for (let i = 2; i <= n; i++) sum += Math.log(i)
    return sum
  }
  const x = n + 1
  return (
    (x - 0.5) * Math.log(x) -
    x +
    0.5 * Math.log(2 * Math.PI) +
    1 / (12 * x) -
    1 / (360 * x ** 3) +
    1 / (1260 * x ** 5)
  )
}
