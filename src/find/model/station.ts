/** The facts of a design that readings and faults refer to, by the names that people use. */
import { controllerClock } from '../../controller/index.js'
import { type LoadedDesign, preambleOf } from '../../design/index.js'
import { type DistrictStage, districtModels } from '../../power/index.js'
import { powerInput, railroadOf } from '../../proof/index.js'
import { modelTrack, sourcesFromPower, trackName } from '../../track/index.js'
import { InputError, nearest } from '../../units/index.js'
import type { PlaceKind } from '../data/readings.data.js'
import { Wiring } from './wiring.js'

/** A thing that can be measured or be faulty: `track front.1`, `feeder mill/A`. */
export interface Place {
  kind: PlaceKind
  name: string
  /** How it is written: kind and name. */
  text: string
  /** Its number in the network, where it has one. */
  index?: number
  side?: 'A' | 'B' | 'left' | 'right'
}

export interface DistrictFacts {
  stage: DistrictStage
  /** Number in the network of rails; absent where no railroad is described. */
  index?: number
  openVolt: number
  sourceOhm: { low: number; high: number }
  trip?: { amp: number; low: number; high: number; bySense: boolean }
  /** A resistor that draws 0.6 of the trip current, at most about 1 A, from a common series. */
  testOhm: number
  runningC?: number
}

export interface Station {
  loaded: LoadedDesign
  places: readonly Place[]
  districts: ReadonlyMap<string, DistrictFacts>
  wiring?: Wiring
  /** District of each track, by number. */
  districtOf(track: number): string | undefined
  preambleOf(output: string): number
  terminators: readonly string[]
}

/** E6 series (IEC 60063, from memory). */
const E6 = [1, 1.5, 2.2, 3.3, 4.7, 6.8] as const

function testResistor(volt: number, tripLow: number | undefined): number {
  const wanted = volt / Math.min(1, 0.6 * (tripLow ?? 1.6))
  const decade = 10 ** Math.floor(Math.log10(wanted))
  const series = [...E6.map((e) => e * decade), 10 * decade]
  return series.find((ohm) => ohm >= wanted * 0.999) ?? 10 * decade
}

/**
 * @throws InputError where the design has no power stage: then nothing can be measured.
 * @throws DesignConflict where its railroad cannot be as described.
 */
export function stationOf(loaded: LoadedDesign): Station {
  const { power, signal, controller, track, fleet } = loaded.design
  if (!power)
    throw new InputError(
      'the design has no power stage; expected "power:" with supplies, drivers and districts',
    )
  const clock = controllerClock(controller)
  const sources = sourcesFromPower(power, signal, clock)
  const railroad = railroadOf(loaded)
  const wiring = railroad ? new Wiring(modelTrack(railroad.input).plan, railroad.input.sources) : undefined
  const loads = powerInput(loaded)?.input.loads
  const districts = new Map<string, DistrictFacts>()
  for (const { stage, source, runningC } of districtModels(power, signal, loads, clock)) {
    const seen = sources.get(stage.name)!
    const index = wiring?.net.districts.indexOf(stage.name) ?? -1
    const trip = source?.trip
    const openVolt = seen.openVolt.usual
    districts.set(stage.name, {
      stage,
      ...(index < 0 ? {} : { index }),
      openVolt,
      sourceOhm: {
        low: Math.min(seen.sourceLeastOhm ?? seen.sourceOhm, seen.sourceOhm),
        high: seen.sourceOhm,
      },
      ...(trip
        ? {
            trip: {
              amp: trip.nominalAmp,
              low: trip.lowAmp,
              high: trip.highAmp,
              bySense: trip.by === 'sense',
            },
          }
        : {}),
      testOhm: testResistor(openVolt, trip?.lowAmp),
      ...(runningC === undefined ? {} : { runningC }),
    })
  }
  const places: Place[] = []
  const add = (kind: PlaceKind, name: string, more: Partial<Place> = {}) => {
    places.push({ kind, name, text: kind === 'controller' ? kind : `${kind} ${name}`, ...more })
  }
  if (wiring) {
    for (const [index, t] of wiring.plan.tracks.entries()) add('track', trackName(t), { index })
    for (const [index, j] of wiring.joints.entries())
      add('joint', `${j.name}/${j.side}`, { index, side: j.side })
    for (const [index, g] of wiring.gaps.entries()) add('gap', g.name, { index })
    for (const index of wiring.feeders.keys())
      for (const side of ['A', 'B'] as const)
        add('feeder', `${wiring.plan.feeders[index]!.name}/${side}`, { index, side })
  }
  for (const name of districts.keys()) add('district', name)
  const used = [...districts.values()].map((d) => d.stage)
  for (const name of new Set(used.map((s) => s.supplyName))) add('supply', name)
  for (const name of new Set(used.map((s) => s.driverName))) {
    add('driver', name)
    for (const pin of power.drivers[name]!.pins ?? [])
      if (['direction', 'inverted', 'enable'].includes(pin.role)) add('input', `${name}.${pin.name}`)
  }
  const outputs = Object.entries(signal?.outputs ?? {})
  for (const pin of new Set(outputs.flatMap(([, o]) => [o.pin, ...(o.inverted ? [o.inverted] : [])])))
    add('pin', pin)
  for (const [name] of outputs) add('output', name)
  add('controller', 'controller')
  const terminators = Object.entries(track?.bus ?? {}).flatMap(([name, run]) =>
    run.terminator ? [name] : [],
  )
  for (const name of terminators) add('bus', name)
  for (const name of Object.keys(fleet ?? {})) add('locomotive', name)
  return {
    loaded,
    places: distinct(places),
    districts,
    ...(wiring ? { wiring } : {}),
    districtOf: (t) => {
      const d = wiring?.net.districtOfTrack[t] ?? -1
      return d < 0 ? undefined : wiring!.net.districts[d]
    },
    preambleOf: (name) => {
      const output = signal?.outputs[name]
      return output ? preambleOf(loaded, output) : 0
    },
    terminators,
  }
}

/** Legs of a turnout share a name: the first stands for all of them. */
function distinct(places: readonly Place[]): Place[] {
  return [...new Map(places.toReversed().map((p) => [p.text, p])).values()].reverse()
}

/** @throws InputError with what was expected, for a place that the design does not have. */
export function placeBy(station: Station, text: string, expected = ''): Place {
  const wanted = text.trim().toLowerCase()
  const found = station.places.find((p) => p.text.toLowerCase() === wanted)
  if (found) return found
  const names = station.places.map((p) => p.text)
  const kinds = [...new Set(station.places.map((p) => p.kind))]
  const close = nearest(text.trim(), names)
  throw new InputError(
    `no place "${text.trim()}" in this design; expected ${expected}one of ${kinds.join(', ')} and its name, such as "${names[0]}"${close ? `; the nearest is "${close}"` : ''}`,
  )
}
