import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import type { TrackAction } from '../../track/index.js'
import { editRailroad, trackFigures } from './railroad.js'

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
