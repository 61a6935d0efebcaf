/**
 * A new part of a design that is complete at once: required keys with their examples, names that refer to what is there,
 * and what cannot be left open beside what is there already. What the reader would not have is not written.
 */
import { parse } from 'yaml'
import { CHIPS, type ChipId, freePins, pinName } from '../controller/index.js'
import type { Shape } from '../shape/index.js'
import { DIMENSIONS } from '../units/index.js'
import { removeFromDesign, setInDesign } from './edit.js'
import { loadDesign } from './load.js'
import { DesignError, type Path } from './problem.js'
import { designShape } from './schema.js'
import { upgradeDesign } from './versions.js'

export type Added = { text: string } | { refused: string }

type Data = Record<string, unknown>

/** What a new part begins with: its required keys with their examples. */
export function emptyOf(shape: Shape): unknown {
  switch (shape.kind) {
    case 'record':
      return Object.fromEntries(
        Object.entries(shape.keys)
          .filter(([, child]) => !child.optional && !('default' in child && child.default !== undefined))
          .map(([key, child]) => [key, emptyOf(child)]),
      )
    case 'named':
      return (shape.minItems ?? 0) > 0 ? { main: emptyOf(shape.of) } : {}
    case 'list':
      if (shape.orOne) return shape.example ?? emptyOf(shape.of)
      return Array.from({ length: shape.minItems ?? 0 }, (_, i) => nth(emptyOf(shape.of), i))
    case 'either':
      return emptyOf(shape.of[0]!)
    case 'quantity':
      return shape.example ?? shape.default ?? DIMENSIONS[shape.dimension].example
    case 'number':
      return shape.example ?? shape.default ?? shape.min ?? 0
    case 'choice':
      return shape.default ?? Object.keys(shape.choices)[0]
    case 'switch':
      return shape.default ?? false
    default:
      return shape.example ?? shape.default ?? ''
  }
}

/** Points of a drawing lie apart. */
function nth(item: unknown, i: number): unknown {
  return Array.isArray(item) && item.every((n) => typeof n === 'number') && i > 0
    ? item.map((n: number, axis) => (axis === 0 ? n + 500 * i : n))
    : item
}

/** Which names a key refers to. */
const NAMES_AT: Readonly<Record<string, Path>> = {
  supply: ['power', 'supplies'],
  driver: ['power', 'drivers'],
  district: ['power', 'districts'],
  output: ['signal', 'outputs'],
  bus: ['track', 'bus'],
}

/**
 * The text with a part added at a path that leads to nothing yet, or why it cannot be.
 * @param given the part itself, where it is not made here: a reading with figures of ours would count as measured.
 */
export function addToDesign(before: string, path: Path, given?: unknown): Added {
  const text = upgradeDesign(before)
  const data = (parse(text) ?? {}) as Data
  const shape = shapeFor(path)
  if (!shape) return { refused: `nothing can be added at ${path.join('.')}` }
  const old = problemsOf(text)
  const list = at(data, path.slice(0, -1))
  // Written anew, `[]` becomes lines of their own for the first entry and all that follow.
  const isFirst = Array.isArray(list) && list.length === 0 && path.at(-1) === 0
  let first = ''
  for (const value of given === undefined ? candidates(shape, path, data) : [given]) {
    let next = text
    try {
      for (const [at, put] of [...beside(path, data), ...ownDriver(path, data)])
        next = setInDesign(next, at, put)
      next = isFirst
        ? setInDesign(removeFromDesign(next, path.slice(0, -1)), path.slice(0, -1), [value])
        : setInDesign(next, path, value)
    } catch (error) {
      if (!(error instanceof RangeError)) throw error
      first ||= error.message
      continue
    }
    const problem = problemsOf(next).find((p) => !old.some((o) => o === p))
    if (problem === undefined) return { text: next }
    first ||= problem
  }
  return { refused: first }
}

function problemsOf(text: string): string[] {
  try {
    loadDesign(text)
    return []
  } catch (error) {
    if (error instanceof DesignError) return error.problems.map((p) => p.message)
    throw error
  }
}

function shapeFor(path: Path): Shape | undefined {
  let shape: Shape | undefined = designShape as Shape
  for (const key of path) {
    if (shape?.kind === 'either')
      shape =
        shape.of.find((s) => (typeof key === 'number') === (s.kind === 'list') && s.kind !== 'text') ??
        shape.of[0]
    if (shape?.kind === 'record') shape = shape.keys[key]
    else if (shape?.kind === 'named' || shape?.kind === 'list') shape = shape.of
    else return undefined
  }
  return shape
}

const at = (data: unknown, path: Path): unknown =>
  path.reduce<unknown>(
    (now, key) => (typeof now === 'object' && now !== null ? (now as Data)[key as string] : undefined),
    data,
  )
const namesAt = (data: Data, path: Path) => {
  const there = at(data, path)
  return typeof there === 'object' && there !== null ? Object.keys(there) : []
}

