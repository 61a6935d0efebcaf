/**
 * CSV as oscilloscopes and logic analysers write it. The dialect is found from the first 64 KiB; the rows are read by
 * `csv-rows.ts`.
 */
import type { EdgeClock } from '../signal/edges.js'
import { InputError } from '../units/index.js'
import { AnalogTracker } from './analog/index.js'
import { EdgeBatch, Pair } from './batch.js'
import { chooseChannels } from './channels.js'
import { RowReader } from './csv-rows.js'
import { type Dialect, sniff, toNumber } from './dialect.js'
import {
  analogSettings,
  type CaptureOptions,
  type CaptureSink,
  type CaptureSummary,
  type Importer,
  LINE_LIMIT,
  openWindow,
} from './importer.js'
import { halfBits, levelIntervals } from './level-intervals.js'
import { type MadeBy, madeByOf } from './provenance.js'
import { resolutionOf, roundingUs } from './resolution.js'
import { textOf } from './text.js'

const HEAD_BYTES = 65_536
/** Read before the rows are, where the unit of the times must be found from the levels. */
const UNIT_HEAD_BYTES = 4 << 20
/** Fewer changes of the level do not tell a unit. */
const FEWEST_INTERVALS = 8
/** Times known this well need no more digits: the narrowest limit of a clause is 3 us. */
const FEW_DIGITS_US = 0.1
/** A pause of so many samples is a gap. */
const GAP_SAMPLES = 8
const UNITS_US = [1e6, 1e3, 1, 1e-3] as const
const NEWLINE = 10
/** Values that only a digital column has. */
const LEVELS = /^(0|1|0[.,]0*|1[.,]0*|x|u|z|h|l|high|low|true|false|)$/i

export class CsvImporter implements Importer {
  madeBy: MadeBy | undefined
  readonly #options: CaptureOptions
  readonly #sink: CaptureSink
  readonly #notes: string[] = []
  #head: Uint8Array[] | undefined = []
  #headBytes = 0
  #headNeeded = HEAD_BYTES
  /** What was read before the rows are, where the unit of the times must be found from it. */
  #headRows: Uint8Array = new Uint8Array(0)
  #carry: Uint8Array = new Uint8Array(0)
  #dialect!: Dialect
  #columns: number[] = []
  /** Column of the current, and amperes of one of its units. */
  #current: { column: number; name: string; ampPerUnit: number } | undefined
  #names: string[] = []
  #available: string[] = []
  #analog = false
  #values: [number, number] | undefined
  #places = 0
  #base = 0
  #tickUs = 1
  #resolutionUs = 1
  #resolutionFrom = ''
  /** First and last tick that are looked at. */
  #window: [number, number] = [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]
  #roundingUs = 0
  /** A pause of many samples is a gap, where every sample is written. */
  #gapTicks = Number.POSITIVE_INFINITY
  #shows: EdgeClock['shows'] = 'one level'
  #batch!: EdgeBatch
  #pair: Pair | undefined
  #tracker: AnalogTracker | undefined
  #rows!: RowReader

  constructor(options: CaptureOptions, sink: CaptureSink) {
    this.#options = options
    this.#sink = sink
  }

  get done(): boolean {
    return this.#head === undefined && this.#rows.done
  }

  get reachedUs(): number {
    return this.#head ? Number.NEGATIVE_INFINITY : this.#rows.time * this.#tickUs
  }

  get available(): readonly string[] {
    return this.#available
  }

  get isAnalog(): boolean {
    return this.#analog
  }

