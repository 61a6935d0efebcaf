/**
 * A feeder swapped on rails that nothing else feeds: it carries the same current as before, every voltage is the same, and only
 * a meter across the gap to the next rails, or a train's wheels, meet the opposite polarity. Worked by hand from the circuit.
 */
import { expect, it } from 'vitest'
import type { Spot } from '../../src/find/index.js'
import { finderOf } from './designs.js'

const finder = finderOf('automation')
const swapped = finder.hypotheses.findIndex((h) => h.id === 'swapped-feeder at feeder block1/A')
const spot = (key: string): Spot => finder.spots.find((s) => s.key === key)!

it.each([
  'feeder block1/A: feeder current',
  'track block1: track volts',
  'track block1: track volts under load',
])('changes nothing of %s', (key) => {
  const [sound] = finder.expected(0, spot(key))
  const [own] = finder.expected(swapped, spot(key))
  if (!sound || !own || 'words' in sound || 'words' in own) throw new Error('no figure')
  expect(sound.span.low).toBeGreaterThan(0.1)
  expect(own.span.low).toBeCloseTo(sound.span.low, 3)
  expect(own.span.high).toBeCloseTo(sound.span.high, 3)
})

it('shows across the gaps at both ends of its rails, and at no other', () => {
  const gaps = finder.spots.filter((s) => s.place.kind === 'gap')
  const opposite = gaps.filter((s) => {
    const [e] = finder.expected(swapped, s)
    return e && 'words' in e && e.words.opposite! > 0.9
  })
  expect(gaps).toHaveLength(6)
  expect(opposite.map((s) => s.place.name).sort()).toEqual(['gap1', 'gap2'])
})

it('does not trip the district when it is switched on', () => {
  expect(finder.symptomsOf(swapped).map((s) => s.id)).toEqual(['trips while running'])
})
