/** What the text is about at a place, and which keys may be added there. */
import { isMap, isScalar, isSeq, type Node } from 'yaml'
import { designShape, emptyOf, type Path, setInDesign } from '../../design/index.js'
import type { Shape } from '../../shape/index.js'
import { parsed } from '../state/parsed.js'

export interface KeyOffer {
  name: string
  help: string
  /** The text with the key added. */
  insert(text: string): string
}

export interface Here {
  path: Path
  title: string | undefined
  help: string | undefined
  missing: KeyOffer[]
}

/** @returns undefined while the text is no YAML. */
export function keysAt(text: string, at: number): Here | undefined {
  const document = parsed(text)
  if (document.errors.length > 0 || !isMap(document.contents)) return undefined
  const path = pathAt(document.contents as Node, at)
  const shape = shapeAt(path)
  // Keys are offered for the nearest mapping around the place.
  let around = path
  while (around.length > 0 && !isMap(document.getIn(around, true))) around = around.slice(0, -1)
  const record = shapeAt(around)
  const missing: KeyOffer[] = []
  if (record?.kind === 'record') {
    for (const [name, child] of Object.entries(record.keys)) {
      if (document.hasIn([...around, name])) continue
      const help = [child.title, child.help].filter(Boolean).join('. ')
      missing.push({ name, help, insert: (now) => setInDesign(now, [...around, name], emptyOf(child)) })
    }
  }
  return { path, title: shape?.title, help: shape?.help, missing }
}

function pathAt(node: Node, at: number): (string | number)[] {
  if (isMap(node)) {
    let best: { key: string; value: unknown } | undefined
    for (const pair of node.items) {
      const start = (pair.key as Node | null)?.range?.[0]
      if (start === undefined || start > at || !isScalar(pair.key)) continue
      best = { key: String(pair.key.value), value: pair.value }
    }
    if (!best) return []
    const end = (best.value as Node | null)?.range?.[2]
    if (end !== undefined && end < at) return []
    const inner = best.value as Node | null
    return [best.key, ...(inner && (isMap(inner) || isSeq(inner)) ? pathAt(inner, at) : [])]
  }
  if (isSeq(node)) {
    const index = node.items.findIndex((item) => {
      const range = (item as Node | null)?.range
      return range && range[0] <= at && at <= range[2]
    })
    if (index < 0) return []
    return [index, ...pathAt(node.items[index] as Node, at)]
  }
  return []
}

/** The shape that a path leads to; of an alternative, the one with keys. */
export function shapeAt(path: Path): Shape | undefined {
  let shape: Shape | undefined = designShape as Shape
  for (const key of path) {
    if (shape?.kind === 'either')
      shape =
        shape.of.find((s) =>
          typeof key === 'number' ? s.kind === 'list' : s.kind !== 'list' && 'keys' in s,
        ) ?? shape.of[0]
    if (shape?.kind === 'list' && typeof key === 'string') shape = shape.of
    if (shape?.kind === 'record') shape = shape.keys[key]
    else if (shape?.kind === 'named') shape = shape.of
    else if (shape?.kind === 'list') shape = shape.of
    else return undefined
  }
  if (shape?.kind === 'either') return shape.of.find((s) => s.kind === 'record') ?? shape
  return shape
}
