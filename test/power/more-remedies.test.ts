/**
 * The same of designs that were not made for it: the example that has faults, stations made by dice, and clauses about gaps, polarity,
 * power-up and levels. Sound examples have nothing to mend.
 */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import type { Evidence } from '../../src/standard/index.js'
import { random } from '../track/random.js'
import { commonRail, loop, ofWest, READ_SHUNT, REVERSER } from '../track/spoiled.js'
import { changed, evidenceOf, one, type Part, two } from '../track/station.js'
import { failing, judged, verdicts, WAYS } from './ways.js'

const isPart = (x: unknown): x is Part => typeof x === 'object' && x !== null && !Array.isArray(x)

/** A change of the station's one district, aimed at whatever a district of another design is called. */
function aimed(change: Part, design: Part, about: string | undefined): Part[] {
  const power = design['power'] as Record<string, Record<string, Part>>
  const names = (key: string) => Object.keys(power[key] ?? {})
  const districts = names('districts').filter((d) => {
    const { driver = names('drivers')[0]! } = power['districts']![d] as { driver?: string }
    const { supply = names('supplies')[0]! } = power['drivers']![driver] as { supply?: string }
    return about === undefined || [d, driver, supply].some((n) => about === n || about.startsWith(`${n},`))
  })
  return districts.map((d) => {
    const { driver = names('drivers')[0]! } = power['districts']![d] as { driver?: string }
    const { supply = names('supplies')[0]! } = power['drivers']![driver] as { supply?: string }
    const own = change['power'] as Record<string, Record<string, Part>> | undefined
    const to: Record<string, string> = { supplies: supply, drivers: driver, districts: d }
    const renamed = Object.fromEntries(
      Object.entries(own ?? {}).map(([key, { west }]) => [key, { [to[key]!]: west! }]),
    )
    return { ...onTrack(change['track'], design, d), ...(own ? { power: renamed } : {}) }
  })
}

/** What a change says of the station's bus and section, of every run of a district and every section. */
function onTrack(change: unknown, design: Part, district: string): Part {
  const { track } = design as { track?: { bus: Record<string, Part>; sections: Record<string, Part> } }
  if (!isPart(change) || !track) return {}
  const { bus, sections } = change as { bus?: { west: Part }; sections?: { line: Part } }
  const runs = Object.entries(track.bus).filter(([, r]) => (r['district'] ?? district) === district)
  const has = (run: Part) => Object.keys(bus?.west ?? {}).every((k) => !isPart(bus!.west[k]) || k in run)
  return {
    track: {
      ...(bus ? { bus: Object.fromEntries(runs.flatMap(([n, r]) => (has(r) ? [[n, bus.west]] : []))) } : {}),
      ...(sections
        ? { sections: Object.fromEntries(Object.keys(track.sections).map((n) => [n, sections.line])) }
        : {}),
    },
  }
}

/** Whether a way makes a clause better, or leaves it more margin, and none worse. */
function helps(design: Part, e: Evidence, was: Map<string, number>, change: Part): boolean {
  const after = judged(changed(design, change))
  if (!after) return false
  const is = verdicts(after)
  const key = `${e.clause} ${e.about ?? ''}`
  const harmed = [...was].some(([k, rank]) => {
    const others = after.filter((x) => x.clause === k.split(' ')[0])
    return (is.get(k) ?? (others.every((x) => x.verdict === 'met') ? 2 : -1)) < rank
  })
  const now = after.filter((x) => x.clause === e.clause && x.about === e.about)
  const margin = Math.min(1, ...now.map((x) => x.margin ?? 0))
  return !harmed && ((is.get(key) ?? 2) > was.get(key)! || margin > (e.margin ?? 0) + 1e-9)
}

function expectHelp(design: Part, evidence: readonly Evidence[] = evidenceOf(design)): number {
  const was = verdicts(evidence)
  // Pins are each board's own: what holds them is tried with the station that they belong to.
  const list = failing(evidence).filter((e) => e.clause !== 'dead-level')
  for (const e of list) {
    const of = ({ finding, about }: Evidence) =>
      Object.values(WAYS[finding!.code]!)
        .flat()
        .flatMap((way) => aimed(way, design, about))
    const [first, others] = [of(e), list.flatMap(of)]
    // Where two things are wrong it may take what a second remedy says as well.
    const some =
      first.some((c) => helps(design, e, was, c)) ||
      first.some((c) => others.some((o) => helps(design, e, was, changed(c, o))))
    expect(some, `${e.finding!.code} of ${e.about}: ${e.because}`).toBe(true)
  }
  return list.length
}

const example = (name: string) =>
  parse(readFileSync(new URL(`../../examples/${name}/halfbit.yaml`, import.meta.url), 'utf8')) as Part

describe('what would help the examples', () => {
  it.each(['two-tracks', 'exhibition', 'shelf', 'automation'])('%s has nothing to mend', (name) => {
    expect(failing(evidenceOf(example(name)))).toEqual([])
  })

  it('each clause that the flawed one breaks is helped by its remedy, which harms no other', () => {
    expect(expectHelp(example('flawed'))).toBeGreaterThan(6)
  })
})

