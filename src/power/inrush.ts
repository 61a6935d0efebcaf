/**
 * Power-up: all stay-alive capacitors charge together through supply, driver and wiring and each through its own
 * resistor, behind the decoder's rectifier. One state per group of like capacitors; trapezoidal rule, which is
 * stable at any step, with steps that grow as the charging slows down.
 */
import { dependence, Remembered } from '../units/index.js'
import type { StayAlive } from './load.js'

export interface InrushCircuit {
  /** Open-circuit track voltage, V. */
  volt: number
  /** Supply, driver and wiring, Ohm. */
  sourceOhm: number
  /** Where the supply holds its current; Infinity when it does not. */
  limitAmp: number
  /** Output capacitors of the supply, full, which no limit holds back, F; none when absent. */
  outputFarad?: number
  /** The limit acts only after this time, us; at once when absent. */
  responseUs?: number
  groups: readonly StayAlive[]
  /** Current of everything else, A. */
  besideAmp: number
  /** What charges at the same time from the same supply; nothing when absent. */
  together?: ChargingTogether
}

export interface ChargingTogether {
  /** Of the supply alone, which is part of `sourceOhm` too, Ohm. */
  supplyOhm: number
  /** What the others draw besides, A. */
  besideAmp: number
  /** Capacitors of districts behind the same channels of the driver. */
  sameDriver: readonly StayAlive[]
  /** Districts behind other channels, each with its own voltage and the resistance of its driver and wiring. */
  others: readonly { volt: number; ohm: number; groups: readonly StayAlive[] }[]
}

/** What has not charged in an hour never does, us. */
const LONGEST_US = 3600e6

/** Two diodes of a decoder's bridge rectifier, V; common practice, no source. */
export const RECTIFIER_VOLT = 1.4
/** A capacitor without a charging resistor still has its own and the rectifier's resistance; assumed, no source. */
const LEAST_OHM = 0.1

export interface InrushPoint {
  us: number
  amp: number
}

export interface Inrush {
  points: InrushPoint[]
  /** With the other loads. */
  peakAmp: number
  /** Until the capacitors hold all but 0.5 % of their charge; Infinity when that takes too long to follow. */
  lastsUs: number
  /** Through the driver, and out of the supply, where more than this district charges. */
  driver?: InrushPoint[]
  supply?: InrushPoint[]
}

/** An edit of a trip or of another district leaves the capacitors and what charges them as they are. */
const lastCharged = new Remembered<Inrush>(64)

/** Current at power-up over time, A. The capacitors start empty. */
export function inrush(c: InrushCircuit): Inrush {
  return lastCharged.get(dependence(c), () => charge(c))
}

/** All capacitors, branch by branch: the district's own first. A branch is what charges behind one driver. */
interface Branches {
  /** Open voltage behind the rectifiers, V, and resistance between supply and rails, Ohm. */
  volt: number[]
  ohm: number[]
  /** Where the groups of each branch end. */
  end: number[]
  /** Groups of the district itself, the first ones. */
  own: number
  /** Of each group. */
  count: Float64Array
  farad: Float64Array
  groupOhm: Float64Array
}

function branchesOf({ volt, sourceOhm, groups, together }: InrushCircuit): Branches {
  const charging = (list: readonly StayAlive[]) => list.filter((g) => g.count > 0 && g.capacitanceFarad > 0)
  // Below what a rectifier takes nothing charges.
  const chargesHere = volt > RECTIFIER_VOLT
  const own = chargesHere ? charging(groups) : []
  const others = (together?.others ?? []).filter((o) => o.volt > RECTIFIER_VOLT)
  const branches = [
    {
      volt,
      ohm: together ? Math.max(0, sourceOhm - together.supplyOhm) : 0,
      groups: chargesHere ? [...own, ...charging(together?.sameDriver ?? [])] : [],
    },
    ...others.map((o) => ({ ...o, groups: charging(o.groups) })).filter((o) => o.groups.length > 0),
  ]
  const all = branches.flatMap((b) => b.groups)
  let end = 0
  return {
    volt: branches.map((b) => Math.max(0, b.volt - RECTIFIER_VOLT)),
    ohm: branches.map((b) => b.ohm),
    end: branches.map((b) => {
      end += b.groups.length
      return end
    }),
    own: own.length,
    count: Float64Array.from(all, (g) => g.count),
    farad: Float64Array.from(all, (g) => g.capacitanceFarad),
    groupOhm: Float64Array.from(all, (g) => Math.max(g.resistanceOhm, LEAST_OHM)),
  }
}

/**
 * Voltages at the rails of each branch. Each draws `conducts · rail − back`, a straight line, so that all of them solve
 * in one go: the supply gives way over its own resistance, or as far as its limit asks, and its output capacitors only
 * as fast as they discharge.
 * @param output capacitors over the step, S, and how far the supply had given way before it, V
 * @returns how far it gives way, V
 */
function setRails(
  rails: Float64Array,
  { volt, ohm }: Branches,
  conducts: Float64Array,
  back: Float64Array,
  supplyOhm: number,
  limit: number,
  output: { siemens: number; sag: number },
): number {
  let [atFull, slope] = [0, 0]
  for (let k = 0; k < rails.length; k++) {
    const through = 1 + ohm[k]! * conducts[k]!
    atFull += (conducts[k]! * volt[k]! - back[k]!) / through
    slope += conducts[k]! / through
  }
  atFull += output.siemens * output.sag
  slope += output.siemens
  const sag = Math.max(atFull / (1 / supplyOhm + slope), (atFull - limit) / slope)
  for (let k = 0; k < rails.length; k++)
    rails[k] = (volt[k]! - sag + ohm[k]! * back[k]!) / (1 + ohm[k]! * conducts[k]!)
  return sag
}

