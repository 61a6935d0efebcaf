import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { onScreen, outside, panMap, placeLabels, WHOLE, zoomMap } from './map-view.js'

const size = { width: 1000, height: 400 }

describe('the view of the map', () => {
  it('keeps the point under the pointer while it zooms in', () => {
    const at = [300, 100] as const
    const view = zoomMap(WHOLE, 4, at, size)
    // Its place on screen, as a share of the view.
    expect((at[0] - view.x) / (size.width / view.zoom)).toBeCloseTo(0.3, 9)
    expect((at[1] - view.y) / (size.height / view.zoom)).toBeCloseTo(0.25, 9)
  })

  it('lies in its box whole and in the middle, as a browser puts it there', () => {
    const wide = { left: 10, top: 20, width: 1100, height: 200 }
    // As high as the box: 0.5 px for each unit, 500 px wide.
    expect(onScreen(WHOLE, size, wide)).toEqual({ left: 310, top: 20, perUnit: 0.5 })
    const { left, top, perUnit } = onScreen({ zoom: 4, x: 250, y: 100 }, size, wide)
    expect(perUnit).toBe(2)
    // The view's own corner is where the whole drawing's was.
    expect([left + 250 * perUnit, top + 100 * perUnit]).toEqual([310, 20])
  })

  it('never leaves the drawing', () => {
    const number = fc.double({ min: -2000, max: 2000, noNaN: true })
    fc.assert(
      fc.property(fc.double({ min: 0.1, max: 50, noNaN: true }), number, number, (factor, x, y) => {
        const view = panMap(zoomMap(WHOLE, factor, [x, y], size), [y, x], size)
        expect(view.x).toBeGreaterThanOrEqual(0)
        expect(view.x + size.width / view.zoom).toBeLessThanOrEqual(size.width + 1e-6)
        expect(view.y).toBeGreaterThanOrEqual(0)
        expect(view.y + size.height / view.zoom).toBeLessThanOrEqual(size.height + 1e-6)
      }),
    )
  })
})

describe('labels of the map', () => {
  it('stand beside their line, not on it', () => {
    const [label] = placeLabels([{ text: 'north 14.2 V', line: [[0, 50], [200, 50]] }], 10, size) // biome-ignore format: one line
    expect(label!.x).toBe(100)
    expect(Math.abs(label!.y - 50)).toBeGreaterThan(8)
  })

  it('keeps off what else is on the drawing, and leads to a label that lies farther away', () => {
    const line = [[0, 50], [200, 50]] as const // biome-ignore format: one line
    const above = { left: 0, right: 400, top: 0, bottom: 49 }
    const [label] = placeLabels([{ text: 'north', line }], 10, size, [above])
    expect(label!.y).toBeGreaterThan(50)
    const [far] = placeLabels([{ text: 'north 14.2 V', line, isFar: true }], 10, size)
    expect(far!.leader!.slice(0, 2)).toEqual([100, 50])
    expect(Math.abs(far!.y - 50)).toBeGreaterThan(20)
  })
  it('are left out where they would lie on another or be struck by a line', () => {
    const line = (y: number): [number, number][] => [[0, y], [200, y]] // biome-ignore format: one line
    const wishes = Array.from({ length: 30 }, (_, i) => ({ text: `section ${i}`, line: line(i * 6) }))
    const near = placeLabels(wishes, 12, size)
    expect(near.length).toBeLessThan(wishes.length)
    // As small as it is after zooming in, every one has room.
    expect(placeLabels(wishes, 1.5, size)).toHaveLength(wishes.length)
  })
})

it('no label is cut by the edge of what is zoomed in', () => {
  const line = [
    [300, 100],
    [340, 100],
  ] as const
  const wishes = [{ text: 'platform.1', line }]
  expect(placeLabels(wishes, 10, size)).toHaveLength(1)
  // The view begins just left of the middle of the line: the label would stand half outside.
  const view = { zoom: 4, x: 315, y: 60 }
  for (const { x, text } of placeLabels(wishes, 10, size, outside(view, size))) {
    expect(x - (text.length * 0.58 * 10) / 2).toBeGreaterThanOrEqual(view.x)
    expect(x + (text.length * 0.58 * 10) / 2).toBeLessThanOrEqual(view.x + size.width / view.zoom)
  }
  expect(outside(WHOLE, size)).toEqual([])
})
