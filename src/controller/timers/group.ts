/** Options that differ only in where the signal comes out, taken together. */
import type { TimerOption } from './option.js'

export interface OptionGroup {
  /** The best of them; its figures are those of all. */
  option: TimerOption
  /** Timers with the pins that each offers, in order of merit. */
  places: { timer: string; pins: string[] }[]
  count: number
}

/** Group options that are alike in mode, clock, divider and reason for refusal, keeping the order of the first of each. */
export function groupOptions(options: readonly TimerOption[]): OptionGroup[] {
  const groups = new Map<string, OptionGroup>()
  for (const o of options) {
    const key = [o.timer.kind, o.timer.bits, o.modeId, o.clock, o.divider, o.refused ?? ''].join('|')
    let group = groups.get(key)
    if (!group) groups.set(key, (group = { option: o, places: [], count: 0 }))
    group.count++
    let place = group.places.find((p) => p.timer === o.timer.name)
    if (!place) group.places.push((place = { timer: o.timer.name, pins: [] }))
    const pins = o.inverted === undefined ? o.pin : `${o.pin}/${o.inverted}`
    if (!place.pins.includes(pins)) place.pins.push(pins)
  }
  return [...groups.values()]
}
