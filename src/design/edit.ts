/** Edits to the text of a design file that leave comments, order and everything else as they are. */
import { type Document, isMap, isScalar, type Node, parseDocument, stringify } from 'yaml'
import type { Path } from './problem.js'

/**
 * Set one value. A scalar that is there is replaced in place; what is new is added at the end of its mapping.
 * @param value plain data: a scalar, a list or a mapping, as it should stand in the file.
 * @throws RangeError when the text is no YAML or the path leads through a scalar.
 */
export function setInDesign(text: string, path: Path, value: unknown): string {
  const document = parse(text)
  const node = document.getIn(path, true) as Node | undefined
  if (isScalar(node) && node.range && (typeof value !== 'object' || value === null)) {
    const written = scalarText(value)
    const next = text.slice(0, node.range[0]) + written + text.slice(node.range[1])
    if (same(next, path, value)) return next
  }
  try {
    document.setIn(path, document.createNode(value))
  } catch (error) {
    throw new RangeError(`${path.join('.')} cannot be set: ${error instanceof Error ? error.message : error}`)
  }
  return document.toString({ lineWidth: 0 })
}

/** Take a key or list item away, with the comments on it. Does nothing if it is not there. */
export function removeFromDesign(text: string, path: Path): string {
  const document = parse(text)
  if (!document.hasIn(path)) return text
  const parent = path.length > 1 ? document.getIn(path.slice(0, -1), true) : document.contents
  const next = isMap(parent) ? cutLines(text, document, path) : undefined
  if (next !== undefined) return next
  document.deleteIn(path)
  return document.toString({ lineWidth: 0 })
}

function parse(text: string): Document {
  const document = parseDocument(text, { prettyErrors: false })
  if (document.errors.length > 0) throw new RangeError(`not YAML: ${document.errors[0]!.message}`)
  return document
}

/** A pair of a block mapping that fills whole lines is cut out with them. */
function cutLines(text: string, document: Document, path: Path): string | undefined {
  const parent = (path.length > 1 ? document.getIn(path.slice(0, -1), true) : document.contents) as unknown
  if (!isMap(parent) || parent.flow || parent.items.length < 2) return undefined
  const index = parent.items.findIndex(
    (pair) => isScalar(pair.key) && String(pair.key.value) === String(path.at(-1)),
  )
  const pair = parent.items[index]
  const keyRange = (pair?.key as Node | undefined)?.range
  const valueRange = (pair?.value as Node | null | undefined)?.range
  if (!keyRange || !valueRange) return undefined
  const from = text.lastIndexOf('\n', keyRange[0] - 1) + 1
  if (text.slice(from, keyRange[0]).trim() !== '') return undefined
  const end = text.indexOf('\n', Math.max(valueRange[1] - 1, keyRange[1]))
  const next = text.slice(0, from) + (end < 0 ? '' : text.slice(end + 1))
  const expected = parse(text)
  expected.deleteIn(path)
  return sameData(next, expected) ? next : undefined
}

function scalarText(value: unknown): string {
  return stringify(value, { lineWidth: 0 }).replace(/\n$/, '')
}

function same(text: string, path: Path, value: unknown): boolean {
  const document = parseDocument(text, { prettyErrors: false })
  return document.errors.length === 0 && document.getIn(path) === value
}

function sameData(text: string, expected: Document): boolean {
  const document = parseDocument(text, { prettyErrors: false })
  return document.errors.length === 0 && JSON.stringify(document.toJS()) === JSON.stringify(expected.toJS())
}
