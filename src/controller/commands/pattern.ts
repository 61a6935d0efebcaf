/** A pattern of the user's own: how one kind of command looks as bytes. */

export const COMMAND_KINDS = [
  'speed',
  'function',
  'stop',
  'stopOne',
  'forget',
  'write',
  'verify',
  'read',
  'powerOn',
  'powerOff',
  'serviceOn',
  'serviceOff',
] as const
export type CommandKind = (typeof COMMAND_KINDS)[number]

const FIELDS = ['address', 'speed', 'direction', 'function', 'state', 'cv', 'value', 'any'] as const
type Field = (typeof FIELDS)[number]

/** Fields that a command, or the answer to a read, cannot do without. */
const NEEDED: Record<CommandKind | 'readAnswer', readonly Field[]> = {
  speed: ['address', 'speed'],
  function: ['address', 'function', 'state'],
  stop: [],
  stopOne: ['address'],
  forget: ['address'],
  write: ['cv', 'value'],
  verify: ['cv', 'value'],
  read: ['cv'],
  readAnswer: ['value'],
  powerOn: [],
  powerOff: [],
  serviceOn: [],
  serviceOff: [],
}

type Form = 'decimal' | 'hex' | 'u8' | 'u16' | 'u16le' | 'words'

interface Part {
  field: Field
  form: Form
  /** Forward and reverse, on and off. */
  words?: readonly [string, string]
}

export interface Pattern<Kind = CommandKind> {
  kind: Kind
  /** Matches a command as text in which each character is one byte. */
  source: string
  parts: readonly Part[]
  /** The same to write one: bytes as they are, and fields. */
  pieces: readonly (readonly number[] | Part)[]
}

/** Values of a command's fields. */
export type FieldValues = Partial<Record<Exclude<Field, 'any' | 'direction' | 'state'>, number>> & {
  forward?: boolean
  on?: boolean
}

/** Thrown with what was found and what was expected; the caller knows the place. */
export class PatternError extends Error {
  override name = 'PatternError'
}

const NUMBER_FORMS: Record<Exclude<Form, 'words'>, string> = {
  decimal: '([-+]?\\d{1,7})',
  hex: '([\\da-fA-F]{1,6})',
  u8: '([\\s\\S])',
  u16: '([\\s\\S]{2})',
  u16le: '([\\s\\S]{2})',
}

/** @throws PatternError when the text is no pattern for that kind of command. */
export function parsePattern<Kind extends keyof typeof NEEDED>(kind: Kind, text: string): Pattern<Kind> {
  let source = ''
  const parts: Part[] = []
  const pieces: (readonly number[] | Part)[] = []
  const token = /\{([^{}]*)\}|\\(x[\da-fA-F]{2}|.)|( +)|[\s\S]/gu
  for (const match of text.matchAll(token)) {
    const [whole, field, escaped, spaces] = match
    if (field !== undefined) {
      const part = parseField(field)
      if (part.field !== 'any' && parts.some((p) => p.field === part.field))
        throw new PatternError(`{${part.field}} twice; expected each field once`)
      if (isNumberText(part) && isNumberText(pieces.at(-1)))
        throw new PatternError(`{${field}} right after another number; expected something between them`)
      parts.push(part)
      pieces.push(part)
      source += sourceOf(part)
    } else if (escaped !== undefined) {
      source += quoted(unescapeByte(escaped))
      pieces.push([unescapeByte(escaped)])
    } else if (spaces !== undefined) {
      source += ' +'
      pieces.push([32])
    } else if (whole === '{' || whole === '}')
      throw new PatternError(`"${whole}" without its partner; expected a field such as {address}`)
    else {
      source += utf8(whole).map(quoted).join('')
      pieces.push(utf8(whole))
    }
  }
  if (source === '') throw new PatternError('an empty pattern; expected text such as "go {address} {speed}"')
  const missing = NEEDED[kind].filter((f) => !parts.some((p) => p.field === f))
  if (missing.length > 0)
    throw new PatternError(
      `no ${missing.map((f) => `{${f}}`).join(' and ')} in the pattern; expected it there`,
    )
  return { kind, source, parts, pieces }
}

/** A number of as many digits as there are: nobody can tell where the next one begins. */
function isNumberText(piece: readonly number[] | Part | undefined): boolean {
  return piece !== undefined && 'form' in piece && piece.field !== 'any' && /^(decimal|hex)$/.test(piece.form)
}

/** Bytes of a text in which `\n`, `\xHH` and the like stand for bytes. @throws PatternError */
export function textBytes(text: string): number[] {
  const bytes: number[] = []
  for (const [whole, escaped] of text.matchAll(/\\(x[\da-fA-F]{2}|.)|[\s\S]/gu))
    bytes.push(...(escaped === undefined ? utf8(whole) : [unescapeByte(escaped)]))
  return bytes
}

