/**
 * How finely times are written. Programs that print a fixed count of significant digits, such as awk and C++ streams with
 * their usual six, write later times more coarsely, and those that drop zeros at the end write some times shorter than they
 * are known. So digits are gathered by the size of the time: within one power of ten the finest one counts, and a time is
 * written at least as finely as those ten times as large.
 */

/** Powers of ten that a time in a file may have. */
const LEAST = -40
const MOST = 40
const NONE = -128

export class TimeDigits {
  /** Most digits behind the point by power of ten of the time. */
  readonly #places = new Int8Array(MOST - LEAST + 1).fill(NONE)
  #significant = 0

  /**
   * @param power power of ten of the time's first digit: 0 from 1 to below 10
   * @param places its digits behind the point; negative where its last digit is a ten or more
   */
  add(power: number, places: number): void {
    if (power < LEAST || power > MOST) return
    if (places > this.#places[power - LEAST]!) this.#places[power - LEAST] = Math.min(places, 127)
    if (power + places + 1 > this.#significant) this.#significant = power + places + 1
  }

  /** Last digit of the times written most coarsely, in the file's unit; 0 when none was seen. */
  get coarsest(): number {
    let coarsest = 0
    let finer = NONE
    for (let power = MOST; power >= LEAST; power--) {
      const places = this.#places[power - LEAST]!
      if (places === NONE) continue
      finer = Math.max(finer, places)
      // A few times alone may all end in a zero that was dropped: their other digits count too.
      coarsest = Math.max(coarsest, 10 ** -Math.max(finer, this.#significant - 1 - power))
    }
    return coarsest
  }
}

/** Power of ten of a whole number's first digit; 0 for 0. More than any time has where it is too large for a number. */
export function powerOf(whole: number): number {
  let power = 0
  for (let rest = whole; rest >= 10 && power <= MOST; rest /= 10) power++
  return power
}
