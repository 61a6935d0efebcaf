/** Trains that are longer than the track they stand on. */
import type { Path, TrackLayout } from './layout.js'

export interface TooLongTrain {
  train: string
  trainMm: number
  /** What it stands on: `the loop through main.1`, `the track around siding`. */
  what: string
  lengthMm: number
  path: Path
}

/**
 * A train must fit on the track that can be reached from where it stands, and where that section lies on a loop, on the
 * shortest loop through it unless turnouts lead out of it.
 */
export function tooLongTrains(plan: TrackLayout): TooLongTrain[] {
  const standing = plan.stands.filter((s) => s.train && s.track >= 0)
  if (standing.length === 0) return []
  const links: { end: number; mm: number }[][] = Array.from({ length: 2 * plan.tracks.length }, () => [])
  const link = (a: number, b: number, mm: number) => {
    links[a]!.push({ end: b, mm })
    links[b]!.push({ end: a, mm })
  }
  plan.tracks.forEach((t, i) => {
    link(2 * i, 2 * i + 1, t.lengthMm)
  })
  for (const j of plan.joints) link(j.a, j.b, 0)
  for (const hub of plan.hubs) for (const end of hub.slice(1)) link(hub[0]!, end, 0)
  return standing.flatMap(({ name, track, path }): TooLongTrain[] => {
    const trainMm = plan.rollingStock[name]!.length
    const t = plan.tracks[track]!
    if (trainMm <= t.lengthMm) return []
    const reached = new Set([2 * track])
    const tracks = new Set([track])
    const queue = [2 * track]
    while (queue.length > 0) {
      for (const { end } of links[queue.pop()!]!) {
        if (reached.has(end)) continue
        reached.add(end)
        tracks.add(end >> 1)
        queue.push(end)
      }
    }
    const lengthMm = [...tracks].reduce((sum, i) => sum + plan.tracks[i]!.lengthMm, 0)
    // Without a turnout it cannot leave a loop, so that is all of it.
    const branches = [...tracks].some((i) => plan.tracks[i]!.kind !== 'section')
    const closed = !branches && !plan.openEnds.some((end) => tracks.has(end >> 1))
    if (trainMm <= lengthMm) return []
    return [
      {
        train: name,
        trainMm,
        what: `${closed ? 'the loop through' : 'the track around'} ${t.name}`,
        lengthMm,
        path: [...path, 'length'],
      },
    ]
  })
}
