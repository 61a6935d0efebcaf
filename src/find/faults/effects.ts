/** What a fault changes, in terms of the models and of what instruments show. */
import type { Quantity } from '../data/readings.data.js'
import type { SymptomId } from '../data/symptoms.data.js'
import type { Station } from '../model/station.js'
import type { Span, WiringEdit } from '../model/wiring-edit.js'

/** Of the usual peak voltage: what alternates between the wires, and what is left as DC, wire A positive. */
export interface Wave {
  ac: number
  dc: number
}

/** A word, or several with their chances. */
export type Words = string | Readonly<Record<string, number>>

export interface Effects {
  edits: readonly WiringEdit[]
  /** By supply: share of its usual voltage, and resistance in its way, Ohm. */
  supplies: ReadonlyMap<string, { share: Span; ohm: Span }>
  /** By district. */
  waves: ReadonlyMap<string, Wave>
  /** By {@link readingKey}: the figure times so much, or another one. */
  figures: ReadonlyMap<string, { times: Span } | { set: Span }>
  words: ReadonlyMap<string, Words>
  /** No decoder follows any more, for certain or perhaps. */
  trains: 'run' | 'perhaps' | 'stand'
}

export const NO_EFFECT: Effects = {
  edits: [],
  supplies: new Map(),
  waves: new Map(),
  figures: new Map(),
  words: new Map(),
  trains: 'run',
}

export function readingKey(place: string, quantity: Quantity): string {
  return `${place}: ${quantity}`
}

/** Both at once: what one of them stops is stopped. */
export function together(a: Effects, b: Effects): Effects {
  const waves = new Map(a.waves)
  for (const [name, w] of b.waves) {
    const had = waves.get(name) ?? { ac: 1, dc: 0 }
    waves.set(name, { ac: had.ac * w.ac, dc: had.ac === 0 && had.dc === 0 ? 0 : had.dc || w.dc })
  }
  const trains = [a.trains, b.trains]
  return {
    edits: [...a.edits, ...b.edits],
    supplies: new Map([...a.supplies, ...b.supplies]),
    waves,
    figures: new Map([...a.figures, ...b.figures]),
    words: new Map([...a.words, ...b.words]),
    trains: trains.includes('stand') ? 'stand' : trains.includes('perhaps') ? 'perhaps' : 'run',
  }
}

/** One fault at one place of a design. */
export interface FaultAt {
  /** Where it is, as places are written: `feeder mill/A`. */
  place: string
  /** In words, a whole clause. */
  words: string
  /** One effect for each degree or form of it that is told apart; equally likely. */
  forms: readonly Partial<Effects>[]
  /** What people notice of it here, where that is not what its kind causes. */
  causes?: readonly SymptomId[]
}

export interface FaultKindEntry {
  title: string
  /** How often it happens, against the others, at each of its places; common practice, no source. */
  weight: number
  /** What people notice. Where trains stop for want of voltage follows from the network instead. */
  causes: readonly SymptomId[]
  at(station: Station): FaultAt[]
}
