/** The advised resistor and capacitor for the ends of a bus: what they do to the crossing, not to the peak alone. */
import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { railroadOf } from '../../src/proof/index.js'
import { ringingAt } from '../../src/track/index.js'

it('never step back through zero by more than 2 V where others do not, however low their peak', () => {
  const file = new URL('../../examples/exhibition/halfbit.yaml', import.meta.url)
  const { model } = railroadOf(loadDesign(readFileSync(file, 'utf8')))!
  const best = ringingAt(model, { section: 'approach' }, { search: true })?.edges?.best
  // S-9.1:2020 section B (confirmed): within 2 V. The lowest peak of all alone would step back by 2.4 V here.
  expect(best!.distortionVolt).toBeLessThanOrEqual(2)
  expect(best!.slopeVoltPerUs).toBeGreaterThanOrEqual(2.5)
})
