/**
 * Sentences whose numbers are kept beside them, each with where it comes from: nothing in the book is a number of its own.
 * A test follows every one of them back.
 */
import { formatNumber, formatShare, formatSi, formatTimeUs } from '../../units/index.js'
import { FORMULAS, type FormulaName } from './formulas.js'

/** Keys from the top of the book's sources; a key of a list is the `name` of one of its items, or its index. */
export type SourcePath = readonly (string | number)[]

export type FigureUnit = 'V' | 'A' | 'us' | 'Ohm' | 'F' | 'W' | '°C' | 'mm' | 'mm2' | 'Hz' | 'share' | ''

export interface Figure {
  value: number
  unit: FigureUnit
  /** As it is printed. */
  text: string
  /** What it is made of; itself where there is no formula. */
  from: readonly SourcePath[]
  by?: FormulaName
}

/** A text with the figures that are in it. */
export interface Said {
  text: string
  figures: readonly Figure[]
}

/** Where the figures of a book come from. */
export type Sources = Readonly<Record<string, unknown>>

/** @returns what lies at the path; `undefined` where it leads nowhere. */
export function atSource(sources: unknown, path: SourcePath): unknown {
  return path.reduce<unknown>((at, key) => {
    if (at === null || typeof at !== 'object') return undefined
    if (Array.isArray(at) && typeof key === 'string') return at.find((item) => item?.name === key)
    return Object.hasOwn(at, key) ? (at as Record<string | number, unknown>)[key] : undefined
  }, sources)
}

const DIGITS = 3

export function inUnit(exact: number, unit: FigureUnit, digits = DIGITS): string {
  // 999.9 mA is 1 A: rounded first, then given its prefix.
  const value = Number.isFinite(exact) ? Number(exact.toPrecision(digits)) : exact
  if (unit === 'us') return formatTimeUs(value, digits)
  if (unit === 'share') return formatShare(value, digits)
  if (unit === '°C' || unit === '') return `${formatNumber(value, digits)}${unit === '' ? '' : ` ${unit}`}`
  if (unit === 'mm')
    return value >= 1000 ? `${formatNumber(value / 1000, digits)} m` : `${formatNumber(value, digits)} mm`
  if (unit === 'mm2') return `${formatNumber(value, digits)} mm2`
  if (unit === 'V') return `${formatNumber(value, digits)} V`
  return formatSi(value, unit, digits)
}

/** Takes figures out of the sources; what is not there is no figure. */
export class Figures {
  readonly #sources: Sources

  constructor(sources: Sources) {
    this.#sources = sources
  }

  /** The number at a path. */
  at(unit: FigureUnit, ...path: SourcePath): Figure | undefined {
    const value = atSource(this.#sources, path)
    if (typeof value !== 'number' || Number.isNaN(value)) return undefined
    return { value, unit, text: inUnit(value, unit), from: [path] }
  }

  /** A number made of others by a formula that is known by name. */
  by(unit: FigureUnit, formula: FormulaName, ...from: readonly SourcePath[]): Figure | undefined {
    const values = from.map((path) => atSource(this.#sources, path))
    if (!values.every((v): v is number => typeof v === 'number' && !Number.isNaN(v))) return undefined
    const formulaOf: (...values: number[]) => number = FORMULAS[formula]
    const value = formulaOf(...values)
    return Number.isNaN(value) ? undefined : { value, unit, text: inUnit(value, unit), from, by: formula }
  }
}

/** Joins words, figures and other texts. */
export function said(words: TemplateStringsArray, ...parts: readonly (Figure | Said | string)[]): Said {
  let text = words[0]!
  const figures: Figure[] = []
  parts.forEach((part, i) => {
    if (typeof part === 'string') text += part
    else {
      text += part.text
      figures.push(...('figures' in part ? part.figures : [part]))
    }
    text += words[i + 1]!
  })
  return { text, figures }
}

export const plain = (text: string): Said => ({ text, figures: [] })

export function joined(list: readonly Said[], between = ' '): Said {
  return { text: list.map((s) => s.text).join(between), figures: list.flatMap((s) => s.figures) }
}

/** `12.6 to 13.4 V`, in the order of size. */
export function between(a: Figure, b: Figure): Said {
  const [low, high] = a.value <= b.value ? [a, b] : [b, a]
  // Close together they need more digits to be told apart.
  for (let digits = DIGITS; digits <= 6; digits++) {
    const [l, h] = [low, high].map((x) => ({ ...x, text: inUnit(x.value, x.unit, digits) })) as [
      Figure,
      Figure,
    ]
    if (l.text !== h.text) return said`${l} to ${h}`
  }
  return said`${low}`
}
