/**
 * Results of pure functions, remembered by all that they depend on, so that an edit calculates only what it changes. A
 * result that is remembered is the one that would be calculated again, to the bit; {@link withoutMemory} is the referee.
 */

let forgetful = 0

/** Do something with nothing remembered: everything is calculated, and nothing is kept of it. */
export function withoutMemory<R>(work: () => R): R {
  forgetful++
  try {
    return work()
  } finally {
    forgetful--
  }
}

export function isWithoutMemory(): boolean {
  return forgetful > 0
}

/** What depends on more numbers than this takes up too much room to be kept. */
const MOST_NUMBERS = 200_000

/** What a result depends on: words and plain numbers. */
export interface Dependence {
  text: string
  numbers?: Float64Array
}

/** The results asked for last. They are shared: nobody changes one. */
export class Remembered<R> {
  readonly #most: number
  /** The newest last. */
  readonly #known: { on: Dependence; result: R }[] = []

  /** @param most so many results are kept. */
  constructor(most: number) {
    this.#most = most
  }

  get(on: Dependence, make: () => R): R {
    const found = this.find(on)
    if (found !== undefined) return found
    const result = make()
    this.keep(on, result)
    return result
  }

  /** @returns `undefined` where nothing is remembered. */
  find(on: Dependence): R | undefined {
    if (forgetful > 0) return undefined
    for (let i = this.#known.length - 1; i >= 0; i--) {
      const entry = this.#known[i]!
      if (!isSame(entry.on, on)) continue
      this.#known.splice(i, 1)
      this.#known.push(entry)
      return entry.result
    }
    return undefined
  }

  keep(on: Dependence, result: R): void {
    if (forgetful > 0 || (on.numbers?.length ?? 0) > MOST_NUMBERS) return
    this.#known.push({ on, result })
    if (this.#known.length > this.#most) this.#known.shift()
  }
}

function isSame(a: Dependence, b: Dependence): boolean {
  return a.text === b.text && sameBits(a.numbers, b.numbers)
}

/** Bit by bit: -0 is not 0, and whatever is no number is itself. */
function sameBits(a: Float64Array | undefined, b: Float64Array | undefined): boolean {
  if (a?.length !== b?.length || !a || !b) return a === b
  const [x, y] = [a, b].map((list) => new Int32Array(list.buffer, list.byteOffset, 2 * list.length))
  for (let i = 0; i < x!.length; i++) if (x![i] !== y![i]) return false
  return true
}

/**
 * Plain data as text, different for whatever is different: JSON with the numbers that it lacks. A key without a value is as good as none.
 * @throws TypeError for functions, which depend on who knows what.
 */
export function dependence(value: unknown): Dependence {
  return { text: JSON.stringify(value, written) }
}

function written(_key: string, value: unknown): unknown {
  if (typeof value === 'function') throw new TypeError('a result cannot depend on a function')
  if (typeof value !== 'number' || (Number.isFinite(value) && !Object.is(value, -0))) return value
  return `\u0000${Object.is(value, -0) ? '-0' : value}`
}
