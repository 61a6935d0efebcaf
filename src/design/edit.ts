/**
 * Edits to the text of a design file that leave comments, order and layout as they are: the new text is cut into the
 * old one. Whatever is cut is parsed again and compared with the edit made on the data; only if they differ, which
 * needs a layout that nobody writes by hand, is the whole file written anew (comments kept, layout not).
 */
import {
  Document,
  isCollection,
  isMap,
  isPair,
  isScalar,
  isSeq,
  type Node,
  type Pair,
  parseDocument,
  stringify,
  type YAMLMap,
  type YAMLSeq,
} from 'yaml'
import type { Path } from './problem.js'
import { upgradeDesign } from './versions.js'

/**
 * Set one value. What is there is replaced in place; what is new is added at the end of its mapping or list.
 * A file of an earlier version becomes one of the present version, whose keys the path names.
 * @param value plain data: a scalar, a list or a mapping, as it should stand in the file.
 * @throws RangeError when the text is no YAML or the path leads through a scalar.
 */
export function setInDesign(before: string, path: Path, value: unknown): string {
  const text = upgradeDesign(before)
  if (path.length === 0) throw new RangeError('a path of no keys')
  const document = parse(text)
  for (let depth = 1; depth < path.length; depth++) {
    // A key with nothing after it is as good as none.
    const node = document.getIn(path.slice(0, depth), true)
    if (isScalar(node) && node.value === null)
      return setInDesign(text, path.slice(0, depth), nest(path.slice(depth), value))
  }
  const wanted = parse(text)
  try {
    wanted.setIn(path, wanted.createNode(value))
  } catch (error) {
    throw new RangeError(`${path.join('.')} cannot be set: ${error instanceof Error ? error.message : error}`)
  }
  const lines = new Lines(text)
  const node = document.getIn(path, true) as Node | undefined
  const next = node?.range
    ? replaced(lines, document, path, node, value)
    : added(lines, document, path, value)
  return next !== undefined && sameData(next, wanted) ? next : wanted.toString({ lineWidth: 0 })
}

/**
 * Take a key or list item away. Comments above it stay. Does nothing if it is not there.
 * @param keepsComments leaves the comments in and behind it where it was, as lines of their own.
 */
export function removeFromDesign(before: string, path: Path, keepsComments = false): string {
  const text = upgradeDesign(before)
  const document = parse(text)
  if (path.length === 0 || !document.hasIn(path)) return before
  const wanted = parse(text)
  wanted.deleteIn(path)
  const parent = containerOf(document, path.slice(0, -1))
  if (parent && parent.items.length === 1 && path.length > 1) {
    // A key without a value means something else than an empty mapping or list.
    return setInDesign(text, path.slice(0, -1), isSeq(parent) ? [] : {})
  }
  const next =
    parent && !parent.flow ? withoutItem(new Lines(text), parent, path.at(-1)!, keepsComments) : undefined
  return next !== undefined && sameData(next, wanted) ? next : wanted.toString({ lineWidth: 0 })
}

/** A value to be put at a path, or to be taken away where there is none. */
export interface DesignChange {
  path: Path
  value?: unknown
  /** Of what is taken away: its comments are left as lines of their own. */
  keepsComments?: boolean
}

/** Several changes, one after the other. @throws RangeError as {@link setInDesign} does. */
export function changeDesign(text: string, changes: readonly DesignChange[]): string {
  return changes.reduce(
    (next, { path, value, keepsComments }) =>
      value === undefined ? removeFromDesign(next, path, keepsComments) : setInDesign(next, path, value),
    text,
  )
}

/** The plain data of a design file, as written. @throws RangeError when the text is no YAML. */
export function dataOf(text: string): unknown {
  return parse(text).toJS()
}

/** Whether an edit has taken comments of the file away. */
export function losesComment(before: string, after: string): boolean {
  return commentsOf(after) < commentsOf(before)
}

function commentsOf(text: string): number {
  return commentsIn(text).length
}

