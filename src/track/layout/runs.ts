/** Bus runs, each with the district that feeds it. */
import type { TrackDesign } from '../design/track.js'
import { DesignConflict } from '../design-conflict.js'
import { feedOf, type SwitchSetting } from '../switches/setting.js'
import { positive, unknownName } from './slips.js'
import type { Run } from './types.js'

export function expandRuns(
  design: TrackDesign,
  districts: readonly string[],
  setting: SwitchSetting = {},
): Run[] {
  const names = Object.keys(design.bus)
  const runs = names.map((name): Run => {
    const own = design.bus[name]!
    const path = ['track', 'bus', name]
    positive(own.length, [...path, 'length'], 'the length of a bus run')
    const feed = feedOf(own, setting[name], path)
    const parent = feed.from === undefined ? -1 : names.indexOf(feed.from)
    if (feed.from !== undefined && parent < 0) throw unknownName(feed.path, 'bus run', feed.from, names)
    if (own.geometry === 'spaced' && own.spacing === undefined)
      throw new DesignConflict(path, 'wires apart from each other need their spacing, such as "50 mm"')
    const above = parent < 0 ? undefined : design.bus[names[parent]!]!
    const atMm = own.at ?? above?.length ?? 0
    if (above && atMm > above.length)
      throw new DesignConflict(
        [...path, 'at'],
        `${atMm / 1000} m is beyond the end of run "${feed.from}", which is ${above.length / 1000} m long`,
      )
    const { off, turned } = feed
    return { name, district: own.district ?? '', design: own, parent, atMm, off, turned, path }
  })
  for (const run of runs) {
    const seen = new Set<Run>()
    let top = run
    for (; top.parent >= 0; top = runs[top.parent]!) {
      if (seen.has(top))
        throw new DesignConflict([...run.path, 'from'], 'the runs branch off each other in a ring')
      seen.add(top)
    }
    const found = top.design.district ?? (districts.length === 1 ? districts[0]! : undefined)
    if (found === undefined)
      throw new DesignConflict(
        top.path,
        `needs its district: ${districts.length ? `one of ${districts.join(', ')}` : 'there is none under power.districts'}`,
      )
    if (run.design.district !== undefined && run.design.district !== found)
      throw new DesignConflict(
        [...run.path, 'district'],
        `run "${run.name}" branches off a run of district "${found}", so it cannot belong to "${run.design.district}"`,
      )
    if (!districts.includes(found))
      throw unknownName([...top.path, 'district'], 'power district', found, districts)
    run.district = found
  }
  return runs
}
