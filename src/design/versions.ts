/** Versions of the design file: what was renamed from one to the next, and how an older file is read and rewritten. */
import {
  type Document,
  isAlias,
  isMap,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  parseDocument,
  type Scalar,
  visit,
} from 'yaml'

/** The version that this program writes; it reads this one and all before it. */
export const DESIGN_VERSION = 2

interface Renamed {
  /** The version that has the new name. */
  since: number
  /** Where the key is. A `*` matches every key or item. */
  at: readonly string[]
  from: string
  to: string
  /** Files that say this very version may still have the old name: it is refused there, and an upgrade renames it. */
  late?: true
}

const RENAMED: readonly Renamed[] = [
  { since: 2, at: ['signal'], from: 'tracks', to: 'outputs' },
  { since: 2, at: ['captures', '*'], from: 'track', to: 'output' },
  { since: 2, at: ['traffic'], from: 'track', to: 'output' },
  { since: 2, at: ['traffic'], from: 'slots', to: 'capacity', late: true },
  { since: 2, at: ['traffic'], from: 'slotMemory', to: 'memoryEach', late: true },
]

/** The name that a key of an earlier version has now; undefined where it was not renamed. */
export function renamedKey(path: readonly (string | number)[], key: string): string | undefined {
  // A variant has the keys of the design under its name.
  if (path[0] === 'variants' && path.length > 2) return renamedKey(path.slice(2), key)
  const fits = (at: readonly string[]) =>
    at.length === path.length && at.every((part, i) => part === '*' || part === path[i])
  return RENAMED.find((r) => r.from === key && fits(r.at))?.to
}

/** The version that a design file says it has; undefined where it says none that is a number. */
export function versionOf(document: Document): number | undefined {
  const found = isMap(document.contents) ? document.get('halfbit') : undefined
  return typeof found === 'number' ? found : undefined
}

/** Whether a file of this version is read, though it is not the newest. */
export function isEarlier(version: number | undefined): version is number {
  return version !== undefined && Number.isInteger(version) && version >= 1 && version < DESIGN_VERSION
}

/** Make a tree of an earlier version one of the present; every node keeps its place in the text. */
export function asPresent(document: Document, version: number): void {
  for (const { key, to } of oldKeys(document, version)) key.value = to
  const said = document.get('halfbit', true) as Scalar
  said.value = DESIGN_VERSION
}

/**
 * A design file's text in the present version: old names and the version are replaced in place, and all else, comments
 * and layout included, stays. Text that is not YAML, or has no old name, comes back as it is.
 */
export function upgradeDesign(text: string): string {
  if (PRESENT.test(text) && !LATE.test(text)) return text
  const bom = text.startsWith('\ufeff') ? 1 : 0
  const document = parseDocument(text.slice(bom), { prettyErrors: false, uniqueKeys: false })
  const version = versionOf(document)
  if (document.errors.length > 0 || (version !== DESIGN_VERSION && !isEarlier(version))) return text
  const cuts = oldKeys(document, version).map(({ key, to }) => ({ range: key.range, put: to }))
  const said = document.get('halfbit', true) as Scalar | undefined
  if (version !== DESIGN_VERSION) cuts.push({ range: said?.range, put: String(DESIGN_VERSION) })
  return cuts
    .flatMap(({ range, put }) => (range ? [{ from: range[0], to: range[1], put }] : []))
    .sort((a, b) => b.from - a.from)
    .reduce((all, { from, to, put }) => all.slice(0, from + bom) + put + all.slice(to + bom), text)
}

/** Most texts are of the present version and need not be parsed to know it. */
const PRESENT = new RegExp(`^halfbit: ${DESIGN_VERSION}\\s*(#|$)`, 'm')
const LATE = new RegExp(RENAMED.flatMap(({ late, from }) => (late ? [from] : [])).join('|'))

interface OldKey {
  key: Scalar
  to: string
}

function oldKeys(document: Document, version: number): OldKey[] {
  const anchors = new Map<string, Node>()
  visit(document, {
    Value(_, node) {
      if (node.anchor !== undefined) anchors.set(node.anchor, node)
    },
  })
  const real = (node: unknown): unknown => (isAlias(node) ? anchors.get(node.source) : node)
  const found = new Map<Scalar, string>()
  for (const { since, at, from, to, late } of RENAMED) {
    if (since <= version && !late) continue
    let places: unknown[] = [real(document.contents)]
    for (const part of at) places = places.flatMap((place) => childrenOf(place, part)).map(real)
    for (const place of places) {
      if (!isMap(place)) continue
      const keys = place.items.map((pair) => (pair as Pair).key).filter(isScalar)
      // Who has both means something else by the old one; it is refused like any key that is not known.
      if (keys.some((key) => key.value === to)) continue
      for (const key of keys) if (key.value === from) found.set(key, to)
    }
  }
  return [...found].map(([key, to]) => ({ key, to }))
}

function childrenOf(place: unknown, part: string): unknown[] {
  if (isSeq(place)) return part === '*' ? place.items : []
  if (!isMap(place)) return []
  return place.items.flatMap(({ key, value }) =>
    part === '*' || (isScalar(key) && key.value === part) ? [value] : [],
  )
}
