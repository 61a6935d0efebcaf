/** A variant of a design: what it changes, cut into the tree of the design, so that every part keeps its line. */
import { isMap, isScalar, type LineCounter, type Node, Pair, YAMLMap } from 'yaml'
import { nearest } from '../units/index.js'
import type { Path, Problem } from './problem.js'
import { type Place, sourceOf, type Validator } from './validate.js'

/** What the design itself is called beside its variants. */
export const AS_WRITTEN = 'as written'

export interface VariantInfo {
  name: string
  /** Whom or what it suits, in the builder's words. */
  suits?: string
  /** Where its name stands in the file. */
  line: number
}

export interface VariantNode extends VariantInfo {
  place: Place
  /** Last line of what it says. */
  lastLine: number
  node: YAMLMap
}

/** Keys of a variant that are its own. */
const OWN = ['suits', 'without']

/** Keys of the design that say what was seen of that very station. */
export const NOT_TAKEN_OVER = ['captures', 'benchNotes']

export class VariantReader {
  readonly variants: readonly VariantNode[]
  readonly #whole: Node
  readonly #validator: Validator

  /**
   * @param whole the tree of the file, which stays as it is
   * @param validator one that has read the file and found no problem
   */
  constructor(whole: Node, lines: LineCounter, validator: Validator) {
    this.#whole = whole
    this.#validator = validator
    const found = this.#child(this.#whole, 'variants')
    const pairs = isMap(found) ? (found.items as Pair<Node, Node | null>[]) : []
    this.variants = pairs.flatMap(({ key, value }): VariantNode[] => {
      const node = validator.resolve(value)
      if (!isScalar(key) || !isMap(node)) return []
      const suits = this.#child(node, 'suits')
      const place = validator.placeOf(key)
      const end = value?.range?.[1]
      return [
        {
          name: sourceOf(key),
          ...(isScalar(suits) ? { suits: sourceOf(suits) } : {}),
          line: place.line,
          place,
          lastLine: end === undefined ? place.line : lines.linePos(Math.max(0, end - 1)).line,
          node: node as YAMLMap,
        },
      ]
    })
  }

  /** Keys at the left margin of the design that the variant changes, or does without. */
  keysOf({ node }: VariantNode): string[] {
    const changed = node.items.flatMap(({ key }) => (isScalar(key) ? [sourceOf(key)] : []))
    const without = this.#withoutPaths(node).map(({ path }) => path[0]!)
    return [...new Set([...changed.filter((key) => !OWN.includes(key)), ...without])].sort()
  }

  /** The tree of the design with what the variant changes. */
  merged({ name, node, place }: VariantNode): { node: Node } | { problems: Problem[] } {
    if (name === AS_WRITTEN) {
      const message = `the design itself is called "${AS_WRITTEN}" beside its variants; expected another name`
      return { problems: [{ path: ['variants', name], ...place, message }] }
    }
    if (name.trim() === '') {
      const message = 'a variant without a name; expected one by which it can be chosen'
      return { problems: [{ path: ['variants', name], ...place, message }] }
    }
    const problems: Problem[] = []
    let base = this.#without(this.#whole, ['variants'])
    for (const key of NOT_TAKEN_OVER) base = this.#without(base, [key])
    for (const { i, item, path } of this.#withoutPaths(node)) {
      const gone = this.#missing(path)
      if (gone !== undefined)
        problems.push({
          path: ['variants', name, 'without', i],
          ...this.#validator.placeOf(item),
          message: `variant "${name}" does without ${path.join('.')}, and the design has none: ${gone}`,
        })
      else base = this.#without(base, path)
    }
    if (problems.length > 0) return { problems }
    const change = OWN.reduce((rest, key) => this.#without(rest, [key]), node as Node)
    const whole = this.#merge(base, change)
    // What the whole lacks is said where the variant is.
    whole.range = node.range ?? null
    return { node: whole }
  }

  /** What a variant does without. */
  #withoutPaths(node: YAMLMap): { i: number; item: Node; path: string[] }[] {
    const list = this.#validator.resolve(this.#child(node, 'without'))
    const items = list && 'items' in list ? (list.items as unknown as Node[]) : []
    return items.flatMap((item, i) => {
      const scalar = this.#validator.resolve(item)
      return isScalar(scalar) ? [{ i, item, path: sourceOf(scalar).split('.') }] : []
    })
  }

