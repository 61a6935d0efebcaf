/**
 * The rows of a CSV file, gigabytes of them: one loop over the bytes for the plain shape `time,level`, one for
 * every other. Times become whole numbers of the last decimal place; no strings are made.
 */
import { GAP, HIGH, LOW, OFF } from '../signal/edges.js'
import { InputError } from '../units/index.js'
import type { AnalogTracker } from './analog/index.js'
import type { EdgeBatch, Pair } from './batch.js'
import { backwards } from './importer.js'
import { MOST_DIGITS, MOST_HEAD, QuickRows, ROW_AHEAD, type RowShape } from './plain-rows.js'
import { latin1 } from './text.js'
import { powerOf, TimeDigits } from './time-digits.js'

/** Where the numbers are in a row, and what they mean. */
export interface RowPlan {
  delimiter: number
  decimal: number
  /** -1: the row number is the time. */
  timeColumn: number
  /** One column, or two that are subtracted. */
  columns: number[]
  /** Column of the current; -1 where there is none. */
  currentColumn: number
  /** Decimal places of a tick. */
  places: number
  /** Subtracted from the whole part of every time, so that long times stay exact. */
  base: number
  /** Volts of one unit in each of `columns`; undefined for digital values. */
  volts: number[] | undefined
  /** Digital values other than 0 and 1: above it is high. */
  threshold: number
  /** Rows that are farther apart than this have a gap between them, ticks; Infinity where only changes are written. */
  gapTicks: number
  /** The two values, where they are not 0 and 1. */
  values: readonly [number, number] | undefined
}

export interface RowSinks {
  batch: EdgeBatch
  pair: Pair | undefined
  tracker: AnalogTracker | undefined
  /** Takes the values of the column of the current. */
  current: ((tick: number, value: number) => void) | undefined
}

const TAB = 9
const NEWLINE = 10
const RETURN = 13
const SPACE = 32
const QUOTE = 34
const HASH = 35
const PLUS = 43
const MINUS = 45
const ZERO = 48
const POWERS = Array.from({ length: 23 }, (_, i) => 10 ** i)
const WARM_RUNS = 64
const WARM_BYTES = 1024
/** In four bytes: the digit 0; what brings more than 9 to the top bit; the top bits. */
const ZEROS = 0x30303030
const SIXES = 0x76767676
const TOPS = 0x80808080 | 0

export class RowReader {
  /** Beyond the window: no more rows are wanted. */
  done = false
  rows = 0
  line = 1
  /** Tick of the last row. */
  time = Number.NEGATIVE_INFINITY
  first = Number.NaN
  readonly digits = new TimeDigits()
  readonly #plan: RowPlan
  readonly #sinks: RowSinks
  readonly #onFirst: (tick: number) => void
  readonly #fast: boolean
  readonly #last: number
  readonly #quick = new QuickRows()
  /** Calls of the plain loop. */
  #runs = 0
  // The number read last.
  #whole = 0
  #fraction = 0
  #fractionDigits = 0
  #exponent = 0
  #hasExponent = false
  #negative = false

  /** @param onFirst told the tick of the first row before its level goes on. */
  constructor(plan: RowPlan, sinks: RowSinks, onFirst: (tick: number) => void) {
    this.#plan = plan
    this.#sinks = sinks
    this.#onFirst = onFirst
    this.#last = Math.max(plan.timeColumn, plan.currentColumn, ...plan.columns)
    this.#fast =
      plan.timeColumn === 0 &&
      plan.columns.length === 1 &&
      plan.columns[0] === 1 &&
      plan.currentColumn < 0 &&
      plan.volts === undefined &&
      plan.values === undefined &&
      plan.base === 0 &&
      plan.places <= MOST_DIGITS
  }

