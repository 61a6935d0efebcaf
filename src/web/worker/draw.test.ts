/** Drawing a railroad from nothing: each act gives a text that the reader takes, with all its comments. */
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import type { TrackAction } from '../../track/index.js'
import { editRailroad } from './edit-railroad.js'
import { trackFigures } from './railroad.js'

const START = `# A station without a railroad yet.
halfbit: 2
name: drawn
controller:
  chip: atmega328p # on a bare board
  clock: { frequency: 16 MHz, source: crystal }
signal: { outputs: { main: { pin: PB1 } } }
`

function done(text: string, action: TrackAction): string {
  const gives = editRailroad(text, action)
  if ('refused' in gives) throw new Error(gives.refused)
  loadDesign(gives.text)
  for (const comment of text.match(/#.*/g) ?? []) expect(gives.text).toContain(comment)
  return gives.text
}
function refused(text: string, action: TrackAction): string {
  const gives = editRailroad(text, action)
  return 'refused' in gives ? gives.refused : `taken: ${gives.says}`
}
const mapOf = (text: string) => trackFigures(loadDesign(text)).map!
const node = (text: string, id: string) => mapOf(text).nodes.find((n) => n.id === id)!

const first: TrackAction = {
  do: 'add section',
  name: 'main',
  lengthMm: 1200,
  points: [
    [0, 0],
    [1200, 0],
  ],
}

describe('drawing on an empty map', () => {
  it('shows an empty map where there is no railroad, and says what comes first', () => {
    expect(mapOf(START)).toMatchObject({ tracks: [], nodes: [] })
    expect(refused(START, { do: 'add bus', name: 'b', wire: '2.5 mm2', lengthMm: 100 })).toMatch(/section/)
  })

  it('makes the first section with power stage, bus and feeder', () => {
    const text = done(START, first)
    const { track, power } = loadDesign(text).design
    expect(track!.sections['main']).toMatchObject({ length: 1200, feeders: [{ bus: 'main' }] })
    expect(track!.bus['main']).toMatchObject({ length: 2000 })
    expect(Object.keys(power!.districts)).toHaveLength(1)
    expect(mapOf(text).tracks).toHaveLength(1)
  })

  it('draws a curve on from a free end, as an arc whose length is that of its angle', () => {
    const text = done(done(START, first), {
      do: 'add section',
      name: 'east',
      // A quarter of a circle of 600 mm is 942.5 mm long.
      lengthMm: (Math.PI / 2) * 600,
      arc: { centre: [1200, 600], radiusMm: 600, from: -90, to: 0 },
      from: { section: 'main', end: 'to' },
    })
    const { sections } = loadDesign(text).design.track!
    expect(sections['east']!.length).toBeCloseTo(942.478, 2)
    expect(sections['main']!.to).toBe(sections['east']!.from)
    expect(node(text, 'end of east').at.map(Math.round)).toEqual([1800, 600])
    // It leads on downwards.
    expect(node(text, 'end of east').heading).toBeCloseTo(90, -1)
  })

  it.each([
    ['right', 1],
    ['left', -1],
  ] as const)('joins a turnout to the %s by its points, with two free ends to draw on from', (hand, side) => {
    const text = done(done(START, first), {
      do: 'add turnout',
      name: 'T1',
      lengthMm: 230,
      at: [1315, 0],
      along: 0,
      hand,
      port: 'points',
      meets: { section: 'main', end: 'to' },
    })
    expect(loadDesign(text).design.track!.sections['main']!.to).toBe('T1.points')
    const [straight, diverging] = [node(text, 'open end T1.straight'), node(text, 'open end T1.diverging')]
    expect(straight.at.map(Math.round)).toEqual([1430, expect.closeTo(0)])
    expect(straight.heading).toBeCloseTo(0)
    expect(Math.sign(diverging.at[1])).toBe(side)
    const on = done(text, {
      do: 'add section',
      name: 'siding',
      lengthMm: 500,
      points: [diverging.at, [2000, 100 * side]],
      from: diverging.meets,
    })
    expect(loadDesign(on).design.track!.sections['siding']!.from).toBe('T1.diverging')
  })

  it('places a turnout in the open by a feeder of its own, and refuses it without one', () => {
    const alone = {
      do: 'add turnout',
      name: 'T1',
      lengthMm: 230,
      at: [300, 500],
      along: 90,
      hand: 'right',
      port: 'points',
    } as const
    const text = done(done(START, first), { ...alone, bus: 'main' })
    expect(node(text, 'open end T1.straight').at.map(Math.round)).toEqual([300, 615])
    expect(refused(done(START, first), alone)).toMatch(/no feed/)
  })

  it('joins a crossing and a slip by their first way', () => {
    for (const isSlip of [false, true]) {
      const text = done(done(START, first), {
        do: 'add crossing',
        name: 'X1',
        lengthMm: 200,
        at: [1300, 0],
        along: 0,
        isSlip,
        meets: { section: 'main', end: 'to' },
        ...(isSlip ? {} : { bus: 'main' }),
      })
      expect(loadDesign(text).design.track!.crossings!['X1']!.slip).toBe(isSlip)
      expect(node(text, 'open end X1.a2').at[0]).toBeCloseTo(1400)
      // The other way of a crossing is fed by a section of its own.
      const ways = mapOf(text).nodes.filter((n) => n.meets && /X1[.-]b/.test(n.id))
      expect(ways).toHaveLength(2)
      expect(ways[0]!.at).not.toEqual(ways[1]!.at)
    }
  })

  it('never joins two turnouts without a section between them', () => {
    const turnout = { do: 'add turnout', lengthMm: 230, along: 0, hand: 'right', port: 'points' } as const
    const text = done(done(START, first), {
      ...turnout,
      name: 'T1',
      at: [1315, 0],
      meets: { section: 'main', end: 'to' },
    })
    expect(refused(text, { ...turnout, name: 'T2', at: [1545, 0], meets: { name: 'T1.straight' } })).toMatch(
      /meet by a section/,
    )
  })

  it('adds a bus run, and names the first one at every feeder that had no need to', () => {
    const text = done(done(START, first).replace(/feeders:\s*\{? *bus: main *\}?/, 'feeders: {}'), {
      do: 'add bus',
      name: 'yard',
      wire: '1.5 mm2',
      lengthMm: 3500,
      from: 'main',
      atMm: 1000,
    })
    const { bus, sections } = loadDesign(text).design.track!
    expect(bus['yard']).toMatchObject({ from: 'main', at: 1000, length: 3500 })
    expect(sections['main']!.feeders).toMatchObject([{ bus: 'main' }])
    expect(refused(text, { do: 'add bus', name: 'yard', wire: '1.5 mm2', lengthMm: 100 })).toMatch(/already/)
    expect(refused(text, { do: 'add bus', name: 'x', wire: 'thick', lengthMm: 100, from: 'main' })).toMatch(
      /gauge/,
    )
  })
})
