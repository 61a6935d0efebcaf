/**
 * Variants of a file that is read part by part: of each, only the parts that it changes are read, and those that an edit leaves
 * as they were are not read again. Whatever is unusual, or wrong, is left to the reader of whole files, which is the referee.
 */

import type { Node } from 'yaml'
import { Remembered } from '../units/index.js'
import { NO_ALIASES } from './aliases.js'
import type { PartTexts } from './by-parts.js'
import { type PartDocument, partDocument } from './part-document.js'
import { type Design, stationShape } from './schema.js'
import { Validator } from './validate.js'
import { alikeProblems, mapOf, NOT_TAKEN_OVER, type VariantInfo, VariantReader } from './variants.js'

/** Variants whose own keys are the same, with the parts of the design that they change. */
type Changes = ReadonlyMap<string, Record<string, unknown>>

const lastNames = new Remembered<Names | 'unusual'>(4)
const lastChanges = new Remembered<Changes | 'unusual'>(64)

interface Names {
  nodes: VariantReader['variants']
  keys: readonly string[][]
}

/**
 * @param isSound whether a design has no problem that no single part can see
 * @returns `undefined` where the file must be read as a whole
 */
export function variantsByParts(
  texts: PartTexts,
  base: Design,
  isSound: (design: Design) => boolean,
): VariantInfo[] | undefined {
  const own = texts.get('variants')
  if (!own) return []
  const names = lastNames.get({ text: own.text }, () => namesOf(own.text) ?? 'unusual')
  if (names === 'unusual') return undefined
  const taken = Object.fromEntries(Object.entries(base).filter(([key]) => !NOT_TAKEN_OVER.includes(key)))
  const found: (VariantInfo & { design: Design })[] = []
  for (const [i, { name, suits, line }] of names.nodes.entries()) {
    const keys = names.keys[i]!
    const text = [...keys.map((key) => texts.get(key)?.text ?? ''), own.text].join('\0')
    const of = { text: `${keys.join(' ')}\0${text}` }
    const changes = lastChanges.get(of, () => changesOf(texts, keys, names) ?? 'unusual')
    if (changes === 'unusual') return undefined
    const design = { ...taken, ...changes.get(name) } as Design
    if (!isSound(design)) return undefined
    found.push({ name, line: own.line + line - 1, design, ...(suits === undefined ? {} : { suits }) })
  }
  if (alikeProblems(base, found, names.nodes).length > 0) return undefined
  return found.map(({ design: _, ...info }) => info)
}

function namesOf(text: string): Names | undefined {
  const part = partDocument('variants', text)
  if (!part) return undefined
  const reader = new VariantReader(
    part.document.contents as Node,
    part.lines,
    new Validator(part.lines, NO_ALIASES),
  )
  return { nodes: reader.variants, keys: reader.variants.map((v) => reader.keysOf(v)) }
}

/** Of each variant that changes these keys, what they are in it. */
function changesOf(texts: PartTexts, keys: readonly string[], names: Names): Changes | undefined {
  const pairs: PartDocument['pair'][] = []
  const read = (key: string) => {
    const { text } = texts.get(key) ?? {}
    if (text === undefined) return undefined
    const part = partDocument(key, text)
    if (part) pairs.push(part.pair)
    return part
  }
  for (const key of keys) if (!read(key) && texts.has(key)) return undefined
  const own = read('variants')
  if (!own) return undefined
  const validatorOf = () => new Validator(own.lines, NO_ALIASES)
  const reader = new VariantReader(mapOf(pairs, null), own.lines, validatorOf())
  const shape = {
    kind: 'record',
    title: '',
    keys: Object.fromEntries(Object.entries(stationShape.keys).filter(([key]) => keys.includes(key))),
  } as const
  const changes = new Map<string, Record<string, unknown>>()
  for (const [i, variant] of reader.variants.entries()) {
    if (names.keys[i]!.join() !== keys.join()) continue
    const merged = reader.merged(variant)
    if ('problems' in merged) return undefined
    // Only whether there is a problem counts: its line would be that of another part.
    const validator = validatorOf()
    const value = validator.read(merged.node, shape, [])
    if (validator.problems.length > 0) return undefined
    const gone = Object.fromEntries(keys.map((key) => [key, undefined]))
    changes.set(variant.name, { ...gone, ...(value as Record<string, unknown>) })
  }
  return changes
}
