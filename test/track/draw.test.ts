import { describe, expect, it } from 'vitest'
import { drawTrack, expandPlan, type MapValue } from '../../src/track/index.js'
import { stockOf, trackOf } from './fill.js'

const raw = {
  bus: { bus: { wire: '14 AWG', length: '5 m' } },
  sections: {
    a: {
      count: 2,
      length: '1 m',
      to: 'T.points',
      points: [
        [0, 0],
        [2000, 0],
      ],
      feeders: { at: '1 m' },
    },
    b: {
      length: '1 m',
      from: 'T.straight',
      arc: { centre: [2200, 500], radius: '500 mm', from: -90, to: 0 },
    },
    plain: { length: '1 m', from: 'T.diverging', gaps: 'from', feeders: { at: '1 m' } },
  },
  turnouts: { T: {} },
}

describe('map of the track', () => {
  const plan = expandPlan(trackOf(raw), stockOf({}), ['main'])
  const values = plan.tracks.map(
    (_, i): MapValue => ({ grade: (['good', 'fair', 'poor'] as const)[i % 3]!, label: `${i} V & <more>` }),
  )
  const svg = drawTrack(plan, {
    id: 'm',
    title: 'A <map>',
    description: 'd',
    values,
    legend: { good: 'g', fair: 'f', poor: 'p', none: 'n' },
  })

  it('draws every section once, by colour, pattern and label', () => {
    for (const t of plan.tracks) if (t.kind === 'section') expect(svg).toContain(`<title>${t.name}: `)
    expect(svg.match(/stroke-dasharray="3 3"/g)!.length).toBeGreaterThan(0)
    expect(svg).toContain('A &lt;map&gt;')
    expect(svg).toContain('&amp; &lt;more&gt;')
    expect(svg).not.toMatch(/NaN|undefined|Infinity/)
  })

  it('crosses out where a rail meets its opposite, at once or over gaps', () => {
    const loop = (gaps: string) =>
      drawTrack(
        expandPlan(
          trackOf({
            bus: raw.bus,
            sections: {
              stem: { length: '1 m', to: 'T.points', feeders: { at: '1 m' } },
              loop: {
                count: 3,
                length: '1 m',
                from: 'T.straight',
                to: 'T.diverging',
                gaps,
                feeders: { at: '1 m' },
              },
            },
            turnouts: { T: {} },
          }),
          stockOf({}),
          ['main'],
        ),
        {
          id: 'm',
          title: 't',
          description: 'd',
          values: Array.from({ length: 7 }, () => ({ grade: 'good' as const, label: '1 V' })),
          legend: { good: 'g', fair: 'f', poor: 'p', none: 'n' },
        },
      )
    expect(loop('none')).toContain('<title>T.diverging: a rail meets its opposite</title>')
    expect(loop('both')).toMatch(/both rails are cut; the opposite polarity beyond the gaps<\/title>/)
    expect(svg).not.toContain('polarity')
  })

  it('shares a line out among repeated sections and follows an arc', () => {
    const path = (name: string) => new RegExp(`<path d="([^"]+)"[^>]*><title>${name}:`).exec(svg)![1]!
    const end = (d: string) => /L([\d.]+) ([\d.]+)$/.exec(d)!.slice(1).map(Number)
    const start = (d: string) => /^M([\d.]+) ([\d.]+)/.exec(d)!.slice(1).map(Number)
    expect(end(path('a\\.1'))).toEqual(start(path('a\\.2')))
    const [x, y] = end(path('b'))
    const [x0, y0] = start(path('b'))
    // A quarter circle to the right and down: as far across as down.
    expect(x! - x0!).toBeCloseTo(y! - y0!, 0)
  })

  it('marks gaps', () => {
    expect(svg).toContain('both rails are cut')
  })
})
