/**
 * Value change dump, IEEE 1364-2005 section 18. The header is read by words; the body, where the gigabytes are, by
 * one loop over the bytes.
 */
import { HIGH, LOW, OFF } from '../signal/index.js'
import { InputError } from '../units/index.js'
import { EdgeBatch, Pair } from './batch.js'
import { chooseChannels } from './channels.js'
import {
  backwards,
  type CaptureOptions,
  type CaptureSink,
  type CaptureSummary,
  type Importer,
  LINE_LIMIT,
} from './importer.js'
import { gridOf } from './resolution.js'
import { latin1 } from './text.js'

interface Signal {
  name: string
  id: string
  width: number
  /** Bit of a vector; 0 for a scalar. */
  bit: number
}

const UNITS: Record<string, number> = { s: 1e6, ms: 1e3, us: 1, ns: 1e-3, ps: 1e-6, fs: 1e-9 }
const MOST_SIGNALS = 100_000
const HEAD_EDGES = 2000
const WARM_RUNS = 64
const WARM_BYTES = 1024

const NEWLINE = 10
const SPACE = 32
const HASH = 35
const DOLLAR = 36

export class VcdImporter implements Importer {
  done = false
  readonly #options: CaptureOptions
  readonly #sink: CaptureSink
  readonly #notes: string[] = []
  readonly #signals: Signal[] = []
  readonly #scopes: string[] = []
  #tickUs = 0
  #line = 1
  #inBody = false
  /** Bytes of the last token or line that a chunk cut. */
  #carry: Uint8Array = new Uint8Array(0)

  // Header.
  #word = ''
  #command: string[] | undefined

  // Body.
  #ids: [string, string] = ['', '']
  #batch!: EdgeBatch
  #pair: Pair | undefined
  #chosen: Signal[] = []
  #time = 0
  #started = false
  #firstTime = Number.NaN
  #skipping = false
  #runs = 0
  #begun = false
  #held: { ticks: number[]; levels: number[] } | undefined = { ticks: [], levels: [] }
  #clock = { tickUs: 1, resolutionUs: 1 }
  #resolutionFrom = ''

  constructor(options: CaptureOptions, sink: CaptureSink) {
    this.#options = options
    this.#sink = sink
  }

