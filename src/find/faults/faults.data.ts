/** Every fault that is weighed, one entry each, and the pairs that commonly come together. */
import type { Station } from '../model/station.js'
import type { FaultKindEntry } from './effects.js'
import { LOCOMOTIVE_FAULTS } from './locomotive.data.js'
import { POWER_FAULTS } from './power.data.js'
import { SIGNAL_FAULTS } from './signal.data.js'
import { WIRING_FAULTS } from './wiring.data.js'

export const FAULTS = {
  ...WIRING_FAULTS,
  ...POWER_FAULTS,
  ...SIGNAL_FAULTS,
  ...LOCOMOTIVE_FAULTS,
} as const satisfies Record<string, FaultKindEntry>

export type FaultKindId = keyof typeof FAULTS

/** That all is as designed, against the weights of the faults; common practice, no source. */
export const SOUND_WEIGHT = 10

export interface PairEntry {
  title: string
  kinds: readonly [FaultKindId, FaultKindId]
  /** Of the weight of its rarer half; common practice, no source. */
  share: number
  /** Whether faults at these two places commonly come together. */
  meet(station: Station, first: string, second: string): boolean
}

export const PAIRS = {
  'both joiners': {
    title: 'both joiners of a joint bad',
    kinds: ['bad-joiner', 'bad-joiner'],
    share: 0.15,
    meet: (_, a, b) => a.endsWith('/left') && b === a.replace(/left$/, 'right'),
  },
  'feeder and joiner': {
    title: 'a feeder wire open and the joiner beside it bad',
    kinds: ['open-feeder', 'bad-joiner'],
    share: 0.1,
    meet: (station, feeder, joint) => {
      const { wiring } = station
      const f = station.places.find((p) => p.text === feeder)?.index
      const j = station.places.find((p) => p.text === joint)?.index
      if (!wiring || f === undefined || j === undefined) return false
      const { a, b } = wiring.plan.joints[wiring.joints[j]!.joint]!
      return [a >> 1, b >> 1].includes(wiring.plan.feeders[f]!.track)
    },
  },
  'both wires': {
    title: 'both wires of a feeder open',
    kinds: ['open-feeder', 'open-feeder'],
    share: 0.1,
    meet: (_, a, b) => a.endsWith('/A') && b === a.replace(/A$/, 'B'),
  },
  'half and fuse': {
    title: 'a half-bridge that failed and blew the fuse',
    kinds: ['half-dead', 'fuse-blown'],
    share: 0.15,
    meet: (station, driver, district) =>
      [...station.districts].some(
        ([name, d]) => `district ${name}` === district && `driver ${d.stage.driverName}` === driver,
      ),
  },
  'another board': {
    title: 'settings of another board: reference and trip current',
    kinds: ['sense-reference', 'trip-set-wrong'],
    share: 0.15,
    meet: () => true,
  },
  'weak supply, hot driver': {
    title: 'a sagging supply and a badly cooled driver',
    kinds: ['supply-sagging', 'driver-hot'],
    share: 0.1,
    meet: (station, supply, driver) =>
      [...station.districts.values()].some(
        (d) => `supply ${d.stage.supplyName}` === supply && `driver ${d.stage.driverName}` === driver,
      ),
  },
  'address and CV': {
    title: 'wrong address and wrong CV: a decoder that was reset',
    kinds: ['wrong-address', 'wrong-cv'],
    share: 0.15,
    meet: (_, a, b) => a === b,
  },
} as const satisfies Record<string, PairEntry>
