/**
 * Stimulus scripts: what happens outside the controller while its firmware runs. Our own small language; its words
 * are described in docs/method/simulate.md. Deterministic: chance comes from a seed.
 */
import { InputError, nearest, parseQuantity } from '../../../units/index.js'

export type StimulusAction =
  | { kind: 'bytes'; port: number; bytes: Uint8Array; baud?: number }
  | {
      kind: 'random'
      port: number
      perSecond: number
      forUs: number
      seed: number
      from: Uint8Array
      baud?: number
    }
  | { kind: 'pin'; pin: string; level: 0 | 1 | undefined }
  | { kind: 'volt'; input: string; volt: number }
  | { kind: 'reset'; cause: ResetCause }

/** Resets from outside. */
export type ResetCause = 'external' | 'brown-out' | 'power'
const RESETS: Readonly<Record<string, ResetCause>> = {
  pin: 'external',
  'brown-out': 'brown-out',
  power: 'power',
}

export interface StimulusEvent {
  /** From power-up, or from the start of the round of a repeated block; us. */
  atUs: number
  action: StimulusAction
  line: number
  column: number
}

export interface StimulusRepeat {
  everyUs: number
  fromUs: number
  /** Rounds begin before this; Infinity: as long as the run lasts. */
  toUs: number
  events: StimulusEvent[]
}

export interface Stimulus {
  name: string
  events: StimulusEvent[]
  repeats: StimulusRepeat[]
}

const MOST_BYTES = 4 << 20
const MOST_LINES = 200_000
const MOST_REPEATS = 1000
const SHORTEST_REPEAT_US = 10

/**
 * Read a stimulus script.
 * @throws InputError with line and column: what was found, what was expected.
 */
export function parseStimulus(text: string, name: string): Stimulus {
  if (text.length > MOST_BYTES) throw new InputError('a stimulus script of more than 4 MB', { file: name })
  const stimulus: Stimulus = { name, events: [], repeats: [] }
  let block: StimulusRepeat | undefined
  let blockLine = 0
  const lines = text.split(/\r\n|\n|\r/)
  if (lines.length > MOST_LINES) throw new InputError(`more than ${MOST_LINES} lines`, { file: name })
  lines.forEach((source, index) => {
    const line = new Line(source, name, index + 1)
    if (line.ended) return
    const word = line.word('at, every or end')
    if (word.text === 'end') {
      if (block === undefined) throw line.fail(word, '"end" without a block that "every" has opened')
      if (block.events.length === 0)
        throw line.fail(word, 'an empty block; expected lines with "at" before "end"')
      stimulus.repeats.push(block)
      block = undefined
    } else if (word.text === 'at') {
      const atUs = line.time('time')
      const event: StimulusEvent = { atUs, ...line.action() }
      if (block === undefined) stimulus.events.push(event)
      else {
        if (atUs >= block.everyUs) {
          throw line.fail(
            word,
            'a time in a block that is not below its period; expected one inside the round',
          )
        }
        block.events.push(event)
      }
    } else if (word.text === 'every') {
      if (block !== undefined)
        throw line.fail(word, `"every" inside the block of line ${blockLine}; expected "end" first`)
      if (stimulus.repeats.length >= MOST_REPEATS) throw line.fail(word, `more than ${MOST_REPEATS} blocks`)
      block = repeatOf(line, word)
      blockLine = index + 1
      if (!line.ended) {
        block.events.push({ atUs: 0, ...line.action() })
        stimulus.repeats.push(block)
        block = undefined
      }
    } else throw line.unknown(word, ['at', 'every', 'end'])
    line.expectEnd()
  })
  if (block !== undefined) {
    throw new InputError('a block without its "end"', { file: name, line: blockLine, column: 1 })
  }
  // Stable: lines with the same time keep their order.
  stimulus.events.sort((a, b) => a.atUs - b.atUs)
  for (const repeat of stimulus.repeats) repeat.events.sort((a, b) => a.atUs - b.atUs)
  return stimulus
}

function repeatOf(line: Line, word: Token): StimulusRepeat {
  const everyUs = line.time('period')
  if (everyUs < SHORTEST_REPEAT_US) {
    throw line.fail(word, `a period of ${everyUs} us; expected at least ${SHORTEST_REPEAT_US} us`)
  }
  const repeat: StimulusRepeat = { everyUs, fromUs: 0, toUs: Number.POSITIVE_INFINITY, events: [] }
  if (line.take('from')) repeat.fromUs = line.time('time')
  if (line.take('to')) repeat.toUs = line.time('time')
  return repeat
}

interface Token {
  text: string
  column: number
  quoted: boolean
}

class Line {
  readonly #tokens: Token[]
  readonly #name: string
  readonly #number: number
  readonly #length: number
  #next = 0

