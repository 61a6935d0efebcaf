/** From the terminals of each district to the rails. */
import { formatSi } from '../../units/index.js'
import type { WiringSources } from '../contents/sources.js'
import type { WiringList } from './connections.js'
import type { DistrictEnd } from './power-wiring.js'

const PAIR = ['rail A', 'rail B'] as const

export function layTrack(list: WiringList, s: WiringSources, ends: ReadonlyMap<string, DistrictEnd>): void {
  const runs = s.plan?.runs ?? []
  const parts = runs.map((run) => {
    const { design } = run
    const more = [
      design.switch ? 'with a hand switch' : '',
      design.reverser ? 'with a reverser' : '',
      design.connector ? 'with a connector' : '',
    ].filter(Boolean)
    return list.part('bus', run.name, `Bus ${run.name}`, [design.wire, ...more].join(', '))
  })
  runs.forEach((run, i) => {
    const { design, parent } = run
    const because = `track.bus.${run.name}`
    const end = ends.get(run.district)
    const amp = end?.amp === undefined ? {} : { amp: end.amp }
    const wire = { wire: design.wire, lengthMm: design.length, ...amp }
    const to = parts[i]!
    if (parent >= 0)
      list.wire({
        ...wire,
        from: parts[parent]!,
        fromAt: `at ${metres(run.atMm)}`,
        to,
        toAt: 'start',
        roles: PAIR,
        because,
      })
    else if (end) {
      // Two wires of one run, of which only one passes the fuse.
      list.wire({ ...wire, from: end.a[0], fromAt: end.a[1], to, toAt: 'A', roles: ['rail A'], because })
      list.wire({ ...wire, from: end.b[0], fromAt: end.b[1], to, toAt: 'B', roles: ['rail B'], because })
    }
    const { terminator } = design
    if (terminator) {
      const detail = `${formatSi(terminator.resistance, 'Ohm', 3)} and ${formatSi(terminator.capacitance, 'F', 3)}`
      list.wire({
        from: to,
        fromAt: 'far end',
        to: list.part('terminator', run.name, `Terminator of ${run.name}`, detail),
        toAt: 'ends',
        roles: PAIR,
        because: `${because}.terminator`,
      })
    }
  })
  for (const f of s.plan?.feeders ?? []) {
    if (f.open) continue
    const track = s.plan!.tracks[f.track]!
    const name = track.leg === '' ? track.name : `${track.name} ${track.leg}`
    list.wire({
      from: parts[f.run]!,
      fromAt: `at ${metres(f.busMm)}`,
      to: list.part('section', name, name, ''),
      toAt: `${metres(f.railMm)} in, A ${(s.phase![f.track] === 1) === !f.swapped ? 'left' : 'right'}`,
      roles: PAIR,
      wire: f.wire,
      lengthMm: f.lengthMm,
      because: `feeder ${f.name}`,
    })
  }
  // A district without a plan of its track ends at a pair of rails.
  const wired = new Set(runs.map((r) => r.district))
  for (const [name, end] of ends) {
    if (wired.has(name)) continue
    const rails = list.part('rails', name, `Rails of ${name}`, '')
    const because = `power.districts.${name}`
    const amp = end.amp === undefined ? {} : { amp: end.amp }
    list.wire({
      ...amp,
      from: end.a[0],
      fromAt: end.a[1],
      to: rails,
      toAt: 'rail A',
      roles: ['rail A'],
      because,
    })
    list.wire({
      ...amp,
      from: end.b[0],
      fromAt: end.b[1],
      to: rails,
      toAt: 'rail B',
      roles: ['rail B'],
      because,
    })
  }
}

const metres = (mm: number) => formatSi(mm / 1000, 'm', 3)
