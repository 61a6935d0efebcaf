/** What everything on the bench is at one time of a run, in words. */
import type { ScenarioResult } from '../../bench/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'

type Signals = ScenarioResult['signals']

/** The last entry at or before a time; undefined before the first. */
function at<T extends { timeUs: number }>(list: readonly T[], us: number): T | undefined {
  let low = 0
  let high = list.length
  while (low < high) {
    const middle = (low + high) >>> 1
    if (list[middle]!.timeUs <= us) low = middle + 1
    else high = middle
  }
  return list[low - 1]
}

/** `3.302 s: main 1.75 A, 13.8 V, on; express 45 %; PB0 high; packet …`. */
export function valuesAtTime(signals: Signals, us: number): string {
  const said = new Map<string, string[]>()
  const say = (name: string, what: string) => said.set(name, [...(said.get(name) ?? []), what])
  for (const { name, unit, points } of signals.analog) {
    const value = at(points, us)?.value
    if (unit !== 'share' && value !== undefined) say(name, `${formatNumber(value, 3)} ${unit}`)
  }
  for (const { name, states } of signals.states) {
    const state = at(states, us)?.state
    if (state !== undefined) say(name, state)
  }
  for (const { name, edges } of signals.pins) {
    const edge = at(edges, us)
    if (edge) say(name, edge.level === 1 ? 'high' : 'low')
  }
  const packets = signals.packets.map(({ endUs, says }) => ({ timeUs: endUs, says }))
  const packet = at(packets, us)
  const things = [...said].map(([name, list]) => `${name} ${list.join(', ')}`)
  if (packet) things.push(`last packet: ${packet.says}`)
  return `${formatTimeUs(us, 6)}: ${things.join('; ')}`
}
