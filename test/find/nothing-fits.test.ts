/** Faults that are on no list: the finder must not name one that is. */
import { describe, expect, it } from 'vitest'
import { seededRandom } from '../../src/corner/index.js'
import { type Finder, plant, type Reading, type Spot } from '../../src/find/index.js'
import { finderOf } from './designs.js'

type Change = (spot: Spot, value: number | string) => number | string

/**
 * Follow the suggested readings on a station without a listed fault, but for what `change` makes of its readings.
 * @param first what is read before any suggestion, twice
 */
function follow(finder: Finder, change: Change, first: string | undefined) {
  const bench = plant(finder, 0, seededRandom(1))
  const take = (spot: Spot, instrument = spot.kind.instruments[0]!): Reading => {
    const reading = bench.read(spot, instrument)
    return { ...reading, value: change(spot, reading.value) }
  }
  const early = finder.spots.find((s) => s.key === first)
  const readings = early ? [take(early), take(early)] : []
  for (;;) {
    const { outcome, next, class: kin } = finder.diagnose(readings)
    if (next.length === 0 || readings.length > 40) return { outcome, named: kin.map((h) => h.id) }
    readings.push(take(next[0]!.spot, next[0]!.instrument))
  }
}

const times = (v: number | string, by: number) => Number(v) * by
const isVolts = (q: string) => /volts/.test(q) && !/DC|fed/.test(q)

/** None of these is in the list of faults or pairs. */
const OUTSIDE: Record<string, { first?: string; change: Change }> = {
  'a supply set half as high again': {
    change: ({ quantity }, v) => (isVolts(quantity) || quantity === 'reported current' ? times(v, 1.5) : v),
  },
  'a DC part of 4 V beside whole AC': {
    first: 'district shelf: output DC volts',
    change: ({ quantity }, v) => (quantity === 'output DC volts' ? 4 : v),
  },
  'far too long a preamble': {
    first: 'output main: preamble',
    change: ({ quantity }, v) => (quantity === 'preamble' ? 34 : v),
  },
  'rails without voltage, fed and driven well': {
    change: ({ quantity }, v) =>
      quantity === 'track volts' || quantity === 'track volts under load' ? 0 : v,
  },
  'a supply too low, a blown fuse and garbage on the serial line': {
    change: ({ quantity }, v) => {
      if (quantity === 'serial line') return 'garbled'
      if (quantity === 'fuse') return 'blown'
      return quantity.startsWith('supply volts') ? times(v, 0.5) : isVolts(quantity) ? 0 : v
    },
  },
}

describe('a fault outside the list is admitted, and none of the list named for it', () => {
  const finder = finderOf('shelf')

  it.each(Object.entries(OUTSIDE))('%s', (_, { first, change }) => {
    const { outcome, named } = follow(finder, change, first)
    expect(outcome, named.join()).toBe('nothing fits')
  })
})
