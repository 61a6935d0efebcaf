/** Readings and symptoms as people write them. */
import { formatNumber, InputError, nearest, parseQuantity } from '../units/index.js'
import { INSTRUMENTS, type InstrumentId, type MeterError } from './data/instruments.data.js'
import { type Quantity, READINGS } from './data/readings.data.js'
import { SYMPTOMS, type SymptomId } from './data/symptoms.data.js'
import type { Spot } from './model/expect.js'
import { type Place, placeBy, type Station } from './model/station.js'

export interface Reading {
  spot: Spot
  instrument: InstrumentId
  /** In the unit of its kind, or one of its words. */
  value: number | string
  /** Greatest error of this very instrument, where it is known: a share of the reading, and more in its unit. */
  error?: MeterError
}

export interface Symptom {
  id: SymptomId
  /** As places are written. */
  place?: string
}

const DIMENSIONS = { V: 'voltage', A: 'current', us: 'time', '°C': 'temperature' } as const

/**
 * `PLACE QUANTITY VALUE [INSTRUMENT]`: `track front.1 track volts under load 11.8 V rms meter`.
 * @throws InputError with what was found and what was expected
 */
export function parseReading(station: Station, spots: readonly Spot[], text: string): Reading {
  const clean = text.trim().replace(/\s+/g, ' ')
  const lower = clean.toLowerCase()
  const found = longest(
    spots.filter((s) => lower.startsWith(`${s.place.text} ${s.quantity} `.toLowerCase())),
    (s) => `${s.place.text} ${s.quantity}`,
  )
  if (!found) throw notThere(station, spots, clean)
  const rest = clean.slice(`${found.place.text} ${found.quantity} `.length)
  const named = longest(
    (Object.keys(INSTRUMENTS) as InstrumentId[]).filter((i) => rest.toLowerCase().endsWith(` ${i}`)),
    (i) => i,
  )
  const instrument = named ?? found.kind.instruments[0]!
  if (!found.kind.instruments.includes(instrument))
    throw new InputError(
      `${found.quantity} is not read with "${instrument}"; expected ${found.kind.instruments.join(' or ')}`,
    )
  const valueText = named ? rest.slice(0, -named.length - 1).trim() : rest
  return { spot: found, instrument, value: readingValue(found, valueText) }
}

/** A reading as {@link parseReading} has it, to nine digits. An own error of the instrument is not written. */
export function writtenReading({ spot, instrument, value }: Reading): string {
  const { unit } = spot.kind
  const shown = typeof value === 'string' ? value : `${formatNumber(value, 9)}${unit ? ` ${unit}` : ''}`
  return `${spot.place.text} ${spot.quantity} ${shown} ${instrument}`
}

/** @throws InputError */
export function readingValue(spot: Spot, text: string): number | string {
  const { words, unit, span, signed } = spot.kind
  if (words) {
    const word = words.find((w) => w.toLowerCase() === text.trim().toLowerCase())
    if (word === undefined)
      throw new InputError(`${spot.key} "${text}"; expected ${words.map((w) => `"${w}"`).join(' or ')}`)
    return word
  }
  const value = numberOf(text, unit)
  const least = signed ? -span : unit === '°C' ? -40 : 0
  if (value === undefined || !(value >= least && value <= span))
    throw new InputError(
      `${spot.key} "${text}"; expected a value such as "${formatNumber(span / 4, 2)} ${unit}" from ${least} to ${span}`,
    )
  return value
}

function numberOf(text: string, unit: string | undefined): number | undefined {
  const plain = /^[+-]?\d+(?:\.\d+)?$/.test(text.trim())
  if (plain) return Number(text)
  const dimension = DIMENSIONS[unit as keyof typeof DIMENSIONS]
  if (dimension) {
    const isNegative = text.trim().startsWith('-')
    const read = parseQuantity(text.trim().replace(/^[+-]/, ''), dimension)
    return read.ok ? (isNegative ? -read.value : read.value) : undefined
  }
  const own = /^(\d+(?:\.\d+)?) ?(\S+)$/.exec(text.trim())
  return own && own[2] === unit ? Number(own[1]) : undefined
}

function longest<T>(list: readonly T[], text: (item: T) => string): T | undefined {
  return list.reduce<T | undefined>(
    (best, item) => (best === undefined || text(item).length > text(best).length ? item : best),
    undefined,
  )
}

/** What is wrong with a reading that is of no place or quantity of the design. */
function notThere(station: Station, spots: readonly Spot[], text: string): InputError {
  const lower = text.toLowerCase()
  const place = longest(
    station.places.filter(
      (p) => lower === p.text.toLowerCase() || lower.startsWith(`${p.text} `.toLowerCase()),
    ),
    (p) => p.text,
  )
  if (place) {
    const own = spots.filter((s) => s.place.text === place.text).map((s) => s.quantity)
    return new InputError(
      `reading "${text}": ${own.length > 0 ? `expected after "${place.text}" one of ${own.join(', ')}, and a value` : `nothing is read at ${place.text} in this design`}`,
    )
  }
  const kind = /^\S+/.exec(text)?.[0]?.toLowerCase()
  const ofKind = station.places.filter((p) => p.kind === kind)
  const quantity = longest(
    (Object.keys(READINGS) as Quantity[]).filter((q) => lower.includes(` ${q} `)),
    (q) => q,
  )
  const name = quantity ? text.slice(0, lower.indexOf(` ${quantity} `)) : text
  if (ofKind.length === 0) {
    try {
      placeBy(station, name)
    } catch (error) {
      if (error instanceof InputError) return error
      throw error
    }
  }
  const close = nearest(
    name,
    ofKind.map((p) => p.text),
  )
  return new InputError(
    `reading "${text}": no place "${name}" in this design; expected one of ${some(ofKind)}${close ? `; the nearest is "${close}"` : ''}`,
  )
}

function some(places: readonly Place[]): string {
  const names = places.map((p) => p.text)
  return names.length > 8 ? `${names.slice(0, 8).join(', ')} and ${names.length - 8} more` : names.join(', ')
}

/** `NAME` or `NAME at PLACE`. @throws InputError */
export function parseSymptom(station: Station, text: string): Symptom {
  const clean = text.trim().replace(/\s+/g, ' ')
  const ids = Object.keys(SYMPTOMS) as SymptomId[]
  const id = longest(
    ids.filter((s) => clean.toLowerCase() === s || clean.toLowerCase().startsWith(`${s} at `)),
    (s) => s,
  )
  if (!id) {
    const close = nearest(clean, ids)
    throw new InputError(
      `no symptom "${clean}"; expected one of ${ids.join(', ')}${close ? `; the nearest is "${close}"` : ''}`,
    )
  }
  const where = clean.slice(id.length + ' at '.length)
  if (where === '') return { id }
  const kind = SYMPTOMS[id]
  if (!('place' in kind)) throw new InputError(`symptom "${id}" has no place; found "at ${where}"`)
  const place = placeBy(station, where.startsWith(`${kind.place} `) ? where : `${kind.place} ${where}`)
  return { id, place: place.text }
}
