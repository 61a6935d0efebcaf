/** The time-current chart holds the joiner and the connector of a district that are nearest to their limits, not one of both. */
import { expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { powerReport } from '../../src/power/index.js'
import { powerInput } from '../../src/proof/index.js'
import { one, type Part } from './station.js'

const jointsOf = (design: Part) => {
  const { input } = powerInput(loadDesign(JSON.stringify(design)))!
  const [chart] = powerReport({ ...input, builds: 10 }).protection!
  return chart!.curves.filter((c) => c.part === 'joint').map((c) => c.what)
}

it('draws a connector beside a joiner that is nearer to its limit, and the weaker of two connectors', () => {
  const rows = { sections: { line: { count: 4, length: '500 mm' } }, defaults: { joiner: 'bad' } }
  expect(jointsOf(one(rows))).toEqual([expect.stringMatching(/^joiner line\./)])
  const bus = {
    west: { connector: { rating: '20 A' } },
    spur: { from: 'west', wire: '1.5 mm2', length: '1 m', connector: { rating: '10 A' } },
  }
  expect(jointsOf(one({ ...rows, bus }))).toEqual([expect.stringMatching(/^joiner line\./), 'connector spur'])
})