  /** Whole rows, each with its newline. */
  read(b: Uint8Array, from: number, to: number): void {
    let at = from
    let view: DataView | undefined
    this.#quick.begin()
    while (at < to && !this.done) {
      // The first row tells the window.
      if (this.#fast && this.rows > 0 && to - at > ROW_AHEAD) {
        const end = to - ROW_AHEAD
        const start = at
        const before = this.rows
        if (this.#quick.left === 0) at = this.#compiled(b, at, end)
        let until = end
        if (at === start) {
          view ??= new DataView(b.buffer, b.byteOffset, b.byteLength)
          // Short runs first: code the compiler has seen end is not thrown away each time it ends.
          const most = this.#runs < WARM_RUNS ? WARM_BYTES : this.#quick.left
          until = Math.min(end, at + most)
          this.#runs++
          at = this.#plain(b, view, at, until)
          this.#quick.pass(at - start)
        }
        // Every row of the run has all the digits, and it ends with the latest time.
        if (this.rows > before && this.time > 0)
          this.digits.add(powerOf(this.time) - this.#plan.places, this.#plan.places)
        const { batch } = this.#sinks
        if (batch.count === batch.size) {
          batch.makeRoom()
          if (batch.past) this.done = true
          continue
        }
        if (at >= until && until < end) continue
      }
      at = this.#row(b, at)
    }
  }

  /** The same as {@link #plain} by the compiled loop, as far as the whole part of the times stays what it is. */
  #compiled(b: Uint8Array, from: number, to: number): number {
    const { at, rows, time } = this.#quick.read(
      b,
      from,
      to,
      this.#shapeAt(b, from),
      this.#sinks.batch,
      this.time,
    )
    this.rows += rows
    this.line += rows
    this.time = time
    return at
  }