  constructor(source: string, name: string, number: number) {
    this.#name = name
    this.#number = number
    this.#length = source.length
    this.#tokens = this.#split(source)
  }

  #split(source: string): Token[] {
    const tokens: Token[] = []
    const pattern = /\s+|#.*|"((?:[^"\\]|\\.)*)"|[^\s"#]+|"/gu
    for (const match of source.matchAll(pattern)) {
      const text = match[0]
      const column = match.index + 1
      if (/^\s|^#/u.test(text)) continue
      if (text === '"') {
        throw this.fail({ text, column, quoted: false }, 'a quotation mark without its partner')
      }
      if (match[1] !== undefined) tokens.push({ text: match[1], column, quoted: true })
      else tokens.push({ text, column, quoted: false })
    }
    return tokens
  }

  get ended(): boolean {
    return this.#next >= this.#tokens.length
  }

  fail(token: Token | undefined, message: string): InputError {
    return new InputError(message, {
      file: this.#name,
      line: this.#number,
      column: token?.column ?? this.#length + 1,
    })
  }

  unknown(token: Token, expected: string[]): InputError {
    const close = nearest(token.text, expected)
    const shown = token.text.length > 40 ? `${token.text.slice(0, 40)}…` : token.text
    return this.fail(
      token,
      `"${shown}"; expected ${expected.join(', ')}${close ? `; the nearest is "${close}"` : ''}`,
    )
  }

  word(expected: string): Token {
    const token = this.#tokens[this.#next]
    if (token === undefined) throw this.fail(undefined, `the line ends here; expected ${expected}`)
    this.#next++
    return token
  }

  take(text: string): boolean {
    const token = this.#tokens[this.#next]
    if (token === undefined || token.quoted || token.text !== text) return false
    this.#next++
    return true
  }

  expectEnd(): void {
    const token = this.#tokens[this.#next]
    if (token !== undefined)
      throw this.fail(token, `"${token.text.slice(0, 40)}"; expected the end of the line`)
  }

