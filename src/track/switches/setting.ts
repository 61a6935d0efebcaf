/** What a hand switch at the start of a bus run does in each of its positions. */
import type { BusRunDesign } from '../design/track.js'
import { DesignConflict } from '../design-conflict.js'
import type { Path, TrackLayout } from '../layout/types.js'

/** By bus run, which position its switch is in, counted from 0; the first that feeds it when left out. */
export type SwitchSetting = Readonly<Record<string, number>>

/** In `feeds`: the position in which nothing feeds the run. */
export const NO_FEED = 'none'

/** The names of the positions; none for a run without a switch. @throws DesignConflict when they cannot be. */
export function positionNames(run: BusRunDesign, path: Path): readonly string[] {
  const own = run.switch
  if (!own) return []
  const feeds = own.feeds
  if (own.kind === 'off-on' || own.kind === 'reversing') {
    if (feeds)
      throw new DesignConflict(
        [...path, 'switch', 'feeds'],
        `only a toggle or rotary switch has several feeds; this one is ${own.kind}`,
      )
    return own.kind === 'off-on' ? ['on', 'off'] : ['straight', 'reversed']
  }
  if (!feeds || feeds.every((f) => f === NO_FEED))
    throw new DesignConflict([...path, 'switch'], 'needs its feeds: one bus run, or none, for each position')
  if (own.kind === 'toggle' && feeds.length !== 2)
    throw new DesignConflict(
      [...path, 'switch', 'feeds'],
      `a toggle switch has two feeds; found ${feeds.length}`,
    )
  if (run.from !== undefined)
    throw new DesignConflict(
      [...path, 'from'],
      'the feeds of its switch say where it comes from; leave this out',
    )
  if (run.reverser)
    throw new DesignConflict([...path, 'reverser'], 'give the reverser a run of its own behind the switch')
  return feeds
}

export interface Feed {
  from: string | undefined
  off: boolean
  turned: boolean
  /** Where the design says so. */
  path: Path
}

/** Where a run comes from in one position of its switch. @throws DesignConflict */
export function feedOf(run: BusRunDesign, position: number | undefined, path: Path): Feed {
  const names = positionNames(run, path)
  const kind = run.switch?.kind
  if (kind !== 'toggle' && kind !== 'rotary')
    return {
      from: run.from,
      off: kind === 'off-on' && position === 1,
      turned: kind === 'reversing' && position === 1,
      path: [...path, 'from'],
    }
  const used = names.findIndex((n) => n !== NO_FEED)
  const at = position ?? used
  const off = names[at] === NO_FEED
  return { from: names[off ? used : at]!, off, turned: false, path: [...path, 'switch', 'feeds'] }
}

/** Take out what switches cut off, and swap what they swap. */
export function applySwitches(plan: TrackLayout): void {
  if (!plan.runs.some((r) => r.off || r.turned)) return
  const chain = (run: number) => {
    let [off, turned] = [false, false]
    for (let r = run; r >= 0; r = plan.runs[r]!.parent) {
      off ||= plan.runs[r]!.off ?? false
      turned = turned !== (plan.runs[r]!.turned ?? false)
    }
    return { off, turned }
  }
  const chains = plan.runs.map((_, i) => chain(i))
  plan.feeders = plan.feeders
    .filter((f) => !chains[f.run]!.off)
    .map((f) => (chains[f.run]!.turned ? { ...f, swapped: !f.swapped } : f))
  plan.stands = plan.stands.filter((s) => s.run < 0 || !chains[s.run]!.off)
}
