/**
 * Value change dump, IEEE 1364-2005 section 18. The header is read by words; the body, where the gigabytes are, by
 * one loop over the bytes, word by word, whatever the blanks between them.
 */
import { type EdgeClock, EdgeList, GAP, HIGH, LOW, OFF } from '../signal/edges.js'
import { InputError } from '../units/index.js'
import { AnalogTracker } from './analog/index.js'
import { EdgeBatch, Pair } from './batch.js'
import { chooseChannels } from './channels.js'
import {
  analogSettings,
  backwards,
  type CaptureOptions,
  type CaptureSink,
  type CaptureSummary,
  CURRENT_IN_CSV,
  type Importer,
  LINE_LIMIT,
  openWindow,
} from './importer.js'
import { MOST_DIGITS, QuickRows, ROW_AHEAD, type RowShape } from './plain-rows.js'
import { type MadeBy, madeByOf } from './provenance.js'
import { type Resolution, resolutionOf, roundingUs } from './resolution.js'
import { latin1 } from './text.js'

interface Signal {
  name: string
  id: string
  width: number
  /** Bit of a vector; 0 for a scalar. */
  bit: number
  real: boolean
}

const UNITS: Record<string, number> = { s: 1e6, ms: 1e3, us: 1, ns: 1e-3, ps: 1e-6, fs: 1e-9 }
/** Samples of voltages that show half-bits come at least this often, us. */
const SAMPLED_US = 20
const MOST_SIGNALS = 100_000
/** Edges that the resolution is estimated from. */
const HEAD_EDGES = 2000

const NEWLINE = 10
const SPACE = 32
const HASH = 35
const DOLLAR = 36
const ZERO = 48
/** In four bytes: the digit 0; what brings more than 9 to the top bit; the top bits. */
const ZEROS = 0x30303030
const SIXES = 0x76767676
const TOPS = 0x80808080 | 0
const WARM_RUNS = 64
const WARM_BYTES = 1024

export class VcdImporter implements Importer {
  done = false
  madeBy: MadeBy | undefined
  readonly #options: CaptureOptions
  readonly #sink: CaptureSink
  readonly #notes: string[] = []
  readonly #signals: Signal[] = []
  readonly #scopes: string[] = []
  /** The codes of all signals, see {@link idNumber}. */
  readonly #declared = new Set<number>()
  #tickUs = 0
  #line = 1
  /** Where the running line began, counted from the first byte not yet read: never above 0. */
  #lineAt = 0
  #inBody = false
  /** Bytes of the last word that a chunk cut. */
  #carry: Uint8Array = new Uint8Array(0)

  // Header.
  #word = ''
  #command: string[] | undefined

  // Body.
  #chosen: Signal[] = []
  #batch!: EdgeBatch
  #pair: Pair | undefined
  #tracker: AnalogTracker | undefined
  #time = 0
  #started = false
  #first = Number.NaN
  #inComment = false
  readonly #quick = new QuickRows()
  /** Calls of the plain loop. */
  #runs = 0
  #isDumpOff = false
  /** Value of a vector or real number whose code is still to come. */
  #value: string | undefined
  /** The first edges are held until they tell the resolution, which the sink must know first. */
  #held: EdgeList | undefined = new EdgeList()
  #clock: EdgeClock = { tickUs: 1, resolutionUs: 1 }
  #shows: EdgeClock['shows'] = 'one level'
  #resolutionFrom = ''
  // Real numbers.
  #volts: [number, number] = [Number.NaN, Number.NaN]
  #lastVolt = Number.NaN
  #lastVoltAt = 0
  #voltStep = Number.POSITIVE_INFINITY

  /** @throws InputError when a channel of the current is asked for. */
  constructor(options: CaptureOptions, sink: CaptureSink) {
    if (options.current) throw new InputError(CURRENT_IN_CSV)
    this.#options = options
    this.#sink = sink
  }

  get reachedUs(): number {
    return this.#started ? this.#time * this.#tickUs : Number.NEGATIVE_INFINITY
  }

  get available(): readonly string[] {
    return this.#signals.map((s) => s.name)
  }

  get isAnalog(): boolean {
    return this.#tracker !== undefined
  }