describe('what would help stations made by dice', () => {
  const made = (seed: number): Part => {
    const dice = random(seed)
    const of = <T>(list: readonly T[]): T => list[Math.floor(dice() * list.length)]!
    const rating = of([1.5, 2, 3, 5, 8])
    return one(
      {
        defaults: { feeder: { wire: of(['28 AWG', '0.25 mm2', '1.5 mm2']), length: '200 mm' } },
        bus: { west: { connector: { rating: of(['1 A', '3 A', '10 A']) } } },
      },
      changed(
        ofWest('supplies', {
          voltage: of(['12 V', '15 V', '18 V']),
          rating: `${rating} A`,
          limitCurrent: `${rating * of([1.05, 1.2, 1.5])} A`,
        }),
        changed(
          ofWest('drivers', { cooling: { junctionToAmbient: of(['20 K/W', '45 K/W', '80 K/W']) } }),
          ofWest('districts', {
            trip: {
              current: of(['1 A', '1.6 A', '2.5 A', '4 A']),
              ...(dice() < 0.5 ? { by: 'sense', samples: 5 } : {}),
            },
            sense: {
              ...READ_SHUNT,
              power: of(['0.5 W', '2 W', '5 W']),
              ...(dice() < 0.3 ? { series: null } : {}),
            },
            ...(dice() < 0.4 ? { fuse: of(['0.5 A', '2 A']) } : {}),
          }),
        ),
      ),
    )
  }

  it.each(Array.from({ length: 16 }, (_, i) => 1 + i))('seed %i', (seed) => {
    expectHelp(made(seed))
  })
})

/** Designs whose remedy has figures or joints of its own: the clause, what the remedy says, and that done. */
const BESIDE: Record<string, { design: Part; clause: string; code: string; words: RegExp; done: Part }> = {
  'capacitors behind small resistors': {
    design: one(
      {},
      {
        rollingStock: { loco: { stayAlive: { capacitance: '4700 uF', resistance: '5 Ohm' } } },
      },
    ),
    clause: 'inrush',
    code: 'power/inrush',
    words: /larger charging resistors/,
    done: { rollingStock: { loco: { stayAlive: { resistance: '100 Ohm' } } } },
  },
  'a controller of 5 V and inputs of 3.6 V': {
    design: one({}, ofWest('drivers', { figures: { inputMax: '3.6 V' } })),
    clause: 'logic-level',
    code: 'power/logic-level',
    words: /same logic voltage/,
    done: ofWest('drivers', { figures: { inputMax: '5.5 V' } }),
  },
  'supplies of two voltages': {
    design: two({}, { power: { supplies: { east: { voltage: '16.5 V' } } } }),
    clause: 'gap-bridging',
    code: 'track/gap-supplies',
    words: /same voltage/,
    done: { power: { supplies: { east: { voltage: '15 V' } } } },
  },
  'one common rail': {
    design: commonRail({}),
    clause: 'isolation',
    code: 'track/common-rail',
    words: /Cut both rails/,
    done: { track: { joints: { x: { gap: 'both' } } } },
  },
  'a reverser that trips above its district': {
    design: loop({}, {}, { turn: { reverser: { trip: '2.5 A' } } }),
    clause: 'polarity',
    code: 'track/reverser-useless',
    words: /lower current, and sooner/,
    done: { track: { bus: { turn: { reverser: { trip: '1 A' } } } } },
  },
  'a loop without gaps': {
    design: loop({ gaps: 'none', feeders: { bus: 'west' } }),
    clause: 'polarity',
    code: 'track/polarity-route',
    words: /Cut both rails at two places/,
    done: { track: { bus: REVERSER, sections: { loop: { gaps: 'both', feeders: { bus: 'turn' } } } } },
  },
  'a feeder on the wrong rails': {
    design: one({
      sections: {
        line: {
          count: 2,
          length: '1 m',
          feeders: [
            { bus: 'west', every: 2 },
            { bus: 'west', first: 2, every: 2, swapped: true },
          ],
        },
      },
    }),
    clause: 'polarity',
    code: 'track/swapped-feeder',
    words: /Swap the wires/,
    done: { track: { sections: { line: { feeders: [{ bus: 'west' }] } } } },
  },
}

describe('what would help gaps, polarity, power-up and levels', () => {
  it.each(Object.entries(BESIDE))('%s', async (_, { design, clause, code, words, done }) => {
    const before = evidenceOf(design)
    const e = before.find((x) => x.clause === clause && x.verdict !== 'met')!
    expect(e.finding?.code).toBe(code)
    const { POWER_FINDINGS } = await import('../../src/power/findings.data.js')
    const { trackFindings } = await import('../../src/track/findings.data.js')
    const [room, name] = code.split('/') as [string, never]
    const { remedy } = (room === 'power' ? POWER_FINDINGS : trackFindings).meanings[name] as {
      remedy: string
    }
    expect(remedy).toMatch(words)
    const after = evidenceOf(changed(design, done))
    expect(after.filter((x) => x.clause === clause).map((x) => x.verdict)).not.toContain('broken')
    expect(after.filter((x) => x.clause === clause && x.verdict !== 'met').map((x) => x.because)).toEqual([])
    const is = verdicts(after)
    const harmed = [...verdicts(before)].filter(([k, rank]) => (is.get(k) ?? 2) < rank)
    expect(harmed).toEqual([])
  })
})
