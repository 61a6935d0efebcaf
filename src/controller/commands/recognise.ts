/** Finds commands among the bytes that came in on a serial line. */
import { InputError, type InputPlace } from '../../units/index.js'
import type { CommandsDesign } from './design.js'
import {
  COMMAND_KINDS,
  type FieldValues,
  type Pattern,
  PatternError,
  parsePattern,
  patternBytes,
  textBytes,
  valuesOf,
} from './pattern.js'

/** A byte on its way into the controller. */
export interface SerialByte {
  value: number
  /** When its last bit was there, us. */
  timeUs: number
}

interface At {
  /** When the last byte of the command was there, us. */
  timeUs: number
  /** The command as it came, for people. */
  text: string
}

export type Command = At &
  (
    | {
        kind: 'speed'
        address: number /** Share of full speed, 0 to 1. */
        speed: number
        forward: boolean | undefined
      }
    | { kind: 'function'; address: number; function: number; on: boolean }
    | { kind: 'stop' | 'powerOn' | 'powerOff' | 'serviceOn' | 'serviceOff' }
    | { kind: 'stopOne' | 'forget'; address: number }
    | { kind: 'write' | 'verify'; cv: number; value: number }
    | { kind: 'read'; cv: number }
  )

/** What the firmware may say; patterns without fields of their own. */
export const ANSWERS = ['acknowledged', 'unanswered'] as const
export type Answer = (typeof ANSWERS)[number]

/** A command is never longer, bytes; a longer line is none. */
const LONGEST = 1024

/** Everything wrong with the patterns, with the keys below `commands` where it is. */
export function commandFaults(design: CommandsDesign): { path: (string | number)[]; message: string }[] {
  const faults: { path: (string | number)[]; message: string }[] = []
  const attempt = (path: (string | number)[], run: () => void) => {
    try {
      run()
    } catch (error) {
      if (!(error instanceof PatternError)) throw error
      faults.push({ path, message: error.message })
    }
  }
  attempt(['end'], () => {
    textBytes(design.end)
  })
  for (const kind of COMMAND_KINDS)
    for (const [i, text] of (design[kind] ?? []).entries())
      attempt([kind, i], () => {
        parsePattern(kind, text)
      })
  for (const key of ANSWERS)
    for (const [i, text] of (design[key] ?? []).entries())
      attempt([key, i], () => {
        parsePattern('stop', text)
      })
  for (const [i, text] of (design.readAnswer ?? []).entries())
    attempt(['readAnswer', i], () => {
      parsePattern('readAnswer', text)
    })
  if (COMMAND_KINDS.every((kind) => design[kind] === undefined))
    faults.push({ path: [], message: `no pattern; expected at least one of ${COMMAND_KINDS.join(', ')}` })
  return faults
}

/**
 * The commands in what came in, in the order of time.
 * @throws InputError when a pattern is none.
 */
export function recogniseCommands(
  bytes: readonly SerialByte[],
  design: CommandsDesign,
  place: InputPlace = {},
): Command[] {
  const [fault] = commandFaults(design)
  if (fault) throw new InputError(`commands.${fault.path.join('.')}: ${fault.message}`, place)
  const patterns = COMMAND_KINDS.flatMap((kind) => (design[kind] ?? []).map((p) => parsePattern(kind, p)))
  const end = textBytes(design.end)
  return end.length > 0 ? inLines(bytes, patterns, end, design) : inStream(bytes, patterns, design)
}

function inLines(
  bytes: readonly SerialByte[],
  patterns: readonly Pattern[],
  end: readonly number[],
  design: CommandsDesign,
): Command[] {
  const matchers = patterns.map((p) => ({ pattern: p, regexp: new RegExp(`^ *${p.source} *$`) }))
  const commands: Command[] = []
  let line: number[] = []
  for (const { value, timeUs } of bytes) {
    line.push(value)
    if (line.length > LONGEST + end.length) line = line.slice(-LONGEST)
    if (value !== end.at(-1) || !end.every((b, i) => line.at(i - end.length) === b)) continue
    // A carriage return before the line feed belongs to the end.
    const text = String.fromCharCode(...line.slice(0, -end.length)).replace(/\r$/, '')
    line = []
    for (const { pattern, regexp } of matchers) {
      const match = regexp.exec(text)
      const command = match && commandOf(pattern, match, { timeUs, text: text.trim() }, design)
      if (!command) continue
      commands.push(command)
      break
    }
  }
  return commands
}

/** Commands without an end: each begins where the one before ended; what is none is passed over byte by byte. */
function inStream(
  bytes: readonly SerialByte[],
  patterns: readonly Pattern[],
  design: CommandsDesign,
): Command[] {
  const matchers = patterns.map((p) => ({ pattern: p, regexp: new RegExp(p.source, 'y') }))
  const text = bytes.map((b) => String.fromCharCode(b.value)).join('')
  const commands: Command[] = []
  for (let at = 0; at < text.length; ) {
    let next = at + 1
    for (const { pattern, regexp } of matchers) {
      regexp.lastIndex = at
      const match = regexp.exec(text)
      if (!match || match[0].length === 0) continue
      const shown = [...match[0]].map((c) => c.charCodeAt(0).toString(16).padStart(2, '0')).join(' ')
      const last = bytes[at + match[0].length - 1]!
      const command = commandOf(pattern, match, { timeUs: last.timeUs, text: shown }, design)
      if (!command) continue
      commands.push(command)
      next = at + match[0].length
      break
    }
    at = next
  }
  return commands
}