  push(chunk: Uint8Array): void {
    if (this.done) return
    let from = 0
    if (!this.#inBody) {
      from = this.#readHeader(chunk)
      if (!this.#inBody) return
    }
    if (this.#carry.length > 0) {
      let end = from
      while (end < chunk.length && chunk[end]! > SPACE) end++
      const whole = end < chunk.length
      const joined = new Uint8Array(this.#carry.length + end - from + (whole ? 1 : 0))
      joined.set(this.#carry)
      joined.set(chunk.subarray(from, whole ? end + 1 : end), this.#carry.length)
      if (!whole) {
        this.#keep(joined)
        return
      }
      this.#carry = new Uint8Array(0)
      this.#readBody(joined, 0, joined.length)
      from = end + 1
    }
    let to = chunk.length
    while (to > from && chunk[to - 1]! > SPACE) to--
    if (to > from) this.#readBody(chunk, from, to)
    if (!this.done) this.#keep(chunk.subarray(to))
  }

  #keep(rest: Uint8Array): void {
    if (rest.length > LINE_LIMIT) {
      this.#fail(1, `a word of more than ${LINE_LIMIT} bytes; expected value changes`)
    }
    // A copy: the caller uses its buffer again.
    this.#carry = new Uint8Array(rest)
  }

  #fail(column: number, message: string): never {
    throw new InputError(message, { line: this.#line, column })
  }

  end(): CaptureSummary {
    if (this.#word !== '' && this.#onWord(this.#word)) this.#word = ''
    if (!this.#inBody) this.#fail(1, 'the file ends in its header; expected $enddefinitions $end')
    if (this.#carry.length > 0) this.#lastWord(this.#carry)
    if (this.#inComment) this.#notes.push('the last comment has no $end')
    this.#settle(this.#time)
    this.#pair?.end()
    const analog = this.#tracker?.finish()
    this.#batch.flush()
    if (this.#held) this.#begin()
    const start = Number.isNaN(this.#first) ? 0 : this.#first
    const summary: CaptureSummary = {
      format: 'vcd',
      dialect: `VCD, time unit ${this.#tickUs} us, ${this.#signals.length} ${this.#signals.length === 1 ? 'signal' : 'signals'}`,
      isAnalog: this.isAnalog,
      channels: this.#chosen.map((s) => s.name),
      available: this.#signals.map((s) => s.name),
      clock: this.#clock,
      resolutionFrom: this.#resolutionFrom,
      startUs: start * this.#tickUs,
      endUs: this.#time * this.#tickUs,
      edges: this.#batch.total,
      notes: this.#notes,
    }
    if (analog) summary.analog = analog
    if (this.madeBy) summary.madeBy = this.madeBy
    return summary
  }

  /** A word that the file ends in may be cut: a time always, a change unless its code is as long as any. */
  #lastWord(word: Uint8Array): void {
    const longest = Math.max(...this.#signals.map((s) => s.id.length))
    const text = latin1(word)
    if (text === '$end' || (/^[01xXzZ]/.test(text) && text.length - 1 >= longest)) {
      const ended = new Uint8Array(word.length + 1)
      ended.set(word)
      ended[word.length] = NEWLINE
      this.#readBody(ended, 0, ended.length)
    } else this.#notes.push('the last word is not ended by a newline, so it may be cut; it was left out')
  }

  /** Words up to $enddefinitions $end. @returns where the body begins. */
  #readHeader(bytes: Uint8Array): number {
    for (let i = 0; i < bytes.length; i++) {
      const c = bytes[i]!
      if (c === 0) throw new InputError('a NUL byte; expected a VCD file', { line: this.#line, column: 1 })
      if (c > SPACE) {
        if (this.#word.length >= LINE_LIMIT) {
          throw new InputError(`a word of more than ${LINE_LIMIT} letters; expected a VCD header`, {
            line: this.#line,
            column: 1,
          })
        }
        this.#word += String.fromCharCode(c)
        continue
      }
      if (this.#word !== '') {
        const word = this.#word
        this.#word = ''
        if (this.#onWord(word)) {
          this.#lineAt -= i
          return i
        }
      }
      if (c === NEWLINE) {
        this.#line++
        this.#lineAt = i + 1
      }
    }
    this.#lineAt -= bytes.length
    return bytes.length
  }

  /** @returns whether the header is over. */
  #onWord(word: string): boolean {
    if (this.#command === undefined) {
      if (word[0] !== '$') {
        throw new InputError(
          `found ${JSON.stringify(word.slice(0, 40))}; expected a VCD header ($timescale, $var …)`,
          { line: this.#line, column: 1 },
        )
      }
      this.#command = [word]
      return false
    }
    if (word !== '$end') {
      if (this.#command.length < 64) this.#command.push(word)
      return false
    }
    const [name, ...rest] = this.#command
    this.#command = undefined
    if (name === '$timescale') this.#timescale(rest.join(''))
    else if (name === '$comment') this.madeBy ??= madeByOf(rest.join(' '))
    else if (name === '$scope') this.#scopes.push(rest[1] ?? '')
    else if (name === '$upscope') this.#scopes.pop()
    else if (name === '$var') this.#variable(rest)
    else if (name === '$enddefinitions') {
      this.#startBody()
      return true
    }
    return false
  }

  #timescale(text: string): void {
    const match = /^(1|10|100)(s|ms|us|ns|ps|fs)$/.exec(text)
    if (!match)
      throw new InputError(
        `timescale ${JSON.stringify(text)}; expected 1, 10 or 100 and s, ms, us, ns, ps or fs`,
        { line: this.#line, column: 1 },
      )
    this.#tickUs = Number(match[1]) * UNITS[match[2]!]!
  }

  #variable([type, size, id, ...reference]: string[]): void {
    const name = reference.join('')
    if (type === undefined || size === undefined || id === undefined || name === '') {
      throw new InputError('a $var without type, size, code and name', { line: this.#line, column: 1 })
    }
    const width = Number(size)
    if (!/^\d{1,9}$/.test(size)) {
      throw new InputError(`$var size ${JSON.stringify(size)}; expected a number of bits`, {
        line: this.#line,
        column: 1,
      })
    }
    if (this.#signals.length >= MOST_SIGNALS)
      throw new InputError(`more than ${MOST_SIGNALS} signals`, { line: this.#line, column: 1 })
    const codes = Array.from(id, (c) => c.charCodeAt(0))
    this.#declared.add(idNumber(codes, 0, codes.length))
    const full = [...this.#scopes, name].filter(Boolean).join('.')
    const real = type === 'real' || type === 'realtime'
    // What holds no levels is no channel, but its changes must be passed over.
    if (type === 'string' || type === 'event' || (width === 0 && !real)) return
    if (width === 1 || real) {
      this.#signals.push({ name: full, id, width: 1, bit: 0, real })
      return
    }
    // Each bit of a short vector can be chosen by its index.
    const range = /\[(\d+):(\d+)\]$/.exec(full)
    const bare = range ? full.slice(0, range.index) : full
    const [from, to] = range ? [Number(range[1]), Number(range[2])] : [width - 1, 0]
    for (let bit = 0; bit < Math.min(width, 64); bit++) {
      const index = from >= to ? to + bit : to - bit
      this.#signals.push({ name: `${bare}[${index}]`, id, width, bit, real })
    }
  }

  #startBody(): void {
    this.#inBody = true
    if (this.#tickUs === 0)
      throw new InputError('no $timescale; expected one in the header', { line: this.#line, column: 1 })
    const names = this.#signals.map((s) => s.name)
    if (names.length === 0)
      throw new InputError('no signal is declared; expected $var', { line: this.#line, column: 1 })
    const chosen = chooseChannels(names, this.#options.channel)
    const usual = Math.max(
      0,
      this.#signals.findIndex((s) => !s.real),
    )
    if (chosen === undefined && names.length > 1) {
      this.#notes.push(
        `channel ${names[usual]} was read, one of ${names.length}; choose with --channel (${names.slice(0, 8).join(', ')}${names.length > 8 ? ' …' : ''})`,
      )
    }
    this.#chosen = (chosen ?? [usual]).map((i) => this.#signals[i]!)
    const reals = this.#chosen.filter((s) => s.real).length
    if (reals === 1 && this.#chosen.length === 2)
      throw new InputError('a real number and a level cannot be subtracted; expected two of a kind')
    this.#batch = new EdgeBatch(
      { begin: () => {}, push: (block) => this.#take(block.ticks, block.levels, block.count) },
      this.#options,
    )
    if (reals > 0) {
      this.#tracker = new AnalogTracker(
        this.#tickUs,
        {
          begin: ({ sampleTicks, share, jitterTicks, says, isBetweenRails }) => {
            this.#shows = isBetweenRails ? 'rails' : 'one level'
            this.#resolve({
              us: (Math.max(1, sampleTicks) * share + jitterTicks) * this.#tickUs,
              roundingUs: 0,
              from: says,
            })
          },
          change: (tick, level) => this.#batch.change(tick, level),
        },
        analogSettings(this.#options, this.#sink, this.#chosen.length === 2, true),
      )
    } else if (this.#chosen.length === 2) {
      this.#shows = 'rails'
      this.#pair = new Pair(this.#batch, this.#tickUs)
    }
  }

  #take(ticks: Float64Array, levels: Uint8Array, count: number): void {
    if (this.#held === undefined) {
      this.#sink.push({ ticks, levels, count })
      return
    }
    this.#held.push({ ticks, levels, count })
    if (this.#held.count >= HEAD_EDGES) this.#begin()
  }

  #begin(): void {
    const held = this.#held!
    const { rateHz } = this.#options
    this.#resolve(
      rateHz === undefined
        ? resolutionOf(
            held.ticks.subarray(0, Math.min(held.count, HEAD_EDGES)),
            Math.min(held.count, HEAD_EDGES),
            this.#tickUs,
          )
        : { us: 1e6 / rateHz, roundingUs: roundingUs(1e6 / rateHz, this.#tickUs), from: 'as stated' },
    )
    if (held.count > 0) this.#sink.push(held)
  }

  #resolve({ us, roundingUs, from }: Resolution): void {
    this.#held = undefined
    this.#clock = { tickUs: this.#tickUs, resolutionUs: us, roundingUs, shows: this.#shows }
    this.#resolutionFrom = from
    this.#sink.begin(this.#clock, this.madeBy)
  }

  /** Whole words, the last one ended by a blank. */
  #readBody(b: Uint8Array, from: number, to: number): void {
    const [only] = this.#chosen
    const view = new DataView(b.buffer, b.byteOffset, b.byteLength)
    // One scalar with a short code, as nearly every capture has it.
    const isSimple = this.#chosen.length === 1 && only!.width === 1 && !only!.real && only!.id.length <= 2
    const batch = this.#batch
    this.#lineAt += from
    this.#quick.begin()
    let i = from
    while (i < to && !this.done) {
      const end = to - ROW_AHEAD
      if (
        isSimple &&
        i < end &&
        this.#started &&
        !this.#isDumpOff &&
        !this.#inComment &&
        this.#value === undefined
      ) {
        let at = this.#quick.left === 0 ? this.#compiled(b, i, end) : i
        let until = end
        if (at === i) {
          // Short runs first: code the compiler has seen end is not thrown away each time it ends.
          until = Math.min(end, i + (this.#runs < WARM_RUNS ? WARM_BYTES : this.#quick.left))
          this.#runs++
          at = this.#plain(b, view, i, until)
          this.#quick.pass(at - i)
        }
        if (at > i) this.#lineAt = at
        i = at
        if (batch.count === batch.size) {
          batch.makeRoom()
          if (batch.past) this.done = true
          continue
        }
        if (i >= until) continue
      }
      if (i < to) i = this.#readWord(b, i)
    }
    this.#lineAt -= to
  }

  /** The same as {@link #plain} by the compiled loop, as far as times have as many digits as the first one. */
  #compiled(b: Uint8Array, from: number, to: number): number {
    const { at, rows, time } = this.#quick.read(b, from, to, this.#shapeAt(b, from), this.#batch, this.#time)
    this.#time = time
    this.#line += 2 * rows
    return at
  }

  /** Of a time and a change like those that begin here; undefined where it is no plain time. */
  #shapeAt(b: Uint8Array, from: number): RowShape | undefined {
    if (b[from] !== HASH) return undefined
    let digits = 0
    while (digits <= MOST_DIGITS && b[from + 1 + digits]! >= ZERO && b[from + 1 + digits]! <= 57) digits++
    if (digits === 0 || digits > MOST_DIGITS) return undefined
    const { id } = this.#chosen[0]!
    const code = Array.from(id, (c) => c.charCodeAt(0))
    return {
      headLength: 1,
      headTick: 0,
      digits,
      tail: [NEWLINE, ZERO, ...code, NEWLINE],
      levelAt: 1,
      gapTicks: Number.POSITIVE_INFINITY,
    }
  }

  /**
   * A time and a change of the one signal, line by line, as nearly every capture has it. No calls out of the loop:
   * it runs at the speed of the memory only while the compiler need not doubt a type.
   * @returns where a line begins that the careful reader must see, or where the block of edges was full.
   */
  #plain(b: Uint8Array, view: DataView, from: number, to: number): number {
    const batch = this.#batch
    const { ticks, levels, size } = batch
    const { id } = this.#chosen[0]!
    // What follows a time, four bytes at once: level, code, newline.
    const isShort = id.length === 1
    const tailMask = isShort ? 0xffffff : -1
    const tailLength = isShort ? 3 : 4
    const code = isShort
      ? (id.charCodeAt(0) << 8) | (NEWLINE << 16)
      : (id.charCodeAt(0) << 8) | (id.charCodeAt(1) << 16) | (NEWLINE << 24)
    const tailLow = ZERO | code
    const tailHigh = (ZERO + 1) | code
    let { count, level } = batch
    let time = this.#time
    let lastEdge = count > 0 ? ticks[count - 1]! : Number.NaN
    let line = this.#line
    let digits = 0
    let fours = 0
    let ones = 0
    let at = from
    while (at < to && count < size) {
      if (b[at] !== HASH) break
      let i = at + 1
      let t = 0
      let bad = 0
      for (let k = 0; k < fours; k++) {
        // Four digits at once: pairs of bytes become two-digit numbers, then one of four digits.
        const four = view.getUint32(i, true) ^ ZEROS
        bad |= (four + SIXES) | four
        const pairs = Math.imul(four, 10) + (four >>> 8)
        t = t * 10000 + ((pairs & 0xff) * 100 + ((pairs >>> 16) & 0xff))
        i += 4
      }
      for (let k = 0; k < ones; k++) {
        const d = b[i++]! - ZERO
        if (d < 0 || d > 9) bad = TOPS
        t = t * 10 + d
      }
      if (b[i] !== NEWLINE || (bad & TOPS) !== 0 || digits === 0) {
        // Times have grown by a digit; anything else is not plain.
        let length = 0
        while (length < 16 && b[at + 1 + length]! >= ZERO && b[at + 1 + length]! <= 57) length++
        if (length === digits || length === 0 || length > 15 || b[at + 1 + length] !== NEWLINE) break
        digits = length
        fours = length >> 2
        ones = length & 3
        continue
      }
      const tail = view.getUint32(i + 1, true) & tailMask
      const value = tail === tailHigh ? 1 : 0
      if ((tail !== tailLow && tail !== tailHigh) || t < time || t === lastEdge) break
      time = t
      line += 2
      at = i + 1 + tailLength
      if (value === level) continue
      ticks[count] = t
      levels[count] = value
      count++
      level = value
      lastEdge = t
    }
    batch.count = count
    batch.level = level
    this.#time = time
    this.#line = line
    return at
  }

  /** The blanks before a word and the word. @returns where it ends. */
  #readWord(b: Uint8Array, from: number): number {
    let i = from
    let c = b[i]!
    if (c <= SPACE) {
      if (c === NEWLINE) {
        this.#line++
        this.#lineAt = i + 1
      } else if (c === 0) this.#fail(i - this.#lineAt + 1, 'a NUL byte; expected a change of value or a time')
      return i + 1
    }
    while (c > SPACE) c = b[++i]!
    if (this.#inComment) {
      if (i - from === 4 && matches(b, from, '$end')) this.#inComment = false
      return i
    }
    const first = b[from]!
    if (this.#value !== undefined) this.#onValue(this.#value, b, from, i)
    else if (first === HASH) this.#onTime(b, from, i)
    else if (first === DOLLAR) this.#onKeyword(b, from, i)
    else if (LEVEL_OF[first]! !== NONE) {
      if (i === from + 1) this.#fail(from - this.#lineAt + 1, 'a value without a code')
      // A word that begins with another letter of a level is more likely no change at all.
      const isChange = first === 48 || first === 49 || this.#declared.has(idNumber(b, from + 1, i))
      if (!isChange && !/[xXzZ]/.test(String.fromCharCode(first))) this.#noChange(b, from, i)
      this.#mustBeDeclared(b, from + 1, i)
      const level = LEVEL_OF[first]!
      for (let k = 0; k < this.#chosen.length; k++) {
        const s = this.#chosen[k]!
        if (s.width === 1 && !s.real && isId(b, from + 1, i, s.id)) this.#set(k, level)
      }
    } else if (isValue(first)) {
      // Vectors, real numbers and strings that are not chosen need no text; a chosen one has its code next.
      this.#value = latin1(b.subarray(from, i))
    } else this.#noChange(b, from, i)
    return i
  }

  #noChange(b: Uint8Array, from: number, to: number): never {
    const found = JSON.stringify(latin1(b.subarray(from, Math.min(to, from + 40))))
    this.#fail(from - this.#lineAt + 1, `found ${found}; expected a change of value or a time`)
  }

  #onTime(b: Uint8Array, from: number, to: number): void {
    const text = latin1(b.subarray(from + 1, Math.min(to, from + 64)))
    // Some writers give a fraction of the unit.
    if (!/^\d{1,20}(\.\d*)?$/.test(text)) {
      this.#fail(
        from - this.#lineAt + 1,
        `found ${JSON.stringify(`#${text.slice(0, 40)}`)}; expected a time such as #58000`,
      )
    }
    const t = Number(text)
    if (t < this.#time && this.#started)
      throw backwards(this.#line, from - this.#lineAt + 1, `#${text}`, `#${this.#time}`)
    if (!this.#started) {
      this.#started = true
      this.#first = t
      const [least, most] = openWindow(this.#options, t, this.#tickUs)
      this.#batch.setWindow(least, most)
      this.#tracker?.setWindow(least, most)
    } else if (t !== this.#time) this.#settle(this.#time)
    this.#time = t
    if (this.#batch.past || this.#tracker?.past) this.done = true
  }

  /** All changes of one time are there. */
  #settle(time: number): void {
    this.#pair?.settle(time)
    if (!this.#tracker) return
    const [a, b] = this.#volts
    const volt = (this.#chosen.length === 2 ? a - b : a) * (this.#options.probeFactor ?? 1)
    if (volt === this.#lastVolt) return
    if (Number.isNaN(volt)) {
      // Unknown from here on: the next value begins anew, after a gap.
      if (!Number.isNaN(this.#lastVolt)) this.#tracker.add(time, Number.NaN)
      this.#lastVolt = Number.NaN
      return
    }
    const since = time - this.#lastVoltAt
    if (!Number.isNaN(this.#lastVolt)) {
      if (since < this.#voltStep) this.#voltStep = since
      // A dump holds changes only: the value stood until one step before this one.
      // Nothing sampled comes so seldom: then values stand until they change.
      const hold = this.#voltStep * this.#tickUs > SAMPLED_US ? 1 : this.#voltStep
      if (since > 1.5 * hold) this.#tracker.add(time - hold, this.#lastVolt)
    }
    this.#tracker.add(time, volt)
    this.#lastVolt = volt
    this.#lastVoltAt = time
  }

  #onKeyword(b: Uint8Array, from: number, to: number): void {
    const word = latin1(b.subarray(from, Math.min(to, from + 40)))
    if (word === '$comment') this.#inComment = true
    else if (word === '$dumpoff') {
      // Unknown until $dumpon.
      for (let k = 0; k < this.#chosen.length; k++) this.#set(k, GAP)
      this.#volts = [Number.NaN, Number.NaN]
      this.#isDumpOff = true
    } else if (word === '$dumpon') this.#isDumpOff = false
    else if (word !== '$end' && word !== '$dumpvars' && word !== '$dumpall') {
      this.#fail(
        from - this.#lineAt + 1,
        `found ${JSON.stringify(word)}; expected a change of value or a time`,
      )
    }
  }

  /** The code after `b0101` or `r1.5`. Shorter vectors are extended on the left, x and z by themselves. */
  #onValue(value: string, b: Uint8Array, from: number, to: number): void {
    this.#value = undefined
    this.#mustBeDeclared(b, from, to)
    for (let k = 0; k < this.#chosen.length; k++) {
      const s = this.#chosen[k]!
      if (!isId(b, from, to, s.id)) continue
      if (s.real) {
        const number = Number(value.slice(1))
        // Not a number: not known, as after $dumpoff.
        const isUnknown = /^[rR][+-]?nan/i.test(value)
        if (!isUnknown && (!/^[rR]/.test(value) || value.length < 2 || !Number.isFinite(number))) {
          this.#fail(
            from - this.#lineAt + 1,
            `found ${JSON.stringify(value.slice(0, 40))} on ${s.name}; expected a real number such as r1.5`,
          )
        }
        if (!this.#isDumpOff) this.#volts[k] = isUnknown ? Number.NaN : number
        continue
      }
      if (!/^[bB][01xXzZuUwWhHlL-]+$/.test(value)) {
        this.#fail(
          from - this.#lineAt + 1,
          `found ${JSON.stringify(value.slice(0, 40))} on ${s.name}; expected binary digits such as b01`,
        )
      }
      const first = value[1]!
      const digit = s.bit < value.length - 1 ? value.at(-1 - s.bit)! : /[1hH]/.test(first) ? '0' : first
      this.#set(k, LEVEL_OF[digit.charCodeAt(0)]!)
    }
  }

  /** A change of something that the header does not know is damage: it may have been a change of the channel. */
  #mustBeDeclared(b: Uint8Array, from: number, to: number): void {
    if (this.#declared.has(idNumber(b, from, to))) return
    const code = latin1(b.subarray(from, Math.min(to, from + 40)))
    this.#fail(
      from - this.#lineAt + 1,
      `found the code ${JSON.stringify(code)}; expected one that a $var declares`,
    )
  }

  #set(index: number, level: number): void {
    if (this.#isDumpOff) return
    if (this.#pair === undefined) {
      if (!this.#tracker) this.#batch.change(this.#time, level)
    } else if (index === 0) this.#pair.a = level
    else this.#pair.b = level
  }
}

/** A code as a number: exact for seven characters, and for longer ones a wrong match is harmless. */
function idNumber(b: ArrayLike<number>, from: number, to: number): number {
  let n = 0
  for (let i = from; i < to; i++) n = (n * 95 + b[i]! - 32) % 9007199254740881
  return n
}

/** No level has this letter. */
const NONE = 255

/**
 * Levels by letter: those of IEEE 1364 (0, 1, x, z), and those that VHDL tools write (IEEE 1164): weak levels count as
 * levels; not initialised, weakly unknown and "do not care" are unknown.
 */
const LEVEL_OF = new Uint8Array(256).fill(NONE)
for (const [letters, level] of [
  ['0lL', LOW],
  ['1hH', HIGH],
  ['zZ', OFF],
  ['xXuUwW-', GAP],
] as const)
  for (const letter of letters) LEVEL_OF[letter.charCodeAt(0)] = level

/** `b0101`, `r1.5` or `sIDLE`: the code is the next word. */
function isValue(c: number): boolean {
  return c === 98 || c === 66 || c === 114 || c === 82 || c === 115 || c === 83
}

function isId(b: Uint8Array, from: number, to: number, id: string): boolean {
  return to - from === id.length && matches(b, from, id)
}

function matches(b: Uint8Array, at: number, text: string): boolean {
  for (let i = 0; i < text.length; i++) if (b[at + i] !== text.charCodeAt(i)) return false
  return true
}
