/** Checks a YAML tree against a shape and turns it into plain values, each problem with its line and column. */
import { isAlias, isMap, isScalar, isSeq, type LineCounter, type Node, type Scalar, type YAMLMap } from 'yaml'
import type { EitherShape, ListShape, NamedShape, RecordShape, Shape } from '../shape/index.js'
import { DIMENSIONS, type Dimension, formatNumber, nearest, parseQuantity } from '../units/index.js'
import type { Aliases } from './aliases.js'
import type { Path, Problem } from './problem.js'
import { renamedKey } from './versions.js'

/** Aliases let a short text stand for a huge tree: no design has this many values. */
const MOST_NODES = 500_000

/** Nobody reads more; a file of another kind would have one for each of its lines. */
export const MOST_PROBLEMS = 200

/** Stands for a part that may not be left out. */
export const MISSING = Symbol('missing')

export interface Place {
  line: number
  column: number
}

export class Validator {
  readonly problems: Problem[] = []
  /** Where each key or item stands, by its path joined with dots. */
  readonly places = new Map<string, Place>()
  readonly #aliases: Aliases
  readonly #lines: LineCounter
  #nodes = 0

  readonly #whole: string

  /** @param whole what the file is called in messages. */
  constructor(lines: LineCounter, aliases: Aliases, whole = 'the design file') {
    this.#whole = whole
    this.#aliases = aliases
    this.#lines = lines
  }

  /** What an alias stands for; any other node itself. */
  resolve(node: Node | null | undefined): Node | null | undefined {
    return isAlias(node) ? this.#aliases.get(node) : node
  }

  /** The value of a node, or undefined after a problem was noted. */
  read(node: Node | null | undefined, shape: Shape, path: Path): unknown {
    if (this.problems.length >= MOST_PROBLEMS) return undefined
    if (++this.#nodes > MOST_NODES) {
      if (this.#nodes === MOST_NODES + 1)
        this.#note(node, path, `more than ${MOST_NODES} values, aliases counted`)
      return undefined
    }
    const real = this.resolve(node)
    if (isAlias(node) && real === undefined) {
      this.#note(node, path, `alias *${node.source} names nothing before it`)
      return undefined
    }
    if (real === null || real === undefined || (isScalar(real) && real.value === null)) {
      this.#note(node, path, `${this.#nameOf(path)} is empty; expected ${expected(shape)}`)
      return undefined
    }
    switch (shape.kind) {
      case 'record':
        return this.#record(real, shape, path)
      case 'named':
        return this.#named(real, shape, path)
      case 'list':
        return this.#list(real, shape, path)
      case 'either':
        return this.#either(real, shape, path)
      default:
        return this.#scalar(real, shape, path)
    }
  }

  #nameOf(path: Path): string {
    return path.length === 0 ? this.#whole : path.join('.')
  }

  placeOf(node: Node | null | undefined): Place {
    const { line, col } = this.#lines.linePos(node?.range?.[0] ?? 0)
    return { line: Math.max(1, line), column: Math.max(1, col) }
  }