function charge(c: InrushCircuit): Inrush {
  const b = branchesOf(c)
  const { count, farad, groupOhm } = b
  const besides = c.besideAmp + (c.together?.besideAmp ?? 0)
  if (count.length === 0) {
    const flat = (amp: number) => [{ us: 0, amp }]
    const shared = c.together ? { driver: flat(c.besideAmp), supply: flat(besides) } : {}
    return { points: flat(c.besideAmp), peakAmp: c.besideAmp, lastsUs: 0, ...shared }
  }
  const supplyOhm = Math.max(c.together?.supplyOhm ?? c.sourceOhm, 1e-6)
  const responseUs = c.responseUs ?? 0
  const limitAt = (us: number) =>
    us < responseUs ? Number.POSITIVE_INFINITY : Math.max(0, c.limitAmp - besides)
  const [branches, groups] = [b.end.length, count.length]
  const [conducts, back, rails] = [
    new Float64Array(branches),
    new Float64Array(branches),
    new Float64Array(branches),
  ]
  const [state, next] = [new Float64Array(groups), new Float64Array(groups)]
  const points: InrushPoint[] = []
  const [driver, supply]: [InrushPoint[], InrushPoint[]] = [[], []]
  let peakAmp = 0
  const note = (us: number) => {
    let [own, first, all] = [0, 0, 0]
    for (let k = 0, i = 0; k < branches; k++) {
      for (; i < b.end[k]!; i++) {
        all += (count[i]! * (rails[k]! - state[i]!)) / groupOhm[i]!
        if (i === b.own - 1) own = all
      }
      if (k === 0) first = all
    }
    const amp = own + c.besideAmp
    peakAmp = Math.max(peakAmp, amp)
    points.push({ us, amp })
    if (!c.together) return
    driver.push({ us, amp: first + c.besideAmp })
    supply.push({ us, amp: all + besides })
  }
  for (let k = 0, i = 0; k < branches; k++)
    for (; i < b.end[k]!; i++) conducts[k]! += count[i]! / groupOhm[i]!
  const outputFarad = c.outputFarad ?? 0
  // At first they are full and give whatever is asked.
  const still = { siemens: 0, sag: 0 }
  let sag = 0
  if (outputFarad > 0) setRails(rails, b, conducts, back, 0, Number.POSITIVE_INFINITY, still)
  else setRails(rails, b, conducts, back, supplyOhm, limitAt(0), still)
  note(0)
  let us = 0
  let step = Number.POSITIVE_INFINITY
  for (let i = 0; i < groups; i++) step = Math.min(step, (groupOhm[i]! * farad[i]! * 1e6) / 400)
  let lasts = Number.POSITIVE_INFINITY
  for (let n = 0; n < 4000 && us < LONGEST_US; n++) {
    // Trapezoidal rule: each next voltage is a straight line of the next rail voltage, so the rails solve in one go.
    for (let k = 0, i = 0; k < branches; k++) {
      let [fixed, total] = [0, 0]
      for (; i < b.end[k]!; i++) {
        const h = step / (2 * groupOhm[i]! * farad[i]! * 1e6)
        const weight = count[i]! / groupOhm[i]!
        next[i] = (state[i]! + h * (rails[k]! - state[i]!)) / (1 + h)
        fixed += weight * next[i]!
        total += weight / (1 + h)
      }
      conducts[k] = total
      back[k] = fixed
    }
    sag = setRails(rails, b, conducts, back, supplyOhm, limitAt(us), {
      siemens: (outputFarad * 1e6) / step,
      sag,
    })
    let [ownMissing, missing] = [0, 0]
    let [ownCharge, charge] = [0, 0]
    for (let k = 0, i = 0; k < branches; k++)
      for (; i < b.end[k]!; i++) {
        const h = step / (2 * groupOhm[i]! * farad[i]! * 1e6)
        state[i] = next[i]! + (h * rails[k]!) / (1 + h)
        missing += count[i]! * farad[i]! * (b.volt[k]! - state[i]!)
        charge += count[i]! * farad[i]! * b.volt[k]!
        if (i === b.own - 1) [ownMissing, ownCharge] = [missing, charge]
      }
    us += step
    note(us)
    if (lasts === Number.POSITIVE_INFINITY && ownMissing <= 0.005 * ownCharge) lasts = us
    if (lasts < Number.POSITIVE_INFINITY && missing < 0.005 * charge) break
    step *= 1.02
  }
  return { points, peakAmp, lastsUs: lasts, ...(c.together ? { driver, supply } : {}) }
}

/** The current between the points, straight lines; the last value holds. */
export function waveOf(points: readonly InrushPoint[]): (us: number) => number {
  let at = 0
  return (us) => {
    if (points[at]!.us > us) at = 0
    while (at < points.length - 1 && points[at + 1]!.us <= us) at++
    const a = points[at]!
    const b = points[at + 1]
    if (!b) return a.amp
    return a.amp + ((b.amp - a.amp) * (us - a.us)) / (b.us - a.us)
  }
}

/** Until the current falls below `amp` for good, us: what a trip must be blind for. 0 when it never was above. */
export function timeAboveUs(points: readonly InrushPoint[], amp: number): number {
  const last = points.findLastIndex((p) => p.amp >= amp)
  if (last < 0) return 0
  const [a, b] = [points[last]!, points[last + 1]]
  if (!b) return Number.POSITIVE_INFINITY
  return a.us + ((a.amp - amp) / (a.amp - b.amp)) * (b.us - a.us)
}
