/** Overloads that a stimulus shows at a current sense, and whether the driver stays off while they last. */
import { controllerClock, type VoltChange } from '../controller/index.js'
import { searchCorners } from '../corner/index.js'
import type { LoadedDesign } from '../design/index.js'
import {
  type DistrictModel,
  type DistrictStage,
  type DistrictTrip,
  districtModels,
  POWER_FINDINGS,
  repeatedTrips,
  type SeenAttempts,
} from '../power/index.js'
import type { Verdict } from '../standard/index.js'
import { powerInput } from './power-input.js'

export interface WatchedPin {
  pin: string
  /** Level at which the driver is off: an enable input low, a brake input high. */
  offLevel: number
  changes: { timeUs: number; level: number }[]
}

export interface WatchedDistrict {
  stage: DistrictStage
  trip: DistrictTrip
  /** Current that a voltage at the converter stands for, A. */
  ampAt(volt: number): number
  pin: string
  channel: number
  /** At or above it the current is surely above the trip's threshold, V at the converter. */
  overVolt: number
  /** Inputs of the driver that can switch it off. */
  offPins: WatchedPin[]
  /** The signal at the driver's input: when it fell silent, and its last edge, us. */
  signal: { silences: number[]; lastUs: number } | undefined
}

/**
 * Where a driver that was switched off carries the short again: on after an off time shorter than the trip itself may
 * take, so that it carries the short half of the time or more, or on for longer than another trip may take.
 */
export function onAgain(
  pins: readonly WatchedPin[],
  offUs: number,
  toUs: number,
  wantedUs: number,
  blankingUs: number,
): { atUs: number; offForUs: number; onForUs: number } | undefined {
  const offAt = new Map(pins.map(({ pin, offLevel }) => [pin, offLevel === 0]))
  const isOff = () => [...offAt.values()].some((off) => off)
  const changes = pins
    .flatMap(({ pin, offLevel, changes }) => changes.map((c) => ({ ...c, pin, off: c.level === offLevel })))
    .sort((a, b) => a.timeUs - b.timeUs)
  let beganUs = offUs
  let back: { atUs: number; offForUs: number } | undefined
  for (const { pin, off, timeUs } of changes) {
    if (timeUs > toUs) break
    const before = isOff()
    offAt.set(pin, off)
    if (timeUs <= offUs || before === isOff()) continue
    if (isOff()) {
      if (back && timeUs - back.atUs > wantedUs + blankingUs) return { ...back, onForUs: timeUs - back.atUs }
      back = undefined
      beganUs = timeUs
    } else {
      back = { atUs: timeUs, offForUs: timeUs - beganUs }
      if (back.offForUs < wantedUs) return { ...back, onForUs: toUs - timeUs }
    }
  }
  return back && toUs - back.atUs > wantedUs + blankingUs ? { ...back, onForUs: toUs - back.atUs } : undefined
}

/** The attempts of a driver into a short that lasts, from when it is off first. */
export function attemptsOf(
  pins: readonly WatchedPin[],
  offUs: number,
  toUs: number,
): SeenAttempts | undefined {
  const off = new Map(pins.map(({ pin, offLevel }) => [pin, offLevel === 0]))
  const changes = pins
    .flatMap(({ pin, offLevel, changes }) => changes.map((c) => ({ ...c, pin, off: c.level === offLevel })))
    .sort((a, b) => a.timeUs - b.timeUs)
  const switched: { on: boolean; timeUs: number }[] = [{ on: false, timeUs: offUs }]
  for (const change of changes) {
    if (change.timeUs > toUs) break
    off.set(change.pin, change.off)
    const on = ![...off.values()].some((x) => x)
    if (change.timeUs > offUs && on !== switched.at(-1)!.on) switched.push({ on, timeUs: change.timeUs })
  }
  return attemptsIn(switched, toUs)
}

/**
 * @param switched from the first time off on
 * @returns `undefined` where it stays off
 */
export function attemptsIn(
  switched: readonly { on: boolean; timeUs: number }[],
  toUs: number,
): SeenAttempts | undefined {
  const sums = { onUs: 0, offUs: 0, longestOnUs: 0, shortestOffUs: Number.POSITIVE_INFINITY }
  let tries = 0
  switched.forEach(({ on, timeUs }, i) => {
    const next = switched[i + 1]
    const us = (next?.timeUs ?? toUs) - timeUs
    if (on) {
      tries++
      sums.onUs += us
      sums.longestOnUs = Math.max(sums.longestOnUs, us)
    } else {
      sums.offUs += us
      if (next) sums.shortestOffUs = Math.min(sums.shortestOffUs, us)
    }
  })
  return tries === 0 ? undefined : { ...sums, onUs: sums.onUs / tries, offUs: sums.offUs / tries }
}

/** What attempts into a short come to over time; `undefined` where what carries them is not known. */
export type AttemptJudge = (
  district: string,
  seen: SeenAttempts,
) => { verdict: Verdict; because: string } | undefined

/** By the district's own corners: supply, driver, wires and joints. */
export function attemptJudge(loaded: LoadedDesign): AttemptJudge {
  let models: DistrictModel[] | undefined
  return (district, seen) => {
    if (!models) {
      const stage = powerInput(loaded)
      if (!stage) return undefined
      const { power, signal, controller, loads } = stage.input
      models = districtModels(power, signal, loads, controllerClock(controller))
    }
    const model = models.find((m) => m.stage.name === district)
    const repeated = model && repeatedTrips(model, seen)
    if (!repeated) return undefined
    const { verdict, worst } = searchCorners(repeated.question)
    const outcome = repeated.outcome(worst.values)
    return { verdict, because: POWER_FINDINGS.find('short-again', { ...outcome }).sentence }
  }
}

/** Stretches in which the outside holds a voltage at or above the threshold. */
export function overloadsOf(
  changes: readonly VoltChange[],
  channel: number,
  overVolt: number,
  ranUs: number,
): { fromUs: number; toUs: number; volt: number }[] {
  const list: { fromUs: number; toUs: number; volt: number }[] = []
  let open: { fromUs: number; volt: number } | undefined
  for (const { channel: at, volt, timeUs } of changes) {
    if (at !== channel || timeUs > ranUs) continue
    if (volt >= overVolt) open = { fromUs: open?.fromUs ?? timeUs, volt: Math.max(volt, open?.volt ?? 0) }
    else if (open) {
      list.push({ ...open, toUs: timeUs })
      open = undefined
    }
  }
  if (open) list.push({ ...open, toUs: ranUs })
  return list
}
