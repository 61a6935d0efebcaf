import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import type { TrackAction } from '../../track/index.js'
import { drawnLength, pointOn } from '../views/map-place.js'
import { editRailroad } from './edit-railroad.js'
import { trackFigures } from './railroad.js'

const exhibition = readFileSync(new URL('../../../examples/exhibition/halfbit.yaml', import.meta.url), 'utf8')

/** The text after an edit, which must be taken. */
function done(action: TrackAction, text = exhibition): string {
  const gives = editRailroad(text, action)
  if ('refused' in gives) throw new Error(gives.refused)
  return gives.text
}
function refused(action: TrackAction, text = exhibition): string {
  const gives = editRailroad(text, action)
  return 'refused' in gives ? gives.refused : `taken: ${gives.says}`
}
/** Lines that are in one text only. */
function difference(a: string, b: string): { gone: string[]; come: string[] } {
  const [x, y] = [a.split('\n'), b.split('\n')]
  const less = (p: string[], q: string[]) => {
    const left = [...q]
    return p.filter((l) => {
      const i = left.indexOf(l)
      if (i >= 0) left.splice(i, 1)
      return i < 0
    })
  }
  return { gone: less(x, y), come: less(y, x) }
}
const mapOf = (text: string, fault?: string) => trackFigures(loadDesign(text), fault).map!

