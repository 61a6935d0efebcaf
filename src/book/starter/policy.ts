/** The design's scheduling policy as constants of the firmware. */
import type { LoadedDesign } from '../../design/index.js'
import type { Finding } from '../../finding/index.js'
import {
  DEFAULT_POLICY,
  DEFAULT_TABLE,
  ITEM_NAMES,
  itemOfFunction,
  type Locomotive,
  type PolicyDesign,
  repeatsOf,
  resolveTraffic,
  trafficInputOf,
  weightsOf,
} from '../../traffic/index.js'
import { STARTER_FINDINGS as SAYS } from './findings.data.js'
import type { Refuse } from './plan.js'

export interface PolicyPlan {
  findings: Finding[]
  name: string
  order: PolicyDesign['order']
  stopsFirst: boolean
  /** Places for locomotives. */
  locos: number
  /** Item numbers in the order of the refresh. */
  table: number[]
  /** Speed and the groups of functions that may be sent. */
  items: number
  functionHighest: number
  repeats: { speed: number; functions: number; turnouts: number }
  /** Pairs before turnout number 1. */
  turnoutOffset: number
  /** Packets for which its output is on. */
  turnoutPulse: number
  weights: { changes: number; moving: number; standing: number; functions: number }
  gapUs: number
  /** Packets to others between two to one address. */
  gapPackets: number
  /** Addresses up to 127 that the fleet has in the long form. */
  longForms: number[]
}

/** Places where the design names none; each takes about 20 bytes. */
const DEFAULT_LOCOS = 12
const MOST_LOCOS = 60
const DEFAULT_FUNCTIONS = 12
/** How long the output of a turnout is on; common practice, no source. */
const PULSE_US = 250e3

export function policyPlan(loaded: LoadedDesign, preamble: number, refuse: Refuse): PolicyPlan {
  const { design } = loaded
  const { fleet } = design
  const traffic = fleet && resolveTraffic(trafficInputOf({ ...design, fleet }))
  const locomotives: readonly Locomotive[] = traffic?.locomotives ?? []
  const named = design.traffic?.policies
  const name = traffic?.policy ?? design.traffic?.policy ?? Object.keys(named ?? {})[0] ?? 'changes first'
  const policy = traffic?.policies[name] ?? named?.[name] ?? DEFAULT_POLICY
  const path = ['traffic', 'policies', name]
  if (policy.perVisit !== 1)
    refuse([...path, 'perVisit'], `${policy.perVisit} packets per visit; this firmware sends one, expected 1`)
  if (policy.waiting !== 'merge')
    refuse(
      [...path, 'waiting'],
      'changes wait in a queue; this firmware keeps the newest of each, expected "merge"',
    )
  const locos = traffic?.capacity ?? design.traffic?.capacity ?? Math.max(DEFAULT_LOCOS, locomotives.length)
  if (locos > MOST_LOCOS) refuse(['traffic', 'capacity'], `${locos} places; expected ${MOST_LOCOS} at most`)
  const highest = locomotives.reduce((most, l) => Math.max(most, l.design.functions), 0)
  const functionHighest = fleet ? highest : DEFAULT_FUNCTIONS
  const items = itemOfFunction(functionHighest) + 1
  const table = (policy.table ?? DEFAULT_TABLE)
    .map((item) => ITEM_NAMES.indexOf(item))
    .filter((i) => i < items)
  const findings: Finding[] = []
  const missing = ITEM_NAMES.slice(0, items).filter((_, i) => !table.includes(i))
  if (!table.includes(0))
    refuse([...path, 'table'], 'the speed is never refreshed; expected "speed" in the table')
  if (missing.length > 0) findings.push(SAYS.find('not-refreshed', { policy: name, items: missing }))
  const steps = locomotives.filter((l) => l.steps !== 128).map((l) => l.name)
  if (steps.length > 0) findings.push(SAYS.find('steps', { locomotives: steps }))
  return {
    name,
    order: policy.order,
    stopsFirst: policy.stopsFirst,
    locos,
    table,
    items,
    functionHighest,
    repeats: repeatsOf(policy),
    turnoutOffset: design.signal.accessoryOffset,
    turnoutPulse: Math.ceil(PULSE_US / idlePacketUs(preamble, design.signal.outputs)),
    weights: weightsOf(policy),
    gapUs: policy.gap,
    gapPackets: gapPackets(policy.gap, preamble, design.signal.outputs),
    longForms: locomotives.filter((l) => l.long && l.address <= 127).map((l) => l.address),
    findings,
  }
}

/** Packets in between, so that no less than the gap passes, with a clock that is 2 % fast: the shortest is an idle packet. */
function gapPackets(
  gapUs: number,
  preamble: number,
  outputs: LoadedDesign['design']['signal']['outputs'],
): number {
  const output = Object.values(outputs).find((o) => o.mode === 'operations')!
  const preambleUs = preamble * 2 * output.oneHalf
  return Math.max(0, Math.ceil((1.02 * gapUs - preambleUs) / idlePacketUs(preamble, outputs)))
}

/** The shortest packet. FF 00 FF: 3 zeros before the bytes, 8 in the middle, 16 ones, and the end bit. */
function idlePacketUs(preamble: number, outputs: LoadedDesign['design']['signal']['outputs']): number {
  const output = Object.values(outputs).find((o) => o.mode === 'operations')!
  return 2 * ((preamble + 17) * output.oneHalf + 11 * output.zeroHalf)
}
