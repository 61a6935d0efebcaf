/** The finder against a bench that shares nothing with it: faults built into a netlist, read with the errors of meters. */
import { describe, expect, it } from 'vitest'
import { seededRandom } from '../../src/corner/index.js'
import type { Diagnosis, Reading, Spot } from '../../src/find/index.js'
import { finderOf } from './designs.js'
import { HAVE_NGSPICE, SpiceBench, type Test, type Wire, type Wrong } from './spice-bench.js'

const OPEN = 1e7
const finder = finderOf('shelf')

/** Each with the name that the finder has for it. The left rail of these joints is on wire A. */
const PLANTED: Readonly<Record<string, Wrong>> = {
  'open-feeder at feeder mill/A': { feeder: { mill: { A: OPEN } } },
  'open-feeder at feeder coal/B': { feeder: { coal: { B: OPEN } } },
  'open-feeder at feeder front.1/A': { feeder: { 'front.1': { A: OPEN } } },
  'open-feeder at feeder stick/B': { feeder: { stick: { B: OPEN } } },
  // 150 mm of 22 AWG are 8 mOhm; a sixth of the cross-section.
  'thin-feeder at feeder stick/A': { feeder: { stick: { A: 0.048, B: 0.048 } } },
  'bad-joiner at joint front.1/2/left': { joiner: { 'front.1/2': { A: 0.6 } } },
  'bad-joiner at joint C.straight/left': { joiner: { 'C.straight': { A: 0.5 } } },
  'bad-joiner at joint back.1/2/right': { joiner: { 'back.1/2': { B: 0.8 } } },
  'bad-joiner at joint A.diverging/right': { joiner: { 'A.diverging': { B: 1.2 } } },
  'swapped-feeder at feeder mill/A': { swapped: ['mill'] },
  'swapped-feeder at feeder back.2/A': { swapped: ['back.2'] },
  'rails-joined at track neck': { touching: { neck: 0.03 } },
  'supply-weak at supply brick': { volt: 10.3 },
  'open-feeder at feeder mill/A and bad-joiner at joint C.straight/left': {
    feeder: { mill: { A: OPEN } },
    joiner: { 'C.straight': { A: 0.6 } },
  },
  'bad-joiner at joint front.1/2/left and bad-joiner at joint front.1/2/right': {
    joiner: { 'front.1/2': { A: 0.6, B: 0.5 } },
  },
  sound: {},
}

/** What a builder sees of parts that are as the design says; what is not here is not read. */
const SOUND: Readonly<Record<string, number | string>> = {
  fuse: 'whole',
  'half of a one': 58,
  preamble: 16,
  lateness: 0,
  'serial line': 'legible',
  reference: 1.1,
  'trip current': 1.5,
  'output DC volts': 0,
  'runs at its address': 'runs',
  'address read back': 'as designed',
  'settings read back': 'as designed',
  'wheel contact': 'good',
}

/** What is there to be read; `undefined` for what this bench cannot tell. */
function truth(bench: SpiceBench, spot: Spot, volt: number): number | string | undefined {
  const { quantity, place } = spot
  const name = place.text.replace(/^\w+ /, '').replace(/\/([AB]|left|right)$/, '')
  const wire: Wire = /\/(A|left)$/.test(place.text) ? 'A' : 'B'
  const isOff = bench.tripsAtOnce
  const at = (where: string): Test => ({ load: { at: where, ohm: finder.testOhmAt(place.text)! } })
  const live = (value: () => number) => (isOff ? 0 : value())
  switch (quantity) {
    case 'track volts':
      return live(() => bench.track(name))
    case 'track volts under load':
      return live(() => bench.track(name, at(name)))
    case 'fed volts':
      return bench.fed(name)
    case 'coin test':
      return isOff
        ? undefined
        : bench.amp({ load: { at: name, ohm: 0.05 } }) > 1.9
          ? 'trips'
          : 'does not trip'
    case 'drop':
      return live(() => bench.drop(name, wire, at(name)))
    case 'feeder current':
      return live(() => bench.feeder(name, wire, at(name)))
    case 'output volts':
      return live(() => bench.output())
    case 'output volts under load':
      return live(() => bench.output(at('station')))
    case 'reported current':
      return live(() => bench.amp(at('station')))
    case 'supply volts':
      return volt
    default:
      return SOUND[quantity]
  }
}

function found(wrong: Wrong, seed: number): { last: Diagnosis; readings: Reading[] } {
  const bench = new SpiceBench(wrong)
  const random = seededRandom(seed)
  const errors = new Map<string, number>()
  const readings: Reading[] = []
  const skipped = new Set<string>()
  try {
    for (;;) {
      const last = finder.diagnose(readings, [], skipped)
      const next = last.next[0]
      if (!next) return { last, readings }
      const { spot } = next
      const value = truth(bench, spot, wrong.volt ?? 13)
      if (value === undefined) skipped.add(spot.key)
      else if (typeof value === 'string') readings.push({ spot, instrument: next.instrument, value })
      else {
        // A meter is off by the same when the same place is read again: greatest errors of cheap meters, common practice, no source.
        const error = errors.get(spot.key) ?? 2 * random.uniform() - 1
        errors.set(spot.key, error)
        const [share, fixed] = /drop/.test(spot.quantity)
          ? [0.03, 0.003]
          : /current/.test(spot.quantity)
            ? [0.04, 0.02]
            : /fed/.test(spot.quantity)
              ? [0.01, 0.0005]
              : [0.02, 0.05]
        const shown =
          spot.kind.unit === 'V' || spot.kind.unit === 'A' ? value + error * (share * value + fixed) : value
        readings.push({ spot, instrument: next.instrument, value: Math.max(0, shown) })
      }
    }
  } finally {
    bench.close()
  }
}

describe.skipIf(!HAVE_NGSPICE)('faults in a netlist of its own', () => {
  const results = new Map(
    HAVE_NGSPICE ? Object.entries(PLANTED).map(([id, wrong], i) => [id, found(wrong, 900 + i)]) : [],
  )

  it('names a hypothesis that the finder has', () => {
    const ids = new Set(finder.hypotheses.map((h) => h.id))
    expect(Object.keys(PLANTED).filter((id) => !ids.has(id))).toEqual([])
  })

  it('are first in nine of ten, and among the first three in all', () => {
    const rank = [...results].map(([id, { last }]) => {
      const planted = finder.hypotheses.findIndex((h) => h.id === id)
      const kin = new Set(finder.classOf(planted).map((h) => finder.hypotheses[h]!.id))
      return {
        id,
        at: last.ranking.findIndex((r) => kin.has(r.hypothesis.id)),
        readings: results.get(id)!.readings.length,
        first: last.ranking[0]!.hypothesis.id,
        outcome: last.outcome,
      }
    })
    expect(rank.filter((r) => r.at < 0 || r.at > 2)).toEqual([])
    expect(rank.filter((r) => r.at === 0).length / rank.length).toBeGreaterThanOrEqual(0.9)
  })

  it('are never called another one', () => {
    for (const [id, { last }] of results)
      if (last.outcome === 'found' || last.outcome === 'class')
        expect(
          last.class.map((h) => h.id),
          id,
        ).toContain(id)
  })
})
