/** The steps between a plain description and figures: layout, network, circuits in both corners. */
import type { Profile } from '../standard/index.js'
import type { RollingStockDesign, TrackDesign } from './design/track.js'
import { expandPlan, type TrackLayout } from './layout/layout.js'
import { Circuit, layOut } from './network/circuit.js'
import { buildNetwork, type DistrictSource, type Network } from './network/network.js'
import { type Progressive, runToEnd } from './progress.js'
import { type DeadStretch, withoutDead } from './switches/dead.js'
import type { SwitchSetting } from './switches/setting.js'

export interface TrackInput {
  track: TrackDesign
  rollingStock?: RollingStockDesign
  /** Every power district by name. */
  sources: ReadonlyMap<string, DistrictSource>
  /** Limits of the clauses; without it no voltage clause is judged. */
  profile?: Profile
}

/** The steps between the design and the report, for those who need more than the report. */
export interface TrackModel {
  plan: TrackLayout
  net: Network
  /** Lowest supply, highest resistances. */
  worstCase: Circuit
  /** Highest supply, lowest resistances. */
  readonly bestCase: Circuit
  /** What nothing feeds; it is not in the plan. */
  dead: readonly DeadStretch[]
}

/** @throws DesignConflict when the railroad cannot be as described; its `path` leads to the place in the file. */
export function modelTrack(input: TrackInput, setting: SwitchSetting = {}): TrackModel {
  return runToEnd(modelSteps(input, setting))
}

/** {@link modelTrack} in steps. */
export function* modelSteps(input: TrackInput, setting: SwitchSetting = {}): Progressive<TrackModel> {
  yield { what: 'sections and joints', share: 0 }
  const names = [...input.sources.keys()]
  const whole = expandPlan(input.track, input.rollingStock ?? {}, names, setting)
  const { plan, dead } = withoutDead(whole, names)
  return yield* planSteps(plan, input.sources, dead)
}

/** The model of a plan that is written out. @throws DesignConflict */
export function modelPlan(plan: TrackLayout, sources: ReadonlyMap<string, DistrictSource>): TrackModel {
  return runToEnd(planSteps(plan, sources))
}

function* planSteps(
  plan: TrackLayout,
  sources: ReadonlyMap<string, DistrictSource>,
  dead: readonly DeadStretch[] = [],
): Progressive<TrackModel> {
  yield { what: 'network of rails and wires', share: 0 }
  const used = new Set(plan.runs.map((r) => r.district))
  const net = buildNetwork(plan, new Map([...sources].filter(([name]) => used.has(name))))
  net.sources = besideOthers(net, plan)
  yield { what: 'order of the network', share: 0 }
  const layout = layOut(net)
  yield { what: 'factors of the network', share: 0 }
  let bestCase: Circuit | undefined
  return {
    plan,
    net,
    dead,
    worstCase: new Circuit(layout, 'high'),
    // Proposals never ask for it.
    get bestCase() {
      bestCase ??= new Circuit(layout, 'low')
      return bestCase
    },
  }
}

/** The sources as they are while everything that stands in the other districts runs. */
function besideOthers(net: Network, plan: TrackLayout): DistrictSource[] {
  const amps = new Map<string, number>()
  for (const s of plan.stands) {
    const district = s.track < 0 ? plan.runs[s.run]!.district : net.districts[net.districtOfTrack[s.track]!]!
    amps.set(district, (amps.get(district) ?? 0) + s.amp)
  }
  return net.sources.map((source) => {
    const beside = (source.beside ?? []).map((b) => ({ ...b, amp: amps.get(b.district) ?? 0 }))
    const lost = beside.reduce((sum, b) => sum + b.ohm * b.amp, 0)
    const drawn = beside.reduce((sum, b) => sum + b.amp, 0)
    if (drawn === 0) return source
    const { low, usual, high } = source.openVolt
    const { limitAmp, limitHighAmp } = source
    return {
      ...source,
      // Highest when nothing else runs.
      openVolt: { low: Math.max(0, low - lost), usual: Math.max(0, usual - lost), high },
      ...(limitAmp === undefined ? {} : { limitAmp: Math.max(0, limitAmp - drawn) }),
      ...(limitHighAmp === undefined ? {} : { limitHighAmp }),
    }
  })
}