  #note(node: Node | null | undefined, path: Path, message: string): void {
    if (this.problems.length >= MOST_PROBLEMS) return
    const place = node?.range ? this.placeOf(node) : (this.places.get(path.join('.')) ?? this.placeOf(null))
    this.problems.push({ path, ...place, message })
  }

  #wrongKind(node: Node, shape: Shape, path: Path): undefined {
    this.#note(node, path, `${this.#nameOf(path)} is ${found(node)}; expected ${expected(shape)}`)
    return undefined
  }

  /** Key and value nodes of a mapping; keys that are no plain text are noted. */
  #entries(map: YAMLMap, path: Path): [string, Node, Node | null][] {
    const list: [string, Node, Node | null][] = []
    const seen = new Set<string>()
    for (const { key, value } of map.items as { key: unknown; value: Node | null }[]) {
      if (this.problems.length >= MOST_PROBLEMS) break
      if (isScalar(key) && key.value !== null && typeof key.value !== 'object') {
        const name = sourceOf(key)
        if (seen.has(name)) {
          this.#note(
            key,
            [...path, name],
            `the key ${JSON.stringify(name)} appears twice in the same mapping`,
          )
          continue
        }
        seen.add(name)
        list.push([name, key, value])
      } else this.#note((key as Node) ?? map, path, `${this.#nameOf(path)} has a key that is no plain text`)
    }
    return list
  }

  #record(node: Node, shape: RecordShape, path: Path): unknown {
    if (!isMap(node)) return this.#wrongKind(node, shape, path)
    const value: Record<string, unknown> = {}
    for (const [key, keyNode, child] of this.#entries(node, path)) {
      const inside = [...path, key]
      const known = Object.hasOwn(shape.keys, key) ? shape.keys[key] : undefined
      this.places.set(inside.join('.'), this.placeOf(keyNode))
      if (known === undefined) {
        const now = renamedKey(path, key)
        const close = nearest(key, Object.keys(shape.keys))
        const hint = now ? `; it is called "${now}" now` : close ? `; the nearest is "${close}"` : ''
        const list = Object.keys(shape.keys).join(', ')
        this.#note(
          keyNode,
          inside,
          `${this.#nameOf(path)} has no key "${key}"${hint}; expected one of ${list}`,
        )
        continue
      }
      value[key] = this.read(child, known, inside)
    }
    for (const [key, child] of Object.entries(shape.keys)) {
      if (Object.hasOwn(value, key)) continue
      const filled = defaultOf(child)
      if (filled !== MISSING) {
        if (filled !== undefined) value[key] = filled
      } else this.#note(node, path, `${this.#nameOf(path)} lacks "${key}"; expected ${expected(child)}`)
    }
    return value
  }

  #named(node: Node, shape: NamedShape, path: Path): unknown {
    if (!isMap(node)) return this.#wrongKind(node, shape, path)
    const value: Record<string, unknown> = {}
    const entries = this.#entries(node, path)
    this.#size(node, entries.length, shape, path)
    for (const [key, keyNode, child] of entries) {
      const inside = [...path, key]
      this.places.set(inside.join('.'), this.placeOf(keyNode))
      if (key.length > 200 || key === '__proto__') {
        this.#note(
          keyNode,
          inside,
          `${JSON.stringify(key.slice(0, 40))} cannot be a name; expected ${key === '__proto__' ? 'another word' : 'at most 200 letters'}`,
        )
        continue
      }
      value[key] = this.read(child, shape.of, inside)
    }
    return value
  }

  #list(node: Node, shape: ListShape, path: Path): unknown {
    if (!isSeq(node)) {
      if (shape.orOne) return [this.read(node, shape.of, path)]
      return this.#wrongKind(node, shape, path)
    }
    this.#size(node, node.items.length, shape, path)
    return node.items.map((item, i) => {
      const inside = [...path, i]
      this.places.set(inside.join('.'), this.placeOf(item as Node))
      return this.read(item as Node, shape.of, inside)
    })
  }

  #size(node: Node, size: number, shape: { minItems?: number; maxItems?: number }, path: Path): void {
    const { minItems = 0, maxItems = Number.POSITIVE_INFINITY } = shape
    if (size < minItems)
      this.#note(
        node,
        path,
        `${this.#nameOf(path)} has ${size === 1 ? 'one entry' : `${size} entries`}; expected at least ${minItems}`,
      )
    if (size > maxItems)
      this.#note(node, path, `${this.#nameOf(path)} has ${size} entries; expected at most ${maxItems}`)
  }

  /** The first alternative that has no problem, of those that fit the kind of node; else what the first of them says. */
  #either(node: Node, shape: EitherShape, path: Path): unknown {
    const fits = shape.of.filter((s) => fitsKind(node, s))
    if (fits.length === 0) return this.#wrongKind(node, shape, path)
    let firstProblems: Problem[] = []
    for (const [i, alternative] of fits.entries()) {
      const before = this.problems.length
      const value = this.read(node, alternative, path)
      const noted = this.problems.splice(before)
      if (noted.length === 0) return value
      if (i === 0) firstProblems = noted
    }
    this.problems.push(...firstProblems)
    return undefined
  }

  #scalar(
    node: Node,
    shape: Exclude<Shape, RecordShape | NamedShape | ListShape | EitherShape>,
    path: Path,
  ): unknown {
    if (!isScalar(node)) return this.#wrongKind(node, shape, path)
    const result = readScalar(sourceOf(node), node.value, shape)
    if ('value' in result) return result.value
    this.#note(node, path, `${this.#nameOf(path)} is ${found(node)}; expected ${result.expected}`)
    return undefined
  }
}

type ScalarShape = Exclude<Shape, RecordShape | NamedShape | ListShape | EitherShape>

/** A scalar by its shape, from the text as written and the value YAML sees. */
function readScalar(
  text: string,
  value: unknown,
  shape: ScalarShape,
): { value: unknown } | { expected: string } {
  switch (shape.kind) {
    case 'quantity': {
      const parsed = parseQuantity(text, shape.dimension)
      if (!parsed.ok) return { expected: parsed.expected }
      const { min = Number.NEGATIVE_INFINITY, max = Number.POSITIVE_INFINITY } = shape
      return parsed.value < min || parsed.value > max
        ? { expected: expected(shape) }
        : { value: parsed.value }
    }
    case 'number': {
      const n = typeof value === 'number' ? value : Number.NaN
      const { min = -Number.MAX_VALUE, max = Number.MAX_VALUE } = shape
      const fits = n >= min && n <= max && (!shape.integer || Number.isSafeInteger(n))
      return fits ? { value: n } : { expected: expected(shape) }
    }
    case 'switch': {
      if (typeof value === 'boolean') return { value }
      const word = text.toLowerCase()
      if (word === 'yes' || word === 'on') return { value: true }
      return word === 'no' || word === 'off' ? { value: false } : { expected: expected(shape) }
    }
    case 'choice': {
      const chosen =
        Object.keys(shape.choices).find((c) => c === text) ??
        Object.keys(shape.choices).find((c) => c.toLowerCase() === text.toLowerCase())
      if (chosen !== undefined) return { value: chosen }
      const close = nearest(text, Object.keys(shape.choices))
      return { expected: `${expected(shape)}${close ? `; the nearest is "${close}"` : ''}` }
    }
    case 'text': {
      if (text.length > (shape.maxLength ?? 10_000))
        return { expected: `at most ${shape.maxLength ?? 10_000} letters` }
      if (/[\u0000-\u0008\u000e-\u001f\u007f]/.test(text))
        return { expected: 'text without control characters' }
      if (shape.pattern && !new RegExp(`^(?:${shape.pattern})$`).test(text))
        return { expected: expected(shape) }
      return { value: text }
    }
  }
}