  #child(node: Node | null | undefined, key: string): Node | null | undefined {
    const map = this.#validator.resolve(node)
    return isMap(map) ? pairOf(map as YAMLMap, key)?.value : undefined
  }

  /** Where a path ends in the design as written, in words; undefined where it is there. */
  #missing(path: readonly string[]): string | undefined {
    let node: Node | null | undefined = this.#whole
    for (const [depth, key] of path.entries()) {
      const map = this.#validator.resolve(node)
      const at = depth === 0 ? 'the design' : path.slice(0, depth).join('.')
      if (!isMap(map)) return `${at} has no keys`
      const keys = map.items.flatMap((pair) => (isScalar(pair.key) ? [sourceOf(pair.key)] : []))
      const pair = pairOf(map as YAMLMap, key)
      if (!pair) {
        const close = nearest(key, keys)
        return `${at} has no key "${key}"${close === undefined ? '' : `; the nearest is "${close}"`}`
      }
      node = pair.value
    }
    return undefined
  }

  /** A tree without one key; what is given stays as it is. */
  #without(node: Node, [key, ...rest]: readonly string[]): Node {
    const map = this.#validator.resolve(node)
    if (!isMap(map) || key === undefined) return node
    const items = (map.items as Pair<Node, Node | null>[]).flatMap((pair) => {
      if (!isKey(pair, key)) return [pair]
      return rest.length === 0 || !pair.value ? [] : [new Pair(pair.key, this.#without(pair.value, rest))]
    })
    return mapOf(items, map.range)
  }

  #merge(base: Node, change: Node): Node {
    const below = this.#validator.resolve(base)
    const above = this.#validator.resolve(change)
    if (!isMap(below) || !isMap(above)) return change
    const changes = above.items as Pair<Node, Node | null>[]
    const nameOf = ({ key }: Pair<Node, Node | null>) => (isScalar(key) ? sourceOf(key) : '')
    const items = (below.items as Pair<Node, Node | null>[]).map((pair) => {
      const own = changes.find((c) => isKey(c, nameOf(pair)))
      if (!own) return pair
      const merged = pair.value && own.value ? this.#merge(pair.value, own.value) : own.value
      // A mapping that is only added to stays where the design has it.
      return merged === own.value ? own : new Pair(pair.key, merged)
    })
    const fresh = changes.filter((c) => !pairOf(below as YAMLMap, nameOf(c)))
    return mapOf([...items, ...fresh], above.range)
  }
}

/** A problem of a variant's design, at the variant's own lines. */
export function inVariant(problem: Problem, { name, place, lastLine }: VariantNode): Problem {
  const { line, message } = problem
  const path = ['variants', name, ...problem.path]
  const own = line >= place.line && line <= lastLine
  return own
    ? { ...problem, path, message: `variant "${name}": ${message}` }
    : { ...place, path, message: `variant "${name}" does not go with line ${line} of the design: ${message}` }
}

/** Variants that come to the same design as another, or as the design without them. */
export function alikeProblems(
  base: object,
  designs: readonly (VariantInfo & { design: object })[],
  nodes: readonly VariantNode[],
): Problem[] {
  const taken = Object.entries(base).filter(([key]) => !NOT_TAKEN_OVER.includes(key))
  const own = Object.fromEntries(taken)
  const seen = new Map<string, string>([[canonical(own), 'the design as written']])
  return designs.flatMap(({ name, line, design }) => {
    const key = canonical(design)
    const other = seen.get(key)
    const place = nodes.find((v) => v.name === name)!.place
    if (other === undefined) {
      seen.set(key, `variant "${name}" of line ${line}`)
      return []
    }
    const message = `variant "${name}" comes to the same as ${other}; expected something that it changes`
    return [{ path: ['variants', name] as Path, ...place, message }]
  })
}

/** Equal for equal values, whatever the order of their keys; names and notes are no difference. */
function canonical(design: object): string {
  const { name: _, about: __, ...rest } = design as Record<string, unknown>
  const parts = Object.entries(rest).filter(([, value]) => value !== undefined)
  return parts
    .sort(byKey)
    .map(([key, value]) => `${key}: ${canonicalPart(value)}`)
    .join('\n')
}

/** Variants have most of their parts in common. */
const knownParts = new WeakMap<object, string>()

function canonicalPart(part: unknown): string {
  const known = typeof part === 'object' && part !== null ? knownParts.get(part) : undefined
  if (known !== undefined) return known
  const text = JSON.stringify(part, (_key, value: unknown) =>
    typeof value === 'object' && value !== null && !Array.isArray(value)
      ? Object.fromEntries(Object.entries(value).sort(byKey))
      : value,
  )
  if (typeof part === 'object' && part !== null) knownParts.set(part, text)
  return text
}

const byKey = ([a]: [string, unknown], [b]: [string, unknown]) => (a < b ? -1 : 1)

export function mapOf(items: Pair<Node, Node | null>[], range: Node['range']): YAMLMap {
  const map = new YAMLMap<Node, Node | null>()
  map.items = items
  map.range = range ?? null
  return map
}

function pairOf(map: YAMLMap, key: string): Pair<Node, Node | null> | undefined {
  return (map.items as Pair<Node, Node | null>[]).find((pair) => isKey(pair, key))
}

function isKey({ key }: Pair<Node, Node | null>, name: string): boolean {
  return isScalar(key) && sourceOf(key) === name
}
