/** What the run loads drivers and supplies with, against what they stand: clauses beside the scenario's own expectations. */
import { junctionOf, settled } from '../../../power/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import { MOST_EVENTS } from '../../station/coupled.js'
import type { PlannedDriver, PlannedSupply } from '../plan.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import { heaviest, NEAR_PLANNED, type Steps, sumOf, undisturbedUntil } from './load.js'
import { peakOf } from './short-off.js'

/** A supply beyond its rating for no longer charges capacitors or starts motors; assumed, no source, us. */
const SUPPLY_STRETCH_US = 1e6
/** A load that has lasted for so long is none that passes, as a start is; assumed, no source, us. */
const LOADED_US = 1e6
/** Losses grow with heat: so many rounds are enough where they settle, and beyond this they do not. */
const MOST_ROUNDS = 200
const MELTS_C = 1000
/** A driver has warmed after so many of its longest time constants: 95 %. */
const WARM_AFTER = 3

/** Clauses about the heat of drivers and the current of supplies. */
export function ratings(played: Played): Found[] {
  const { options, setup } = played
  const { drivers = [], supplies = [] } = options.planned ?? {}
  return [
    ...drivers.flatMap((d) =>
      setup.districts.some((s) => d.districts.some((own) => own.name === s.name))
        ? driverHeat(d, played)
        : [],
    ),
    ...supplies.flatMap((s) => (s.districts.length > 0 ? supplyCurrent(s, played) : [])),
  ]
}

/** A bridge without a logic of its own whose inputs were both high: its switches are between the supply's two poles. */
export function shortedThrough({ trace, options }: Played): Found[] {
  return trace.run.districts.flatMap(({ plan, shortedAtUs }): Found[] => {
    if (shortedAtUs === undefined) return []
    const driver = options.planned?.drivers?.find((d) => d.districts.some((own) => own.name === plan.name))
    const finding = SAYS.find('driver-shorts', { district: plan.name })
    return [
      {
        clause: 'driver-heat',
        about: driver?.name ?? plan.name,
        verdict: 'broken',
        finding,
        timeUs: shortedAtUs,
      },
    ]
  })
}

/** Until then the run shows what is drawn undisturbed, us. */
function shownUntil({ trace, scenario }: Played, districts: readonly string[]): number {
  const full = districts.flatMap((d) => {
    const list = trace.run.amps.get(d) ?? []
    return list.length >= MOST_EVENTS ? [list.at(-1)!.timeUs] : []
  })
  return Math.min(undisturbedUntil(trace, scenario.lasts), ...full)
}

function ampsOf({ trace, scenario }: Played, district: string): Steps {
  return [...(trace.run.amps.get(district) ?? []), { timeUs: scenario.lasts, amp: 0 }]
}