  push(given: Uint8Array): void {
    if (this.done) return
    // Always the plain class, so that the hot loop sees one kind of array (a Node buffer is another).
    const chunk = new Uint8Array(given.buffer, given.byteOffset, given.length)
    let bytes = chunk
    if (this.#carry.length > 0) {
      bytes = new Uint8Array(this.#carry.length + chunk.length)
      bytes.set(this.#carry)
      bytes.set(chunk, this.#carry.length)
      this.#carry = new Uint8Array(0)
    }
    let at = 0
    if (!this.#inBody) {
      at = this.#readHeader(bytes)
      if (!this.#inBody) return
    }
    const end = bytes.lastIndexOf(NEWLINE) + 1
    // Short runs first: code the compiler has seen end is not thrown away each time it ends.
    for (; this.#runs < WARM_RUNS && at < end && !this.done; this.#runs++) {
      const until = bytes.indexOf(NEWLINE, Math.min(at + WARM_BYTES, end - 1)) + 1
      this.#readBody(bytes, at, until)
      at = until
    }
    if (end > at && !this.done) this.#readBody(bytes, at, end)
    const rest = Math.max(at, end)
    if (bytes.length - rest > LINE_LIMIT) {
      throw new InputError(`a line of more than ${LINE_LIMIT} bytes; expected value changes`, {
        line: this.#line,
        column: 1,
      })
    }
    // A copy: the caller uses its buffer again.
    this.#carry = new Uint8Array(bytes.subarray(rest))
  }

  end(): CaptureSummary {
    if (this.#word !== '') this.#onWord(this.#word)
    if (!this.#inBody) {
      throw new InputError('the file ends in its header; expected $enddefinitions $end', {
        line: this.#line,
        column: 1,
      })
    }
    if (this.#carry.length > 0) {
      const last = this.#carry
      this.#carry = new Uint8Array(0)
      // A time stamp cut in half would be a wrong time: the last line counts only if it is a change of value.
      if (last[0] === HASH) this.#notes.push('the last line, a time without a newline, was left out')
      else {
        const line = new Uint8Array(last.length + 1)
        line.set(last)
        line[last.length] = NEWLINE
        try {
          this.#readBody(line, 0, line.length)
        } catch (error) {
          if (!(error instanceof InputError)) throw error
          this.#notes.push('the last line is cut off and was left out')
        }
      }
    }
    this.#pair?.end()
    if (!this.#begun) this.#begin()
    this.#batch.flush()
    const start = Number.isNaN(this.#firstTime) ? 0 : this.#firstTime
    return {
      format: 'vcd',
      dialect: `VCD, time unit ${this.#tickUs} us, ${this.#signals.length} signals`,
      channels: this.#chosen.map((s) => s.name),
      available: this.#signals.map((s) => s.name),
      clock: this.#clock,
      resolutionFrom: this.#resolutionFrom,
      startUs: start * this.#tickUs,
      endUs: this.#time * this.#tickUs,
      edges: this.#batch.total,
      notes: this.#notes,
    }
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
        if (this.#onWord(word)) return i
      }
      if (c === NEWLINE) this.#line++
    }
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
    if (!Number.isInteger(width) || width < 1 || width > 65_536) {
      throw new InputError(`$var size ${JSON.stringify(size)}; expected 1 to 65536`, {
        line: this.#line,
        column: 1,
      })
    }
    if (this.#signals.length >= MOST_SIGNALS)
      throw new InputError(`more than ${MOST_SIGNALS} signals`, { line: this.#line, column: 1 })
    if (type === 'real' || type === 'realtime') return
    const full = [...this.#scopes, name].filter(Boolean).join('.')
    if (width === 1) {
      this.#signals.push({ name: full, id, width, bit: 0 })
      return
    }
    // Each bit of a short vector can be chosen by its index.
    const range = /\[(\d+):(\d+)\]$/.exec(full)
    const bare = range ? full.slice(0, range.index) : full
    const [from, to] = range ? [Number(range[1]), Number(range[2])] : [width - 1, 0]
    for (let bit = 0; bit < Math.min(width, 64); bit++) {
      const index = from >= to ? to + bit : to - bit
      this.#signals.push({ name: `${bare}[${index}]`, id, width, bit })
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
    if (chosen === undefined && names.length > 1) {
      this.#notes.push(`channel ${names[0]} was read, the first of ${names.length}; choose with --channel`)
    }
    this.#chosen = (chosen ?? [0]).map((i) => this.#signals[i]!)
    this.#ids = [this.#chosen[0]!.id, this.#chosen[1]?.id ?? '']
    this.#batch = new EdgeBatch(
      { begin: () => {}, push: (block) => this.#take(block.ticks, block.levels, block.count) },
      this.#options,
    )
    if (this.#chosen.length === 2) this.#pair = new Pair(this.#batch, this.#tickUs)
  }

  /** The first edges are held until they tell the resolution, which the sink must know first. */
  #take(ticks: Float64Array, levels: Uint8Array, count: number): void {
    if (this.#held) {
      for (let i = 0; i < count; i++) {
        this.#held.ticks.push(ticks[i]!)
        this.#held.levels.push(levels[i]!)
      }
      if (this.#held.ticks.length < HEAD_EDGES) return
      this.#begin()
      return
    }
    this.#sink.push({ ticks, levels, count })
  }

  #begin(): void {
    this.#begun = true
    // Before anything is known the batch may still hold edges.
    const held = this.#held
    this.#held = undefined
    const { rateHz } = this.#options
    const grid = gridOf(held?.ticks ?? [], held?.ticks.length ?? 0)
    const stated = rateHz === undefined ? undefined : 1e6 / rateHz
    this.#clock = { tickUs: this.#tickUs, resolutionUs: stated ?? grid * this.#tickUs }
    this.#resolutionFrom =
      stated === undefined
        ? grid > 1
          ? 'from the steps between the times'
          : 'the time unit of the file'
        : 'as stated'
    this.#sink.begin(this.#clock)
    if (held && held.ticks.length > 0) {
      this.#sink.push({
        ticks: Float64Array.from(held.ticks),
        levels: Uint8Array.from(held.levels),
        count: held.ticks.length,
      })
    }
  }

  /** Whole lines. One change or time on a line is the usual form; several words on a line are read too. */
  #readBody(b: Uint8Array, from: number, to: number): void {
    const [idA, idB] = this.#ids
    const single = this.#pair === undefined && this.#chosen[0]!.width === 1
    const code0 = idA.charCodeAt(0)
    const code1 = idA.length > 1 ? idA.charCodeAt(1) : -1
    const simple = single && idA.length <= 2 && idB === ''
    const batch = this.#batch
    let i = from
    let line = this.#line
    let time = this.#time
    let skipping = this.#skipping
    while (i < to) {
      const c = b[i]!
      if (c === HASH) {
        let t = 0
        let d = b[++i]! - 48
        const start = i
        while (d >= 0 && d <= 9) {
          t = t * 10 + d
          d = b[++i]! - 48
        }
        if (i === start || (b[i]! > SPACE && d !== -2)) {
          throw new InputError(
            `found ${JSON.stringify(textAt(b, start - 1, to))}; expected a time such as #58000`,
            { line, column: 1 },
          )
        }
        if (d === -2) {
          // Some writers give a fraction of the unit.
          let scale = 0.1
          for (d = b[++i]! - 48; d >= 0 && d <= 9; d = b[++i]! - 48, scale /= 10) t += d * scale
        }
        if (t < time) throw backwards(line, `#${t}`, `#${time}`)
        if (t > Number.MAX_SAFE_INTEGER)
          throw new InputError(`time #${textAt(b, start, to)} is too large`, { line, column: 1 })
        if (!this.#started) {
          this.#started = true
          this.#firstTime = t
          this.#setWindow(t)
        }
        if (t !== time) {
          this.#pair?.settle(time)
          if (batch.past) this.done = true
        }
        time = t
      } else if (c <= SPACE) {
        if (c === NEWLINE) line++
        i++
        continue
      } else if (c === 48 || c === 49) {
        // The hot case: a scalar 0 or 1.
        if (simple) {
          if (
            b[i + 1] === code0 &&
            (code1 < 0 ? b[i + 2]! <= SPACE : b[i + 2] === code1 && b[i + 3]! <= SPACE)
          ) {
            if (!skipping) batch.change(time, c - 48)
            i += code1 < 0 ? 2 : 3
          } else {
            if (b[i + 1]! <= SPACE) throw new InputError('a value without a code', { line, column: 1 })
            while (b[++i]! > SPACE);
          }
        } else i = this.#scalar(b, i, c - 48, time, line)
      } else if (c === 120 || c === 88 || c === 122 || c === 90) {
        i = this.#scalar(b, i, OFF, time, line)
      } else if (c === 98 || c === 66) {
        i = this.#vector(b, i, to, time, line)
      } else if (c === 114 || c === 82) {
        i = skipWord(b, skipSpace(b, skipWord(b, i)))
      } else if (c === DOLLAR) {
        const word = textAt(b, i, to)
        i = skipWord(b, i)
        if (word === '$comment') {
          const text = latin1(b.subarray(i, to))
          const end = text.indexOf('$end')
          if (end < 0) {
            // A comment over the end of the chunk: give up on it line by line.
            this.#notes.push('a comment without $end')
            i = to
          } else {
            for (let k = 0; k < end; k++) if (text.charCodeAt(k) === NEWLINE) line++
            i += end + 4
          }
        } else if (word === '$dumpoff') {
          // What follows is unknown until $dumpon.
          this.#know(OFF, time)
          skipping = true
        } else if (word === '$dumpon') skipping = false
        else if (word !== '$end' && word !== '$dumpvars' && word !== '$dumpall') {
          throw new InputError(`found ${JSON.stringify(word)}; expected a change of value`, {
            line,
            column: 1,
          })
        }
      } else {
        throw new InputError(
          `found ${JSON.stringify(textAt(b, i, to))}; expected a change of value or a time`,
          { line, column: 1 },
        )
      }
      if (this.done) break
    }
    this.#line = line
    this.#time = time
    this.#skipping = skipping
  }

  #setWindow(first: number): void {
    const { skipUs = 0, fromUs, toUs } = this.#options
    const from = Math.max(
      fromUs ?? Number.NEGATIVE_INFINITY,
      skipUs > 0 ? first * this.#tickUs + skipUs : Number.NEGATIVE_INFINITY,
    )
    this.#batch.setWindow(from / this.#tickUs, (toUs ?? Number.POSITIVE_INFINITY) / this.#tickUs)
  }

  #know(level: number, time: number): void {
    if (this.#pair) {
      this.#pair.a = level
      this.#pair.b = level
      this.#pair.settle(time)
    } else this.#batch.change(time, level)
  }

  #set(index: 0 | 1, level: number, time: number): void {
    if (this.#skipping) return
    if (this.#pair === undefined) this.#batch.change(time, level)
    else if (index === 0) this.#pair.a = level
    else this.#pair.b = level
  }

  #scalar(b: Uint8Array, at: number, level: number, time: number, line: number): number {
    const end = skipWord(b, at + 1)
    if (end === at + 1) throw new InputError('a value without a code', { line, column: 1 })
    this.#chosen.forEach((s, k) => {
      if (s.width === 1 && end - at - 1 === s.id.length && matches(b, at + 1, s.id))
        this.#set(k as 0 | 1, level, time)
    })
    return end
  }

  /** `b0101 id`: shorter vectors are extended on the left, x and z by themselves. */
  #vector(b: Uint8Array, at: number, to: number, time: number, line: number): number {
    const end = skipWord(b, at)
    const id = skipSpace(b, end)
    const idEnd = skipWord(b, id)
    if (idEnd === id || id >= to) throw new InputError('a vector without a code', { line, column: 1 })
    const digits = end - at - 1
    this.#chosen.forEach((s, k) => {
      if (idEnd - id !== s.id.length || !matches(b, id, s.id)) return
      const first = b[at + 1]!
      const c = s.bit < digits ? b[end - 1 - s.bit]! : first === 49 ? 48 : first
      this.#set(k as 0 | 1, c === 48 ? LOW : c === 49 ? HIGH : OFF, time)
    })
    return idEnd
  }
}

function matches(b: Uint8Array, at: number, id: string): boolean {
  for (let i = 0; i < id.length; i++) if (b[at + i] !== id.charCodeAt(i)) return false
  return true
}

function skipWord(b: Uint8Array, at: number): number {
  let i = at
  while (i < b.length && b[i]! > SPACE) i++
  return i
}

function skipSpace(b: Uint8Array, at: number): number {
  let i = at
  while (i < b.length && b[i]! <= SPACE) i++
  return i
}

function textAt(b: Uint8Array, at: number, to: number): string {
  return latin1(b.subarray(at, Math.min(skipWord(b, at), to, at + 40)))
}
