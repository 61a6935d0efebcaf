/**
 * CSV as oscilloscopes and logic analysers write it. The dialect is found from the first 64 KiB; then one loop over
 * the bytes reads the rows: times as whole numbers of the last decimal place, so that nothing is rounded.
 */
import { HIGH, LOW, OFF } from '../signal/index.js'
import { InputError } from '../units/index.js'
import { AnalogTracker } from './analog.js'
import { EdgeBatch, Pair } from './batch.js'
import { chooseChannels } from './channels.js'
import { type Dialect, sniff, toNumber } from './dialect.js'
import {
  backwards,
  type CaptureOptions,
  type CaptureSink,
  type CaptureSummary,
  type Importer,
  LINE_LIMIT,
} from './importer.js'
import { gridOf } from './resolution.js'
import { latin1, utf8 } from './text.js'

const HEAD_BYTES = 65_536
const WARM_RUNS = 64
const WARM_BYTES = 1024
const NEWLINE = 10
const RETURN = 13
const POWERS = Array.from({ length: 32 }, (_, i) => 10 ** i)

export class CsvImporter implements Importer {
  done = false
  readonly #options: CaptureOptions
  readonly #sink: CaptureSink
  readonly #notes: string[] = []
  #head: Uint8Array[] | undefined = []
  #headBytes = 0
  #carry: Uint8Array = new Uint8Array(0)
  #dialect!: Dialect
  #columns: number[] = []
  #names: string[] = []
  #available: string[] = []
  #analog = false
  /** Decimal places of one tick of the time column. */
  #places = 0
  #tickUs = 1
  #resolutionUs = 1
  #resolutionFrom = ''
  #batch!: EdgeBatch
  #pair: Pair | undefined
  #tracker: AnalogTracker | undefined
  #line = 1
  #rows = 0
  /** Calls of the fast loop. */
  #runs = 0
  #first = Number.NaN
  #time = Number.NEGATIVE_INFINITY
  #threshold = 0.5

  constructor(options: CaptureOptions, sink: CaptureSink) {
    this.#options = options
    this.#sink = sink
  }