function parseField(text: string): Part {
  const colon = text.indexOf(':')
  const name = (colon < 0 ? text : text.slice(0, colon)).trim()
  const form = colon < 0 ? undefined : text.slice(colon + 1)
  const field = FIELDS.find((f) => f === name)
  if (field === undefined)
    throw new PatternError(`{${text}}; expected one of ${FIELDS.map((f) => `{${f}}`).join(', ')}`)
  if (field === 'any') return { field, form: 'decimal' }
  if (field === 'direction' || field === 'state') {
    const words = form?.split('|')
    if (words?.length !== 2 || words.some((w) => w === '') || words[0] === words[1]) {
      const example = field === 'direction' ? '{direction:f|r}' : '{state:on|off}'
      throw new PatternError(`{${text}}; expected the two words, such as ${example}`)
    }
    return { field, form: 'words', words: [words[0]!, words[1]!] }
  }
  if (form === undefined) return { field, form: 'decimal' }
  if (!Object.hasOwn(NUMBER_FORMS, form))
    throw new PatternError(`{${text}}; expected a form of ${Object.keys(NUMBER_FORMS).join(', ')}`)
  return { field, form: form as Form }
}

function sourceOf({ field, form, words }: Part): string {
  if (field === 'any') return '([^ ]+)'
  if (words) return `(${words.map((w) => textBytes(w).map(quoted).join('')).join('|')})`
  return NUMBER_FORMS[form as keyof typeof NUMBER_FORMS]
}

const ESCAPES: Record<string, number> = { n: 10, r: 13, t: 9, '0': 0, '\\': 92, '{': 123, '}': 125 }

function unescapeByte(escaped: string): number {
  if (escaped.length === 3) return Number.parseInt(escaped.slice(1), 16)
  const byte = Object.hasOwn(ESCAPES, escaped) ? ESCAPES[escaped] : undefined
  if (byte === undefined)
    throw new PatternError(`"\\${escaped}"; expected \\n, \\r, \\t, \\0, \\\\, \\{, \\} or \\xHH`)
  return byte
}

function quoted(byte: number): string {
  return `\\x${byte.toString(16).padStart(2, '0')}`
}

function utf8(character: string): number[] {
  const code = character.codePointAt(0)!
  if (code < 0x80) return [code]
  if (code < 0x800) return [0xc0 | (code >> 6), 0x80 | (code & 63)]
  if (code < 0x10000) return [0xe0 | (code >> 12), 0x80 | ((code >> 6) & 63), 0x80 | (code & 63)]
  return [0xf0 | (code >> 18), 0x80 | ((code >> 12) & 63), 0x80 | ((code >> 6) & 63), 0x80 | (code & 63)]
}

/** The values of the fields in a match. */
export function valuesOf(pattern: Pick<Pattern, 'parts'>, match: RegExpExecArray): FieldValues {
  const values: FieldValues = {}
  pattern.parts.forEach(({ field, form, words }, i) => {
    const text = match[i + 1]!
    if (field === 'any') return
    if (field === 'direction' || field === 'state') {
      const first = text === String.fromCharCode(...textBytes(words![0]))
      if (field === 'direction') values.forward = first
      else values.on = first
    } else values[field] = numberOf(form, text)
  })
  return values
}

function numberOf(form: Form, text: string): number {
  if (form === 'decimal') return Number(text)
  if (form === 'hex') return Number.parseInt(text, 16)
  const [a, b] = [text.charCodeAt(0), text.charCodeAt(1)]
  if (form === 'u8') return a
  return form === 'u16' ? (a << 8) | b : (b << 8) | a
}

/** The bytes of a command; `{any}` becomes a 0. */
export function patternBytes(pattern: Pattern, values: FieldValues): number[] {
  return pattern.pieces.flatMap((piece): readonly number[] => {
    if (!('field' in piece)) return piece
    const { field, form, words } = piece
    if (field === 'any') return [48]
    if (words) return textBytes(words[(field === 'direction' ? values.forward : values.on) === false ? 1 : 0])
    return numberBytes(form, values[field as keyof FieldValues] as number)
  })
}

function numberBytes(form: Form, value: number): number[] {
  if (form === 'u8') return [value & 255]
  if (form === 'u16') return [(value >> 8) & 255, value & 255]
  if (form === 'u16le') return [value & 255, (value >> 8) & 255]
  return textBytes(form === 'hex' ? value.toString(16).toUpperCase() : String(value))
}
