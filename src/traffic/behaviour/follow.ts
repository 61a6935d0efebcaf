/**
 * Follows each command to the rails: when it was heard, whether its state came again, and whether something else was
 * told in its place.
 */
import type { Command } from '../../controller/index.js'
import type { Told } from './told.js'

/** What one locomotive is told of one matter: its speed, or one function. */
export interface State {
  /** The number that was commanded. */
  address: number
  matter: 'speed' | number
  speed?: number
  forward?: boolean | undefined
  on?: boolean
}

export interface FollowedCommand {
  command: Command
  state: State
  /** End of the first packet that carries it, us; absent when none did. */
  heardUs?: number
  /** Until when it was to be heard: the next command on the same matter, or the end, us. */
  untilUs: number
  /** Another command came before it was heard, soon enough to take its place. */
  superseded: boolean
  /** Longest time from start bit to start bit of packets that repeat the state, the end of the run included, us. */
  longestPauseUs: number
  pauseAtUs: number
  /** First packet that told the matter otherwise after the command had been heard. */
  contradiction?: Told
}

export interface FollowOptions {
  /** What addressees a number may go out as: short or long. */
  addressees(address: number): ReadonlySet<number>
  /** What {speed} says at full speed: with as many steps as the packet's scale the match must be exact. */
  fullSpeed: number
  limitUs: number
  /** The station itself accelerates: the last step comes within this, us. */
  rampUs: number
  ranUs: number
}

interface Wanted {
  command: Command
  state: State
  untilUs: number
}

/**
 * The states that the commands ask for, in the order of time, each until the next command on the same matter; a stop
 * asks one of every locomotive that a command has named.
 */
function statesOf(commands: readonly Command[], ranUs: number): Wanted[] {
  const known = new Set<number>()
  const list: Wanted[] = []
  const latest = new Map<string, Wanted>()
  const want = (command: Command, state: State) => {
    const key = `${state.address} ${state.matter}`
    const before = latest.get(key)
    if (before) before.untilUs = command.timeUs
    const wanted = { command, state, untilUs: ranUs }
    latest.set(key, wanted)
    list.push(wanted)
  }
  for (const command of commands) {
    if (command.timeUs > ranUs) break
    switch (command.kind) {
      case 'speed': {
        const { address, speed, forward } = command
        // Address 0 is no locomotive's: every decoder would obey it (S-9.2.1:2012 A).
        if (address === 0) break
        known.add(address)
        want(command, { address, matter: 'speed', speed, forward })
        break
      }
      case 'function':
        known.add(command.address)
        want(command, { address: command.address, matter: command.function, on: command.on })
        break
      case 'stopOne':
        want(command, { address: command.address, matter: 'speed', speed: 0 })
        break
      case 'stop':
        for (const address of known) want(command, { address, matter: 'speed', speed: 0 })
        break
      case 'forget':
        known.delete(command.address)
        for (const [key, wanted] of latest) {
          if (wanted.state.address !== command.address) continue
          wanted.untilUs = command.timeUs
          latest.delete(key)
        }
        break
      default:
    }
  }
  return list
}

/** Whether a packet speaks of the matter at all, and if so, whether it says the state. */
function carries(told: Told, state: State, options: FollowOptions): boolean | undefined {
  if (told.to !== 'everyone' && !options.addressees(state.address).has(told.to)) return undefined
  if (state.matter === 'speed') {
    if (!told.speed) return undefined
    const { speed, of, forward } = told.speed
    const wanted = state.speed!
    if (speed === 0 || wanted === 0) return speed === wanted
    const exact = options.fullSpeed === of
    // Two scales of steps meet within one step of the coarser one.
    const near = Math.abs(speed - wanted) < (exact ? 1e-9 : 1 / Math.min(of, options.fullSpeed))
    return near && (state.forward === undefined || forward === undefined || forward === state.forward)
  }
  const { functions } = told
  if (!functions || state.matter < functions.from || state.matter >= functions.from + functions.count)
    return undefined
  return functions.on.has(state.matter) === state.on
}

/** @param told in the order of time. */
export function followCommands(
  commands: readonly Command[],
  told: readonly Told[],
  options: FollowOptions,
): FollowedCommand[] {
  return statesOf(commands, options.ranUs).map(({ command, state, untilUs }): FollowedCommand => {
    const followed: FollowedCommand = {
      command,
      state,
      untilUs,
      superseded: false,
      longestPauseUs: 0,
      pauseAtUs: 0,
    }
    const settledUs = command.timeUs + (state.matter === 'speed' ? options.rampUs : 0)
    let lastUs = Number.NaN
    for (let k = firstAfter(told, command.timeUs); k < told.length; k++) {
      const t = told[k]!
      if (t.packet.timeUs > untilUs) break
      const says = carries(t, state, options)
      if (says === undefined) continue
      if (!says) {
        // A stop of everyone may be the station's own, after a short for example.
        if (followed.heardUs !== undefined && t.packet.timeUs > settledUs && t.to !== 'everyone')
          followed.contradiction ??= t
        continue
      }
      followed.heardUs ??= t.packet.endUs
      note(followed, lastUs, t.packet.timeUs)
      lastUs = t.packet.timeUs
    }
    if (followed.heardUs === undefined)
      followed.superseded = untilUs < options.ranUs && untilUs - command.timeUs < options.limitUs
    else note(followed, lastUs, untilUs)
    return followed
  })
}

function note(followed: FollowedCommand, fromUs: number, toUs: number): void {
  const pause = toUs - fromUs
  if (!(pause > followed.longestPauseUs)) return
  followed.longestPauseUs = pause
  followed.pauseAtUs = fromUs
}

/** Index of the first packet that begins at or after a time. */
function firstAfter(told: readonly Told[], timeUs: number): number {
  let [low, high] = [0, told.length]
  while (low < high) {
    const middle = (low + high) >> 1
    if (told[middle]!.packet.timeUs < timeUs) low = middle + 1
    else high = middle
  }
  return low
}

/** Packets that set a locomotive moving that no command before them has named. */
export function uncommanded(
  commands: readonly Command[],
  told: readonly Told[],
  options: FollowOptions,
): Told[] {
  const named = commands.flatMap((c) => ('address' in c ? [{ timeUs: c.timeUs, address: c.address }] : []))
  const known = new Set<number>()
  const list: Told[] = []
  let next = 0
  for (const t of told) {
    for (; next < named.length && named[next]!.timeUs <= t.packet.endUs; next++)
      for (const a of options.addressees(named[next]!.address)) known.add(a)
    if (t.to === 'everyone' || !t.speed || t.speed.speed === 0 || known.has(t.to)) continue
    known.add(t.to)
    list.push(t)
  }
  return list
}