describe('an edit of the railroad', () => {
  const siding: TrackAction = {
    do: 'add section',
    name: 'quarry',
    lengthMm: 1200,
    points: [
      [0, 2500],
      [1200, 2500],
    ],
    bus: 'back',
  }

  it('adds a section with its feeder, and touches no line that was there', () => {
    const text = done(siding)
    const { gone, come } = difference(exhibition, text)
    expect(gone).toEqual([])
    expect(come.join('\n')).toContain('quarry:')
    const { track } = loadDesign(text).design
    expect(track!.sections['quarry']).toMatchObject({ length: 1200, feeders: [{ bus: 'back' }] })
    expect(mapOf(text).tracks.some((t) => t.name === 'quarry')).toBe(true)
  })

  it('joins a section to an open end, which gets a name where it has none', () => {
    const with1 = done(siding)
    const free = mapOf(with1).nodes.find((n) => n.id === 'end of quarry')!
    const text = done(
      {
        do: 'add section',
        name: 'spur',
        lengthMm: 500,
        points: [free.at, [1700, 2500]],
        from: free.meets,
      },
      with1,
    )
    const { sections } = loadDesign(text).design.track!
    expect(sections['spur']!.from).toBe(sections['quarry']!.to)
    expect(mapOf(text).nodes.find((n) => n.joint?.name === 'quarry-end')).toBeDefined()
  })

  it('refuses a section without feed, a name that is taken, and a third end at a joint', () => {
    expect(refused({ ...siding, bus: undefined })).toMatch(/feed/)
    expect(refused({ ...siding, name: 'south' })).toMatch(/already/)
    expect(refused({ ...siding, name: 'a.b' })).toMatch(/no name/)
    expect(refused({ ...siding, from: { name: 'e' } })).toMatch(/3 ends meet at "e"/)
  })

  it('feeds one of a row of sections without taking the row apart', () => {
    const before = mapOf(exhibition).feeders.length
    const text = done({ do: 'add feeder', track: 'south.3', bus: 'front', busMm: 4000, placeMm: 100 })
    const { feeders } = mapOf(text)
    expect(feeders.length).toBe(before + 1)
    const added = loadDesign(text).design.track!.sections['south']!.feeders!
    expect(added.at(-1)).toMatchObject({ bus: 'front', at: 4000, place: 100, first: 3 })
    const again = done({ do: 'remove feeder', path: ['track', 'sections', 'south', 'feeders', 1] }, text)
    expect(mapOf(again).feeders.length).toBe(before)
  })

  it('says what the reader says of a place beyond the end of a bus', () => {
    expect(refused({ do: 'add feeder', track: 'lead', bus: 'front', busMm: 90_000 })).toMatch(
      /90 m of run "front", which is 7 m long/,
    )
  })

  it.each(['left', 'right', 'both'] as const)('cuts %s at a joint, and closes it again', (gap) => {
    const cut = done({ do: 'set joint', name: 'south.2/3', gap })
    const state = (text: string) => mapOf(text).nodes.find((n) => n.joint?.name === 'south.2/3')!.joint!
    expect(state(cut).gap).toBe(gap)
    expect(state(done({ do: 'set joint', name: 'south.2/3', gap: 'none' }, cut)).gap).toBe('none')
    expect(state(done({ do: 'set joint', name: 'south.2/3', joiner: 'bad' }, cut))).toMatchObject({
      gap,
      joiner: 'bad',
    })
  })

  it('tells the cut rail of a joint as the file says it, whichever way the sections run', () => {
    // Some meet head to tail, others at the same end of both.
    for (const name of ['e', 'T1.points', 'T2.points', 'T4.points']) {
      const text = done({ do: 'set joint', name, gap: 'left' })
      expect(mapOf(text).nodes.find((n) => n.joint?.name === name)!.joint!.gap).toBe('left')
    }
  }, 60_000)

  it('makes a new district with gaps around it, and keeps every comment', () => {
    const action: TrackAction = {
      do: 'new district',
      names: ['north'],
      district: 'hill',
      driver: 'branch',
    }
    expect(refused({ ...action, names: ['north', 'northwest'] })).toMatch(/"northwest" has no feed/)
    const text = done(action)
    const map = mapOf(text)
    const inside = map.tracks.filter((t) => t.district === 'hill').map((t) => t.group)
    expect(new Set(inside)).toEqual(new Set(['north']))
    expect(difference(exhibition, text).come.join('\n')).toContain('hill')
    for (const comment of exhibition.match(/#.*/g) ?? []) expect(text).toContain(comment)
  })

  it('refuses to put one of a row in another district, with the reason', () => {
    expect(refused({ do: 'assign district', names: ['south.2'], bus: 'yard' })).toMatch(
      /one of the 5 of south.*choose the whole row/,
    )
  })

  it('moves a train, and refuses a place beyond the rails', () => {
    const text = done({ do: 'place', what: 'train', name: 'express', track: 'north.4', atMm: 250 })
    expect(mapOf(text).stands.find((s) => s.name === 'express')).toMatchObject({ atMm: 250 })
    expect(refused({ do: 'place', what: 'train', name: 'express', track: 'north.4', atMm: 2500 })).toMatch(
      /beyond the end/,
    )
  })

  it('takes a section away with what was said of its joints, but not under a train', () => {
    const text = done(
      { do: 'set joint', name: 'quarry-end', joiner: 'bad' },
      done(
        {
          do: 'add section',
          name: 'spur',
          lengthMm: 500,
          points: [
            [0, 0],
            [1, 1],
          ],
          from: { section: 'quarry', end: 'to' },
        },
        done(siding),
      ),
    )
    const without = done({ do: 'remove section', name: 'spur' }, text)
    expect(loadDesign(without).design.track!.joints ?? {}).not.toHaveProperty('quarry-end')
    expect(refused({ do: 'remove section', name: 'south' })).toMatch(/express/)
    expect(refused({ do: 'remove section', name: 'south.2' })).toMatch(/whole row/)
  })
})

describe('a turnout put into a section', () => {
  const NAMES = ['automation', 'exhibition', 'flawed', 'shelf']
  const textOf = (name: string) =>
    readFileSync(new URL(`../../../examples/${name}/halfbit.yaml`, import.meta.url), 'utf8')
  const put = (track: string, atMm: number, towards: 'from' | 'to' = 'to'): TrackAction => ({
    do: 'insert turnout',
    name: 'new',
    lengthMm: 160,
    hand: 'left',
    track,
    atMm,
    towards,
  })
  /** As far as the turnout reaches, and as drawings are rounded. */
  const REACH_MM = 80 + 3
  const off = (a: readonly number[], b: readonly number[]) => Math.hypot(a[0]! - b[0]!, a[1]! - b[1]!)

  it.each(NAMES)(
    'leaves everything else of %s where it is, in any of its sections',
    (name) => {
      const text = textOf(name)
      const before = mapOf(text)
      const sections = before.tracks.filter((t) => t.part === 'sections' && t.lengthMm >= 200)
      expect(sections.length).toBeGreaterThan(2)
      const isDrawn = loadDesign(text).design.track!.sections
      for (const [n, t] of sections.entries()) {
        const share = [0.3, 0.5, 0.8][n % 3]!
        const towards = n % 2 === 0 ? 'to' : 'from'
        const next = done(put(t.name, t.lengthMm * share, towards), text)
        for (const comment of text.match(/(?<=\s)#.*/g) ?? []) expect(next).toContain(comment)
        const after = mapOf(next)
        const own = after.tracks.filter((x) => x.group === 'new')
        expect(own.map((x) => x.name)).toEqual(['new.points', 'new.straight', 'new.diverging'])
        const total = (map: typeof after) => map.tracks.reduce((sum, x) => sum + x.lengthMm, 0)
        // Its diverging leg is all that is new.
        expect(total(after) - total(before)).toBeCloseTo(80, 3)
        expect(new Set(after.tracks.map((x) => x.district))).toEqual(
          new Set(before.tracks.map((x) => x.district)),
        )
        expect(own[0]!.district).toBe(t.district)
        expect(after.feeders).toHaveLength(before.feeders.length)
        const where = (map: typeof after, stand: (typeof after)['stands'][number]) =>
          pointOn(map.tracks[stand.track!]!, stand.atMm)
        for (const s of before.stands.filter((x) => x.track !== undefined)) {
          const now = after.stands.find((x) => x.name === s.name && x.what === s.what)!
          if (isDrawn[before.tracks[s.track!]!.group]?.points)
            expect(off(where(before, s), where(after, now))).toBeLessThan(REACH_MM)
        }
        // Drawings need not be to scale.
        const scale = Math.max(1, drawnLength(t) / t.lengthMm)
        if (isDrawn[t.group]!.points || isDrawn[t.group]!.arc)
          for (const f of before.feeders)
            expect(
              Math.min(...after.feeders.filter((x) => x.bus === f.bus).map((x) => off(x.at, f.at))),
              `${t.name}: ${f.name}`,
            ).toBeLessThan(REACH_MM * scale)
      }
    },
    120_000,
  )

  it('keeps the gaps of both ends and the settings of every joint', () => {
    const text = done({ do: 'set joint', name: 'branch.4/5', gap: 'left' })
    const next = done(put('branch.3', 350), text)
    const joints = (t: string) =>
      mapOf(t).nodes.flatMap((n) => (n.joint && n.joint.gap !== 'none' ? [{ ...n.joint, at: n.at }] : []))
    const [old, now] = [joints(text), joints(next)]
    expect(now).toHaveLength(old.length)
    for (const j of old)
      expect(now.some((x) => x.gap === j.gap && x.joiner === j.joiner && off(x.at, j.at) < 4)).toBe(true)
    const { sections } = loadDesign(next).design.track!
    expect(Object.keys(sections).filter((s) => s.startsWith('branch'))).toEqual([
      'branch',
      'branch-2',
      'branch-2-2',
      'branch-2-3',
    ])
    expect([sections['branch']!.count, sections['branch-2-3']!.count]).toEqual([2, 3])
    expect(sections['branch-2-3']!.to).toBe('B1.points')
  })

  it('keeps the length of a stop that was that of the section', () => {
    const stop = loadDesign(done(put('halt', 600))).design.traffic!.stops!['branch halt']!
    expect(stop).toMatchObject({ section: 'halt', length: 1200 })
  })

  it('faces the way it is told to, and goes no nearer to an end than it is long', () => {
    const { track } = loadDesign(done(put('halt', 5, 'from'))).design
    expect(track!.sections['halt']).toMatchObject({ length: 20, to: 'new.straight' })
    expect(track!.sections['halt-2']).toMatchObject({ length: 1020, from: 'new.points' })
  })

  it('refuses a section that is shorter than the turnout, and one that is none', () => {
    expect(refused(put('approach', 100))).toBe(
      `taken: Turnout new in approach, diverging to the left towards its end`,
    )
    expect(refused({ ...put('approach', 100), lengthMm: 230 } as TrackAction)).toMatch(
      /approach is 200 mm long, too short for a turnout of 230 mm/,
    )
    expect(refused(put('T1', 100))).toMatch(/no section "T1"/)
    expect(refused({ ...put('halt', 100), name: 'south' } as TrackAction)).toMatch(/already/)
  })
})

describe('the map with a fault', () => {
  it('shows less voltage behind a feeder that is open, and says what changed', () => {
    const sound = mapOf(exhibition)
    const list = sound.faults.find((f) => f.kind === 'open feeder')!.list
    const map = mapOf(exhibition, list.find((f) => f.name === 'branch.5')!.id)
    expect(map.fault!.says[0]).toContain('the feeder of branch.5 is open')
    const of = (m: typeof map) =>
      Number.parseFloat(m.tracks.find((t) => t.name === 'branch.5')!.planned.label)
    expect(of(map)).toBeLessThan(of(sound))
  })
  it('is the sound one where the feeder is gone', () => {
    expect(mapOf(exhibition, 'open-feeder:none').fault).toBeUndefined()
  })
})
