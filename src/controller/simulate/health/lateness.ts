/**
 * Who made an interrupt late: for every interrupt that began late, what kept interrupts off meanwhile. Memory is
 * bounded: of each stretch of time only the worst is kept, and stretches grow as the run does.
 */

/** What kept an interrupt waiting, or the main program from going on. */
export interface Hold {
  /** When what was late began, us. */
  atUs: number
  /** How long it had waited, us. */
  lateUs: number
  /** The handler that ran; −1: interrupts were turned off by an instruction. */
  vector: number
  /** That instruction; of a handler 0. */
  pc: number
}

const FIRST_WIDTH_US = 1000
const MOST_STRETCHES = 512
/** Masked stretches remembered: an interrupt waits for few of them. */
const RING = 16
/** Cycles from cause to handler that need no explanation: entry, the vector's jump, an instruction under way. */
const USUAL_CYCLES = 16

/** An interrupt that began late, and what it waited for. */
export interface LateBegin extends Hold {
  /** The interrupt that was late. */
  late: number
}

/** Late interrupts kept one by one; what is beyond is counted. */
const MOST_LISTED = 5000

/** The worst hold of each stretch of time. */
class Stretches {
  #widthUs = FIRST_WIDTH_US
  #worst = new Map<number, Hold>()

  add(atUs: number, lateUs: number, vector: number, pc: number): void {
    if (!this.#put(atUs, lateUs, vector, pc)) return
    while (this.#worst.size > MOST_STRETCHES) {
      const before = this.#worst
      this.#widthUs *= 2
      this.#worst = new Map()
      for (const h of before.values()) this.#put(h.atUs, h.lateUs, h.vector, h.pc)
    }
  }

  /** @returns whether it is the worst of its stretch. */
  #put(atUs: number, lateUs: number, vector: number, pc: number): boolean {
    const key = Math.floor(atUs / this.#widthUs)
    const known = this.#worst.get(key)
    if (known !== undefined && lateUs <= known.lateUs) return false
    this.#worst.set(key, { atUs, lateUs, vector, pc })
    return true
  }

  /** The worst hold that began in a time, or in the stretches that it lies in. */
  worst(fromUs: number, toUs: number): Hold | undefined {
    let worst: Hold | undefined
    for (let key = Math.floor(fromUs / this.#widthUs); key <= Math.floor(toUs / this.#widthUs); key++) {
      const hold = this.#worst.get(key)
      if (hold !== undefined && hold.atUs <= toUs && (worst === undefined || hold.lateUs > worst.lateUs))
        worst = hold
    }
    return worst
  }
}

export class Lateness {
  readonly #byVector = new Map<number, Stretches>()
  readonly #runs = new Stretches()
  readonly #from = new Float64Array(RING)
  readonly #to = new Float64Array(RING)
  readonly #vector = new Int16Array(RING)
  readonly #pc = new Int32Array(RING)
  #next = 0
  /** The first late interrupts, in the order of time. */
  readonly list: LateBegin[] = []
  /** All of them. */
  count = 0

  /** Interrupts were off from one cycle to another. @param vector the handler that ran; −1: an instruction at `pc`. */
  masked(from: number, to: number, vector: number, pc: number): void {
    const i = this.#next
    this.#from[i] = from
    this.#to[i] = to
    this.#vector[i] = vector
    this.#pc[i] = pc
    this.#next = (i + 1) % RING
  }

  /** An interrupt begins, at a cycle, after its cause. @param us time of a cycle. */
  began(vector: number, causeAt: number, at: number, us: (cycle: number) => number): void {
    if (at - causeAt <= USUAL_CYCLES) return
    let longest = 0
    let who = -1
    for (let i = 0; i < RING; i++) {
      const overlap = Math.min(this.#to[i]!, at) - Math.max(this.#from[i]!, causeAt)
      if (overlap > longest) {
        longest = overlap
        who = i
      }
    }
    if (who < 0) return
    let stretches = this.#byVector.get(vector)
    if (stretches === undefined) {
      stretches = new Stretches()
      this.#byVector.set(vector, stretches)
    }
    const lateUs = us(at) - us(causeAt)
    stretches.add(us(at), lateUs, this.#vector[who]!, this.#pc[who]!)
    this.count++
    if (this.list.length < MOST_LISTED)
      this.list.push({ late: vector, atUs: us(at), lateUs, vector: this.#vector[who]!, pc: this.#pc[who]! })
  }

  /** A handler that interrupted the main program has returned. */
  ran(vector: number, from: number, to: number, us: (cycle: number) => number): void {
    const fromUs = us(from)
    this.#runs.add(fromUs, us(to) - fromUs, vector, 0)
  }

  /** What held an interrupt up most in a time; undefined: nothing beyond the usual. */
  worstOf(vector: number, fromUs: number, toUs: number): Hold | undefined {
    return this.#byVector.get(vector)?.worst(fromUs, toUs)
  }

  /** What held the main program up most in a time. */
  worstRun(fromUs: number, toUs: number): Hold | undefined {
    return this.#runs.worst(fromUs, toUs)
  }
}
