/**
 * Fuses. A fuse must hold the load, open in a short before wires come to harm, and be able to break that current. Where
 * the supply cannot give more than the wires carry continuously it need not open: IEC 60364-4-43, 436 allows a source
 * that limits the current to stand for it (from memory).
 */
import { between, type CornerQuestion, exactly, type Quantities, type Values } from '../corner/index.js'
import { copperAmpacity, copperI2t } from './energy.js'
import { FUSE_KINDS, type FuseGate, type FuseKind, fuseLoadShare } from './fuse-kinds.data.js'
import type { DistrictLoad } from './load.js'
import type { SourceModel, SourceQuantity } from './source.js'
import type { DistrictStage } from './stage.js'

/** Longest time until a fuse of a rating opens, s: through the gates on logarithmic scales; Infinity where it may not. */
export function fuseOpensS(ratingAmp: number, amp: number, kind: FuseKind = 'glass'): number {
  return gateOf(
    FUSE_KINDS[kind].gates.filter((g) => Number.isFinite(g.mostS)),
    ratingAmp,
    amp,
    'mostS',
  )
}

/** Shortest time, s: 0 above the last gate's current is not assumed, its I²t holds on. */
export function fuseHoldsS(ratingAmp: number, amp: number, kind: FuseKind = 'glass'): number {
  const holding = FUSE_KINDS[kind].gates.filter((g) => g.leastS > 0)
  return gateOf(holding, ratingAmp, amp, 'leastS')
}

function gateOf(gates: readonly FuseGate[], ratingAmp: number, amp: number, key: 'mostS' | 'leastS'): number {
  const times = amp / ratingAmp
  if (times < gates[0]!.times) return Number.POSITIVE_INFINITY
  const at = gates.findLastIndex((g) => g.times <= times)
  const [a, b] = [gates[at]!, gates[at + 1]]
  // Beyond the last gate heat has no time to leave: constant I²t.
  if (!b) return a[key] * (a.times / times) ** 2
  const along = Math.log(times / a.times) / Math.log(b.times / a.times)
  return a[key] * (b[key] / a[key]) ** along
}

/**
 * How much of a fuse's life a current over time takes: 1 melts it. Each stretch counts as its share of the time that
 * the fuse lasts at its current (linear, as it does without time to cool); a stated I²t goes before the gates.
 * @param slowness 0 for the soonest that its kind allows, 1 for the latest
 */
export function fuseWear(
  part: { fuse?: number; fuseKind: FuseKind; fuseI2t?: number },
  points: readonly { us: number; amp: number }[],
  slowness: number,
): number {
  const { fuse: ratingAmp, fuseKind: kind, fuseI2t } = part
  if (ratingAmp === undefined) return 0
  const lastsS = (amp: number) => {
    if (fuseI2t !== undefined) return amp > ratingAmp ? fuseI2t / (amp * amp) : Number.POSITIVE_INFINITY
    const [least, most] = [fuseHoldsS(ratingAmp, amp, kind), fuseOpensS(ratingAmp, amp, kind)]
    return slowness <= 0 ? least : slowness >= 1 ? most : least ** (1 - slowness) * most ** slowness
  }
  const holds = ratingAmp * (fuseI2t === undefined ? FUSE_KINDS[kind].gates[0]!.times : 1)
  let wear = 0
  for (let i = 1; i < points.length; i++) {
    const [a, b] = [points[i - 1]!, points[i]!]
    const amp = (a.amp + b.amp) / 2
    if (amp > holds) wear += (b.us - a.us) / 1e6 / lastsS(amp)
  }
  return wear
}

export interface FuseOutcome {
  margin: number
  what: 'load' | 'supply load' | 'opens' | 'wire' | 'unknown wire' | 'breaks' | 'volt' | 'limited'
  amp: number
  opensS: number
}

export type FuseQuantity = SourceQuantity | 'holds' | 'outside' | 'wire' | 'withstands'

export interface FuseModel {
  /** The fuse is the district's own, not that of its supply. */
  own: boolean
  kind: FuseKind
  ratingAmp: number
  breaksAmp: number
  question: CornerQuestion<FuseQuantity>
  outcome(v: Values<FuseQuantity>): FuseOutcome
}

/**
 * The district's own fuse, or that of its supply where it has none.
 * @param supplyWorstAmp worst load of everything on the supply, for the supply's fuse
 * @param airC around it, °C
 * @returns `undefined` for a district without a fuse
 */