  push(chunk: Uint8Array): void {
    if (this.done) return
    if (this.#head) {
      this.#head.push(new Uint8Array(chunk))
      this.#headBytes += chunk.length
      if (this.#headBytes >= this.#headNeeded) this.#endHead(false)
      return
    }
    this.#take(chunk)
  }

  end(): CaptureSummary {
    if (this.#head) this.#endHead(true)
    if (this.#carry.length > 0) this.#lastLine(this.#carry)
    if (this.#rows.rows === 0)
      throw new InputError('no rows of numbers', { line: this.#rows.line, column: 1 })
    this.#pair?.end()
    const analog = this.#tracker?.finish()
    this.#batch.flush()
    const writtenUs = this.#rows.digits.coarsest * this.#tickUs * 10 ** this.#places
    // Nearer to the finest digit than to the next one: every time has all its digits.
    const isCoarse = writtenUs > 2 * this.#tickUs
    if (isCoarse && writtenUs > this.#resolutionUs && writtenUs >= FEW_DIGITS_US) {
      this.#notes.push(
        `times have so few digits that some are known to ${+writtenUs.toPrecision(2)} us only; export more digits`,
      )
    }
    const { delimiter, decimal, columns, timeColumn } = this.#dialect
    const character = (code: number) => JSON.stringify(String.fromCharCode(code))
    const time = timeColumn < 0 ? 'no time column' : `time in column ${timeColumn + 1}`
    const summary: CaptureSummary = {
      format: 'csv',
      dialect: `CSV, ${character(delimiter)} between ${columns.length} columns, decimal ${character(decimal)}, ${time}, ${this.#analog ? 'analog' : 'digital'}`,
      isAnalog: this.#analog,
      channels: this.#names,
      available: this.#available,
      clock: {
        tickUs: this.#tickUs,
        resolutionUs: isCoarse ? Math.max(this.#resolutionUs, writtenUs) : this.#resolutionUs,
        // What the digits alone tell is no sampling that would come on top.
        roundingUs:
          isCoarse && this.#resolutionUs > this.#tickUs
            ? Math.max(this.#roundingUs, writtenUs / 2)
            : this.#roundingUs,
        shows: this.#shows,
      },
      resolutionFrom:
        isCoarse && writtenUs > this.#resolutionUs ? 'digits of the times' : this.#resolutionFrom,
      startUs: this.#rows.first * this.#tickUs,
      endUs: this.#rows.time * this.#tickUs,
      edges: this.#batch.total,
      notes: this.#notes,
    }
    if (analog) summary.analog = analog
    if (this.#current) summary.currentChannel = this.#current.name
    if (this.madeBy) summary.madeBy = this.madeBy
    return summary
  }

  /**
   * Without a newline the last line may be cut anywhere, even inside a number that still looks whole. Only a
   * bare 0 or 1 after a whole time cannot be the beginning of something else.
   */
  #lastLine(line: Uint8Array): void {
    const [column] = this.#columns
    const { timeColumn, columns } = this.#dialect
    const last = line[line.length - 1]!
    const before = line[line.length - 2]
    const whole =
      !this.#analog &&
      this.#values === undefined &&
      this.#current === undefined &&
      this.#columns.length === 1 &&
      column === columns.length - 1 &&
      timeColumn < column &&
      (last === 48 || last === 49) &&
      before === this.#dialect.delimiter
    const text = textOf(line)
    if (
      !whole &&
      text.split(String.fromCharCode(this.#dialect.delimiter)).length - 1 <=
        Math.max(timeColumn, this.#current?.column ?? 0, ...this.#columns)
    ) {
      if (text.trim() !== '') this.#notes.push('the last line has no newline and was left out')
      return
    }
    const ended = new Uint8Array(line.length + 1)
    ended.set(line)
    ended[line.length] = NEWLINE
    this.#rows.read(ended, 0, ended.length)
  }

  #endHead(complete: boolean): void {
    const bytes = new Uint8Array(this.#headBytes)
    let at = 0
    for (const part of this.#head!) {
      bytes.set(part, at)
      at += part.length
    }
    if (bytes.length === 0)
      throw new InputError('the file is empty; expected rows of numbers', { line: 1, column: 1 })
    const sample = bytes.subarray(0, Math.min(bytes.length, HEAD_BYTES))
    this.#headRows = bytes
    const nul = sample.indexOf(0)
    if (nul >= 0) throw new InputError('a NUL byte; expected a CSV file in UTF-8 or ASCII', { byte: nul })
    if (!complete && sample.indexOf(NEWLINE) < 0) {
      throw new InputError(`a line of more than ${LINE_LIMIT} bytes; expected rows of numbers`, {
        line: 1,
        column: 1,
      })
    }
    const whole = complete && bytes.length <= HEAD_BYTES
    const text = textOf(sample)
    this.madeBy = headComments(text)
      .map(madeByOf)
      .find((made) => made !== undefined)
    this.#dialect = sniff(text, whole)
    // Fast sampling shows few half-bits in a head of the usual size.
    if (!complete && this.#headBytes < UNIT_HEAD_BYTES && this.#needsUnit()) {
      this.#headNeeded = UNIT_HEAD_BYTES
      return
    }
    this.#head = undefined
    this.#choose()
    this.#headRows = new Uint8Array(0)
    const { headLines } = this.#dialect
    let from = 0
    for (let i = 0; i < headLines; i++) from = bytes.indexOf(NEWLINE, from) + 1
    this.#rows.line = headLines + 1
    // A byte order mark, where the first line is a row already.
    if (from === 0 && bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf) from = 3
    this.#take(bytes.subarray(from))
  }

  /** Nothing but the levels can tell the unit of the times. */
  #needsUnit(): boolean {
    const { timeColumn, isIndex, unitUs, rateHz } = this.#dialect
    return (
      timeColumn >= 0 && !isIndex && unitUs === undefined && this.#options.unitUs === undefined && !rateHz
    )
  }

  #choose(): void {
    const { columns, timeColumn } = this.#dialect
    const { rows } = this.#dialect
    const channels = columns
      .map((_, i) => i)
      .filter((i) => i !== timeColumn && rows.some((r) => r[i] !== undefined && r[i] !== ''))
    this.#available = channels.map((i) => columns[i]!)
    if (channels.length === 0)
      throw new InputError('one column only; expected a time and a level, or a stated --rate', {
        line: this.#dialect.firstLine,
        column: 1,
      })
    const current = this.#chooseCurrent(channels)
    const chosen = chooseChannels(this.#available, this.#options.channel)
    const others = channels.map((_, i) => i).filter((i) => i !== current)
    if (chosen === undefined && others.length > 1) {
      this.#notes.push(
        `channel ${this.#available[others[0]!]} was read, the first of ${channels.length}; choose with --channel`,
      )
    }
    const picked = chosen ?? others.slice(0, 1)
    if (picked.length === 0 || (current !== undefined && picked.includes(current)))
      throw new InputError('the channel of the current is that of the signal; expected two channels', {
        line: this.#dialect.firstLine,
        column: 1,
      })
    this.#columns = picked.map((i) => channels[i]!)
    this.#names = picked.map((i) => this.#available[i]!)
    this.#settle()
  }

  /** @returns index of the channel that holds the current. @throws InputError when its amperes are not known. */
  #chooseCurrent(channels: readonly number[]): number | undefined {
    const wanted = this.#options.current
    if (wanted === undefined) return undefined
    const [index = 0] = chooseChannels(this.#available, [wanted.channel])!
    const column = channels[index]!
    const { ampsPerUnit, voltsPerUnit, firstLine } = this.#dialect
    const name = this.#available[index]!
    const { ampPerVolt } = wanted
    const ampPerUnit = ampPerVolt === undefined ? ampsPerUnit[column] : ampPerVolt * voltsPerUnit[column]!
    if (ampPerUnit === undefined) {
      throw new InputError(
        `channel ${JSON.stringify(name)} holds no amperes; state how many amperes one volt of it is`,
        { line: firstLine, column: 1 },
      )
    }
    if (ampPerVolt !== undefined && ampsPerUnit[column] !== undefined)
      throw new InputError(
        `channel ${JSON.stringify(name)} holds amperes already; expected no amperes of one volt`,
        { line: firstLine, column: 1 },
      )
    this.#current = { column, name, ampPerUnit }
    return index
  }

  /** Digital or analog, the unit of the time, and how finely it was sampled. */
  #settle(): void {
    const { rows, timeColumn, isIndex } = this.#dialect
    const decimal = String.fromCharCode(this.#dialect.decimal)
    const times = timeColumn < 0 ? rows.map((_, i) => i) : rows.map((r) => toNumber(r[timeColumn]!, decimal))
    // A change-only file of nothing but ones comes at even times too, but every row of it is a change.
    const even = timeColumn < 0 || (isEven(times) && this.#changes(decimal) < (rows.length - 1) * 0.7)
    this.#kind(even, decimal)
    const rate = this.#options.rateHz ?? this.#dialect.rateHz
    if (timeColumn < 0 || isIndex || this.#looksLikeIndex(times)) {
      if (rate === undefined && this.#options.unitUs === undefined) {
        const what =
          timeColumn < 0 ? 'the file has no time column' : `column ${timeColumn + 1} counts samples`
        throw new InputError(`${what}; state the sampling rate, such as --rate "4 MHz"`, {
          line: this.#dialect.firstLine,
          column: 1,
        })
      }
      this.#tickUs = rate === undefined ? this.#options.unitUs! : 1e6 / rate
      this.#resolutionUs = this.#tickUs
      this.#resolutionFrom = 'sampling rate'
      // Numbers of samples may be those of changes only.
      if (even) this.#gapTicks = GAP_SAMPLES
      this.#open()
      return
    }
    const texts = rows.map((r) => r[timeColumn]!)
    const unitUs = this.#options.unitUs ?? this.#dialect.unitUs ?? this.#guessUnit(times)
    // Digits below a picosecond are no clock's: they stay as fractions of a tick.
    const most = Math.max(0, Math.round(Math.log10(unitUs)) + 6)
    this.#places = Math.min(most, Math.max(...texts.map((t) => placesOf(t, decimal))))
    this.#tickUs = unitUs / 10 ** this.#places
    const whole = Math.trunc(times[0]!)
    if (Math.abs(whole) * 10 ** this.#places > 2 ** 50) {
      this.#base = whole
      this.#notes.push(`times are counted from ${whole}, the whole part of the first one`)
    }
    if (this.#options.rateHz !== undefined) {
      this.#resolutionUs = 1e6 / this.#options.rateHz
      this.#resolutionFrom = 'as stated'
      this.#roundingUs = roundingUs(this.#resolutionUs, this.#tickUs)
    } else if (even) {
      this.#resolutionUs = stepOf(times) * unitUs
      this.#roundingUs = roundingUs(this.#resolutionUs, this.#tickUs)
      this.#resolutionFrom = 'spacing of the rows'
      this.#gapTicks = (GAP_SAMPLES * this.#resolutionUs) / this.#tickUs
    } else {
      const edges = texts.filter(
        (_, i) => i > 0 && this.#columns.some((c) => rows[i]![c] !== rows[i - 1]![c]),
      )
      const scaled = edges.map((t) => ticksOf(t, decimal, this.#base, this.#places))
      const found = resolutionOf(scaled, scaled.length, this.#tickUs)
      this.#resolutionUs = found.us
      this.#roundingUs = found.roundingUs
      this.#resolutionFrom = found.from
    }
    this.#open()
  }

  /** Rows in which a channel changes sides. */
  #changes(decimal: string): number {
    const { rows } = this.#dialect
    const sides = this.#columns.map((c) => {
      const values = rows.map((r) => toNumber(r[c]!, decimal))
      const known = values.filter((v) => !Number.isNaN(v))
      const middle = (Math.max(...known) + Math.min(...known)) / 2
      return values.map((v, i) => (Number.isNaN(v) ? rows[i]![c]! : v > middle))
    })
    return rows.filter((_, i) => i > 0 && sides.some((s) => s[i] !== s[i - 1])).length
  }

  /** Two values other than 0 and 1 that come at uneven times are levels too: a change-only file of 0 and 3.3. */
  #kind(even: boolean, decimal: string): void {
    const { rows } = this.#dialect
    const values = this.#columns.flatMap((c) => rows.map((r) => r[c]!))
    const wanted = this.#options.as
    // One among many levels that is none is damage, for the reader of the rows to report.
    const levels = values.filter((v) => LEVELS.test(v)).length
    if (wanted !== 'analog' && levels >= values.length * 0.95) return
    const distinct = [...new Set(values.map((v) => toNumber(v, decimal)))].filter((v) => !Number.isNaN(v))
    const [a = 0, b = a] = distinct.sort((x, y) => x - y)
    if (distinct.length === 2 && (wanted === 'digital' || (wanted === undefined && !even))) {
      this.#values = [a, b]
      return
    }
    if (wanted === 'digital') {
      throw new InputError(
        `${distinct.length} different values on ${this.#names.join(' and ')}; expected two levels`,
        { line: this.#dialect.firstLine, column: 1 },
      )
    }
    this.#analog = true
  }

  /** With a rate and without a unit, whole numbers that make half-bits as samples count samples. */
  #looksLikeIndex(times: number[]): boolean {
    const { rateHz, unitUs } = this.#options
    if (rateHz === undefined || unitUs !== undefined || this.#dialect.unitUs !== undefined) return false
    if (!times.every(Number.isInteger)) return false
    const intervals = this.#intervals()
    const sampleUs = 1e6 / rateHz
    return halfBits(intervals, sampleUs) >= Math.max(...UNITS_US.map((u) => halfBits(intervals, u)))
  }

  /** Times between changes of the level, in units of the time column, from all that has been read so far. */
  #intervals(): number[] {
    const { timeColumn, delimiter, decimal } = this.#dialect
    return levelIntervals(this.#headRows, this.#dialect.headLines, {
      timeColumn,
      column: this.#columns[0]!,
      delimiter: String.fromCharCode(delimiter),
      decimal: String.fromCharCode(decimal),
    })
  }

  /** Without a unit the one in which the level changes as half-bits do. @throws InputError when none is clear. */
  #guessUnit(times: readonly number[]): number {
    // Times that go back are damage, which the reader of the rows reports with its line.
    if (times.some((t, i) => i > 0 && t < times[i - 1]!)) return 1
    const intervals = this.#intervals()
    const scores = UNITS_US.map((us) => ({ us, share: halfBits(intervals, us) / intervals.length })).sort(
      (a, b) => b.share - a.share,
    )
    const [best, next] = scores
    const names: Record<number, string> = { 1e6: 's', 1e3: 'ms', 1: 'us', 0.001: 'ns' }
    if (intervals.length < FEWEST_INTERVALS || !(best!.share > 0.3) || next!.share > best!.share / 2) {
      throw new InputError(
        `the file does not tell the unit of its times, and ${intervals.length < FEWEST_INTERVALS ? 'too few levels change to find it' : 'in none do the levels change as half-bits do'}; state it, such as --unit us`,
        { line: this.#dialect.firstLine, column: 1 },
      )
    }
    this.#notes.push(
      `the file does not tell the unit of its times; taken as ${names[best!.us]}, in which levels change as half-bits do, say otherwise with --unit`,
    )
    return best!.us
  }

  #open(): void {
    const { delimiter, decimal, timeColumn, voltsPerUnit, isIndex } = this.#dialect
    const batch = new EdgeBatch(this.#sink, this.#options)
    this.#batch = batch
    if (this.#analog) {
      this.#tracker = new AnalogTracker(
        this.#tickUs,
        {
          begin: (start) => {
            this.#resolutionUs = this.#resolutionUs * start.share + start.jitterTicks * this.#tickUs
            this.#resolutionFrom = start.says
            this.#shows = start.isBetweenRails ? 'rails' : 'one level'
            this.#begin()
          },
          change: (tick, level) => batch.change(tick, level),
        },
        analogSettings(this.#options, this.#sink, this.#columns.length === 2),
      )
    } else {
      if (this.#columns.length === 2) this.#shows = 'rails'
      this.#begin()
      if (this.#columns.length === 2) this.#pair = new Pair(batch, this.#tickUs)
    }
    const [low, high] = this.#values ?? [0, 1]
    const { probeFactor: factor = 1 } = this.#options
    this.#rows = new RowReader(
      {
        delimiter,
        decimal,
        timeColumn,
        columns: this.#columns,
        currentColumn: this.#current?.column ?? -1,
        places: this.#places,
        base: isIndex ? 0 : this.#base,
        volts: this.#analog ? this.#columns.map((c) => voltsPerUnit[c]! * factor) : undefined,
        gapTicks: this.#gapTicks,
        threshold: (low + high) / 2,
        values: this.#values,
      },
      { batch, pair: this.#pair, tracker: this.#tracker, current: this.#takeCurrent() },
      (first) => {
        const [from, to] = openWindow(this.#options, first, this.#tickUs)
        this.#window = [from, to]
        batch.setWindow(from, to)
        this.#tracker?.setWindow(from, to)
      },
    )
  }

  #takeCurrent(): ((tick: number, value: number) => void) | undefined {
    const sink = this.#sink
    if (!this.#current || !sink.current) return undefined
    const { ampPerUnit } = this.#current
    return (tick, value) => {
      const [from, to] = this.#window
      if (tick >= from && tick <= to) sink.current!(tick * this.#tickUs, value * ampPerUnit)
    }
  }

  #begin(): void {
    const clock: EdgeClock = {
      tickUs: this.#tickUs,
      resolutionUs: this.#resolutionUs,
      roundingUs: this.#roundingUs,
      shows: this.#shows,
    }
    this.#sink.begin(clock, this.madeBy)
  }

  #take(chunk: Uint8Array): void {
    let from = 0
    if (this.#carry.length > 0) {
      const newline = chunk.indexOf(NEWLINE)
      const end = newline < 0 ? chunk.length : newline + 1
      const joined = new Uint8Array(this.#carry.length + end)
      joined.set(this.#carry)
      joined.set(chunk.subarray(0, end), this.#carry.length)
      if (newline < 0) {
        this.#keep(joined)
        return
      }
      this.#carry = new Uint8Array(0)
      this.#rows.read(joined, 0, joined.length)
      from = end
    }
    const stop = chunk.lastIndexOf(NEWLINE) + 1
    if (stop > from) this.#rows.read(chunk, from, stop)
    if (!this.done) this.#keep(chunk.subarray(Math.max(from, stop)))
  }

  #keep(rest: Uint8Array): void {
    if (rest.length > LINE_LIMIT) {
      throw new InputError(`a line of more than ${LINE_LIMIT} bytes; expected rows of numbers`, {
        line: this.#rows.line,
        column: 1,
      })
    }
    this.#carry = new Uint8Array(rest)
  }
}

/** Lines that begin with #, in the head of a file. */
function headComments(text: string): string[] {
  return text.split('\n').filter((line) => line.startsWith('#') || line.startsWith('\ufeff#'))
}

/** Rows at even spacing, every sample one: give or take the rounding of the times, and a gap here and there. */
function isEven(times: number[]): boolean {
  if (times.length < 8) return false
  const step = stepOf(times)
  const digit = Math.max(...times.map((t) => Math.abs(t))) * 1e-9
  const even = times.filter((t, i) => i > 0 && Math.abs(t - times[i - 1]! - step) <= step * 0.2 + digit)
  return step > 0 && even.length >= (times.length - 1) * 0.9
}

function stepOf(times: number[]): number {
  return times
    .slice(1)
    .map((t, i) => t - times[i]!)
    .sort((a, b) => a - b)[(times.length - 1) >> 1]!
}

/** A time in ticks, exact however long it is: its whole part is counted from `base`. */
function ticksOf(text: string, decimal: string, base: number, places: number): number {
  const [, sign = '', whole = '0', fraction = ''] = /^([+-]?)(\d*)(?:[.,](\d*))?$/.exec(text) ?? []
  if (whole + fraction === '0') return Math.round((toNumber(text, decimal) - base) * 10 ** places)
  const part = Math.round(Number(`0.${fraction}0`) * 10 ** places)
  const side = sign === '-' ? -1 : 1
  return (side * Number(whole) - base) * 10 ** places + side * part
}

function placesOf(text: string, decimal: string): number {
  const match = /^[+-]?\d*([.,]\d*)?(?:[eE]([+-]?\d+))?$/.exec(text)
  if (!match) return 0
  const digits = match[1]?.[0] === decimal ? match[1].length - 1 : 0
  return Math.max(0, Math.min(30, digits - Number(match[2] ?? 0)))
}
