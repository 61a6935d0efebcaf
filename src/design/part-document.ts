/** One part of a design file as a YAML tree of its own. A tree is shared by whoever reads it: nobody changes one. */
import { type Document, isMap, type LineCounter, type Node, type Pair, visit } from 'yaml'
import { Remembered } from '../units/index.js'
import { documentOf } from './document.js'

export interface PartDocument {
  document: Document
  lines: LineCounter
  /** The key at the left margin, and what it holds. */
  pair: Pair<Node, Node | null>
}

/** Two versions of each part of a design, one before an edit and one after it. */
const last = new Remembered<PartDocument | 'unusual'>(64)

/** @returns `undefined` where the part must be read with the whole: it is wrong, or may refer to another part. */
export function partDocument(key: string, text: string): PartDocument | undefined {
  const part = last.get({ text }, () => parse(key, text) ?? 'unusual')
  return part === 'unusual' ? undefined : part
}

function parse(key: string, text: string): PartDocument | undefined {
  const read = documentOf(text, { what: 'part', begins: key })
  if ('problems' in read || hasAlias(read.document)) return undefined
  const pairs = isMap(read.document.contents) ? read.document.contents.items : []
  return pairs.length === 1 ? { ...read, pair: pairs[0] as Pair<Node, Node | null> } : undefined
}

/** What an alias stands for may be in a part before it. */
function hasAlias(document: Document): boolean {
  let found = false
  visit(document, {
    Alias() {
      found = true
      return visit.BREAK
    },
  })
  return found
}
