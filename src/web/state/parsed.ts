import { type Document, parseDocument } from 'yaml'

let last: { text: string; document: Document.Parsed } | undefined

/**
 * The text as YAML, read once for all who ask about the same text: that takes 10 ms for a large design, on the thread
 * that draws. Not to be changed by them.
 */
export function parsed(text: string): Document.Parsed {
  if (last?.text !== text) last = { text, document: parseDocument(text, { prettyErrors: false }) }
  return last.document
}
