/** The positions that the hand switches of a railroad can be in together. */
import type { TrackDesign } from '../design/track.js'
import { DesignConflict } from '../design-conflict.js'
import { positionNames, type SwitchSetting } from './setting.js'

export interface Positions {
  /** The first is how the railroad is described: all that can be on is on. */
  list: { setting: SwitchSetting; name: string }[]
  /** How many there are in all; more than the list has where they are too many. */
  all: number
  /** Every position of every switch is in the list by itself. */
  singly: boolean
}

/** So many are judged one by one. */
const MOST = 64

/** @throws DesignConflict for a switch that cannot be. */
export function switchPositions(track: TrackDesign): Positions {
  const switches = Object.entries(track.bus).flatMap(([run, own]) => {
    const names = positionNames(own, ['track', 'bus', run])
    return names.length === 0 ? [] : [{ run, names, usual: names.findIndex((n) => n !== 'none') }]
  })
  const all = switches.reduce((n, s) => n * s.names.length, 1)
  const name = (setting: SwitchSetting) =>
    switches
      .filter((s) => setting[s.run] !== undefined && setting[s.run] !== s.usual)
      .map((s) => `the switch of ${s.run} at ${s.names[setting[s.run]!]}`)
      .join(' and ')
  let settings: SwitchSetting[] = [{}]
  if (all <= MOST)
    for (const s of switches)
      settings = settings.flatMap((setting) =>
        inOrder(s.names.length, s.usual).map((at) => ({ ...setting, [s.run]: at })),
      )
  else
    for (const s of switches.slice(0, MOST))
      for (const at of inOrder(s.names.length, s.usual).slice(1)) settings.push({ [s.run]: at })
  const singly = all <= MOST || switches.length <= MOST
  return { list: settings.map((setting) => ({ setting, name: name(setting) })), all, singly }
}

/** What cannot be in one position only says in which. @throws DesignConflict */
export function inPosition<T>(name: string, what: () => T): T {
  try {
    return what()
  } catch (error) {
    if (name === '' || !(error instanceof DesignConflict)) throw error
    throw new DesignConflict(error.path, `with ${name}: ${error.reason}`)
  }
}

/** Every position, the usual one first. */
function inOrder(count: number, usual: number): number[] {
  return [usual, ...Array.from({ length: count }, (_, i) => i).filter((i) => i !== usual)]
}

/** Most switches of one district whose positions together are all tried for the edges on its bus. */
const MOST_EDGE_SWITCHES = 8

/**
 * Positions in which every district has all of its own, for what one district's switches alone decide; off-on switches only.
 * @returns `undefined` where a district has too many
 */
export function positionsByDistrict(
  track: TrackDesign,
  districtOf: (run: string) => string,
): { setting: SwitchSetting; name: string }[] | undefined {
  const own = new Map<string, string[]>()
  for (const [run, { switch: hand }] of Object.entries(track.bus))
    if (hand) own.set(districtOf(run), [...(own.get(districtOf(run)) ?? []), run])
  const most = Math.max(0, ...[...own.values()].map((runs) => runs.length))
  if (most > MOST_EDGE_SWITCHES) return undefined
  return Array.from({ length: 2 ** most }, (_, bits) => {
    const off = [...own.values()].flatMap((runs) => runs.filter((_, i) => (bits >> i) & 1))
    return {
      setting: Object.fromEntries(off.map((run) => [run, 1])),
      name: `the switches of ${off.join(', ')} at off`,
    }
  })
}
