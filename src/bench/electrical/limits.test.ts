// Laws that hold in every circuit, whatever limits and rectifiers do: Kirchhoff, and no part beyond its own limit.
import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import { RailNetwork } from './network.js'
import { Rails } from './rails.js'

const circuit = fc.record({
  districts: fc.integer({ min: 1, max: 3 }),
  limit: fc.constantFrom('constant', 'foldback', 'none'),
  limitAmp: fc.double({ min: 0.3, max: 8, noNaN: true }),
  shortAmp: fc.double({ min: 0.1, max: 0.3, noNaN: true }),
  holdsAmp: fc.constantFrom(Number.POSITIVE_INFINITY, 0.5, 2, 6),
  farad: fc.option(fc.double({ min: 1e-5, max: 5e-3, noNaN: true }), { nil: undefined }),
  loads: fc.array(
    fc.record({
      district: fc.nat(2),
      amp: fc.double({ min: 0, max: 2, noNaN: true }),
      farad: fc.double({ min: 1e-5, max: 5e-3, noNaN: true }),
      stay: fc.boolean(),
    }),
    { maxLength: 6 },
  ),
  shorts: fc.array(fc.record({ district: fc.nat(2), ohm: fc.double({ min: 0.001, max: 5, noNaN: true }) }), {
    maxLength: 3,
  }),
  braking: fc.nat(5),
  wheels: fc.array(fc.record({ from: fc.nat(2), to: fc.nat(2), opposed: fc.boolean() }), { maxLength: 2 }),
})

describe('a circuit of any parts', () => {
  it('finds a state that is consistent, in which nothing gives more than its limit', () => {
    // Instants without one; what depends on them is not shown. Only a foldback supply can have some, and in most circuits has none.
    const doubtful: number[] = []
    fc.assert(
      fc.property(circuit, (c) => {
        const names = ['a', 'b', 'c'].slice(0, c.districts)
        const network = new RailNetwork(
          names,
          names.map(() => 0.2),
        )
        const rails = new Rails(
          network,
          [
            {
              name: 's',
              volt: 15,
              ohm: 0.05,
              limit: c.limit,
              limitAmp: c.limit === 'none' ? Number.POSITIVE_INFINITY : c.limitAmp,
              shortAmp: c.shortAmp,
              farad: c.farad,
            },
          ],
          names.map((district) => ({
            district,
            supply: 's',
            dropVolt: 0,
            ohm: 0.3,
            holdsAmp: c.holdsAmp,
          })),
        )
        const at = (d: number) => network.rails(d % c.districts)
        rails.change(0, () => {
          rails.sources.forEach((s, d) => {
            s.output = d === c.braking ? 'braking' : 'driving'
          })
          for (const { district, amp, farad, stay } of c.loads)
            rails.loads.push({
              spot: at(district),
              contact: true,
              amp,
              ohm: 0.5,
              farad,
              volt: 0,
              stay: stay ? { farad: 1e-3, ohm: 100, volt: 0 } : undefined,
            })
        })
        rails.change(3000, () =>
          c.shorts.forEach((s, i) => void rails.shorts.set(`${i}`, { spot: at(s.district), ohm: s.ohm })),
        )
        rails.change(3100, () =>
          c.wheels.forEach(({ from, to, opposed }, i) => {
            const [a, b] = [at(from), at(to)]
            if (a !== b) rails.bridges.set(`${i}`, { from: a, to: b, ohm: 0.1, opposed })
          }),
        )
        for (const us of [3101, 3300, 8000, 40e3]) {
          const { sourceAmp, supplyAmp, portVolt } = rails.at(us)
          const sum = sourceAmp.reduce((a, b, d) => a + (rails.sources[d]!.output === 'driving' ? b : 0), 0)
          // What the output capacitors give comes on top of what the supply gives.
          if (!c.farad) expect(sum).toBeCloseTo(supplyAmp[0]!, 1)
          if (c.limit !== 'none') expect(supplyAmp[0]).toBeLessThanOrEqual(c.limitAmp * 1.01 + 0.01 + 1e-9)
          sourceAmp.forEach((amp, d) => {
            // One that brakes takes what wheels bring it from the others.
            if (rails.sources[d]!.output === 'driving')
              expect(amp).toBeLessThanOrEqual(c.holdsAmp * 1.01 + 0.01 + 1e-9)
          })
          for (const volt of portVolt) expect(Math.abs(volt)).toBeLessThan(15.1)
        }
        if (c.limit === 'foldback') doubtful.push(rails.doubtful)
        else expect(rails.doubtful).toBe(0)
      }),
      { numRuns: runs(60) },
    )
    expect(doubtful.filter((n) => n > 3).length).toBeLessThan(0.1 * doubtful.length)
  })

  it('comes up through a foldback limit when a driver holds the current just below it', () => {
    const network = new RailNetwork(['a'], [0.2])
    const supply = {
      name: 's',
      volt: 15,
      ohm: 0.05,
      limit: 'foldback',
      limitAmp: 0.55,
      shortAmp: 0.2,
    } as const
    const source = { district: 'a', supply: 's', dropVolt: 0, ohm: 0.3, holdsAmp: 0.5 }
    const rails = new Rails(network, [supply], [source])
    rails.change(0, () => {
      rails.sources[0]!.output = 'driving'
      const spot = network.rails(0)
      rails.loads.push({ spot, contact: true, amp: 0, ohm: 0.5, farad: 1e-4, volt: 0, stay: undefined })
    })
    rails.at(20e3)
    expect(rails.doubtful).toBe(0)
    expect(Math.max(...rails.points.map((p) => p.sourceAmp[0]!))).toBeCloseTo(0.5, 4)
    expect(rails.at(20e3).state.volt[0]).toBeCloseTo(15, 2)
  })
})