export function fuseModel(
  stage: DistrictStage,
  source: SourceModel,
  load: DistrictLoad | undefined,
  supplyWorstAmp: number | undefined,
  airC: number,
): FuseModel | undefined {
  const { district, supply } = stage
  const own = district.fuse !== undefined
  const ratingAmp = district.fuse ?? supply.fuse
  if (ratingAmp === undefined) return undefined
  const part = own ? district : supply
  const kind = part.fuseKind
  const { breaksAmp: usualBreaking, withstandsVolt, opensAt } = FUSE_KINDS[kind]
  const loadShare = fuseLoadShare(kind, airC)
  const breaksAmp = part.fuseBreaking ?? usualBreaking(ratingAmp)
  const loadAmp = own ? load?.worstAmp : supplyWorstAmp
  const wireMm2 = load?.thinnestWireMm2
  const thinnest = `cross-section of the thinnest wire in ${stage.name}`
  const quantities: Quantities<FuseQuantity> = {
    ...source.quantities,
    holds: between(
      `share of its rating that the fuse of ${own ? stage.name : `supply ${stage.supplyName}`} carries continuously`,
      { low: loadShare, high: 1, usual: loadShare },
      'share',
      `air of up to ${Math.round(Math.max(airC, 60))} °C, or cool; common practice`,
    ),
    outside: between(
      `resistance of the wires to a short in ${stage.name}`,
      { low: 0, high: load?.wiringOhm ?? 0 },
      'Ohm',
      'from the terminals to the farthest place',
    ),
    withstands:
      part.fuseVoltage !== undefined
        ? exactly(`voltage that the fuse of ${stage.name} breaks`, part.fuseVoltage, 'V', 'the design')
        : {
            ...between(`voltage that the fuse of ${stage.name} breaks`, withstandsVolt, 'V', 'not given'),
            unknown: true,
          },
    wire:
      wireMm2 === undefined
        ? {
            ...between(thinnest, { low: 0, high: Number.POSITIVE_INFINITY }, 'mm²', 'not given'),
            unknown: true,
          }
        : exactly(thinnest, wireMm2, 'mm²', 'the design'),
  }
  /** What the supply's fuse carries in the surroundings in which the district's carries `holds`. */
  const supplyShare = (holds: number) => {
    const least = fuseLoadShare(supply.fuseKind, airC)
    return least + ((holds - loadShare) / (1 - loadShare)) * (1 - least)
  }
  const outcome = (v: Values<FuseQuantity>): FuseOutcome => {
    // The fuse has to do it alone: the trip may have failed, and so may the driver, shorted through.
    const { amp } = source.fault({ ...v, ownLimit: Number.POSITIVE_INFINITY }, v.outside)
    const opensS = fuseOpensS(ratingAmp, amp, kind)
    const found: FuseOutcome = { margin: 1, what: 'opens', amp, opensS }
    const worse = (margin: number, what: FuseOutcome['what']) => {
      if (margin < found.margin) Object.assign(found, { margin, what })
    }
    if (loadAmp !== undefined) worse(1 - loadAmp / (v.holds * ratingAmp), 'load')
    // Through the supply's fuse flows what all its districts draw.
    if (own && supply.fuse !== undefined && supplyWorstAmp !== undefined)
      worse(1 - supplyWorstAmp / (supplyShare(v.holds) * supply.fuse), 'supply load')
    worse(1 - amp / breaksAmp, 'breaks')
    worse(1 - v.volt / v.withstands, 'volt')
    const wireAmp = Number.isFinite(v.wire) && v.wire > 0 ? copperAmpacity(v.wire) : v.wire
    if (amp <= wireAmp) worse(1 - amp / wireAmp, 'limited')
    else if (!Number.isFinite(opensS)) worse(Math.max(-1, amp / (opensAt * ratingAmp) - 1), 'opens')
    else {
      const standsS = copperI2t(v.wire) / (amp * amp)
      worse(Math.max(-1, 1 - opensS / standsS), wireMm2 === undefined ? 'unknown wire' : 'wire')
    }
    return found
  }
  return {
    own,
    kind,
    ratingAmp,
    breaksAmp,
    outcome,
    question: {
      quantities: {
        ...quantities,
        ownLimit: exactly(quantities.ownLimit.name, Number.POSITIVE_INFINITY, 'A', ''),
      },
      margin: (v) => outcome(v).margin,
      unfavourable: {
        holds: 'low',
        wire: 'low',
        withstands: 'low',
        trip: 'high',
        delay: 'high',
        clock: 'high',
        hiccupOn: 'low',
        limitLasts: 'low',
        holdUp: 'low',
        capacitor: 'high',
        response: 'high',
        peak: 'low',
      },
      tries: middle(source),
    },
  }
}

/** Between the ends the current may be one that the fuse neither carries nor opens at. */
function middle(source: SourceModel): Partial<Record<FuseQuantity, number[]>> {
  const { limit } = source.quantities
  if (!Number.isFinite(limit.high)) return {}
  return { limit: [0.25, 0.5, 0.75].map((s) => limit.low + s * (limit.high - limit.low)) }
}
