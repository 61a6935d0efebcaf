/**
 * What feeders given the wrong way round do. Decoders do not care which rail is which, so a part of the railroad
 * that is swapped as a whole does harm only at its gaps.
 */

import type { Path, TrackLayout } from '../layout/layout.js'
import { railParts, reverserOf } from './opposed-gaps.js'

export interface SwappedFeeder {
  name: string
  /**
   * `short`: others feed the same rails the right way round. `gaps`: it feeds its part alone, whose gaps a train must not bridge.
   * `harmless`: it feeds its part alone, and that has no gaps to others or an automatic reverser.
   */
  harm: 'short' | 'gaps' | 'harmless'
  /** One sentence. */
  because: string
  path: Path
}

export function swappedFeeders(plan: TrackLayout): SwappedFeeder[] {
  const fed = plan.feeders.filter((f) => !f.open)
  if (!fed.some((f) => f.swapped)) return []
  const parts = railParts(plan)
  const right = new Set<number>()
  const wrong = new Set<number>()
  const reverser = new Set<number>()
  for (const f of fed) {
    const part = parts.find(f.track)
    ;(f.swapped ? wrong : right).add(part)
    if (reverserOf(plan, f.run) >= 0) reverser.add(part)
  }
  // Parts that are fed the wrong way round as a whole, against those beyond their gaps that are not.
  const whole = (part: number) => wrong.has(part) && !right.has(part)
  const bridged = new Map<number, string>()
  for (const j of plan.joints) {
    if (!(j.gapL && j.gapR)) continue
    const [a, b] = [parts.find(j.a >> 1), parts.find(j.b >> 1)]
    if (a === b || whole(a) === whole(b) || reverser.has(a) || reverser.has(b)) continue
    for (const part of [a, b]) if (!bridged.has(part)) bridged.set(part, j.name)
  }
  return fed
    .filter((f) => f.swapped)
    .map(({ name, track, path }): SwappedFeeder => {
      const part = parts.find(track)
      const alone = fed.filter((f) => parts.find(f.track) === part).length === 1
      const subject = alone ? `The only feeder of the part with ${name}` : `The feeder of ${name}`
      if (right.has(part))
        return {
          name,
          path,
          harm: 'short',
          because: `The feeder of ${name} is swapped: it joins the two bus wires through the rails.`,
        }
      const gap = bridged.get(part)
      if (gap !== undefined)
        return {
          name,
          path,
          harm: 'gaps',
          because: `${subject} is swapped: nothing happens until a train bridges the gaps at ${gap}, and then it shorts the two sides.`,
        }
      return {
        name,
        path,
        harm: 'harmless',
        because: reverser.has(part)
          ? `${subject} is swapped; its automatic reverser makes that harmless.`
          : `${subject} is swapped; with no gaps to rails of the other polarity that is harmless.`,
      }
    })
}
