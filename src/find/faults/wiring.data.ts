/** Faults of rails and wires. Weights and degrees are common practice, no source. */
import { JOINERS, railParts } from '../../track/index.js'
import type { Station } from '../model/station.js'
import type { Span, WiringEdit } from '../model/wiring-edit.js'
import type { FaultAt, FaultKindEntry } from './effects.js'

const { low, high } = JOINERS.bad.ohm
/** Three degrees of a bad joiner over the range of the handbook table. */
const DEGREES = degrees({ low, high })
/** A wire of a quarter to a tenth of the cross-section, or strands broken. */
const THIN = { low: 4, high: 10 }
/** Three degrees of contact, too: what is read along the rails depends on it everywhere alike. */
const TOUCHING = degrees({ low: 0.005, high: 0.1 })

/** A range in three steps of one ratio. */
function degrees({ low, high }: Span): Span[] {
  const step = (high / low) ** (1 / 3)
  return [0, 1, 2].map((i) => ({ low: low * step ** i, high: low * step ** (i + 1) }))
}

function eachFeeder(station: Station, fault: (feeder: number, name: string) => FaultAt[]): FaultAt[] {
  const { wiring } = station
  return wiring ? [...wiring.feeders.keys()].flatMap((f) => fault(f, wiring.plan.feeders[f]!.name)) : []
}

/** Feeders whose rails nothing else feeds. */
function loneFeeders({ wiring }: Station): Set<number> {
  if (!wiring) return new Set()
  const parts = railParts(wiring.plan)
  const byPart = new Map<number, number[]>()
  for (const f of wiring.feeders.keys()) {
    const part = parts.find(wiring.plan.feeders[f]!.track)
    byPart.set(part, [...(byPart.get(part) ?? []), f])
  }
  return new Set([...byPart.values()].flatMap((list) => (list.length === 1 ? list : [])))
}

export const WIRING_FAULTS = {
  'open-feeder': {
    title: 'open feeder wire',
    weight: 3,
    causes: [],
    at: (station) =>
      eachFeeder(station, (feeder, name) =>
        (['A', 'B'] as const).map((wire) => ({
          place: `feeder ${name}/${wire}`,
          words: `wire ${wire} of the feeder of ${name} is open`,
          forms: [{ edits: [{ what: 'open feeder', feeder, wire }] }],
        })),
      ),
  },
  'swapped-feeder': {
    title: 'swapped feeder',
    weight: 2,
    causes: ['trips at power-up', 'nothing moves'],
    at: (station) => {
      const alone = loneFeeders(station)
      return eachFeeder(station, (feeder, name) => [
        {
          place: `feeder ${name}/A`,
          words: `the two wires of the feeder of ${name} are swapped`,
          forms: [{ edits: [{ what: 'swapped feeder', feeder }] }],
          // Nothing happens until a train bridges the gaps, if there are any.
          ...(alone.has(feeder) ? { causes: ['trips while running'] } : {}),
        },
      ])
    },
  },
  'thin-feeder': {
    title: 'feeder too thin',
    weight: 0.7,
    causes: [],
    at: (station) =>
      eachFeeder(station, (feeder, name) => [
        {
          place: `feeder ${name}/A`,
          words: `the feeder of ${name} is far thinner than designed`,
          forms: [{ edits: [{ what: 'thin feeder', feeder, times: THIN }] }],
        },
      ]),
  },
  'bad-joiner': {
    title: 'bad joiner',
    weight: 4,
    causes: [],
    at: ({ wiring }) =>
      (wiring?.joints ?? []).flatMap(({ edge, joint, name, side }) =>
        wiring!.plan.joints[joint]!.joiner === 'bad'
          ? []
          : [
              {
                place: `joint ${name}/${side}`,
                words: `the ${side} joiner at ${name} is bad`,
                forms: DEGREES.map((ohm) => ({
                  edits: [{ what: 'joiner', edge, ohm }] satisfies WiringEdit[],
                })),
              },
            ],
      ),
  },
  'rails-joined': {
    title: 'metal across the rails',
    weight: 1,
    causes: ['trips at power-up', 'nothing moves'],
    at: (station) =>
      station.places.flatMap(({ kind, name, index, text }) =>
        kind === 'track'
          ? [
              {
                place: text,
                words: `something joins the two rails at ${name}`,
                forms: TOUCHING.map((ohm) => ({
                  edits: [{ what: 'rails joined', track: index!, ohm }] satisfies WiringEdit[],
                })),
              },
            ]
          : [],
      ),
  },
} as const satisfies Record<string, FaultKindEntry>
