/**
 * A design file read part by part: what stands under a key at the left margin is parsed and checked by itself, and what is as it
 * was before is not read again. Whatever is unusual, or wrong, is left to the reader of whole files, which is the referee.
 */
import type { Node } from 'yaml'
import { Remembered } from '../units/index.js'
import { NO_ALIASES } from './aliases.js'
import { partDocument } from './part-document.js'
import type { Path } from './problem.js'
import { type Design, designShape, stationShape } from './schema.js'
import { defaultOf, MISSING, type Place, Validator } from './validate.js'
import { DESIGN_VERSION } from './versions.js'

/** Longer files are read whole: so long no file can hold more values than are allowed. */
const LONGEST = 500_000

interface Part {
  value: unknown
  /** Counted from the part's first line. */
  places: ReadonlyMap<string, Place>
}

/** Texts of the parts, each with the number of its first line. */
export type PartTexts = ReadonlyMap<string, { text: string; line: number }>

export interface ReadParts {
  design: Design
  placeOf(path: Path): Place
  texts: PartTexts
}

/** Of every key the parts read last; none where it must be read with the whole. */
const lastParts = new Map(
  Object.keys(designShape.keys).map((key) => [key, new Remembered<Part | 'unusual'>(4)]),
)

/** @returns `undefined` where the file must be read as a whole. */
export function readByParts(text: string): ReadParts | undefined {
  const cuts = partsOf(text)
  if (!cuts) return undefined
  const value: Record<string, unknown> = {}
  const found = new Map<string, { part: Part; line: number }>()
  const texts = new Map<string, { text: string; line: number }>()
  for (const { key, line, text: own } of cuts) {
    const known = lastParts.get(key)
    if (!known || found.has(key)) return undefined
    const part = known.get({ text: own }, () => readPart(key, own) ?? 'unusual')
    if (part === 'unusual') return undefined
    texts.set(key, { text: own, line })
    // Variants are designs of their own.
    if (key === 'variants') continue
    value[key] = part.value
    found.set(key, { part, line })
  }
  if (value['halfbit'] !== DESIGN_VERSION) return undefined
  for (const [key, child] of Object.entries(stationShape.keys)) {
    if (found.has(key)) continue
    const filled = defaultOf(child)
    if (filled === MISSING) return undefined
    if (filled !== undefined) value[key] = filled
  }
  const placeOf = (path: Path): Place => {
    const within = found.get(String(path[0]))
    for (let n = within ? path.length : 0; n > 0; n--) {
      const place = within!.part.places.get(path.slice(0, n).join('.'))
      if (place) return { line: within!.line + place.line - 1, column: place.column }
    }
    return { line: 1, column: 1 }
  }
  return { design: value as Design, placeOf, texts }
}

function readPart(key: string, text: string): Part | undefined {
  const part = partDocument(key, text)
  if (!part) return undefined
  const validator = new Validator(part.lines, NO_ALIASES)
  const shape = {
    kind: 'record',
    title: '',
    keys: { [key]: designShape.keys[key as keyof Design] },
  } as const
  const value = validator.read(part.document.contents as Node, shape, []) as
    | Record<string, unknown>
    | undefined
  if (validator.problems.length > 0) return undefined
  return { value: value?.[key], places: validator.places }
}

/**
 * The text from each key at the left margin to the next.
 * @returns `undefined` where anything else stands there, or a line ends in another way than usual.
 */
function partsOf(text: string): { key: string; line: number; text: string }[] | undefined {
  if (text.length > LONGEST || /[\r\0\ufeff\u2028\u2029\u0085]/.test(text)) return undefined
  const starts: { key: string; line: number; at: number }[] = []
  let at = 0
  for (let line = 1; at < text.length; line++) {
    const first = text[at]!
    if (first !== ' ' && first !== '#' && first !== '\n') {
      const key = KEY.exec(text.slice(at, at + 40))?.[1]
      if (key === undefined) return undefined
      starts.push({ key, line, at })
    } else if (first === ' ' && starts.length === 0 && !BLANK.test(lineAt(text, at))) return undefined
    const end = text.indexOf('\n', at)
    at = end < 0 ? text.length : end + 1
  }
  return starts.map(({ key, line, at: from }, i) => ({
    key,
    line,
    text: text.slice(from, starts[i + 1]?.at),
  }))
}

/** A word, a colon, and a space or the end of the line. */
const KEY = /^([A-Za-z]+):(?= |\n|$)/
const BLANK = /^ *(#.*)?$/

function lineAt(text: string, at: number): string {
  const end = text.indexOf('\n', at)
  return text.slice(at, end < 0 ? text.length : end)
}