function driverHeat({ name: driver, districts }: PlannedDriver, played: Played): Found[] {
  const { trace, setup, scenario, options } = played
  const about = { clause: 'driver-heat' as const, about: driver }
  const none = (finding: Found['finding']): Found[] => [{ ...about, verdict: 'not shown', finding }]
  const figures = new Map(trace.run.figures().districts.map((d) => [d.name, d]))
  const untilUs = shownUntil(
    played,
    districts.map((d) => d.name),
  )
  const open: Found[] = []
  const stood: Found[] = []
  const hot: Found[] = []
  for (const { name, plannedAmp } of districts) {
    const shutDown = trace.run.events.find((e) => e.kind === 'heat' && e.about === name && e.on === false)
    const line = ampsOf(played, name)
    const points = line.map(({ timeUs, amp }) => ({ us: timeUs, amp }))
    const under = options.driverUnder?.(name, points)
    const own = figures.get(name)
    const temperatures = [under?.hottestC, own?.hottestC].filter((c) => c !== undefined)
    const junctionMaxC = under?.junctionMaxC ?? own?.limitC
    if (temperatures.length === 0 || junctionMaxC === undefined) {
      open.push(...none(SAYS.find('driver-unknown', { district: name })))
      continue
    }
    const hottestC = Math.max(...temperatures)
    const params = {
      district: name,
      peakAmp: peakOf(trace.run, name, 0, scenario.lasts),
      hottestC,
      junctionMaxC,
    }
    const valueC = Number.isFinite(hottestC) ? hottestC : 1000
    const value = { low: valueC, high: valueC, unit: '°C', max: junctionMaxC }
    if (shutDown || !(hottestC <= junctionMaxC)) {
      const finding = SAYS.find('driver-overheats', params)
      return [{ ...about, verdict: 'broken', value, finding, timeUs: shutDown?.timeUs }]
    }
    const stages = setup.districts.find((d) => d.name === name)?.heat?.model.stages
    if (!stages) {
      open.push(...none(SAYS.find('driver-unknown', { district: name })))
      continue
    }
    if (plannedAmp === undefined) {
      open.push(...none(SAYS.find('plan-unknown', { what: name })))
      continue
    }
    const warmUs = WARM_AFTER * Math.max(...stages.map((s) => s.tauUs))
    const warmAmp = heaviest(line, untilUs, warmUs, 2)
    if (warmAmp !== undefined && warmAmp >= NEAR_PLANNED * plannedAmp) {
      stood.push({ ...about, verdict: 'met', value, finding: SAYS.find('driver-withstands', params) })
      continue
    }
    // It need not be run until it is warm: the heat of a current that stays is known.
    const reachedAmp = heaviest(line, untilUs, LOADED_US, 2)
    if (reachedAmp === undefined)
      open.push(...none(SAYS.find('driver-brief', { district: name, lastedUs: untilUs, warmUs })))
    else if (reachedAmp < NEAR_PLANNED * plannedAmp)
      open.push(...none(SAYS.find('light-load', { what: name, reachedAmp, plannedAmp })))
    else {
      const carriedAmp = Math.min(reachedAmp, plannedAmp)
      const lasting = [
        { us: 0, amp: carriedAmp },
        { us: 2 * warmUs, amp: carriedAmp },
      ]
      const lastingC = [options.driverUnder?.(name, lasting)?.hottestC, settledC(setup, name, carriedAmp)]
      const hottestC = Math.max(...lastingC.filter((c) => c !== undefined))
      const isHot = !(hottestC <= junctionMaxC)
      const shown = { district: name, carriedAmp, ranUs: LOADED_US, hottestC, junctionMaxC }
      const ofPlan = { low: hottestC, high: hottestC, unit: '°C', max: junctionMaxC }
      if (Number.isFinite(hottestC) || isHot)
        (isHot ? hot : stood).push({
          ...about,
          verdict: isHot ? 'broken' : 'met',
          value: Number.isFinite(hottestC) ? ofPlan : { ...ofPlan, low: 1000, high: 1000 },
          finding: isHot
            ? SAYS.find('driver-too-hot-for-plan', shown)
            : SAYS.find('driver-carries-plan', shown),
        })
    }
  }
  if (hot.length > 0) return hot.slice(0, 1)
  const hottest = stood.sort((a, b) => b.value!.high - a.value!.high)
  return open.length > 0 ? open.slice(0, 1) : hottest.slice(0, 1)
}

/** Of a junction under a current that stays, °C; Infinity where it runs away. */
function settledC(setup: Played['setup'], district: string, amp: number): number | undefined {
  const heat = setup.districts.find((d) => d.name === district)?.heat
  if (!heat) return undefined
  let junctionC = heat.model.ambientC
  for (let i = 0; i < MOST_ROUNDS; i++) {
    const next = junctionOf(heat.model, settled(heat.model, heat.watt(amp, junctionC)))
    if (Math.abs(next - junctionC) < 0.01) return next
    if (!(next < MELTS_C)) return Number.POSITIVE_INFINITY
    junctionC = next
  }
  return junctionC
}

function supplyCurrent(
  { name, districts, ratingAmp, besideAmp, plannedAmp }: PlannedSupply,
  played: Played,
): Found[] {
  const { trace } = played
  const about = { clause: 'supply-current' as const, about: name }
  const untilUs = shownUntil(played, districts)
  const peakAmp = trace.run.figures().supplies.find((s) => s.name === name)?.peakAmp ?? 0
  const line = sumOf(districts.map((d) => ampsOf(played, d)))
  const off = trace.run.events.find(
    (e) =>
      (e.kind === 'supply' || e.kind === 'fuse') && e.about === name && e.on === false && e.timeUs < untilUs,
  )
  const mean = heaviest(line, untilUs, Math.min(SUPPLY_STRETCH_US, untilUs)) ?? 0
  const reachedAmp = mean + besideAmp
  const value = { low: reachedAmp / ratingAmp, high: reachedAmp / ratingAmp, unit: 'share', max: 1 }
  const params = { supply: name, reachedAmp, ratingAmp, peakAmp }
  if (off)
    return [
      {
        ...about,
        verdict: 'broken',
        value,
        timeUs: off.timeUs,
        finding: SAYS.find('supply-off', { supply: name, atUs: off.timeUs, peakAmp }),
      },
    ]
  if (untilUs >= SUPPLY_STRETCH_US && reachedAmp > ratingAmp)
    return [{ ...about, verdict: 'broken', value, finding: SAYS.find('supply-overloaded', params) }]
  const finding =
    plannedAmp === undefined
      ? SAYS.find('plan-unknown', { what: name })
      : untilUs < SUPPLY_STRETCH_US
        ? SAYS.find('supply-brief', { supply: name, lastedUs: untilUs })
        : reachedAmp < NEAR_PLANNED * plannedAmp
          ? SAYS.find('light-load', { what: name, reachedAmp, plannedAmp })
          : undefined
  if (finding) return [{ ...about, verdict: 'not shown', finding }]
  return [{ ...about, verdict: 'met', value, finding: SAYS.find('supply-holds', params) }]
}
