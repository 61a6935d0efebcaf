/** Which values may stand at the caret: from the shape of the key, and from the names that the design itself gives. */
import { isMap } from 'yaml'
import { designShape } from '../../design/index.js'
import type { Shape } from '../../shape/index.js'
import { DIMENSIONS, parseQuantity } from '../../units/index.js'
import { parsed } from '../state/parsed.js'
import { shapeAt } from './keys-at.js'

export interface ValueOffer {
  /** As it is written into the file. */
  value: string
  says: string
}

export interface ValuesHere {
  /** The key whose value it is. */
  key: string
  /** What is replaced: from here to there. */
  from: number
  to: number
  offers: ValueOffer[]
  /** Beyond those. */
  more: number
}

/** Conductors of model railroads by gauge: ASTM B258 has them all, these are the usual ones (common practice). */
const GAUGES = [12, 14, 16, 18, 20, 22, 24, 26]
const SECTIONS = ['2.5 mm2', '1.5 mm2', '1 mm2', '0.75 mm2', '0.5 mm2', '0.25 mm2', '0.14 mm2']

const MOST = 24

/**
 * @param at the caret.
 * @param pins of the chip, where they are known.
 * @returns undefined where no value stands. The text need be no sound YAML: a value is offered while it is being typed.
 */
export function valuesAt(text: string, at: number, pins: readonly string[] = []): ValuesHere | undefined {
  const lineStart = text.lastIndexOf('\n', at - 1) + 1
  const lineEnd = text.indexOf('\n', at) < 0 ? text.length : text.indexOf('\n', at)
  const before = text.slice(lineStart, at)
  if (/(^|\s)#/.test(before)) return undefined
  const key = /(?:^|[\s{,])(?:- +)?("[^"]*"|[\w-][\w -]*):( *)([^,{}[\]]*)$/.exec(before)
  if (!key || (key[2] === '' && key[3] === '')) return undefined
  const typed = key[3]!
  const rest = /^[^,{}[\]#\n]*/.exec(text.slice(at, lineEnd))![0].trimEnd()
  // In front of a list or of braces there is no room for a value.
  if (/^\s*[{[]/.test(text.slice(at + rest.length, lineEnd))) return undefined
  // The space in front of a comment makes it one.
  const end = at + rest.length
  const comment = text[end] === '#'
  if (comment && typed.trim() === '') return undefined
  const name = unquoted(key[1]!)
  const path = [...outerPath(text, lineStart), ...flowPath(before.slice(0, key.index + 1)), name]
  const shape = leafOf(shapeAt(path), path)
  if (!shape) return undefined
  const wanted = typed.trim().toLowerCase()
  const all = offersOf(shape, name, typed.trim(), text, pins)
  // A whole value that stands there is no reason to hide the others.
  const whole = all.some((o) => o.value.toLowerCase() === (typed + rest).trim().toLowerCase())
  const fits = (o: ValueOffer) => `${o.value} ${o.says}`.toLowerCase().includes(wanted)
  const fitting = whole || wanted === '' ? all : all.filter(fits)
  return {
    key: name,
    from: at - typed.length,
    to: comment ? end - 1 : end,
    offers: fitting.slice(0, MOST),
    more: Math.max(0, fitting.length - MOST),
  }
}

function unquoted(key: string): string {
  return key.replace(/^"(.*)"$/, '$1').trim()
}

/** Keys around a line, by their indentation. */
function outerPath(text: string, lineStart: number): (string | number)[] {
  const lines = text.slice(0, lineStart).split('\n')
  const own = /^ *(- +)*/.exec(text.slice(lineStart))![0]
  let depth = own.length
  const path: (string | number)[] = own.includes('-') ? [0] : []
  // In front of a dash stands what the list belongs to.
  if (own.includes('-')) depth = own.indexOf('-')
  for (let i = lines.length - 1; i >= 0 && depth > 0; i--) {
    const line = /^( *)(- +)?("[^"]*"|[^\s#:"][^#:"]*):(?: |$)/.exec(lines[i]!)
    if (!line) continue
    const [, indent, dash, key] = line
    const column = indent!.length + (dash?.length ?? 0)
    if (column >= depth && !(dash && indent!.length < depth)) continue
    if (column < depth) path.unshift(unquoted(key!))
    if (dash) path.unshift(0)
    depth = dash ? indent!.length : column
  }
  return path
}

/** Keys of the braces that are open on the line: `main: { pin: ` is inside `main`. */
function flowPath(before: string): string[] {
  const open: string[] = []
  for (const [, key, brace] of before.matchAll(/("[^"]*"|[\w-][\w -]*):\s*(?=\{)|([{}])/g)) {
    if (key !== undefined) open.push(unquoted(key))
    else if (brace === '}') open.pop()
  }
  return open
}

function leafOf(shape: Shape | undefined, path: readonly (string | number)[]): Shape | undefined {
  if (shape?.kind === 'list') return leafOf(shape.of, path)
  if (shape?.kind === 'either')
    return shape.of.find((s) => s.kind !== 'record' && s.kind !== 'named' && s.kind !== 'list')
  return shape?.kind === 'record' || shape?.kind === 'named' ? undefined : shape
}

function offersOf(
  shape: Shape,
  name: string,
  typed: string,
  text: string,
  pins: readonly string[],
): ValueOffer[] {
  switch (shape.kind) {
    case 'choice':
      return Object.entries(shape.choices).map(([value, says]) => ({
        value,
        says: says === value ? '' : says,
      }))
    case 'switch':
      return [
        { value: 'true', says: 'yes' },
        { value: 'false', says: 'no' },
      ]
    case 'quantity': {
      const number = /^-?\d+([.,]\d+)?/.exec(typed)?.[0]
      const usual = [shape.default, shape.example].filter((v) => typeof v === 'string')
      if (number === undefined)
        return [...new Set([...usual, DIMENSIONS[shape.dimension].example])].map((value) => ({
          value,
          says: value === shape.default ? 'usual' : 'such as',
        }))
      // The units that make it a value which may stand here.
      const { min = Number.NEGATIVE_INFINITY, max = Number.POSITIVE_INFINITY } = shape
      return Object.keys(DIMENSIONS[shape.dimension].units)
        .filter((unit) => !/[µμΩ²°"]/.test(unit))
        .map((unit) => `${number} ${unit}`.trim())
        .filter((value) => {
          const read = parseQuantity(value, shape.dimension)
          return read.ok && read.value >= min && read.value <= max
        })
        .map((value) => ({ value, says: '' }))
    }
    case 'number':
      return shape.default === undefined ? [] : [{ value: String(shape.default), says: 'usual' }]
    case 'text': {
      if (/AWG/.test(shape.pattern ?? ''))
        return [...GAUGES.map((n) => `${n} AWG`), ...SECTIONS].map((value) => ({ value, says: '' }))
      if (shape.patternSays?.includes('port pin')) return pins.map((value) => ({ value, says: 'pin' }))
      return namesFor(name, text)
    }
    default:
      return []
  }
}

/** `driver` means one of the design's drivers, `district` one of its districts, and so on. */
function namesFor(name: string, text: string): ValueOffer[] {
  const plural = name === 'policy' ? 'policies' : `${name}s`
  const document = parsed(text)
  const offers: ValueOffer[] = []
  const look = (shape: Shape, path: string[]) => {
    if (shape.kind !== 'record') return
    for (const [key, child] of Object.entries(shape.keys)) {
      if (child.kind === 'named' && key === plural) {
        const there = document.getIn([...path, key])
        if (!isMap(there)) continue
        for (const pair of there.items) offers.push({ value: String(pair.key), says: `of ${path.join('.')}` })
      } else look(child, [...path, key])
    }
  }
  look(designShape as Shape, [])
  return offers
}