/** @returns undefined where a value is none that a command can have: then the bytes are no command. */
function commandOf(
  pattern: Pattern,
  match: RegExpExecArray,
  at: At,
  design: CommandsDesign,
): Command | undefined {
  const v = valuesOf(pattern, match)
  const { kind } = pattern
  switch (kind) {
    case 'stop':
    case 'powerOn':
    case 'powerOff':
    case 'serviceOn':
    case 'serviceOff':
      return { kind, ...at }
    default:
  }
  if (kind === 'write' || kind === 'verify') {
    const [cv, value] = [v.cv!, v.value!]
    return cv >= 1 && cv <= 1024 && value >= 0 && value <= 255 ? { kind, cv, value, ...at } : undefined
  }
  if (kind === 'read') return v.cv! >= 1 && v.cv! <= 1024 ? { kind, cv: v.cv!, ...at } : undefined
  const address = v.address!
  // 10239 is the highest long address: S-9.2.1:2012 C.
  if (address < 1 || address > 10239) return undefined
  if (kind === 'stopOne' || kind === 'forget') return { kind, address, ...at }
  if (kind === 'function')
    return v.function! >= 0 && v.function! <= 68
      ? { kind, address, function: v.function!, on: v.on!, ...at }
      : undefined
  const speed = v.speed!
  const share = Math.abs(speed) / design.fullSpeed
  if (share > 1) return undefined
  // Without a direction of its own the sign tells it; 0 has none.
  const forward = v.forward ?? (speed === 0 ? undefined : speed > 0)
  return { kind, address, speed: share, forward, ...at }
}

/** A command before it is sent. */
export type CommandValues =
  | { kind: 'speed'; address: number; speed: number; forward: boolean }
  | { kind: 'function'; address: number; function: number; on: boolean }
  | { kind: 'stopOne' | 'forget'; address: number }
  | { kind: 'write' | 'verify'; cv: number; value: number }
  | { kind: 'read'; cv: number }
  | { kind: 'stop' | 'powerOn' | 'powerOff' | 'serviceOn' | 'serviceOff' }

/**
 * The bytes that say a command in the firmware's language, its end included.
 * @returns undefined where the design has no pattern for it.
 */
export function commandBytes(command: CommandValues, design: CommandsDesign): Uint8Array | undefined {
  const text = design[command.kind]?.[0]
  if (text === undefined) return undefined
  const pattern = parsePattern(command.kind, text)
  const values: FieldValues = {}
  for (const [key, value] of Object.entries(command))
    if (key !== 'kind') Object.assign(values, { [key]: value })
  if (command.kind === 'speed') {
    const size = Math.round(command.speed * design.fullSpeed)
    const hasDirection = pattern.parts.some((p) => p.field === 'direction')
    values.speed = hasDirection || command.forward ? size : -size
  }
  return Uint8Array.from([...patternBytes(pattern, values), ...textBytes(design.end)])
}

/** An answer of the firmware; of a read the value that it says, and the CV where it says that. */
export type Answered = { timeUs: number } & (
  | { answer: Answer }
  | { answer: 'read'; value: number; cv: number | undefined }
)

/** Answers among the bytes that the firmware sent, each line by itself. */
export function recogniseAnswers(bytes: readonly SerialByte[], design: CommandsDesign): Answered[] {
  const whole = (source: string) => new RegExp(`^ *${source} *$`)
  const fixed = ANSWERS.flatMap((answer) =>
    (design[answer] ?? []).map((text) => ({ answer, regexp: whole(parsePattern('stop', text).source) })),
  )
  const values = (design.readAnswer ?? []).map((text) => {
    const pattern = parsePattern('readAnswer', text)
    return { pattern, regexp: whole(pattern.source) }
  })
  const answerIn = (line: string, timeUs: number): Answered | undefined => {
    const found = fixed.find((m) => m.regexp.test(line))
    if (found) return { timeUs, answer: found.answer }
    for (const { pattern, regexp } of values) {
      const match = regexp.exec(line)
      const { value, cv } = match ? valuesOf(pattern, match) : {}
      if (value !== undefined) return { timeUs, answer: 'read', value, cv }
    }
    return undefined
  }
  const list: Answered[] = []
  let line = ''
  for (const { value, timeUs } of bytes) {
    if (value !== 10 && value !== 13) {
      line = (line + String.fromCharCode(value)).slice(-LONGEST)
      continue
    }
    const found = line === '' ? undefined : answerIn(line, timeUs)
    if (found) list.push(found)
    line = ''
  }
  return list
}
