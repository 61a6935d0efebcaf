/** The search over every timer, clock, divider, mode and pin of a controller. */
import { CHIPS, type ChipInfo, freePins, pinName, type TimerClock, type TimerInfo } from '../chips/index.js'
import { timerClock } from './clock.js'
import { evaluateOption, middle, mostTicks, nominal, tidy } from './evaluate.js'
import type { Behaviour, Mode, Use } from './mode.js'
import { MODES, UNUSABLE_MODES } from './modes.js'
import type { SearchInput, TimerOption } from './option.js'
import { byMerit } from './rank.js'

export interface SearchResult {
  /** Usable ones, best first. */
  options: TimerOption[]
  /** Ones that exist but cannot be used, with the reason; the ones that miss by least first. */
  refused: TimerOption[]
  /** Modes that look usable and are not. */
  unusableModes: { timers: string; says: string; why: string }[]
  /** Half-bits that this controller makes best, us: the one nearest to the middle of its window, the zero not below nominal. */
  best?: { oneHalfUs: number; zeroHalfUs: number; option: string }
}

/** Every timer × clock × divider × mode × pin, judged and ranked. */
export function searchTimers(input: SearchInput): SearchResult {
  const chip = CHIPS[input.controller.chip]
  const all: TimerOption[] = []
  for (const timer of chip.timers) {
    for (const clock of timer.clocks) {
      for (const mode of MODES[timer.kind]) all.push(...optionsOf(input, chip, timer, clock, mode))
    }
  }
  const options = all.filter((o) => o.refused === undefined).sort(byMerit)
  const refused = all
    .filter((o) => o.refused !== undefined)
    .sort((a, b) => b.headroom - a.headroom || byMerit(a, b))
  const first = options[0]
  const result: SearchResult = { options, refused, unusableModes: unusableModesOf(chip) }
  if (first) {
    result.best = {
      oneHalfUs: tidy(
        Math.max(1, Math.round(middle(input.clauses['one-half'].sender) / first.tickUs)) * first.tickUs,
      ),
      zeroHalfUs: tidy(
        Math.ceil((nominal(input.clauses['zero-half'].sender) / first.tickUs) * (1 - 1e-12)) * first.tickUs,
      ),
      option: first.id,
    }
  }
  return result
}

/** Dividers worth looking at: all of a short list; of a long range those that fit, at most the best few. */
function dividersOf(timer: TimerInfo, clockHz: number, behaviour: Behaviour, input: SearchInput): number[] {
  const dividers = timer.dividers
  const { oneHalf, zeroHalf } = input.track
  if (!('from' in dividers)) return [...dividers]
  const most = mostTicks(timer, behaviour)
  const fits: [number, number][] = []
  for (let d = dividers.from; d <= dividers.to; d++) {
    const tickUs = (d / clockHz) * 1e6
    if (tickUs > oneHalf) break
    if (Math.round(zeroHalf / tickUs) > most) continue
    const error = (us: number) => Math.abs(Math.round(us / tickUs) * tickUs - us) / us
    fits.push([error(oneHalf) + error(zeroHalf), d])
  }
  // The finest, and then the exact ones with the longest stretch.
  fits.sort((a, b) => a[0] - b[0] || b[1] - a[1])
  const kept = fits.slice(0, 3).map(([, d]) => d)
  const finest = fits.reduce((least, [, d]) => Math.min(least, d), Number.POSITIVE_INFINITY)
  if (Number.isFinite(finest) && !kept.includes(finest)) kept.push(finest)
  return kept.sort((a, b) => a - b)
}

function optionsOf(
  input: SearchInput,
  chip: ChipInfo,
  timer: TimerInfo,
  clock: TimerClock,
  mode: Mode,
): TimerOption[] {
  const found: TimerOption[] = []
  const { keepTo = {}, track, controller } = input
  if (keepTo.method && track.method !== undefined && mode.method !== track.method) return found
  if (keepTo.timer && track.timer !== undefined && timer.number !== track.timer) return found
  const { hz } = timerClock(clock, controller.clock, chip)
  for (const { channel, pin, opposite } of places(input, chip, timer, mode)) {
    for (const divider of dividersOf(timer, hz, mode.behaviour, input)) {
      if (keepTo.timer && track.prescaler !== undefined && divider !== track.prescaler) continue
      found.push(evaluateOption(input, chip, mode, { timer, clock, divider, channel, pin, opposite }))
    }
  }
  return found
}

type Place = Pick<Use, 'channel' | 'pin' | 'opposite'>

/** Where the signal can come out: the design's pin where it is settled, else one place per channel. */
function places(input: SearchInput, chip: ChipInfo, timer: TimerInfo, mode: Mode): Place[] {
  const { track, controller, keepTo = {} } = input
  const pin = track.pin === undefined ? undefined : pinName(track.pin)
  const inverted = track.inverted === undefined ? undefined : pinName(track.inverted)
  const channels = mode.channels(timer)
  if (channels === 'pins') {
    const reserved = new Set((controller.reservedPins ?? []).map(pinName))
    const use = { clock: controller.clock.source, checked: controller.checkedPins ?? [] }
    const chosen =
      pin !== undefined && (keepTo.pin || chip.pins.includes(pin))
        ? pin
        : (freePins(controller.chip, use, reserved)[0] ?? 'none')
    return [
      {
        channel: 'any',
        pin: chosen,
        opposite: inverted === undefined ? undefined : { channel: 'any', pin: inverted },
      },
    ]
  }
  const found: Place[] = []
  for (const output of timer.outputs) {
    if (!channels.includes(output.channel)) continue
    if (keepTo.pin && pin !== undefined && output.pin !== pin) continue
    if (inverted === undefined) {
      found.push({ channel: output.channel, pin: output.pin })
      continue
    }
    const twins = timer.outputs.filter((o) => mode.opposites(timer, output.channel).includes(o.channel))
    const twin = keepTo.pin ? twins.find((o) => o.pin === inverted) : twins[0]
    if (twin) found.push({ channel: output.channel, pin: output.pin, opposite: twin })
  }
  return found
}

function unusableModesOf(chip: ChipInfo): SearchResult['unusableModes'] {
  return UNUSABLE_MODES.flatMap((trap) => {
    const timers = chip.timers.filter((t) => trap.kinds.includes(t.kind)).map((t) => t.name)
    return timers.length > 0 ? [{ timers: timers.join(', '), says: trap.says, why: trap.why }] : []
  })
}
