/** The budget of each supply, and whether it can trip every district. */
import { type CornerQuestion, exactly, type Uncertain } from '../corner/index.js'
import type { PowerDesign, SupplyDesign } from './design/index.js'
import { districtTrip } from './district-trip.js'
import type { DistrictLoad } from './load.js'
import type { RegulatorHeat } from './regulator.js'
import type { DistrictStage } from './stage.js'
import { type Budget, type BudgetRow, budget, ratingFor } from './supply.js'
import { limitOf, supplyQuantities } from './supply-behaviour.js'
import { sustainedOf } from './sustained.js'

export interface SupplyReport extends Budget {
  name: string
  ratingAmp: number
  /** What may be counted on into a short, A: the least of its limit, or its rating where that is not known. */
  capableAmp: number
  /** Hardest district: its trip level with the others running, A; absent without trips. */
  neededToTripAmp?: number
  neededBy?: string
  /** The district in which the most may flow continuously, with what the others usually draw beside it. */
  overload?: { district: string; flows: Uncertain; besideAmp: number }
  /** Districts whose load is not known: the sums lack them and are not judged. */
  without: string[]
}

export function supplyReport(
  name: string,
  supply: PowerDesign['supplies'][string],
  stages: readonly DistrictStage[],
  loads: ReadonlyMap<string, DistrictLoad | undefined>,
  power: PowerDesign,
  regulator: RegulatorHeat | undefined,
): SupplyReport {
  const own = stages.filter((s) => s.supplyName === name)
  const rows: BudgetRow[] = []
  const without: string[] = []
  for (const s of own) {
    const load = loads.get(s.name)
    if (!load) {
      without.push(s.name)
      continue
    }
    const most = districtTrip(s)?.highAmp ?? Number.POSITIVE_INFINITY
    rows.push({
      who: s.name,
      runningAmp: load.runningAmp,
      worstAmp: load.worstAmp,
      stalledAmp: Math.min(load.stalledAmp, most),
    })
  }
  for (const driver of new Set(own.map((s) => s.driverName))) {
    const quiescent = own.find((s) => s.driverName === driver)!.model.quiescentAmp ?? 0
    if (quiescent > 0) rows.push(flat(`driver ${driver} itself`, quiescent))
  }
  if (regulator && (power.controller?.supply ?? Object.keys(power.supplies)[0]) === name) {
    rows.push(flat('controller', regulator.inputAmp))
  }
  const report: SupplyReport = {
    ...budget(rows),
    name,
    ratingAmp: supply.rating,
    capableAmp: capable(supply, name).low,
    without,
  }
  for (const s of own) {
    const trip = districtTrip(s)
    // Where no current trips it for certain no supply helps.
    if (!trip || !Number.isFinite(trip.highAmp)) continue
    // While one district is shorted the others go on drawing, and so does everything else on the supply.
    const beside = rows.filter((r) => r.who !== s.name).reduce((sum, r) => sum + r.runningAmp, 0)
    const needed = trip.highAmp + beside
    if (report.neededToTripAmp === undefined || needed > report.neededToTripAmp) {
      report.neededToTripAmp = needed
      report.neededBy = s.name
    }
  }
  for (const s of own) {
    const flows = sustainedOf(s, loads.get(s.name))
    if (!flows) continue
    const besideAmp = rows.filter((r) => r.who !== s.name).reduce((sum, r) => sum + r.runningAmp, 0)
    const most = report.overload ? report.overload.flows.high + report.overload.besideAmp : 0
    if (flows.high + besideAmp > most) report.overload = { district: s.name, flows, besideAmp }
  }
  // A supply that carries the load alone may hold its current below what trips.
  report.adviseRatingAmp = Math.max(report.adviseRatingAmp, ratingFor(report.neededToTripAmp ?? 0))
  return report
}

function flat(who: string, amp: number): BudgetRow {
  return { who, runningAmp: amp, worstAmp: amp, stalledAmp: amp }
}

/**
 * What a supply gives into a short: foldback leaves its short-circuit current, the others their limit. Beyond a rating
 * without a stated limit nothing is counted on.
 */
function capable(supply: SupplyDesign, name: string) {
  if (supply.limit === 'foldback') return supplyQuantities(supply, name).shortCurrent
  const limit = limitOf(supply, name)
  return Number.isFinite(limit.high) || supply.limitCurrent !== undefined
    ? limit
    : exactly(limit.name, supply.rating, 'A', 'its rating, as nothing more is stated')
}

/** The question: it gives what trips the hardest of its districts while the others run on. */
export function tripBudgetQuestion(
  s: SupplyReport,
  supply: SupplyDesign,
): CornerQuestion<'capable'> | undefined {
  const { neededToTripAmp } = s
  if (neededToTripAmp === undefined) return undefined
  return {
    quantities: { capable: capable(supply, s.name) },
    margin: (v) => (v.capable > 0 ? 1 - neededToTripAmp / v.capable : -1),
    unfavourable: { capable: 'low' },
  }
}