function commentsIn(text: string): string[] {
  return [...text.matchAll(/(?:^|\s)(#[^\r\n]*)/g)].map(([, comment]) => comment!)
}

/** The text, and where its lines are. */
class Lines {
  readonly text: string
  readonly #end: string

  constructor(text: string) {
    this.text = text
    this.#end = text.includes('\r\n') ? '\r\n' : '\n'
  }

  /** Start of the line that holds an offset. */
  startOf(at: number): number {
    return this.text.lastIndexOf('\n', at - 1) + 1
  }

  /** Start of the line after the one that holds the end of a node; its trailing comment is passed over. */
  after(end: number): number {
    if (end > 0 && this.text[end - 1] === '\n') return end
    const next = this.text.indexOf('\n', end)
    return next < 0 ? this.text.length : next + 1
  }

  columnOf(at: number): number {
    return at - this.startOf(at)
  }

  splice(from: number, to: number, put: string): string {
    return this.text.slice(0, from) + put + this.text.slice(to)
  }

  whole(lines: readonly string[]): string {
    return lines.map((line) => line + this.#end).join('')
  }

  /** Whole lines put in front of an offset that begins a line, or at the end. */
  insert(at: number, put: string): string {
    const open = at === this.text.length && at > 0 && this.text[at - 1] !== '\n'
    return this.splice(at, at, (open ? this.#end : '') + put)
  }
}

function replaced(
  lines: Lines,
  document: Document,
  path: Path,
  node: Node,
  value: unknown,
): string | undefined {
  const [from, to] = node.range!
  if ((isScalar(node) && to > from) || (isCollection(node) && node.flow)) {
    // A block scalar holds the end of its last line.
    return lines.splice(from, to, flowText(value) + (lines.text[to - 1] === '\n' ? '\n' : ''))
  }
  // A block collection, or nothing after the key: the lines of the whole item are written anew.
  const parent = containerOf(document, path.slice(0, -1))
  const item = parent && !parent.flow ? itemOf(parent, path.at(-1)!) : undefined
  const start = item && startOf(lines, parent!, item)
  if (start === undefined) return undefined
  const indent = lines.columnOf(start)
  const put = lines.whole(blockLines(parent!, path.at(-1)!, value, indent)).slice(indent)
  return lines.splice(start, lines.after(endOf(item!)), put)
}

function added(lines: Lines, document: Document, path: Path, value: unknown): string | undefined {
  // The deepest part of the path that is there takes the rest of it.
  let depth = path.length - 1
  while (depth > 0 && !document.hasIn(path.slice(0, depth))) depth--
  const parent = containerOf(document, path.slice(0, depth))
  const key = path[depth]!
  const rest = nest(path.slice(depth + 1), value)
  if (!parent) return undefined
  if (parent.flow || parent.items.length === 0) return addedToFlow(lines, parent, key, rest)
  const start = startOf(lines, parent, parent.items[0] as Item)
  if (start === undefined) return undefined
  const put = lines.whole(blockLines(parent, key, rest, lines.columnOf(start)))
  return lines.insert(lines.after(endOf(parent.items.at(-1) as Item)), put)
}

function nest(path: Path, value: unknown): unknown {
  return path.reduceRight<unknown>((inner, key) => ({ [key]: inner }), value)
}

function addedToFlow(lines: Lines, parent: YAMLMap | YAMLSeq, key: string | number, value: unknown) {
  const close = (parent.range?.[1] ?? 0) - 1
  if (!/[}\]]/.test(lines.text[close] ?? '')) return undefined
  const put = isSeq(parent) ? flowText(value) : `${flowText(key)}: ${flowText(value)}`
  const before = lines.text.slice(0, close).trimEnd()
  const comma = parent.items.length > 0 && !before.endsWith(',') ? ', ' : ''
  return lines.splice(before.length, close, comma + put)
}

function withoutItem(
  lines: Lines,
  parent: YAMLMap | YAMLSeq,
  key: string | number,
  keepsComments: boolean,
): string | undefined {
  const item = itemOf(parent, key)
  const start = item && startOf(lines, parent, item)
  if (start === undefined) return undefined
  const from = lines.startOf(start)
  if (lines.text.slice(from, start).trim() !== '') return undefined
  const to = lines.after(endOf(item!))
  const indent = ' '.repeat(lines.columnOf(start))
  const comments = keepsComments ? commentsIn(lines.text.slice(from, to)) : []
  return lines.splice(from, to, lines.whole(comments.map((c) => indent + c)))
}

type Item = Pair | Node

/** The mapping or list at a path; undefined where the path leads elsewhere. */
function containerOf(document: Document, path: Path): YAMLMap | YAMLSeq | undefined {
  const node = path.length > 0 ? document.getIn(path, true) : document.contents
  return isMap(node) || isSeq(node) ? node : undefined
}

function itemOf(parent: YAMLMap | YAMLSeq, key: string | number): Item | undefined {
  if (isSeq(parent)) return parent.items[Number(key)] as Item | undefined
  return parent.items.find((pair) => isScalar(pair.key) && String(pair.key.value) === String(key))
}

/** Where an item begins: at its key, or at its dash. */
function startOf(lines: Lines, parent: YAMLMap | YAMLSeq, item: Item): number | undefined {
  if (isPair(item)) return (item.key as Node | null)?.range?.[0]
  const at = item.range?.[0]
  if (at === undefined || !isSeq(parent)) return undefined
  const dash = lines.text.lastIndexOf('-', at)
  return dash < 0 ? undefined : dash
}

/** End of the last scalar or closing bracket in it, before any comment. */
function endOf(item: Item): number {
  if (isPair(item)) {
    const { key, value } = item as Pair<Node, Node | null>
    return value?.range ? Math.max(endOf(value), key.range![1]) : key.range![1]
  }
  const last = isCollection(item) && !item.flow ? (item.items.at(-1) as Item | undefined) : undefined
  return last === undefined ? item.range![1] : endOf(last)
}

/** The lines of `key: value` or `- value` in block style. */
function blockLines(
  parent: YAMLMap | YAMLSeq,
  key: string | number,
  value: unknown,
  indent: number,
): string[] {
  const text = stringify(isSeq(parent) ? [value] : { [key]: value }, { lineWidth: 0 })
  const pad = ' '.repeat(indent)
  return text
    .replace(/\n$/, '')
    .split('\n')
    .map((line) => (line === '' ? line : pad + line))
}

/** A value on one line, quoted so that it may also stand between brackets. */
function flowText(value: unknown): string {
  const document = new Document([value])
  if (isCollection(document.contents)) document.contents.flow = true
  const text = document.toString({ lineWidth: 0, flowCollectionPadding: false }).trim()
  return text.includes('\n') ? JSON.stringify(value) : text.slice(1, -1)
}

function parse(text: string): Document {
  const document = parseDocument(text, { prettyErrors: false, uniqueKeys: false })
  const [error] = document.errors
  if (error) throw new RangeError(`not YAML: ${error.message}`)
  return document
}

function sameData(text: string, wanted: Document): boolean {
  const document = parseDocument(text, { prettyErrors: false, uniqueKeys: false })
  return document.errors.length === 0 && JSON.stringify(document.toJS()) === JSON.stringify(wanted.toJS())
}
