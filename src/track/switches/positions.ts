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
