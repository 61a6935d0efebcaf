/** Where trains stop: the way from the detector to the decoder in time, and the way of the train in mm. */
import { wilson } from '../corner/index.js'
import type { CaseResult } from './case.js'
import type { LocomotiveDesign, StopDesign } from './design.js'
import { movingSteps } from './packets.js'
import type { ResolvedTraffic } from './plan.js'
import { quantileOf } from './statistics.js'

/** S-9.2.2:2012, CV3 and CV4: seconds per step = CV x 0.896 / steps in use (confirmed). */
export const MOMENTUM_S = 0.896

/** mm/s on the model of a full-size speed in mm/s; `ratio`: how many times smaller it is. */
export function scaleSpeed(fullSize: number, ratio: number): number {
  return fullSize / ratio
}

/**
 * Way from the step at which the decoder hears `stop` until it has stepped down to 0, mm. The decoder leaves one
 * step each CV4 x 0.896 / steps seconds; speed grows evenly with the step.
 * @param speed at the start, mm/s; @param top at the top step, mm/s; @param steps in use; @param cv4 0…255.
 * @param phase share 0…1 of a step's time that passes before the first step down.
 */
export function momentumMm(speed: number, top: number, steps: number, cv4: number, phase: number): number {
  if (cv4 === 0) return 0
  const perStepS = (cv4 * MOMENTUM_S) / steps
  // Steps below the present one: a speed between two steps counts as its share.
  const k = (speed / top) * steps
  const whole = Math.ceil(k - 1e-9)
  const unit = top / steps
  const below = unit * ((whole - 1) * whole * 0.5)
  return perStepS * (phase * speed + below)
}

export interface StopFigures {
  name: string
  kind: StopDesign['kind']
  lengthMm: number
  marginMm: number
  /** Approach of the fastest of its trains, mm/s on the model and mm/s full size. */
  speed: number
  fullSpeed: number
  stops: number
  /** Place of the front behind the detector, mm. */
  medianMm: number
  p95Mm: number
  p99Mm: number
  worstMm: number
  shortestMm: number
  /** Share of stops inside, with its 95 % confidence interval. */
  inside: number
  insideLow: number
  insideHigh: number
  /** `early`: the front stays inside, but the end of the train is not at the platform. */
  verdict: 'long enough' | 'too short' | 'early' | 'undecided'
  /** Full-size approach speed at which it would be long enough, mm/s; 0 when at none. */
  safeFullSpeed: number
  /** Length it would need at the planned speed, mm. */
  neededMm: number
  /** Of a platform: share of stops with the whole train at it, where the lengths of trains are known. */
  wholeTrain?: number
  /** Of a platform: how much longer the program should wait so that trains stand in its middle, us; negative: less. */
  waitMoreUs?: number
  /** Time from the detector to the decoder, us: median and 99th percentile. */
  medianUs: number
  p99Us: number
}

/** One stop that happened, for the scatter. */
export interface StopShot {
  stop: number
  frontMm: number
  us: number
}

/** What varies in one stop besides the time: fixed by its number, so that every speed meets the same cases. */
interface Trial {
  us: number
  phase: number
  /** −1…1 of the spread. */
  wander: number
  locomotive: LocomotiveDesign
  trainMm: number | undefined
}

/**
 * Places where trains stop, from the times the simulation found.
 * @param phases uniform numbers 0…1, two for each stop: the phase of the decoder's step and the spread of its speed.
 */
