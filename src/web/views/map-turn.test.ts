import { expect, it } from 'vitest'
import type { TrackMapData } from '../worker/map-data.js'
import { fitOf, gainsByTurning, turnedMap } from './map-turn.js'

const WIDE = { minX: 0, minY: 0, maxX: 7000, maxY: 2000 }
/** After the turn. */
const TALL = { minX: -2000, minY: 0, maxX: 0, maxY: 7000 }

it('turns what is wide, clockwise, with every place on it', () => {
  expect(gainsByTurning(WIDE)).toBe(true)
  expect(gainsByTurning(TALL)).toBe(false)
  expect(gainsByTurning({ minX: 0, minY: 0, maxX: 1000, maxY: 1000 })).toBe(false)
  const map = turnedMap({
    tracks: [{ name: 'a', points: [[0, 0], [7000, 100]] }], // biome-ignore format: points
    nodes: [{ id: 'n', at: [7000, 100], heading: 0 }],
    feeders: [{ name: 'f', at: [3500, 50] }],
  } as unknown as TrackMapData)
  expect(map.tracks[0]!.points[1]).toEqual([-100, 7000])
  // From the right, growing downwards: what led to the right leads down.
  expect(map.nodes[0]).toMatchObject({ at: [-100, 7000], heading: 90 })
  expect(map.feeders[0]!.at).toEqual([-50, 3500])
})

it('fits a turned map into a phone’s first view, larger than it would lie', () => {
  const lying = fitOf(WIDE, 366)
  const turned = fitOf(TALL, 366, 844)
  expect(turned.scale).toBeGreaterThan(1.3 * lying.scale)
  // 366 px are 1000 units: with what is above and below, all of it is in view.
  expect((turned.height * 366) / 1000).toBeLessThan(844 - 200)
  for (const { scale, left, top, height, box } of [
    { ...lying, box: WIDE },
    { ...turned, box: TALL },
  ]) {
    expect(left + (box.maxX - box.minX) * scale).toBeLessThan(1000)
    expect(top + (box.maxY - box.minY) * scale).toBeLessThan(height)
    expect(Math.min(left, top)).toBeGreaterThanOrEqual(39.9)
  }
})
