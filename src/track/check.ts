/** What makes a railroad impossible to calculate, with its place in the design file. */
import type { RollingStockDesign, TrackDesign } from './design/track.js'
import { DesignConflict } from './design-conflict.js'
import { expandPlan, type Path } from './layout/layout.js'
import { checkNetwork } from './network/network.js'
import { withoutDead } from './switches/dead.js'
import { inPosition, switchPositions } from './switches/positions.js'

/**
 * The first problem of the track part, if there is one: names that lead nowhere, lengths that cannot be, rails without
 * feed, districts joined on both rails.
 * @param districts names of the power districts; none: the design has no power part.
 */
export function checkTrack(
  track: TrackDesign,
  rollingStock: RollingStockDesign | undefined,
  districts: readonly string[],
): { path: Path; message: string }[] {
  try {
    if (districts.length === 0)
      throw new DesignConflict(['track'], 'needs power districts to feed it: add power.districts')
    for (const position of switchPositions(track).list)
      inPosition(position.name, () => {
        const { plan } = withoutDead(
          expandPlan(track, rollingStock ?? {}, districts, position.setting),
          districts,
        )
        const used = new Set(plan.runs.map((r) => r.district))
        checkNetwork(
          plan,
          districts.filter((d) => used.has(d)),
        )
      })
    return []
  } catch (error) {
    if (error instanceof DesignConflict) return [{ path: error.path, message: error.message }]
    throw error
  }
}
