/** Overloads that a stimulus shows at a current sense, and whether the driver stays off while they last. */
import type { VoltChange } from '../controller/index.js'

export interface WatchedPin {
  pin: string
  /** Level at which the driver is off: an enable input low, a brake input high. */
  offLevel: number
  changes: { timeUs: number; level: number }[]
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