export function stopFigures(
  traffic: ResolvedTraffic,
  result: CaseResult,
  phases: () => number,
): { figures: StopFigures[]; shots: StopShot[] } {
  const { ratio, traffic: design } = traffic.input
  const trials: Trial[][] = traffic.stops.map(() => [])
  const { place, whom, us } = result.stops
  for (let i = 0; i < us.length; i++) {
    const l = traffic.locomotives[whom[i]! % traffic.locomotives.length]!
    trials[place[i]!]!.push({
      us: us[i]!,
      phase: phases(),
      wander: 2 * phases() - 1,
      locomotive: l.design,
      trainMm: l.trainMm,
    })
  }
  const shots: StopShot[] = []
  const figures = traffic.stops.map((s, i): StopFigures => {
    const d = design.stops![s.name]!
    const list = trials[i]!
    const fullSpeed = d.speed ?? topOf(traffic, s.trains)
    const usable = s.lengthMm - d.margin
    const at = (full: number | undefined) => list.map((t) => frontMm(t, d, full, ratio))
    const fronts = at(d.speed)
    for (const [k, front] of fronts.entries())
      if (k < 500) shots.push({ stop: i, frontMm: front, us: list[k]!.us })
    const sorted = Float64Array.from(fronts).sort()
    const n = sorted.length
    const hits = fronts.filter((x) => x <= usable).length
    const share = n > 0 ? wilson(hits, n) : { low: 0, high: 1 }
    const known = list.every((t) => t.trainMm !== undefined) && n > 0
    const needed = quantileOf(sorted, design.sure) + d.margin
    const times = Float64Array.from(list, (t) => t.us).sort()
    const whole =
      d.kind === 'platform' && known ? platformFigures(list, fronts, usable, fullSpeed, ratio) : {}
    return {
      name: s.name,
      kind: d.kind,
      lengthMm: s.lengthMm,
      marginMm: d.margin,
      speed: scaleSpeed(fullSpeed, ratio),
      fullSpeed,
      stops: n,
      medianMm: quantileOf(sorted, 0.5),
      p95Mm: quantileOf(sorted, 0.95),
      p99Mm: quantileOf(sorted, 0.99),
      worstMm: quantileOf(sorted, 1),
      shortestMm: quantileOf(sorted, 0),
      inside: n > 0 ? hits / n : Number.NaN,
      insideLow: share.low,
      insideHigh: share.high,
      verdict: verdictOf(share, whole.wholeTrain, design.sure),
      safeFullSpeed: n > 0 ? safeSpeed(at, design.sure, usable, topOf(traffic, s.trains)) : Number.NaN,
      neededMm: needed,
      ...whole,
      medianUs: quantileOf(times, 0.5),
      p99Us: quantileOf(times, 0.99),
    }
  })
  return { figures, shots }
}

function verdictOf(
  share: { low: number; high: number },
  wholeTrain: number | undefined,
  sure: number,
): StopFigures['verdict'] {
  if (share.high < sure) return 'too short'
  if (wholeTrain !== undefined && wholeTrain < sure) return 'early'
  return share.low >= sure ? 'long enough' : 'undecided'
}

/** Whether whole trains are at a platform, and how the program would bring them to its middle. */
function platformFigures(
  list: readonly Trial[],
  fronts: readonly number[],
  usable: number,
  fullSpeed: number,
  ratio: number,
): Pick<StopFigures, 'wholeTrain' | 'waitMoreUs'> {
  const at = fronts.filter((x, k) => x <= usable && x >= list[k]!.trainMm!).length
  const off = Float64Array.from(fronts, (x, k) => (list[k]!.trainMm! + usable) / 2 - x).sort()
  return {
    wholeTrain: at / fronts.length,
    waitMoreUs: (quantileOf(off, 0.5) / scaleSpeed(fullSpeed, ratio)) * 1e6,
  }
}

function frontMm(t: Trial, stop: StopDesign, full: number | undefined, ratio: number): number {
  const { locomotive: l } = t
  const top = scaleSpeed(l.topSpeed, ratio)
  const planned = Math.min(scaleSpeed(full ?? l.topSpeed, ratio), top)
  const speed = planned * (1 + t.wander * l.spread)
  const steps = movingSteps(Number(l.steps) as 14 | 28 | 128)
  const braking =
    stop.brake === 'emergency'
      ? 0
      : momentumMm(planned, top, steps, l.deceleration, t.phase) * (1 + t.wander * l.spread)
  return (speed * t.us) / 1e6 + braking + l.runOut
}

function topOf(traffic: ResolvedTraffic, trains: readonly number[]): number {
  return Math.max(...trains.map((a) => traffic.locomotives[a]!.design.topSpeed))
}

/** The highest full-size speed, up to the top speed, at which the wanted share stops inside; 0 when none. */
function safeSpeed(at: (full: number) => number[], sure: number, usable: number, top: number): number {
  const fits = (full: number) => quantileOf(Float64Array.from(at(full)).sort(), sure) <= usable
  let low = 0
  let high = top
  if (!fits(0)) return 0
  if (fits(high)) return high
  for (let i = 0; i < 30; i++) {
    const middle = (low + high) / 2
    if (fits(middle)) low = middle
    else high = middle
  }
  return low
}
