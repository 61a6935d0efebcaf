/** The trains of a railroad, as the search for their worst arrangement takes them. */
import { runningAmp, stalledAmp, type TrackLayout } from '../layout/layout.js'

export interface Train {
  name: string
  amp: number
  law: 'current' | 'power' | 'resistor'
  lengthMm: number
}

/** The train at the place that is looked at, and the others. */
export interface Trains {
  head: Train
  others: Train[]
  stalled?: { train: string; assumed: boolean }
}

export function trainsOf(plan: TrackLayout): (Train & { stallAmp: number; assumed: boolean })[] {
  return Object.entries(plan.rollingStock).flatMap(([name, t]) =>
    Array.from({ length: t.count }, () => ({
      name,
      amp: runningAmp(t),
      law: t.load,
      lengthMm: t.length,
      stallAmp: stalledAmp(t),
      assumed: t.stall === undefined,
    })),
  )
}

/** The train whose stall takes most, the others running. */
export function stalledTrains(
  trains: readonly (Train & { stallAmp: number; assumed: boolean })[],
): Trains | undefined {
  const stalled = trains.reduce<(typeof trains)[number] | undefined>(
    (most, t) => (t.stallAmp > t.amp && t.stallAmp > (most?.stallAmp ?? 0) ? t : most),
    undefined,
  )
  if (!stalled) return undefined
  return {
    head: { ...stalled, amp: stalled.stallAmp },
    others: trains.filter((t) => t !== stalled && t.amp > 0).sort((a, b) => b.amp - a.amp),
    stalled: { train: stalled.name, assumed: stalled.assumed },
  }
}

/** Heaviest first, those that still fit. */
export function firstWithin(trains: readonly Train[], room: number): Train[] {
  let left = room
  return trains.filter((t) => {
    if (t.amp > left) return false
    left -= t.amp
    return true
  })
}

/** Every selection that fits and to which no other train could be added. */
export function selectionsWithin(trains: readonly Train[], room: number): Train[][] {
  if (trains.reduce((sum, t) => sum + t.amp, 0) <= room) return [[...trains]]
  const list: Train[][] = []
  for (let bits = 0; bits < 1 << trains.length; bits++) {
    const chosen = trains.filter((_, i) => (bits >> i) & 1)
    const left = room - chosen.reduce((sum, t) => sum + t.amp, 0)
    if (left >= 0 && !trains.some((t, i) => !((bits >> i) & 1) && t.amp <= left)) list.push(chosen)
  }
  return list
}
