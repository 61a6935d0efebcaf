/** Whole stations for tests: sound ones of one power district or two, to be spoiled. All invented. */
import { loadDesign } from '../../src/design/index.js'
import { powerReport } from '../../src/power/index.js'
import { powerInput, railroadOf } from '../../src/proof/index.js'
import type { Evidence } from '../../src/standard/index.js'

/** A part of a design as it is written in the file; `null` in a change takes a key out. */
export type Part = { [key: string]: unknown }

export function changed(design: Part, change: Part): Part {
  const out: Part = { ...design }
  for (const [key, value] of Object.entries(change)) {
    const had = out[key]
    if (value === null) delete out[key]
    else if (isPart(value)) out[key] = changed(isPart(had) ? had : {}, value)
    else out[key] = value
  }
  return out
}

function isPart(value: unknown): value is Part {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}

const each = (names: readonly string[], what: (name: string, at: number) => Part): Part =>
  Object.fromEntries(names.map((name, at) => [name, what(name, at)]))

/** Inputs of a driver board: both polarities, and an enable input that a resistor holds off. */
export const inputs = (direction: string, inverted: string, enable: string) => [
  { name: 'IN1', role: 'direction', wired: direction },
  { name: 'IN2', role: 'inverted', wired: inverted },
  { name: 'sleep', role: 'enable', wired: enable, pull: 'low' },
]

export const TERMINATED = {
  wire: '2.5 mm2',
  length: '2 m',
  geometry: 'twisted',
  terminator: { resistance: '47 Ohm', capacitance: '100 nF', power: '2 W' },
}

/** A station with a supply, a driver and a breaker of its own for every district. */
export function station(names: readonly string[], track: Part, change: Part = {}): Part {
  const design = {
    halfbit: 2,
    name: 'Invented',
    scale: 'H0',
    controller: { chip: 'atmega2560', clock: { frequency: '16 MHz', source: 'crystal' } },
    signal: {
      outputs: {
        main: { mode: 'operations', pin: 'PB6', inverted: 'PB7', method: 'buffered', timer: 1, prescaler: 8 },
      },
    },
    power: {
      ambient: '30 C',
      supplies: each(names, () => ({
        voltage: '15 V',
        tolerance: '0.2 %',
        rating: '3 A',
        limit: 'constant',
        limitCurrent: '3.3 A',
        limitTolerance: '5 %',
        capacitance: '0 F',
      })),
      drivers: each(names, (supply, at) => ({
        part: 'DRV8874',
        supply,
        cooling: { junctionToAmbient: '30 K/W' },
        pins: inputs('PB6', 'PB7', `PA${at}`),
      })),
      districts: each(names, (driver) => ({
        driver,
        output: 'main',
        channels: [1],
        trip: { current: '2 A', by: 'breaker', after: '1 ms' },
      })),
    },
    track: changed(
      {
        bus: each(names, (district) => ({ district, ...TERMINATED })),
        defaults: { joiner: 'soldered', feeder: { wire: '1.5 mm2', length: '200 mm' } },
      },
      track,
    ),
    rollingStock: { loco: { running: '0.3 A', stall: '0.6 A', length: '300 mm' } },
  }
  return changed(design, change)
}

/** One district that feeds one section of 2 m. */
export const one = (track: Part = {}, change: Part = {}) =>
  station(
    ['west'],
    changed({ sections: { line: { length: '2 m', feeders: { bus: 'west' } } } }, track),
    change,
  )

/** Two districts of one section each, with gaps in both rails between them. */
export const two = (track: Part = {}, change: Part = {}) =>
  station(
    ['west', 'east'],
    changed(
      {
        sections: {
          w: { length: '2 m', to: 'x', gaps: 'to', feeders: { bus: 'west' } },
          e: { length: '2 m', from: 'x', feeders: { bus: 'east' } },
        },
      },
      track,
    ),
    change,
  )

/** What power stage and railroad say of a design. */
export function evidenceOf(design: Part): Evidence[] {
  const loaded = loadDesign(JSON.stringify(design))
  const { evidence } = powerReport(powerInput(loaded)!.input)
  return [...evidence, ...(railroadOf(loaded)?.report.evidence ?? [])]
}

/** The worst that is said of a clause. */
export function worstOf(evidence: readonly Evidence[], clause: string): Evidence {
  const rank = ['broken', 'undecided', 'met']
  const [worst] = evidence
    .filter((e) => e.clause === clause)
    .sort((a, b) => rank.indexOf(a.verdict) - rank.indexOf(b.verdict))
  if (!worst) throw new Error(`nothing is said of ${clause}`)
  return worst
}