  push(bytes: Uint8Array): void {
    if (this.done) return
    // Always the plain class, so that the hot loop sees one kind of array (a Node buffer is another).
    const chunk = new Uint8Array(bytes.buffer, bytes.byteOffset, bytes.length)
    if (this.#head) {
      this.#head.push(new Uint8Array(chunk))
      this.#headBytes += chunk.length
      if (this.#headBytes < HEAD_BYTES) return
      this.#endHead(false)
      return
    }
    this.#take(chunk)
  }

  end(): CaptureSummary {
    if (this.#head) this.#endHead(true)
    if (this.#carry.length > 0) {
      const last = new Uint8Array(this.#carry.length + 1)
      last.set(this.#carry)
      last[this.#carry.length] = NEWLINE
      this.#carry = new Uint8Array(0)
      // Without a newline the line may be cut anywhere, even inside a number that still looks whole.
      if (this.#rows > 0) this.#notes.push('the last line has no newline and was left out')
      else this.#readRows(last, 0, last.length)
    }
    this.#pair?.end()
    const analog = this.#tracker?.finish()
    this.#batch.flush()
    if (this.#rows === 0) throw new InputError('no rows of numbers', { line: this.#line, column: 1 })
    const { delimiter, decimal, columns, timeColumn } = this.#dialect
    const summary: CaptureSummary = {
      format: 'csv',
      dialect: `CSV, ${JSON.stringify(String.fromCharCode(delimiter))} between ${columns.length} columns, decimal ${JSON.stringify(String.fromCharCode(decimal))}, ${timeColumn < 0 ? 'no time column' : `time in column ${timeColumn + 1}`}, ${this.#analog ? 'analog' : 'digital'}`,
      channels: this.#names,
      available: this.#available,
      clock: { tickUs: this.#tickUs, resolutionUs: this.#resolutionUs },
      resolutionFrom: this.#resolutionFrom,
      startUs: this.#first * this.#tickUs,
      endUs: this.#time * this.#tickUs,
      edges: this.#batch.total,
      notes: this.#notes,
    }
    if (analog) summary.analog = analog
    return summary
  }

  #endHead(complete: boolean): void {
    const bytes = new Uint8Array(this.#headBytes)
    let at = 0
    for (const part of this.#head!) {
      bytes.set(part, at)
      at += part.length
    }
    this.#head = undefined
    if (bytes.length === 0)
      throw new InputError('the file is empty; expected rows of numbers', { line: 1, column: 1 })
    const sample = bytes.subarray(0, Math.min(bytes.length, HEAD_BYTES))
    const nul = sample.indexOf(0)
    if (nul >= 0) throw new InputError('a NUL byte; expected a CSV file in UTF-8 or ASCII', { byte: nul })
    if (!complete && sample.indexOf(NEWLINE) < 0) {
      throw new InputError(`a line of more than ${LINE_LIMIT} bytes; expected rows of numbers`, {
        line: 1,
        column: 1,
      })
    }
    const whole = complete && bytes.length <= HEAD_BYTES
    this.#dialect = sniff(utf8(sample), whole)
    this.#choose()
    this.#settle()
    const { headLines } = this.#dialect
    let from = 0
    for (let i = 0; i < headLines; i++) from = bytes.indexOf(NEWLINE, from) + 1
    this.#line = headLines + 1
    this.#take(bytes.subarray(from))
  }

  #choose(): void {
    const { columns, timeColumn } = this.#dialect
    const channels = columns.map((_, i) => i).filter((i) => i !== timeColumn)
    this.#available = channels.map((i) => columns[i]!)
    if (channels.length === 0)
      throw new InputError('one column only; expected a time and a level, or a stated --rate', {
        line: this.#dialect.firstLine,
        column: 1,
      })
    const chosen = chooseChannels(this.#available, this.#options.channel)
    if (chosen === undefined && channels.length > 1) {
      this.#notes.push(
        `channel ${this.#available[0]} was read, the first of ${channels.length}; choose with --channel`,
      )
    }
    const picked = chosen ?? [0]
    this.#columns = picked.map((i) => channels[i]!)
    this.#names = picked.map((i) => this.#available[i]!)
    const values = this.#columns.flatMap((c) => this.#dialect.rows.map((r) => r[c]!))
    this.#analog = values.some((v) => !/^(0|1|0[.,]0*|1[.,]0*|x|z|h|l|high|low|true|false|)$/i.test(v))
  }

  /** Unit of the time and how finely it was sampled. */
  #settle(): void {
    const { rows, timeColumn, isIndex } = this.#dialect
    const decimal = String.fromCharCode(this.#dialect.decimal)
    const rate = this.#options.rateHz ?? this.#dialect.rateHz
    const times = timeColumn < 0 ? rows.map((_, i) => i) : rows.map((r) => toNumber(r[timeColumn]!, decimal))
    if (timeColumn < 0 || isIndex) {
      if (rate === undefined && this.#options.unitUs === undefined) {
        const what =
          timeColumn < 0 ? 'the file has no time column' : `column ${timeColumn + 1} counts samples`
        throw new InputError(`${what}; state the sampling rate, such as --rate "4 MHz"`, {
          line: this.#dialect.firstLine,
          column: 1,
        })
      }
      this.#places = 0
      this.#tickUs = rate === undefined ? this.#options.unitUs! : 1e6 / rate
      this.#resolutionUs = this.#tickUs
      this.#resolutionFrom = 'the sampling rate'
      this.#open()
      return
    }
    const texts = rows.map((r) => r[timeColumn]!)
    const withExponent = texts.some((t) => /e/i.test(t))
    const places = Math.max(...texts.map((t) => placesOf(t, decimal)))
    this.#places = Math.min(withExponent ? Math.max(places, 15) : places, 15)
    const unitUs = this.#options.unitUs ?? this.#dialect.unitUs ?? this.#guessUnit(times)
    this.#tickUs = unitUs / POWERS[this.#places]!
    const steps = times
      .slice(1)
      .map((t, i) => (t - times[i]!) * unitUs)
      .filter((s) => s > 0)
      .sort((a, b) => a - b)
    const column = this.#columns[0]!
    const changes = rows.filter((r, i) => i > 0 && r[column] !== rows[i - 1]![column]).length
    const everySample = this.#analog || (rows.length > 20 && changes < (rows.length - 1) * 0.7)
    if (this.#options.rateHz !== undefined) {
      this.#resolutionUs = 1e6 / this.#options.rateHz
      this.#resolutionFrom = 'as stated'
    } else if (everySample && steps.length > 0) {
      this.#resolutionUs = steps[Math.floor(steps.length * 0.9)]!
      this.#resolutionFrom = 'the spacing of the rows'
    } else {
      const scaled = times.map((t) => Math.round(t * POWERS[this.#places]!))
      const grid = gridOf(scaled, scaled.length)
      this.#resolutionUs =
        grid > 1 ? grid * this.#tickUs : withExponent ? significant(texts, unitUs) : this.#tickUs
      this.#resolutionFrom = grid > 1 ? 'from the steps between the times' : 'the last digit of the times'
    }
    // Between two analog samples the crossing is interpolated: good to about a tenth of their spacing.
    if (this.#analog) {
      this.#resolutionUs /= 10
      this.#resolutionFrom += ', interpolated'
    }
    this.#open()
  }

  /** Without a unit the one in which intervals look like half-bits. */
  #guessUnit(times: number[]): number {
    const column = this.#columns[0]!
    const { rows } = this.#dialect
    const edges = times.filter((_, i) => i === 0 || this.#analog || rows[i]![column] !== rows[i - 1]![column])
    const gaps = edges.slice(1).map((t, i) => t - edges[i]!)
    const score = (unit: number) => gaps.filter((g) => g * unit > 40 && g * unit < 140).length
    const span = times.at(-1)! - times[0]!
    const units = [1e6, 1e3, 1, 1e-3] as const
    const best = this.#analog
      ? // Every sample: the head must last for some half-bits, not hours or nanoseconds.
        (units.find((u) => span * u > 100 && span * u < 60e6) ?? 1e6)
      : units.reduce((a, b) => (score(b) > score(a) ? b : a))
    const names: Record<number, string> = { 1e6: 's', 1e3: 'ms', 1: 'us', 0.001: 'ns' }
    this.#notes.push(
      `the file does not tell the unit of its times; taken as ${names[best]}, say otherwise with --unit`,
    )
    return best
  }

  #open(): void {
    this.#sink.begin({ tickUs: this.#tickUs, resolutionUs: this.#resolutionUs })
    this.#batch = new EdgeBatch(this.#sink, this.#options)
    if (this.#analog)
      this.#tracker = new AnalogTracker(this.#tickUs, (tick, level) => this.#batch.change(tick, level))
    else if (this.#columns.length === 2) this.#pair = new Pair(this.#batch, this.#tickUs)
  }

  #take(chunk: Uint8Array): void {
    let from = 0
    if (this.#carry.length > 0) {
      const newline = chunk.indexOf(NEWLINE)
      const end = newline < 0 ? chunk.length : newline + 1
      const joined = new Uint8Array(this.#carry.length + end)
      joined.set(this.#carry)
      joined.set(chunk.subarray(0, end), this.#carry.length)
      this.#carry = new Uint8Array(0)
      if (newline < 0) {
        this.#keep(joined)
        return
      }
      this.#readRows(joined, 0, joined.length)
      from = end
    }
    const stop = chunk.lastIndexOf(NEWLINE) + 1
    if (stop > from) this.#readRows(chunk, from, stop)
    if (!this.done) this.#keep(chunk.subarray(Math.max(from, stop)))
  }

  #keep(rest: Uint8Array): void {
    if (rest.length > LINE_LIMIT) {
      throw new InputError(`a line of more than ${LINE_LIMIT} bytes; expected rows of numbers`, {
        line: this.#line,
        column: 1,
      })
    }
    this.#carry = new Uint8Array(rest)
  }

  /** Rows, each with its newline. */
  #readRows(b: Uint8Array, from: number, to: number): void {
    const fast =
      this.#tracker === undefined &&
      this.#pair === undefined &&
      this.#dialect.timeColumn === 0 &&
      this.#columns[0] === 1
    let at = from
    while (at < to && !this.done) {
      // The first row tells the window.
      if (fast && this.#rows > 0) {
        // Short runs first: code the compiler has seen end is not thrown away each time it ends.
        const until = this.#runs < WARM_RUNS ? Math.min(to, at + WARM_BYTES) : to
        this.#runs++
        at = this.#fastRows(b, at, until)
        if (this.#batch.count === this.#batch.size) {
          this.#batch.flush()
          if (this.#batch.past) this.done = true
          continue
        }
        if (at >= until) continue
      }
      // One row of any kind, then the fast loop again.
      const end = b.indexOf(NEWLINE, at)
      this.#slowRow(b, at, end)
      at = end + 1
    }
  }

  /**
   * `time,level` with plain digits. Whole numbers and nothing else in the loop, no calls out of it: it runs at the
   * speed of the memory only while the compiler need not doubt a type.
   * @returns where a row begins that needs the careful reader, or where the block of edges was full.
   */
  #fastRows(b: Uint8Array, from: number, to: number): number {
    const batch = this.#batch
    const ticks = batch.ticks
    const levels = batch.levels
    const size = batch.size
    const places = this.#places
    const wholeScale = POWERS[places]!
    const point = this.#dialect.decimal - 48
    const delimiter = this.#dialect.delimiter
    let count = batch.count
    let level = batch.level
    let time = this.#time
    let rows = 0
    let at = from
    while (at < to && count < size) {
      let i = at
      let d = b[i]! - 48
      let whole = 0
      let digits = 0
      while (d >= 0 && d <= 9) {
        whole = (Math.imul(whole, 10) + d) | 0
        digits++
        d = b[++i]! - 48
      }
      if (digits === 0 || digits > 9) break
      let t = whole * wholeScale
      if (d === point) {
        // The first nine places and up to six more, each a small whole number.
        let high = 0
        let low = 0
        digits = 0
        d = b[++i]! - 48
        while (d >= 0 && d <= 9) {
          if (digits < 9) high = (Math.imul(high, 10) + d) | 0
          else low = (Math.imul(low, 10) + d) | 0
          digits++
          d = b[++i]! - 48
        }
        if (digits > places) break
        if (digits === places && digits <= 9) t += high
        else if (digits <= 9) t += high * POWERS[places - digits]!
        else t += high * POWERS[places - 9]! + low * POWERS[places - digits]!
      }
      if (b[i] !== delimiter) break
      const value = b[i + 1]! - 48
      if (value !== 0 && value !== 1) break
      let next = i + 2
      if (b[next] === RETURN) next++
      if (b[next] !== NEWLINE || t < time) break
      if (value !== level) {
        // Two changes at one time are the careful reader's.
        if (t === time) break
        ticks[count] = t
        levels[count] = value
        count++
        level = value
      }
      time = t
      rows++
      at = next + 1
    }
    batch.count = count
    batch.level = level
    this.#time = time
    this.#rows += rows
    this.#line += rows
    return at
  }

  #slowRow(b: Uint8Array, from: number, newline: number): void {
    const line = this.#line++
    const text = latin1(b.subarray(from, newline)).replace(/\r$/, '')
    if (text.trim() === '') return
    const delimiter = String.fromCharCode(this.#dialect.delimiter)
    const decimal = String.fromCharCode(this.#dialect.decimal)
    const cells = text.split(delimiter).map((c) =>
      c
        .trim()
        .replace(/^"(.*)"$/, '$1')
        .trim(),
    )
    const { timeColumn } = this.#dialect
    const fail = (column: number, what: string): never => {
      const position = cells.slice(0, column).reduce((n, c) => n + c.length + 1, 1)
      const found = cells[column] === undefined ? 'no column' : JSON.stringify(cells[column]!.slice(0, 40))
      throw new InputError(`found ${found} in column ${column + 1}; expected ${what}`, {
        line,
        column: position,
      })
    }
    let tick: number
    if (timeColumn < 0) tick = this.#rows
    else {
      tick = timeOf(cells[timeColumn] ?? '', decimal, this.#places)
      if (!Number.isFinite(tick) || Math.abs(tick) > 9e15) fail(timeColumn, 'a time')
    }
    if (tick < this.#time) throw backwards(line, cells[timeColumn]!, formatTick(this.#time, this.#places))
    if (Number.isNaN(this.#first)) {
      this.#first = tick
      const { skipUs = 0, fromUs, toUs } = this.#options
      const start = skipUs > 0 ? tick + skipUs / this.#tickUs : Number.NEGATIVE_INFINITY
      const least = Math.max(start, (fromUs ?? Number.NEGATIVE_INFINITY) / this.#tickUs)
      this.#batch.setWindow(least, (toUs ?? Number.POSITIVE_INFINITY) / this.#tickUs)
    }
    this.#time = tick
    this.#rows++
    if (this.#tracker) {
      const volts = this.#columns.map((c) => {
        const v = toNumber(cells[c] ?? '', decimal)
        if (!Number.isFinite(v)) fail(c, 'a voltage')
        return v
      })
      this.#tracker.add(tick, volts.length === 2 ? volts[0]! - volts[1]! : volts[0]!)
    } else if (this.#pair) {
      // An empty cell of a change-only file keeps its value.
      const [a, c] = this.#columns
      this.#pair.a = this.#levelOf(cells[a!], this.#pair.a, () => fail(a!, '0 or 1'))
      this.#pair.b = this.#levelOf(cells[c!], this.#pair.b, () => fail(c!, '0 or 1'))
      this.#pair.settle(tick)
    } else {
      const [c] = this.#columns
      this.#batch.change(
        tick,
        this.#levelOf(cells[c!], this.#batch.level, () => fail(c!, '0 or 1')),
      )
    }
    if (this.#batch.past) this.done = true
  }

  #levelOf(cell: string | undefined, now: number, fail: () => never): number {
    if (cell === '') return now
    if (cell === '1' || cell === '0') return cell === '1' ? HIGH : LOW
    const word = cell?.toLowerCase() ?? ''
    if (word === 'x' || word === 'z') return OFF
    if (word === 'h' || word === 'high' || word === 'true') return HIGH
    if (word === 'l' || word === 'low' || word === 'false') return LOW
    const value = toNumber(word, String.fromCharCode(this.#dialect.decimal))
    if (!Number.isFinite(value)) fail()
    return value > this.#threshold ? HIGH : LOW
  }
}

function placesOf(text: string, decimal: string): number {
  const match = /^[+-]?\d*([.,]\d*)?(?:[eE]([+-]?\d+))?$/.exec(text)
  if (!match) return 0
  const digits = match[1]?.[0] === decimal ? match[1].length - 1 : 0
  return Math.max(0, Math.min(30, digits - Number(match[2] ?? 0)))
}

/** The last digit written in exponent form, us: the coarsest of the head, as the honest resolution. */
function significant(texts: readonly string[], unitUs: number): number {
  const last = texts.map((t) => {
    const match = /^[+-]?\d*(?:[.,](\d*))?(?:[eE]([+-]?\d+))?$/.exec(t)
    return match && /[1-9]/.test(t)
      ? Number(match[2] ?? 0) - (match[1]?.length ?? 0)
      : Number.NEGATIVE_INFINITY
  })
  const coarsest = Math.max(...last)
  return Number.isFinite(coarsest) ? unitUs * 10 ** coarsest : unitUs
}

/** A time as a number of ticks: exact for plain digits. */
function timeOf(text: string, decimal: string, places: number): number {
  const match = /^([+-]?)(\d*)(?:[.,](\d*))?$/.exec(text)
  if (match && (match[2] || match[3])) {
    const fraction = (match[3] ?? '').slice(0, places).padEnd(places, '0')
    const rest = Number(`0.${(match[3] ?? '').slice(places) || '0'}`)
    const value = Number(`${match[2]}${fraction}`) + rest
    return match[1] === '-' ? -value : value
  }
  return toNumber(text, decimal) * POWERS[places]!
}

function formatTick(tick: number, places: number): string {
  return (tick / POWERS[places]!).toFixed(places)
}
