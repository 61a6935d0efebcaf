/** A crossing put into a section, or where two of them cross. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import type { TrackAction } from '../../track/index.js'
import { crossedAt, pointOn } from '../views/map-place.js'
import { editRailroad } from './edit-railroad.js'
import { trackFigures } from './railroad.js'

const textOf = (name: string) =>
  readFileSync(new URL(`../../../examples/${name}/halfbit.yaml`, import.meta.url), 'utf8')
const mapOf = (text: string) => trackFigures(loadDesign(text)).map!
function done(text: string, action: TrackAction): string {
  const gives = editRailroad(text, action)
  if ('refused' in gives) throw new Error(gives.refused)
  return gives.text
}
function refused(text: string, action: TrackAction): string {
  const gives = editRailroad(text, action)
  return 'refused' in gives ? gives.refused : `taken: ${gives.says}`
}
const put = (track: string, atMm: number, more: Partial<TrackAction> = {}) =>
  ({ do: 'insert crossing', name: 'new', lengthMm: 160, isSlip: true, track, atMm, ...more }) as TrackAction
const total = (map: ReturnType<typeof mapOf>) => map.tracks.reduce((sum, t) => sum + t.lengthMm, 0)

describe('a crossing put into a section', () => {
  it.each(['exhibition', 'shelf'])(
    'leaves everything else of %s where it is, in sections of every kind',
    (name) => {
      const text = textOf(name)
      const before = mapOf(text)
      const all = before.tracks.filter((t) => t.part === 'sections' && t.lengthMm >= 200)
      // The cut itself is the same as for a turnout, which is tried in every section.
      const sections = all.filter((_, i) => i % Math.ceil(all.length / 6) === 0)
      for (const [n, t] of sections.entries()) {
        const next = done(text, put(t.name, t.lengthMm * [0.3, 0.5, 0.8][n % 3]!))
        for (const comment of text.match(/(?<=\s)#.*/g) ?? []) expect(next).toContain(comment)
        const after = mapOf(next)
        const own = after.tracks.filter((x) => x.group === 'new')
        expect(own.length).toBeGreaterThan(1)
        expect(own[0]!.district).toBe(t.district)
        expect(after.feeders).toHaveLength(before.feeders.length)
        for (const s of before.stands.filter((x) => x.track !== undefined)) {
          const now = after.stands.find((x) => x.name === s.name && x.what === s.what)!
          const [was, is] = [
            pointOn(before.tracks[s.track!]!, s.atMm),
            pointOn(after.tracks[now.track!]!, now.atMm),
          ]
          expect(Math.hypot(was[0] - is[0], was[1] - is[1])).toBeLessThan(90)
        }
      }
    },
    60_000,
  )

  it('asks what feeds the other way of a plain one, and draws a fed section there', () => {
    const text = textOf('shelf')
    expect(refused(text, put('mill', 200, { isSlip: false }))).toMatch(/do not join: name the bus run/)
    const { track } = loadDesign(done(text, put('mill', 200, { isSlip: false, bus: 'bus' }))).design
    expect(track!.crossings!['new']).toMatchObject({ length: 160, at: [2130, 150] })
    expect(track!.sections['new-b']).toMatchObject({ from: 'new.b2', feeders: [{ bus: 'bus' }] })
    expect(track!.sections['mill']!.to).toBe('new.a1')
    expect(track!.sections['mill-2']!.from).toBe('new.a2')
  })

  it('cuts both sections where they cross', () => {
    const crossing = done(textOf('shelf'), {
      do: 'add section',
      name: 'tram',
      lengthMm: 800,
      points: [
        [2100, -250],
        [2100, 550],
      ],
      bus: 'bus',
    })
    const before = mapOf(crossing)
    const sections = before.tracks.filter((t) => t.part === 'sections')
    const [first, second] = crossedAt(sections, [2105, 160], 40)!
    expect(crossedAt(sections, [2300, 150], 40)).toBeUndefined()
    const [a, b] = [sections[first.track]!, sections[second.track]!]
    expect([a.name, b.name].sort()).toEqual(['mill', 'tram'])
    const next = done(
      crossing,
      put(a.name, first.atMm, { isSlip: false, across: { track: b.name, atMm: second.atMm } }),
    )
    const { track } = loadDesign(next).design
    expect(track!.sections['mill']!.to).toMatch(/^new\.[ab]1$/)
    expect(track!.sections['tram']!.to).toMatch(/^new\.[ab]1$/)
    expect(track!.sections['mill-2']!.from!.slice(0, 5)).toBe(track!.sections['mill']!.to!.slice(0, 5))
    const after = mapOf(next)
    // Nothing is longer than it was, and no way is left open.
    expect(total(after) - total(before)).toBeCloseTo(0, 3)
    expect(after.feeders).toHaveLength(before.feeders.length)
    expect(after.nodes.filter((n) => n.meets)).toHaveLength(before.nodes.filter((n) => n.meets).length)
  })

  it('refuses a section that is too short, that is none, and two of one row', () => {
    const text = textOf('exhibition')
    expect(refused(text, put('approach', 100, { lengthMm: 170 }))).toMatch(/too short for a slip/)
    expect(refused(text, put('nowhere', 100))).toMatch(/no section "nowhere" to put a slip in/)
    expect(refused(text, put('south.1', 400, { across: { track: 'south.2', atMm: 400 } }))).toMatch(
      /of one row/,
    )
  })
})

it('sections that only meet do not cross, whatever the angle between them', () => {
  const [drawn] = mapOf(textOf('exhibition')).tracks
  const track = (points: [number, number][]) => ({ ...drawn!, points })
  const level = track([[0, 0], [1000, 0]]) // biome-ignore format: one line
  const onwards = track([[1000, 0], [1900, 200]]) // biome-ignore format: one line
  const across = track([[400, -300], [600, 300]]) // biome-ignore format: one line
  expect(crossedAt([level, onwards], [1000, 0], 20)).toBeUndefined()
  expect(crossedAt([level, across], [505, 0], 20)).toMatchObject([{ track: 0 }, { track: 1 }])
})
