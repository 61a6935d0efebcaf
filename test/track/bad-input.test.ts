/** What cannot be, with its line in the file. */
import { describe, expect, it } from 'vitest'
import { checkDesign } from '../../src/design/index.js'

const HEAD = `halfbit: 2
name: x
standard: {}
scale: H0
controller: { chip: rp2040, clock: { frequency: 125 MHz } }
signal: { outputs: { main: { mode: operations, pin: GP1 } } }
power:
  supplies: { s: { voltage: 15 V, rating: 4 A } }
  drivers: { d: { part: DRV8874 }, e: { part: DRV8874 } }
  districts: { one: { driver: d }, two: { driver: e } }
track:
`
const SOUND = `  bus:
    west: { district: one, wire: 14 AWG, length: 4 m }
    east: { district: two, wire: 14 AWG, length: 4 m }
  sections:
    a: { length: 1 m, to: j, feeders: { bus: west, at: 1 m } }
    b: { length: 1 m, from: j, gaps: from, feeders: { bus: east, at: 1 m } }
`

function problems(track: string, rest = '') {
  return checkDesign(HEAD + track + rest).map((p) => ({ line: p.line, message: p.message }))
}
/** Line of the file in which a text of the track part stands. */
const lineOf = (track: string, text: string) =>
  (HEAD + track).slice(0, (HEAD + track).indexOf(text)).split('\n').length

describe('bad input', () => {
  it('finds nothing wrong with the sound one', () => {
    expect(problems(SOUND)).toEqual([])
  })

  it.each([
    ['a: { length: 1 m', 'a: { length: 0 m', 'a: {', /length of a section must be above 0/],
    ['length: 4 m }\n    east', 'length: 0 mm }\n    east', 'west: {', /length of a bus run must be above 0/],
    ['bus: west, at: 1 m', 'bus: wset, at: 1 m', 'a: {', /no bus run "wset"; the nearest is "west"/],
    ['bus: west, at: 1 m', 'bus: west, at: 9 m', 'a: {', /would be at 9 m of run "west", which is 4 m long/],
    ['bus: west, at: 1 m', 'at: 1 m', 'a: {', /needs its bus run: one of west, east/],
    ['district: one', 'district: oen', 'west: {', /no power district "oen"; the nearest is "one"/],
    ['district: one, ', '', 'west: {', /needs its district: one of one, two/],
    [', gaps: from', '', 'b: {', /districts "one" and "two" meet without gaps.*Never join two boosters/],
    [', feeders: { bus: east, at: 1 m }', '', 'b: {', /"b" has no feed/],
    [
      'wire: 14 AWG, length: 4 m }\n    east',
      'wire: 99 AWG, length: 4 m }\n    east',
      'west: {',
      /unknown wire "99 AWG"/,
    ],
    ['a: { length: 1 m', 'a: { length: 1 m, rail: 101', 'a: {', /unknown rail code 101; expected one of 40/],
    ['to: j', 'to: T9.points', 'a: {', /no turnout, crossing or turntable end "T9.points"/],
    [
      'to: j',
      'to: j, points: [[0, 0], [1, 0]], arc: { centre: [0, 0], radius: 1 m, from: 0, to: 90 }',
      'a: {',
      /drawn by "points" or by "arc", not by both/,
    ],
    [
      'length: 4 m }\n    east',
      'length: 4 m, geometry: spaced, spacing: 1 mm }\n    east',
      'west: {',
      /two wires of 1.63 mm cannot be 1 mm apart; expected more than 1.63 mm/,
    ],
    ['to: j', 'to: T9.points', 'a: {', /end "T9.points"; the design has none/],
    ['    a: {', '    a.b: {', 'a.b: {', /must not have "\."/],
    ['length: 1 m, to: j', 'length: 1 m, from: j, to: j', 'b: {', /3 ends meet at "j"/],
  ])('%s → %s', (from, to, at, message) => {
    const track = SOUND.replace(from, to)
    expect(track).not.toBe(SOUND)
    const found = problems(track)
    expect(found).toHaveLength(1)
    expect(found[0]!.message).toMatch(message)
    expect(found[0]!.line).toBe(lineOf(track, at))
  })

  it('places trains, joints and accessories', () => {
    const trains = 'rollingStock:\n  express: { running: 1 A, section: aa }\n'
    expect(problems(SOUND, trains)[0]).toMatchObject({
      line: lineOf(SOUND + trains, 'express'),
      message: /no section "aa"/,
    })
    const long = 'rollingStock:\n  express: { running: 1 A, section: a, at: 3 m }\n'
    expect(problems(SOUND, long)[0]!.message).toMatch(/3 m is beyond the end of "a", which is 1 m long/)
    expect(problems(`${SOUND}  joints: { k: { joiner: bad } }\n`)[0]!.message).toMatch(/no joint "k"/)
    expect(problems(`${SOUND}  accessories: { lamp: { current: 1 A } }\n`)[0]!.message).toMatch(
      /needs a section or a bus run/,
    )
  })

  it('wants districts before it wants track', () => {
    const found = checkDesign(HEAD.replace(/power:[\s\S]*track:/, 'track:') + SOUND)
    expect(found.map((p) => p.message)).toEqual([expect.stringMatching(/needs power districts to feed it/)])
  })

  it('refuses runs in a ring, one-rail feeds and more sections than any railroad has', () => {
    const ring = SOUND.replace('west: { district: one', 'west: { from: east').replace(
      'east: { district: two',
      'east: { from: west',
    )
    expect(problems(ring)[0]!.message).toMatch(/branch off each other in a ring/)
    const half = `${SOUND.replace(', gaps: from, feeders: { bus: east, at: 1 m }', '')}  joints: { j: { gap: left } }\n`
    expect(problems(half)[0]!.message).toMatch(/"b" has a feed on one rail only/)
    const many =
      SOUND.replace('a: { length: 1 m, ', 'a: { length: 1 m, count: 100000, ').replace(
        'b: { length: 1 m, ',
        'b: { length: 1 m, count: 100000, ',
      ) + '    c: { length: 1 m, count: 100000, feeders: { bus: west, at: 1 m } }\n'
    expect(problems(many)[0]!.message).toMatch(/more than 200000 sections/)
  })
})
