import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import { sourceOf, stockOf, trackOf } from '../../../test/track/fill.js'
import { calculateTrack } from '../calculate.js'
import { modelTrack } from '../model.js'
import { type Box, Labels } from './labels.js'
import { trackDrawings } from './maps.js'

type Point = [number, number]

/** Does a segment come within a box? By many points along it: another way than the code's. */
function touches(a: Point, b: Point, box: Box): boolean {
  const steps = Math.ceil(Math.hypot(b[0] - a[0], b[1] - a[1]) * 2) + 1
  for (let i = 0; i <= steps; i++) {
    const x = a[0] + ((b[0] - a[0]) * i) / steps
    const y = a[1] + ((b[1] - a[1]) * i) / steps
    if (Math.abs(x - box.x) < box.w / 2 && Math.abs(y - box.y) < box.h / 2) return true
  }
  return false
}

const overlap = (a: Box, b: Box) =>
  Math.abs(a.x - b.x) < (a.w + b.w) / 2 && Math.abs(a.y - b.y) < (a.h + b.h) / 2

describe('placing texts', () => {
  const point = fc.tuple(fc.integer({ min: 20, max: 580 }), fc.integer({ min: 60, max: 340 }))
  it('keeps them off lines, off each other and inside', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(point, point), { minLength: 1, maxLength: 25 }), (lines) => {
        const labels = new Labels(600, 40, 360)
        for (const l of lines) labels.addLine(l as [Point, Point], 2)
        const placed: Box[] = []
        for (const [a, b] of lines) {
          const size = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1
          const spots = [0.5, 0.3, 0.7].map((s) => ({
            x: a[0] + (b[0] - a[0]) * s,
            y: a[1] + (b[1] - a[1]) * s,
            nx: (b[1] - a[1]) / size,
            ny: -(b[0] - a[0]) / size,
          }))
          const box = labels.placeBeside(spots, 70, 12) ?? labels.placeNear(spots, 70, 12)
          if (!box) continue
          for (const [p, q] of lines) expect(touches(p as Point, q as Point, box)).toBe(false)
          for (const other of placed) expect(overlap(other, box)).toBe(false)
          expect(box.x - 35).toBeGreaterThanOrEqual(2)
          expect(box.y + 6).toBeLessThanOrEqual(360)
          placed.push(box)
        }
        // A single line on an empty sheet always has room.
        if (lines.length === 1) expect(placed).toHaveLength(1)
      }),
      { numRuns: runs(60) },
    )
  })
})

/** Texts of figures and lines of track in a map. */
function read(svg: string) {
  const boxes = [
    ...svg.matchAll(/<text x="([\d.]+)" y="([\d.]+)" text-anchor="middle" font-size="11">([^<]*)</g),
  ].map(([, x, y, text]): Box & { text: string } => ({
    x: Number(x),
    y: Number(y) - 11 / 3,
    // What a sans-serif of 11 px takes on the whole.
    w: text!.replace(/&[a-z]+;/g, 'x').length * 5.6,
    h: 10,
    text: text!,
  }))
  const lines = [...svg.matchAll(/<path d="([^"]+)" fill="none"[^>]*><title>/g)].map(([, d]) =>
    d!
      .slice(1)
      .split('L')
      .map((p) => p.split(' ').map(Number) as Point),
  )
  return { boxes, lines }
}

describe('a map of parallel tracks', () => {
  const sections = Object.fromEntries(
    Array.from({ length: 8 }, (_, i) => [
      `siding${i}`,
      {
        count: 3,
        length: '900 mm',
        points: [
          [0, 45 * i],
          [2700, 45 * i],
        ],
        feeders: {},
      },
    ]),
  )
  const input = {
    track: trackOf({ bus: { bus: { wire: '2.5 mm2', length: '3 m' } }, sections }),
    rollingStock: stockOf({ a: { running: '1 A', section: 'siding3.2' } }),
    sources: new Map([['main', sourceOf()]]),
  }
  const svgs = trackDrawings(modelTrack(input), calculateTrack(input, { faults: false, ringing: false }))

  it.each(svgs.map((s) => [s.name, s.svg]))('has no figure on a line or on another: %s', (_, svg) => {
    const { boxes, lines } = read(svg)
    expect(lines).toHaveLength(24)
    expect(boxes.length).toBeGreaterThan(8)
    boxes.forEach((box, i) => {
      for (const line of lines)
        for (let k = 1; k < line.length; k++)
          expect(touches(line[k - 1]!, line[k]!, box), box.text).toBe(false)
      for (const other of boxes.slice(0, i))
        expect(overlap(box, other), `${box.text} on ${other.text}`).toBe(false)
    })
    // Every section is somewhere: on the map or listed below it.
    for (let i = 0; i < 8; i++)
      for (let n = 1; n <= 3; n++) expect(svg.replace(/<title>[^<]*/g, '')).toContain(`siding${i}.${n} `)
  })
})
