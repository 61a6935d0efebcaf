/** What a design plans to flow and where its trains have to stop: the load that a run of the bench is held against. */
import type { BenchPlan } from '../bench/index.js'
import type { LoadedDesign } from '../design/index.js'
import { districtModels, powerReport } from '../power/index.js'
import { resolveTraffic, scaleSpeed, trafficInputOf } from '../traffic/index.js'
import { powerInput } from './power-input.js'

/** Builds are not drawn: only the worst planned loads are asked for. */
const NO_BUILDS = 0

export function benchPlan(loaded: LoadedDesign): BenchPlan {
  const found = powerInput(loaded)
  if (!found) return {}
  const { power, signal, loads } = found.input
  const models = districtModels(power, signal, loads)
  const drivers = Object.keys(power.drivers).map((name) => ({
    name,
    districts: models
      .filter((m) => m.stage.driverName === name)
      .map((m) => ({ name: m.stage.name, plannedAmp: m.load?.worstAmp })),
  }))
  const supplies = powerReport({ ...found.input, builds: NO_BUILDS }).supplies.map((s) => {
    const districts = models.filter((m) => m.stage.supplyName === s.name).map((m) => m.stage.name)
    const beside = s.rows.filter((r) => !districts.includes(r.who))
    return {
      name: s.name,
      districts,
      ratingAmp: s.ratingAmp,
      besideAmp: beside.reduce((sum, r) => sum + r.runningAmp, 0),
      ...(s.without.length > 0 ? {} : { plannedAmp: s.worstAmp }),
    }
  })
  return { drivers, supplies, stops: stopsOf(loaded) }
}

function stopsOf({ design }: LoadedDesign): BenchPlan['stops'] {
  const { fleet, traffic } = design
  if (!fleet || !traffic?.stops) return []
  const input = trafficInputOf({ ...design, fleet })
  const { locomotives } = resolveTraffic(input)
  // As the calculation has it: the output named, or the first in operations mode.
  const running = Object.keys(design.signal.outputs).filter(
    (o) => design.signal.outputs[o]!.mode === 'operations',
  )
  const output = traffic.output ?? running[0]
  return Object.entries(traffic.stops).map(([name, s]) => ({
    name,
    output,
    section: s.section,
    marginMm: s.margin,
    wholeTrain: s.kind === 'platform',
    trains: locomotives.filter((l) => s.trains?.includes(l.key) ?? true).map((l) => l.name),
    mmPerS: s.speed === undefined ? undefined : scaleSpeed(s.speed, input.ratio),
    sure: traffic.sure,
    waitUs: s.wait,
    lengthMm: s.length,
    worst: {
      latestUs: traffic.limit + (traffic.link?.loop ?? 0) + s.detector + s.scan,
      faster: Math.max(0, ...locomotives.map((l) => l.design.spread)),
    },
  }))
}
