/** What stands on the railroad and what it draws. */
import type { TrainDesign } from '../design/track.js'
import { DesignConflict } from '../design-conflict.js'
import { unknownName } from './slips.js'
import type { Path, TrackLayout } from './types.js'

/** What a train draws while it runs, A. */
export function runningAmp(t: TrainDesign): number {
  return t.running + t.lights + t.sound
}

/** Where the design does not say what a stalled motor draws: so many times what it draws running; assumed, no source. */
const STALL_TIMES = 2

/** What a train draws while its motor is stalled, A. */
export function stalledAmp(t: TrainDesign): number {
  return (t.stall ?? STALL_TIMES * t.running) + t.lights + t.sound
}

export function addStands(plan: TrackLayout, byName: ReadonlyMap<string, number[]>): void {
  const at = (
    own: { section?: string; at?: number },
    path: Path,
  ): { track: number; atMm: number } | undefined => {
    if (own.section === undefined) return undefined
    const tracks = byName.get(own.section)
    if (!tracks) throw unknownName([...path, 'section'], 'section', own.section, byName.keys())
    const track = tracks[0]!
    const t = plan.tracks[track]!
    if (t.kind === 'section' && tracks.length > 1)
      throw new DesignConflict(
        [...path, 'section'],
        `"${own.section}" is ${tracks.length} sections; say which: ${t.name} to ${plan.tracks[tracks.at(-1)!]!.name}`,
      )
    const atMm = own.at ?? (t.toHub >= 0 ? t.lengthMm : t.lengthMm / 2)
    if (atMm > t.lengthMm)
      throw new DesignConflict(
        [...path, 'at'],
        `${atMm / 1000} m is beyond the end of "${t.name}", which is ${t.lengthMm / 1000} m long`,
      )
    return { track, atMm }
  }
  for (const [name, t] of Object.entries(plan.rollingStock)) {
    const path = ['rollingStock', name]
    if (t.stall !== undefined && t.stall < t.running)
      throw new DesignConflict(
        [...path, 'stall'],
        `a stalled motor draws no less than a running one; found ${t.stall} A under ${t.running} A running`,
      )
    const place = at(t, path)
    if (!place) continue
    plan.stands.push({
      name,
      train: true,
      ...place,
      run: -1,
      amp: t.count * runningAmp(t),
      law: t.load,
      path,
    })
  }
  for (const [name, a] of Object.entries(plan.design.accessories ?? {})) {
    const path = ['track', 'accessories', name]
    const place = at(a, path)
    const run = a.bus === undefined ? -1 : plan.runs.findIndex((r) => r.name === a.bus)
    if (a.bus !== undefined && run < 0)
      throw unknownName(
        [...path, 'bus'],
        'bus run',
        a.bus,
        plan.runs.map((r) => r.name),
      )
    if (!place && run < 0) throw new DesignConflict(path, 'needs a section or a bus run that feeds it')
    if (place && run >= 0)
      throw new DesignConflict(path, 'is fed from a section or from a bus run, not from both')
    const atMm = place?.atMm ?? a.at ?? plan.runs[run]!.design.length
    if (run >= 0 && atMm > plan.runs[run]!.design.length)
      throw new DesignConflict([...path, 'at'], `is beyond the end of run "${plan.runs[run]!.name}"`)
    plan.stands.push({
      name,
      train: false,
      track: place?.track ?? -1,
      atMm,
      run,
      amp: a.current,
      law: a.load,
      path,
    })
  }
}