/** Values to try, the simplest first. */
function* candidates(shape: Shape, path: Path, data: Data): Generator<unknown> {
  const plain = referring(emptyOf(shape), shape, data)
  const where = path.slice(0, 2).join('.')
  const entry = path.length === 3
  if (entry && where === 'signal.outputs') {
    const pin = freePin(data)
    yield { ...(plain as Data), ...(pin === undefined ? {} : { pin }) }
  }
  if (entry && where === 'power.districts') {
    // It gets a driver of its own, of the kind that is there.
    const [output] = namesAt(data, ['signal', 'outputs'])
    yield { driver: path[2], output }
  }
  if (entry && (where === 'track.sections' || where === 'track.turnouts')) {
    const bus = namesAt(data, ['track', 'bus'])[0]
    yield { ...(plain as Data), feeders: bus === undefined ? {} : { bus } }
  }
  if (path[0] === 'fleet' && path.length === 2) yield { ...(plain as Data), address: freeAddress(data) }
  if (where === 'traffic.stops' && entry) yield { ...(plain as Data), length: '900 mm' }
  if (path.includes('feeders'))
    for (const bus of namesAt(data, ['track', 'bus'])) yield { ...(plain as Data), bus }
  if (path.at(-1) === 'sense') yield { ...(plain as Data), resistance: '0.1 Ohm' }
  if (path.at(-1) === 'locomotives' || path.at(-1) === 'trains') yield namesAt(data, ['fleet'])[0]
  if (path.join('.') === 'firmware.commands') yield { stop: 'halt' }
  if (path.join('.') === 'power')
    // With a known part as driver and a breaker of its own, so that a railroad can be calculated at once.
    yield {
      supplies: { main: { voltage: '15 V', rating: '3 A' } },
      drivers: { main: { part: 'DRV8874' } },
      districts: { main: { trip: { current: '2 A', by: 'breaker', after: '2 ms' } } },
    }
  if (path.join('.') === 'track') {
    const district = namesAt(data, ['power', 'districts'])[0]
    yield {
      bus: { main: { ...(district === undefined ? {} : { district }), wire: '1.5 mm2', length: '2 m' } },
      sections: {
        main: {
          length: '1 m',
          points: [
            [0, 0],
            [1000, 0],
          ],
          feeders: { bus: 'main' },
        },
      },
    }
  }
  yield plain
  if (shape.kind === 'list' && !shape.orOne) yield []
  if (shape.kind === 'list' && shape.example !== undefined) yield shape.example
}

/** Names for the keys that refer to something of which there are several. */
function referring(value: unknown, shape: Shape, data: Data): unknown {
  if (shape.kind === 'list' && shape.orOne) return referring(value, shape.of, data)
  if (shape.kind !== 'record' || typeof value !== 'object' || value === null) return value
  const filled: Data = { ...(value as Data) }
  for (const key of Object.keys(shape.keys)) {
    const names = Object.hasOwn(NAMES_AT, key) ? namesAt(data, NAMES_AT[key]!) : []
    if (names.length > 0 && (key in filled || names.length > 1)) filled[key] = names[0]
  }
  return filled
}

/** What has to be said beside it: with a second supply, driver or output each part must say which one it means. */
function* beside(path: Path, data: Data): Generator<[Path, unknown]> {
  if (path.length !== 3) return
  const where = path.slice(0, 2).join('.')
  const [parts, key] =
    where === 'signal.outputs'
      ? [['power', 'districts'], 'output']
      : where === 'power.supplies'
        ? [['power', 'drivers'], 'supply']
        : where === 'power.drivers'
          ? [['power', 'districts'], 'driver']
          : where === 'power.districts'
            ? [['track', 'bus'], 'district']
            : where === 'track.bus'
              ? [['track', 'sections'], 'bus']
              : [[], '']
  const [only, ...others] = namesAt(data, path.slice(0, 2))
  if (key === '' || only === undefined || others.length > 0) return
  for (const name of namesAt(data, parts as Path)) {
    const own = [...parts, name]
    if (key !== 'bus') {
      if (at(data, [...own, key]) === undefined) yield [[...own, key], only]
      continue
    }
    const feeders = at(data, [...own, 'feeders'])
    if (Array.isArray(feeders)) {
      for (const [i, f] of feeders.entries())
        if ((f as Data | null)?.['bus'] === undefined) yield [[...own, 'feeders', i, 'bus'], only]
    } else if (feeders !== undefined && (feeders as Data | null)?.['bus'] === undefined)
      yield [[...own, 'feeders', 'bus'], only]
  }
  if (key === 'bus')
    for (const name of namesAt(data, ['track', 'turnouts'])) {
      const feeders = at(data, ['track', 'turnouts', name, 'feeders'])
      if (feeders !== undefined && !Array.isArray(feeders) && (feeders as Data | null)?.['bus'] === undefined)
        yield [['track', 'turnouts', name, 'feeders', 'bus'], only]
    }
}

/** A driver for a new district: like the first one, without its pins. */
function ownDriver(path: Path, data: Data): [Path, unknown][] {
  if (path.length !== 3 || path.slice(0, 2).join('.') !== 'power.districts') return []
  const [first] = namesAt(data, ['power', 'drivers'])
  const name = path[2] as string
  if (first === undefined || at(data, ['power', 'drivers', name]) !== undefined) return []
  const { pins: _, ...like } = at(data, ['power', 'drivers', first]) as Data
  return [...beside(['power', 'drivers', name], data), [['power', 'drivers', name], like]]
}

/** A pin that nothing in the file names. */
function freePin(data: Data): string | undefined {
  const chip = at(data, ['controller', 'chip'])
  if (typeof chip !== 'string' || !Object.hasOwn(CHIPS, chip)) return undefined
  const taken = new Set(
    JSON.stringify(data)
      .match(/[A-Z]{1,4}\d{1,3}/g)
      ?.map(pinName) ?? [],
  )
  return freePins(chip as ChipId, {}, taken)[0]
}

/** The lowest short address that no locomotive has. */
function freeAddress(data: Data): number {
  const taken = namesAt(data, ['fleet']).flatMap((name) => {
    const first = Number(at(data, ['fleet', name, 'address']))
    const count = Number(at(data, ['fleet', name, 'count']) ?? 1)
    return Array.from({ length: Math.min(count, 10_000) }, (_, i) => first + i)
  })
  for (let address = 3; ; address++) if (!taken.includes(address)) return address
}
