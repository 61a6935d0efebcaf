/** Modes of counters that are alike but for the names of their registers. */
import type { TimerInfo } from '../chips/index.js'
import { channelsOf, type Method, type Mode, type RegisterLoad, type Setting, type Use } from './mode.js'

/** What differs between two timers whose modes are otherwise alike. */
export interface Names {
  /** Buffered or plain register of the bit's or half-bit's end. */
  top: (u: Use) => string
  /** Register of the edge in the middle of a bit. */
  edge?: (u: Use, channel: string) => string
  /** Counts to add to `ticks` for the edge: −1 where the output changes one count after the match. */
  edgeOffset?: number
  setup: (u: Use) => Setting[]
  says: (t: TimerInfo, channel: string) => string
  interrupt: (u: Use) => string
}

export const put = (register: string, value: string, says: string): Setting => ({ register, value, says })

/** What the interrupt loads: the top, and the edge where one run of the counter makes a whole bit. */
export function loads(names: Names, period: 'half' | 'bit', u: Use): RegisterLoad[] {
  const factor = period === 'half' ? 1 : 2
  const top = {
    register: names.top(u),
    one: factor * u.oneTicks - 1,
    zero: factor * u.zeroTicks - 1,
    says: period === 'half' ? 'half-bit in ticks, minus one' : 'whole bit in ticks, minus one',
  }
  const edge = names.edge
  if (period === 'half' || edge === undefined) return [top]
  const offset = names.edgeOffset ?? 0
  return [
    // Complementary outputs of one channel share its compare register.
    ...[...new Set([u.channel, ...(u.opposite ? [u.opposite.channel] : [])].map((c) => edge(u, c)))].map(
      (register) => ({
        register,
        one: u.oneTicks + offset,
        zero: u.zeroTicks + offset,
        says: 'edge in the middle of the bit',
      }),
    ),
    top,
  ]
}

/** A mode of a counter with a top and, for whole bits, an edge in the middle. */
export function counted(
  id: string,
  method: Method,
  behaviour: Mode['behaviour'],
  names: Names,
  channels: Mode['channels'] = channelsOf,
  opposites: Mode['opposites'] = (t, c) => channelsOf(t).filter((x) => x !== c),
): Mode {
  const period = behaviour === 'bit-now' || behaviour === 'bit-next' ? 'bit' : 'half'
  return {
    id,
    method,
    behaviour,
    says: names.says,
    channels,
    opposites,
    settings: names.setup,
    loads: (u) => loads(names, period, u),
    interrupt: names.interrupt,
  }
}

export const only =
  (channel: string): Mode['channels'] =>
  (t) =>
    channelsOf(t).filter((c) => c === channel)

/** Any timer that can interrupt at its end can have the interrupt write the pin. */
export function softPin(names: Names): Mode {
  return counted(
    'pin',
    'interrupt',
    'pin',
    names,
    () => 'pins',
    () => ['any'],
  )
}