/** The text of a scalar as a person wrote it, quotes and folding undone. */
export function sourceOf(node: Scalar): string {
  if (typeof node.value === 'string') return node.value
  return node.source ?? String(node.value)
}

/** The value of a part that is left out; `undefined` if it may be, MISSING if not. */
export function defaultOf(shape: Shape): unknown {
  if ('default' in shape && shape.default !== undefined) {
    const result = readScalar(String(shape.default), shape.default, shape as ScalarShape)
    return 'value' in result ? result.value : MISSING
  }
  if (shape.optional) return undefined
  if (shape.kind !== 'record') return MISSING
  const value: Record<string, unknown> = {}
  for (const [key, child] of Object.entries(shape.keys)) {
    const filled = defaultOf(child)
    if (filled === MISSING) return MISSING
    if (filled !== undefined) value[key] = filled
  }
  return value
}

function fitsKind(node: Node, shape: Shape): boolean {
  if (shape.kind === 'record' || shape.kind === 'named') return isMap(node)
  if (shape.kind === 'list') return isSeq(node) || shape.orOne === true
  if (shape.kind === 'either') return shape.of.some((s) => fitsKind(node, s))
  return isScalar(node)
}

function found(node: Node): string {
  if (isMap(node)) return 'a mapping'
  if (isSeq(node)) return 'a list'
  if (isScalar(node)) {
    const text = sourceOf(node)
    return JSON.stringify(text.length > 60 ? `${text.slice(0, 60)}…` : text)
  }
  return 'no value'
}

/** What a shape takes, in words. */
export function expected(shape: Shape): string {
  switch (shape.kind) {
    case 'quantity': {
      const { min, max, dimension } = shape
      const example = shape.example ?? shape.default ?? DIMENSIONS[dimension].example
      const range = [
        min === undefined ? '' : `at least ${quantityText(min, dimension)}`,
        max === undefined ? '' : `at most ${quantityText(max, dimension)}`,
      ].filter(Boolean)
      return [`a quantity such as "${example}"`, range.join(' and ')].filter(Boolean).join(', ')
    }
    case 'number': {
      const { min, max } = shape
      const kind = shape.integer ? 'a whole number' : 'a number'
      if (min !== undefined && max !== undefined)
        return min === max ? `${min}` : `${kind} from ${min} to ${max}`
      if (min !== undefined) return `${kind} of at least ${min}`
      return max === undefined ? kind : `${kind} of at most ${max}`
    }
    case 'text':
      return shape.patternSays ?? 'a text'
    case 'choice':
      return `one of ${Object.keys(shape.choices).join(', ')}`
    case 'switch':
      return 'true or false'
    case 'list':
      return shape.orOne ? `${expected(shape.of)}, or a list of them` : 'a list'
    case 'record':
      return `a mapping with ${Object.keys(shape.keys).slice(0, 6).join(', ')}${Object.keys(shape.keys).length > 6 ? ' …' : ''}`
    case 'named':
      return 'a mapping of names of your own'
    case 'either':
      return shape.of.map(expected).join(', or ')
  }
}

/** A value in the base unit as a person would write it: 100000 Hz is `100 kHz`. */
function quantityText(value: number, dimension: Dimension): string {
  let best = ''
  for (const [unit, factor] of Object.entries(DIMENSIONS[dimension].units)) {
    if (/[^\x20-\x7e]|"/.test(unit) || UNUSUAL.has(unit)) continue
    const number = formatNumber(value / factor, 6)
    if (Math.abs(Number(number) * factor - value) > Math.abs(value) * 1e-6) continue
    const text = `${number} ${unit}`.trim()
    if (best === '' || text.length < best.length) best = text
  }
  return best || `${value} ${DIMENSIONS[dimension].base}`
}

/** Units that are read but that no message should propose. */
const UNUSUAL: ReadonlySet<string> = new Set([
  'in',
  'ft',
  'cm',
  'cm2',
  'S/s',
  'h',
  'min',
  '/h',
  'ohm',
  'degC',
  'C/W',
  'Wh',
  'B',
])