  #quantity(what: string, dimension: 'time' | 'voltage' | 'rate' | 'baud'): number {
    const first = this.word(`a ${what}`)
    let text = first.text
    // `5 ms` is two words, `5ms` one.
    const unit = this.#tokens[this.#next]
    if (/^[-+]?[\d.,]+(?:[eE][-+]?\d+)?$/u.test(text) && unit !== undefined && !unit.quoted) {
      const both = parseQuantity(`${text} ${unit.text}`, dimension)
      if (both.ok) {
        this.#next++
        return both.value
      }
    }
    text = first.text
    const parsed = parseQuantity(text, dimension)
    if (!parsed.ok) throw this.fail(first, `"${text.slice(0, 40)}" as a ${what}; expected ${parsed.expected}`)
    return parsed.value
  }

  time(what: string): number {
    const token = this.#tokens[this.#next]
    const us = this.#quantity(what, 'time')
    if (us < 0 || us > 48 * 3600e6) throw this.fail(token, `a ${what} of ${us} us; expected 0 to 48 h`)
    return us
  }

  action(): { action: StimulusAction; line: number; column: number } {
    const word = this.word('serial, pin, volt or reset')
    const place = { line: this.#number, column: word.column }
    if (word.text === 'serial') return { action: this.#serial(), ...place }
    if (word.text === 'pin') {
      const pin = this.#pinName()
      const level = this.word('low, high or free')
      const levels: Record<string, 0 | 1 | undefined> = { low: 0, high: 1, free: undefined }
      if (!Object.hasOwn(levels, level.text)) throw this.unknown(level, ['low', 'high', 'free'])
      return { action: { kind: 'pin', pin, level: levels[level.text] }, ...place }
    }
    if (word.text === 'volt') {
      const input = this.word('an input, such as ADC0 or PC0')
      if (!/^(ADC\d{1,2}|AIN[01]|P[A-Z][0-7])$/iu.test(input.text)) {
        throw this.fail(input, `"${input.text.slice(0, 40)}"; expected an input such as ADC0, AIN0 or PC0`)
      }
      const token = this.#tokens[this.#next]
      const volt = this.#quantity('voltage', 'voltage')
      if (volt < -1 || volt > 60) throw this.fail(token, `${volt} V at an input; expected -1 to 60 V`)
      return { action: { kind: 'volt', input: input.text.toUpperCase(), volt }, ...place }
    }
    if (word.text === 'reset') {
      const cause = this.word('pin, brown-out or power')
      if (!Object.hasOwn(RESETS, cause.text)) throw this.unknown(cause, Object.keys(RESETS))
      return { action: { kind: 'reset', cause: RESETS[cause.text]! }, ...place }
    }
    throw this.unknown(word, ['serial', 'pin', 'volt', 'reset'])
  }

  #pinName(): string {
    const pin = this.word('a port pin, such as PD2')
    if (!/^P[A-Z][0-7]$/iu.test(pin.text)) {
      throw this.fail(pin, `"${pin.text.slice(0, 40)}"; expected a port pin such as PD2`)
    }
    return pin.text.toUpperCase()
  }

  #serial(): StimulusAction {
    const number = this.word('the number of a serial port')
    if (!/^[0-9]$/u.test(number.text)) {
      throw this.fail(number, `"${number.text.slice(0, 40)}"; expected the number of a serial port, 0 to 9`)
    }
    const port = Number(number.text)
    let baud: number | undefined
    if (this.take('with')) {
      const token = this.#tokens[this.#next]
      baud = this.#quantity('baud rate', 'baud')
      if (baud < 50 || baud > 4e6) throw this.fail(token, `${baud} baud; expected 50 to 4000000`)
    }
    const withBaud = baud === undefined ? {} : { baud }
    const word = this.word('"text", bytes such as 0x0D, or random')
    if (!word.quoted && word.text === 'random') return { ...this.#random(port), ...withBaud }
    this.#next--
    const bytes: number[] = []
    while (!this.ended) bytes.push(...this.#byteToken(this.word('bytes')))
    if (bytes.length > 65536) throw this.fail(word, `${bytes.length} bytes at once; expected at most 65536`)
    return { kind: 'bytes', port, bytes: Uint8Array.from(bytes), ...withBaud }
  }

  #random(port: number): Extract<StimulusAction, { kind: 'random' }> {
    const token = this.#tokens[this.#next]
    const perSecond = this.#quantity('rate', 'rate')
    if (perSecond <= 0 || perSecond > 1e6)
      throw this.fail(token, `${perSecond} bytes per second; expected up to 1000000 /s`)
    const action = {
      kind: 'random' as const,
      port,
      perSecond,
      forUs: Number.POSITIVE_INFINITY,
      seed: 1,
      from: Uint8Array.from({ length: 256 }, (_, i) => i),
    }
    while (!this.ended) {
      const word = this.word('for, seed or of')
      if (word.text === 'for') action.forUs = this.time('time')
      else if (word.text === 'seed') {
        const seed = this.word('a whole number')
        if (!/^\d{1,9}$/u.test(seed.text))
          throw this.fail(seed, `"${seed.text.slice(0, 40)}" as a seed; expected a whole number`)
        action.seed = Number(seed.text)
      } else if (word.text === 'of') {
        const of = this.word('"characters"')
        const bytes = this.#byteToken(of)
        if (bytes.length === 0) throw this.fail(of, 'no characters to choose from')
        action.from = Uint8Array.from(bytes)
      } else throw this.unknown(word, ['for', 'seed', 'of'])
    }
    return action
  }

  #byteToken(token: Token): number[] {
    if (token.quoted) return this.#unescape(token)
    const value = /^(0x[0-9a-f]{1,2}|\d{1,3})$/iu.test(token.text) ? Number(token.text) : Number.NaN
    if (!(value <= 255)) {
      throw this.fail(token, `"${token.text.slice(0, 40)}"; expected "text" or a byte such as 0x0D, 0 to 255`)
    }
    return [value]
  }

  #unescape(token: Token): number[] {
    const bytes: number[] = []
    const pattern = /\\(x[0-9a-fA-F]{2}|.)|[\s\S]/gu
    for (const match of token.text.matchAll(pattern)) {
      const code = match[1]
      if (code === undefined) bytes.push(...utf8(match[0]))
      else if (code.length === 3) bytes.push(Number.parseInt(code.slice(1), 16))
      else {
        const known: Record<string, number> = { n: 10, r: 13, t: 9, '0': 0, '\\': 92, '"': 34 }
        const value = Object.hasOwn(known, code) ? known[code] : undefined
        if (value === undefined) {
          throw this.fail(
            { ...token, column: token.column + 1 + match.index },
            `"\\${code}"; expected \\n, \\r, \\t, \\0, \\\\, \\" or \\xHH`,
          )
        }
        bytes.push(value)
      }
    }
    return bytes
  }
}

/** UTF-8 of one character; the domain rooms have no TextEncoder. */
function utf8(character: string): number[] {
  const code = character.codePointAt(0)!
  if (code < 0x80) return [code]
  if (code < 0x800) return [0xc0 | (code >> 6), 0x80 | (code & 63)]
  if (code < 0x10000) return [0xe0 | (code >> 12), 0x80 | ((code >> 6) & 63), 0x80 | (code & 63)]
  return [0xf0 | (code >> 18), 0x80 | ((code >> 12) & 63), 0x80 | ((code >> 6) & 63), 0x80 | (code & 63)]
}
