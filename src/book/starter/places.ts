/** The marked places of the starter firmware: what a builder wrote there outlives a regeneration. */
import { codeUnits, sha256Hex } from '../../units/index.js'

/** Comment marks of a kind of file: slash and star in C, `#` in a Makefile. */
const BEGIN = /^\s*(?:\/\*|#|<!--) your own: (.+?)(?: \*\/| -->)?$/
const END = /^\s*(?:\/\*|#|<!--) end of your own: (.+?)(?: \*\/| -->)?$/
/** Anything that looks like one of the two, so that a damaged mark is not taken for code. */
const LIKE_A_MARK = /\byour own:/
const SUM = /halfbit starter, sum ([0-9a-f]{12}|-{12})/
const NO_SUM = '-'.repeat(12)
/** The sum is in one of the first lines. */
const SUM_WITHIN = 3

/** A marked place in a C file. */
export function place(name: string, text = ''): string {
  return `/* your own: ${name} */\n${text}/* end of your own: ${name} */\n`
}

/** The same where comments begin with a hash. */
export function hashPlace(name: string, text = ''): string {
  return `# your own: ${name}\n${text}# end of your own: ${name}\n`
}

/** First line of a C file; {@link sealed} puts the sum in. */
export const C_HEAD = `/* Written by halfbit starter, sum ${NO_SUM}. Change only what is between "your own" and "end of your own". */\n`
export const HASH_HEAD = `# Written by halfbit starter, sum ${NO_SUM}. Change only what is between "your own" and "end of your own".\n`
export const PAGE_HEAD = `<!-- Written by halfbit starter, sum ${NO_SUM}. Written anew each time: keep your notes elsewhere. -->\n`

interface Parsed {
  /** Lines outside of the places, the marks included, with the sum blanked. */
  outside: string
  places: Map<string, { line: number; text: string }>
}

/** What is wrong with a file that is to be written anew. */
export interface PlaceFault {
  line?: number
  found: string
  expected: string
}

function parse(text: string): Parsed | PlaceFault {
  const outside: string[] = []
  const places: Parsed['places'] = new Map()
  let open: { name: string; line: number; lines: string[] } | undefined
  for (const [i, raw] of text.replaceAll('\r\n', '\n').split('\n').entries()) {
    const line = i + 1
    const end = END.exec(raw)?.[1]
    const begin = end === undefined ? BEGIN.exec(raw)?.[1] : undefined
    if (begin !== undefined) {
      if (open)
        return {
          line,
          found: `"your own: ${begin}" inside of "${open.name}", which began in line ${open.line}`,
          expected: `"end of your own: ${open.name}" before it`,
        }
      if (places.has(begin))
        return { line, found: `"your own: ${begin}" a second time`, expected: 'each place once' }
      open = { name: begin, line, lines: [] }
      outside.push(raw)
    } else if (end !== undefined) {
      if (open?.name !== end)
        return {
          line,
          found: `"end of your own: ${end}"`,
          expected: open ? `"end of your own: ${open.name}"` : `"your own: ${end}" somewhere before it`,
        }
      places.set(end, { line: open.line, text: open.lines.map((l) => `${l}\n`).join('') })
      open = undefined
      outside.push(raw)
    } else if (open) {
      if (LIKE_A_MARK.test(raw))
        return { line, found: `a damaged mark: ${raw.trim()}`, expected: `"end of your own: ${open.name}"` }
      open.lines.push(raw)
    } else outside.push(i < SUM_WITHIN ? raw.replace(SUM, `halfbit starter, sum ${NO_SUM}`) : raw)
  }
  if (open)
    return {
      line: open.line,
      found: `"your own: ${open.name}" without an end`,
      expected: `"end of your own: ${open.name}" after your code`,
    }
  return { outside: outside.join('\n'), places }
}

function sumOf(outside: string): string {
  return sha256Hex(codeUnits(outside)).slice(0, NO_SUM.length)
}

/** A new file with the sum of what is outside of its places. */
export function sealed(text: string): string {
  const parsed = parse(text)
  // Only a fault of a template could get here.
  if (!('outside' in parsed)) throw new RangeError(`${parsed.found}; expected ${parsed.expected}`)
  return text.replace(SUM, `halfbit starter, sum ${sumOf(parsed.outside)}`)
}

/**
 * A new file with what the builder wrote in the places of the old one.
 * @param discard give up changes outside of the places, and places that are no more.
 */
export function keptPlaces(fresh: string, old: string, discard = false): string | PlaceFault {
  const head = old.split('\n', SUM_WITHIN).join('\n')
  const sum = SUM.exec(head)?.[1]
  if (sum === undefined)
    return {
      found: 'a file that was not written by the starter',
      expected: 'an empty folder, or one that it wrote before',
    }
  const parsed = parse(old)
  if (!('outside' in parsed)) return parsed
  if (!discard && sumOf(parsed.outside) !== sum)
    return {
      found: 'changes outside of the places for your own code, which would be lost',
      expected: 'them between "your own" and "end of your own"',
    }
  const now = parse(fresh)
  if (!('outside' in now)) return now
  for (const [name, { line, text }] of parsed.places)
    if (!discard && !now.places.has(name) && text.trim() !== '')
      return {
        line,
        found: `code in "${name}", which the new file does not have`,
        expected: 'it moved to another place, or taken out',
      }
  return filled(fresh, parsed.places)
}

function filled(fresh: string, places: Parsed['places']): string {
  const out: string[] = []
  let inside = false
  for (const raw of fresh.split('\n')) {
    if (END.test(raw)) inside = false
    if (!inside) out.push(raw)
    const name = END.test(raw) ? undefined : BEGIN.exec(raw)?.[1]
    const kept = name === undefined ? undefined : places.get(name)
    if (!kept) continue
    inside = true
    if (kept.text !== '') out.push(kept.text.replace(/\n$/, ''))
  }
  return out.join('\n')
}
