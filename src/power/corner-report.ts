/** Beside the verdict of each clause: how many builds hold, and which quantity matters most. */
import { type CornerQuestion, searchCorners, tornado, yieldOf } from '../corner/index.js'
import type { ClauseId, Verdict } from '../standard/index.js'
import type { DistrictModel } from './district-model.js'
import type { DistrictParts } from './district-report.js'
import { driverHeatClause } from './evidence/driver.js'
import { repeatedTrips } from './repeated-trips.js'
import type { DriverReport } from './report.js'
import { shortOutcome, shortQuestion } from './short.js'

export interface CornerReport {
  clause: ClauseId
  about: string
  verdict: Verdict
  /** The worst corner in words; empty where nothing uncertain matters. */
  corner: string
  /** Share of the builds that hold, with its 95 % bounds; absent where an interval has no end. */
  yield?: { share: number; low: number; high: number; builds: number }
  /** Margin with one quantity at its ends and the others usual, the strongest first. */
  tornado: {
    quantity: string
    unit: string
    low: number
    high: number
    atLow: number
    atHigh: number
    source: string
  }[]
}

/** A short's margin is dear: fewer builds are drawn for it. */
const DEAR = 10

export function cornerReports(
  models: readonly DistrictModel[],
  parts: ReadonlyMap<string, DistrictParts>,
  drivers: readonly DriverReport[],
  builds: number,
  seed: number,
): CornerReport[] {
  const list: CornerReport[] = []
  const add = <K extends string>(clause: ClauseId, about: string, question: CornerQuestion<K>, dear = 1) => {
    const found = searchCorners(question)
    const drawn = yieldOf(question, Math.max(10, Math.round(builds / dear)), seed)
    list.push({
      clause,
      about,
      verdict: found.verdict,
      corner: found.corner,
      ...(drawn ? { yield: drawn } : {}),
      tornado: tornado(question).map((row) => {
        const { name, unit, low, high, source } = question.quantities[row.quantity]
        return { quantity: name, unit, low, high, atLow: row.atLow, atHigh: row.atHigh, source }
      }),
    })
  }
  for (const m of models) {
    const { name } = m.stage
    const own = parts.get(name) ?? {}
    if (m.source?.trip) {
      const once = shortQuestion(m.source, shortOutcome(m.stage, m.source, m.heats, m.load))
      const again = repeatedTrips(m)?.question
      // The first time or all attempts together: whichever decides the clause.
      if (again && searchCorners(again).worst.margin < Math.min(0, searchCorners(once).worst.margin))
        add('short-trip', name, again, DEAR)
      else add('short-trip', name, once, DEAR)
    }
    if (own.stress) add('sense-stress', name, own.stress.question)
    if (own.powerUp) add('inrush', name, own.powerUp.question, DEAR)
    if (own.fuse) add('fuse', name, own.fuse.question)
  }
  for (const driver of drivers) {
    const own = models.filter((m) => m.stage.driverName === driver.name)
    const clause = driverHeatClause(driver, own)
    if (clause) add('driver-heat', driver.name, clause.question)
  }
  return list
}
