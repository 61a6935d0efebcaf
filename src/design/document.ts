/** A YAML file of ours as one document, or what is wrong with it before anything in it is looked at. */
import { Composer, type Document, LineCounter, Parser } from 'yaml'
import type { Path, Problem } from './problem.js'
import { MOST_PROBLEMS, type Place, type Validator } from './validate.js'

const TOO_DEEP = 'lists or mappings are nested too deeply'

/** No file of ours is this long; a larger file is another file. */
const LONGEST = 2 << 20

export const top = (): Place => ({ line: 1, column: 1 })

/** @param expected what the file holds (`design`), and the key that it begins with. */
export function documentOf(
  text: string,
  { what, begins }: { what: string; begins: string },
): { document: Document; lines: LineCounter } | { problems: Problem[] } {
  const only = (message: string, line = 1, column = 1) => ({
    problems: [{ path: [], line, column, message }],
  })
  if (text.length > LONGEST) return only(`the file has ${text.length} letters; expected at most ${LONGEST}`)
  const nul = text.indexOf('\0')
  if (nul >= 0) {
    const before = text.slice(0, nul).split('\n')
    return only('a NUL byte; expected a text file in UTF-8', before.length, before.at(-1)!.length + 1)
  }
  const lines = new LineCounter()
  let documents: Document[]
  try {
    documents = firstTwo(text.replace(/^\ufeff/, ''), lines)
  } catch (error) {
    if (error instanceof RangeError) return only(TOO_DEEP)
    throw error
  }
  const [document, second] = documents
  if (!document || document.contents === null)
    return only(`the file is empty; expected a ${what} with ${begins}`)
  const deep = document.errors.find((error) => /call stack/.test(error.message))
  if (deep) {
    const { line, col } = lines.linePos(deep.pos[0])
    return only(TOO_DEEP, line, col)
  }
  const problems = document.errors.slice(0, MOST_PROBLEMS).map((error): Problem => {
    const { line, col } = lines.linePos(error.pos[0])
    return { path: [], line, column: col, message: yamlSays(error.code, error.message) }
  })
  if (second) {
    const { line, col } = lines.linePos(second.range?.[0] ?? 0)
    problems.push({
      path: [],
      line,
      column: col,
      message: `a second document begins; expected one ${what} in a file`,
    })
  }
  return problems.length > 0 ? { problems: inOrder(problems) } : { document, lines }
}

/** What is said of a file that the stack is too small for. */
export function entangled(): Problem {
  return { path: [], line: 1, column: 1, message: `${TOO_DEEP}, or an alias contains itself` }
}

/** Where a key is in the file; where it is not there, the nearest part above it that is. */
export function placeIn(validator: Validator, path: Path): Place {
  for (let n = path.length; n > 0; n--) {
    const place = validator.places.get(path.slice(0, n).join('.'))
    if (place) return place
  }
  return top()
}

export function inOrder(problems: Problem[]): Problem[] {
  return [...problems].sort((a, b) => a.line - b.line || a.column - b.column)
}

/**
 * The first document, and the second if there is one: what follows is wrong anyhow. Keys that stand twice are found by
 * the validator, as the parser compares each key with all before it.
 */
function firstTwo(text: string, lines: LineCounter): Document[] {
  const composer = new Composer({ lineCounter: lines, prettyErrors: false, uniqueKeys: false })
  const documents: Document[] = []
  for (const document of composer.compose(new Parser(lines.addNewLine).parse(text))) {
    documents.push(document)
    if (documents.length === 2) break
  }
  return documents
}

/** The parser's message in one plain line. */
function yamlSays(code: string, message: string): string {
  // It has the same code as a wrong indent.
  const [, flow] = /^Flow (sequence|map)\b/.exec(message) ?? []
  if (flow)
    return `found no ${flow === 'sequence' ? ']' : '}'} for the ${flow === 'sequence' ? '[' : '{'} opened before`
  const words: Record<string, string> = {
    TAB_AS_INDENT: 'a tab where spaces must indent',
    BLOCK_AS_IMPLICIT_KEY: 'a second ": " in this line; put a text that contains one in quotes',
    BAD_INDENT: 'this line is indented differently from those it belongs to',
  }
  return words[code] ?? (message.split('\n')[0] ?? 'not YAML').replace(/ at line \d+.*$/, '')
}