  /** Of rows like the one that begins here; undefined where it is not plain. */
  #shapeAt(b: Uint8Array, from: number): RowShape | undefined {
    const { places, decimal, delimiter, gapTicks } = this.#plan
    let whole = 0
    let i = from
    for (let d = b[i]! - ZERO; d >= 0 && d <= 9 && i < from + MOST_DIGITS; d = b[++i]! - ZERO)
      whole = whole * 10 + d
    const before = i - from
    // Times without a point are all digits.
    const headLength = places > 0 ? before + 1 : 0
    if (before === 0 || headLength > MOST_HEAD || (places > 0 && b[i] !== decimal)) return undefined
    const newline = b.indexOf(NEWLINE, from)
    const end = b[newline - 1] === RETURN ? [RETURN, NEWLINE] : [NEWLINE]
    return {
      headLength,
      headTick: places > 0 ? whole * POWERS[places]! : 0,
      digits: places > 0 ? places : before,
      tail: [delimiter, ZERO, ...end],
      levelAt: 1,
      gapTicks,
    }
  }

  /**
   * `time,level` with plain digits. No calls out of the loop: it runs at the speed of the memory only while the
   * compiler need not doubt a type.
   * @returns where a row begins that needs the careful reader, or where the block of edges was full.
   */
  #plain(b: Uint8Array, view: DataView, from: number, to: number): number {
    const { batch } = this.#sinks
    const { ticks, levels, size } = batch
    const { places, decimal, delimiter, gapTicks } = this.#plan
    const unit = POWERS[places]!
    const fours = places >> 2
    const ones = places & 3
    // What ends a row, four bytes at once: delimiter, level, newline.
    const newline = b.indexOf(NEWLINE, from)
    const returns = b[newline - 1] === RETURN
    const tailMask = returns ? -1 : 0xffffff
    const tailLow = delimiter | (ZERO << 8) | (returns ? (RETURN << 16) | (NEWLINE << 24) : NEWLINE << 16)
    const tailHigh = tailLow + 0x100
    const tailLength = returns ? 4 : 3
    let { count, level } = batch
    let { time } = this
    let rows = 0
    let at = from
    // The whole part of the row before, with its point: it seldom changes.
    let headMask = 0
    let headBytes = 1
    let headLength = 0
    let headTick = 0
    while (at < to && count < size) {
      let i = at
      if ((view.getUint32(i, true) & headMask) !== headBytes) {
        let d = b[i]! - ZERO
        if (d < 0 || d > 9) break
        let whole = 0
        while (d >= 0 && d <= 9 && i < at + 15) {
          whole = whole * 10 + d
          d = b[++i]! - ZERO
        }
        if (places > 0) {
          if (d !== decimal - ZERO) break
          i++
        }
        headLength = i - at
        headTick = whole * unit
        // Longer ones, and whole numbers, are read anew in every row.
        headMask = places === 0 || headLength > 4 ? 0 : -1 >>> (32 - 8 * headLength)
        headBytes = headMask === 0 ? 1 : view.getUint32(at, true) & headMask
      }
      i = at + headLength
      let fraction = 0
      let bad = 0
      for (let k = 0; k < fours; k++) {
        // Four digits at once: pairs of bytes become two-digit numbers, then one of four digits.
        const four = view.getUint32(i, true) ^ ZEROS
        bad |= (four + SIXES) | four
        const pairs = Math.imul(four, 10) + (four >>> 8)
        fraction = fraction * 10000 + ((pairs & 0xff) * 100 + ((pairs >>> 16) & 0xff))
        i += 4
      }
      for (let k = 0; k < ones; k++) {
        const d = b[i++]! - ZERO
        if (d < 0 || d > 9) bad = TOPS
        fraction = fraction * 10 + d
      }
      const tick = headTick + fraction
      const tail = view.getUint32(i, true) & tailMask
      const value = tail === tailHigh ? 1 : 0
      if (
        (tail !== tailLow && tail !== tailHigh) ||
        (bad & TOPS) !== 0 ||
        tick <= time ||
        tick - time > gapTicks
      )
        break
      time = tick
      rows++
      at = i + tailLength
      if (value === level) continue
      ticks[count] = tick
      levels[count] = value
      count++
      level = value
    }
    batch.count = count
    batch.level = level
    this.time = time
    this.rows += rows
    this.line += rows
    return at
  }

  /** Any row. @returns where the next one begins. */
  #row(b: Uint8Array, from: number): number {
    let i = from
    let c = b[i]!
    if (c === NEWLINE || c === HASH || c === RETURN || c === SPACE || c === TAB) {
      while (c === RETURN || c === SPACE || c === TAB) c = b[++i]!
      if (c === HASH) while (c !== NEWLINE) c = b[++i]!
      if (c === NEWLINE) {
        this.line++
        return i + 1
      }
      i = from
    }
    const { delimiter, timeColumn, columns, currentColumn, volts } = this.#plan
    const [columnA, columnB = -1] = columns
    let tick = this.rows
    let timeAt = from
    let a = 0
    let second = 0
    let current = Number.NaN
    for (let column = 0; column <= this.#last; column++) {
      if (column === timeColumn) {
        timeAt = i
        i = this.#number(b, i)
        if (i < 0) this.#fail(b, from, timeAt, column, 'a time')
        tick = this.#tick()
        if (!Number.isFinite(tick)) this.#fail(b, from, timeAt, column, 'a time')
      } else if (column === columnA || column === columnB) {
        const start = i
        let value: number
        if (volts) {
          i = this.#number(b, i)
          if (i < 0) this.#fail(b, from, start, column, 'a voltage')
          value = this.#value() * volts[column === columnA ? 0 : 1]!
          if (!Number.isFinite(value)) this.#fail(b, from, start, column, 'a voltage')
        } else {
          const bare = b[i]! - ZERO
          const after = b[i + 1]!
          if (
            (bare === 0 || bare === 1) &&
            (after === delimiter || after === NEWLINE) &&
            !this.#plan.values
          ) {
            value = bare
            i++
          } else {
            i = skipCell(b, i, delimiter)
            value = this.#level(b, from, start, i, column)
          }
        }
        if (column === columnA) a = value
        else second = value
      } else if (column === currentColumn) {
        const start = i
        i = this.#number(b, i)
        // An empty cell of a change-only file keeps its value.
        if (i < 0) i = this.#empty(b, from, start, column, 'a current')
        else current = this.#value()
      } else i = skipCell(b, i, delimiter)
      if (column === this.#last) break
      if (b[i] !== delimiter) this.#fail(b, from, i, column + 1, 'another column')
      i++
    }
    c = b[i]!
    while (c !== NEWLINE) {
      if (c === 0)
        throw new InputError('a NUL byte; expected rows of numbers', {
          line: this.line,
          column: i - from + 1,
        })
      c = b[++i]!
    }
    if (tick < this.time) {
      const found = latin1(b.subarray(timeAt, Math.min(skipCell(b, timeAt, delimiter), timeAt + 40))).trim()
      throw backwards(this.line, timeAt - from + 1, found, this.#print(this.time))
    }
    if (this.rows === 0) {
      this.first = tick
      this.#onFirst(tick)
    }
    if (tick - this.time > this.#plan.gapTicks && this.rows > 0) this.#gap(this.time)
    this.time = tick
    this.rows++
    this.line++
    if (!Number.isNaN(current)) this.#sinks.current?.(tick, current)
    this.#give(tick, a, second)
    return i + 1
  }

  /** Nothing is known after the sample at this tick; an analog record sees it by itself. */
  #gap(tick: number): void {
    const { batch, pair, tracker } = this.#sinks
    if (tracker) return
    const after = tick + Math.min(1, this.#plan.gapTicks / 16)
    if (pair) {
      pair.a = GAP
      pair.settle(after)
    } else batch.change(after, GAP)
  }

  #give(tick: number, a: number, second: number): void {
    const { batch, pair, tracker } = this.#sinks
    const two = this.#plan.columns.length === 2
    if (tracker) {
      tracker.add(tick, two ? a - second : a)
      if (tracker.past) this.done = true
    } else if (pair) {
      // Absent: an empty cell of a change-only file keeps its value.
      if (a !== ABSENT) pair.a = a
      if (second !== ABSENT) pair.b = second
      pair.settle(tick)
    } else if (a !== ABSENT) batch.change(tick, a)
    if (batch.past) this.done = true
  }

  /** @returns the end of the cell that begins at `from`, or -1 when it holds no number. */
  #number(b: Uint8Array, from: number): number {
    const { decimal, delimiter } = this.#plan
    let i = from
    let c = b[i]!
    while (c === SPACE || c === TAB) c = b[++i]!
    const quoted = c === QUOTE
    if (quoted) c = b[++i]!
    this.#negative = c === MINUS
    if (c === MINUS || c === PLUS) c = b[++i]!
    let digits = 0
    let whole = 0
    while (c >= ZERO && c <= 57) {
      whole = whole * 10 + (c - ZERO)
      digits++
      c = b[++i]!
    }
    let fraction = 0
    let fractionDigits = 0
    if (c === decimal && !(c === delimiter && !quoted)) {
      c = b[++i]!
      while (c >= ZERO && c <= 57) {
        // Fifteen digits are exact; what follows is below every clock.
        if (fractionDigits < 15) {
          fraction = fraction * 10 + (c - ZERO)
          fractionDigits++
        }
        digits++
        c = b[++i]!
      }
    }
    if (digits === 0) return -1
    let exponent = 0
    this.#hasExponent = c === 101 || c === 69
    if (this.#hasExponent) {
      c = b[++i]!
      const down = c === MINUS
      if (c === MINUS || c === PLUS) c = b[++i]!
      if (!(c >= ZERO && c <= 57)) return -1
      while (c >= ZERO && c <= 57) {
        if (exponent < 1000) exponent = exponent * 10 + (c - ZERO)
        c = b[++i]!
      }
      if (down) exponent = -exponent
    }
    if (quoted) {
      if (c !== QUOTE) return -1
      c = b[++i]!
    }
    while (c === SPACE || c === RETURN || (c === TAB && delimiter !== TAB)) c = b[++i]!
    if (c !== delimiter && c !== NEWLINE) return -1
    this.#whole = whole
    this.#fraction = fraction
    this.#fractionDigits = fractionDigits
    this.#exponent = exponent
    return i
  }

  #tick(): number {
    const { places, base } = this.#plan
    let tick: number
    if (this.#hasExponent) {
      tick = this.#scaled(places)
    } else {
      const spare = places - this.#fractionDigits
      const sign = this.#negative ? -1 : 1
      tick = (sign * this.#whole - base) * POWERS[places]! + sign * scale(this.#fraction, spare)
    }
    this.#countDigits()
    return tick
  }

  #countDigits(): void {
    const exponent = this.#hasExponent ? this.#exponent : 0
    const first =
      this.#whole > 0
        ? powerOf(this.#whole)
        : this.#fraction > 0
          ? powerOf(this.#fraction) - this.#fractionDigits
          : undefined
    // Zero has no first digit.
    if (first !== undefined) this.digits.add(first + exponent, this.#fractionDigits - exponent)
  }

  #value(): number {
    return this.#scaled(0)
  }

  #scaled(places: number): number {
    const mantissa = this.#whole * POWERS[this.#fractionDigits]! + this.#fraction
    const value = scale(mantissa, this.#exponent - this.#fractionDigits + places)
    return this.#negative ? -value : value
  }

  #level(b: Uint8Array, rowFrom: number, from: number, to: number, column: number): number {
    const { values, threshold } = this.#plan
    const word = latin1(b.subarray(from, Math.min(to, from + 64)))
      .replace(/["\s]/g, '')
      .toLowerCase()
    if (word === '') return ABSENT
    if (word === 'z') return OFF
    if (word === 'x' || word === 'u') return GAP
    if (word === 'h' || word === 'high' || word === 'true') return HIGH
    if (word === 'l' || word === 'low' || word === 'false') return LOW
    const value = this.#number(b, from) < 0 ? Number.NaN : this.#value()
    const [low, high] = values ?? [0, 1]
    // Two values of a converter may wander by a count or two.
    const near = values ? (high - low) / 5 : 0
    if (!(Math.abs(value - low) <= near || Math.abs(value - high) <= near)) {
      this.#fail(b, rowFrom, from, column, `${low} or ${high}`)
    }
    return value > threshold ? HIGH : LOW
  }

  /** @returns the end of a cell without anything in it. @throws InputError when there is something. */
  #empty(b: Uint8Array, rowFrom: number, from: number, column: number, expected: string): number {
    const end = skipCell(b, from, this.#plan.delimiter)
    if (latin1(b.subarray(from, Math.min(end, from + 40))).trim() !== '')
      this.#fail(b, rowFrom, from, column, expected)
    return end
  }

  #fail(b: Uint8Array, rowFrom: number, at: number, column: number, expected: string): never {
    const end = skipCell(b, at, this.#plan.delimiter)
    const text = latin1(b.subarray(at, Math.min(end, at + 40))).trim()
    const found = at > rowFrom || text !== '' ? JSON.stringify(text) : 'nothing'
    throw new InputError(`found ${found} in column ${column + 1}; expected ${expected}`, {
      line: this.line,
      column: at - rowFrom + 1,
    })
  }

  #print(tick: number): string {
    const { places, base } = this.#plan
    return (base + tick / POWERS[places]!).toFixed(places)
  }
}

/** An empty cell. */
const ABSENT = 4

/** `value` times ten to the `power`, rounded once where both are exact. */
function scale(value: number, power: number): number {
  if (power >= 0) return power < 23 ? value * POWERS[power]! : value * 10 ** power
  return power > -23 ? value / POWERS[-power]! : value * 10 ** power
}

/** @returns the delimiter or newline that ends the cell. */
function skipCell(b: Uint8Array, from: number, delimiter: number): number {
  let i = from
  let c = b[i]!
  let quoted = false
  while (c !== NEWLINE && (c !== delimiter || quoted)) {
    if (c === QUOTE) quoted = !quoted
    c = b[++i]!
  }
  return i
}
