/** Feeders, written out for repeated sections. */
import type { FeederDesign } from '../design/track.js'
import { DesignConflict } from '../design-conflict.js'
import { positive, unknownName } from './slips.js'
import type { TrackLayout } from './types.js'

const DEFAULT_FEEDER = { wire: '20 AWG', lengthMm: 200 }

export function addFeeders(plan: TrackLayout, byName: ReadonlyMap<string, number[]>): void {
  const d = plan.design
  const runNames = plan.runs.map((r) => r.name)
  const add = (group: string, kind: string, list: FeederDesign[] | undefined) => {
    list?.forEach((f, n) => {
      const path = ['track', kind, group, 'feeders', n]
      const run = f.bus === undefined ? (plan.runs.length === 1 ? 0 : -1) : runNames.indexOf(f.bus)
      if (run < 0) {
        if (f.bus !== undefined) throw unknownName([...path, 'bus'], 'bus run', f.bus, runNames)
        throw new DesignConflict(path, `needs its bus run: one of ${runNames.join(', ')}`)
      }
      const length = plan.runs[run]!.design.length
      const fallback = d.defaults?.feeder
      const lengthMm = positive(
        f.length ?? fallback?.length ?? DEFAULT_FEEDER.lengthMm,
        [...path, 'length'],
        'the length of a feeder',
      )
      const tracks = byName.get(group)!
      // A turnout is fed at its hub: the inner end of its first leg.
      const targets = kind === 'sections' ? tracks : tracks.slice(0, 1)
      if (kind === 'sections' && f.first > tracks.length)
        throw new DesignConflict(
          [...path, 'first'],
          `"${group}" has ${tracks.length === 1 ? 'one section' : `${tracks.length} sections`}; found ${f.first}`,
        )
      let step = 0
      for (let i = f.first - 1; i < targets.length; i += f.every) {
        const track = targets[i]!
        const t = plan.tracks[track]!
        const railMm = f.place ?? (t.toHub >= 0 ? t.lengthMm : t.lengthMm / 2)
        if (railMm > t.lengthMm)
          throw new DesignConflict(
            [...path, 'place'],
            `${railMm / 1000} m is beyond the end of "${t.name}", which is ${t.lengthMm / 1000} m long`,
          )
        const busMm = f.at === undefined && f.step === undefined ? length : (f.at ?? 0) + step * (f.step ?? 0)
        if (busMm > length * (1 + 1e-9))
          throw new DesignConflict(
            [...path, f.step === undefined ? 'at' : 'step'],
            `the feeder of "${t.name}" would be at ${busMm / 1000} m of run "${plan.runs[run]!.name}", which is ${length / 1000} m long`,
          )
        step++
        plan.feeders.push({
          name: list.length > 1 ? `${t.name} (${n + 1})` : t.name,
          run,
          busMm: Math.min(busMm, length),
          track,
          railMm,
          wire: f.wire ?? fallback?.wire ?? DEFAULT_FEEDER.wire,
          lengthMm,
          swapped: f.swapped,
          open: f.open,
          path,
        })
      }
    })
  }
  for (const [name, s] of Object.entries(d.sections)) add(name, 'sections', s.feeders)
  for (const [name, s] of Object.entries(d.turnouts ?? {})) add(name, 'turnouts', s.feeders)
  for (const [name, s] of Object.entries(d.crossings ?? {})) {
    if (s.feeders && !s.slip)
      throw new DesignConflict(
        ['track', 'crossings', name, 'feeders'],
        'feed the sections on both routes of a crossing instead',
      )
    add(name, 'crossings', s.feeders)
  }
  for (const [name, s] of Object.entries(d.turntables ?? {})) add(name, 'turntables', s.feeders)
}
