/** The search over every timer, clock, divider, mode and pin of a controller. */
import type { Output } from '../../signal/index.js'
import { type Clause, type ClauseId, type Limits, marginWithin } from '../../standard/index.js'
import { formatNumber, formatShare, formatTimeUs } from '../../units/index.js'
import { CHIPS, type ChipInfo, pinName, type TimerClock, type TimerInfo } from '../chips/index.js'
import type { ControllerDesign } from '../design.js'
import { timerClock } from './clock.js'
import type { Behaviour, Mode, Use } from './mode.js'
import { MODES, UNUSABLE_MODES } from './modes.js'
import { type Deadline, type HalfBit, RESPONSE, type TimerOption } from './option.js'

export interface SearchInput {
  controller: ControllerDesign
  /** Wanted half-bits, us, and, if they are settled, the pins. */
  track: Pick<Output, 'oneHalf' | 'zeroHalf'> & Partial<Output>
  clauses: Readonly<Record<ClauseId, Clause>>
  /** Keep to the track's pin, method, timer and divider where it names them. */
  keepTo?: { pin?: boolean; method?: boolean; timer?: boolean }
}

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

/** Does one run of the counter make a whole bit? Otherwise it makes half of one. */
const isBit = (b: Behaviour) => b === 'bit-now' || b === 'bit-next'

/** Longest half, in ticks, that a run of the counter can hold. */
function mostTicks(timer: TimerInfo, behaviour: Behaviour): number {
  const full = 2 ** timer.bits
  if (timer.kind === 'pio') return 2 ** 32 - 1
  // A remote-pulse item holds two 15-bit durations.
  if (timer.kind === 'rmt') return full - 1
  return isBit(behaviour) || behaviour === 'list' ? Math.floor(full / 2) : full
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
  const { hz } = timerClock(clock, controller.clock)
  for (const { channel, pin, opposite } of places(input, chip, timer, mode)) {
    for (const divider of dividersOf(timer, hz, mode.behaviour, input)) {
      if (keepTo.timer && track.prescaler !== undefined && divider !== track.prescaler) continue
      found.push(judge(input, chip, mode, { timer, clock, divider, channel, pin, opposite }))
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
    const free = chip.pins.filter((p) => !reserved.has(p))
    const chosen = pin !== undefined && (keepTo.pin || chip.pins.includes(pin)) ? pin : (free[0] ?? 'none')
    const second = inverted ?? undefined
    return [{ channel: 'any', pin: chosen, opposite: second ? { channel: 'any', pin: second } : undefined }]
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

function halfBit(
  wantedUs: number,
  clock: { hz: number; divider: number },
  share: number,
  most: number,
): HalfBit {
  const tickUs = (clock.divider / clock.hz) * 1e6
  const ticks = Math.min(Math.max(1, Math.round(wantedUs / tickUs)), most)
  // One division, so that 58 us at 48 MHz come to 58 and not to 58.00000000000001.
  const us = (ticks * clock.divider * 1e6) / clock.hz
  return {
    ticks,
    us,
    errorUs: us - wantedUs,
    errorPpm: ((us - wantedUs) / wantedUs) * 1e6,
    // A clock that is fast by `share` makes everything shorter by 1 / (1 + share).
    lowUs: us / (1 + share),
    highUs: us / (1 - share),
  }
}

/** Without the last digits that binary fractions leave. */
const tidy = (us: number) => Number(us.toPrecision(12))
const middle = (l: Limits) => ((l.min ?? 0) + (l.max ?? 0)) / 2
const nominal = (l: Limits) => l.nominal ?? l.min ?? 0

function judge(
  input: SearchInput,
  chip: ChipInfo,
  mode: Mode,
  partial: Omit<Use, 'oneTicks' | 'zeroTicks'>,
): TimerOption {
  const { timer, clock, divider, channel, pin, opposite } = partial
  const { clauses, track, controller } = input
  const { hz, share, says } = timerClock(clock, controller.clock)
  const tickUs = (divider / hz) * 1e6
  const most = mostTicks(timer, mode.behaviour)
  const one = halfBit(track.oneHalf, { hz, divider }, share, most)
  const zero = halfBit(track.zeroHalf, { hz, divider }, share, most)
  const use: Use = { ...partial, oneTicks: one.ticks, zeroTicks: zero.ticks }
  const cpuMhz = controller.clock.frequency / 1e6
  const response = RESPONSE[chip.core]!
  const entryUs = chip.interruptEntryCycles / cpuMhz
  const work = response.toWrite / cpuMhz
  const deadline = deadlineOf({ mode, one, zero, tickUs, timer, usedUs: entryUs + work, clauses, share })
  // Making both halves with the same counts costs nothing; a pin written by software adds what its interrupts are late.
  const margins = {
    oneHalf: marginWithin(one.lowUs, one.highUs, clauses['one-half'].sender),
    oneDifference: marginWithin(0, 0, clauses['one-difference'].sender),
    zeroHalf: marginWithin(zero.lowUs, zero.highUs, clauses['zero-half'].sender),
  }
  const zeroRule = clauses['zero-half'].sender
  const zeroRoom =
    zeroRule.min === undefined
      ? 1
      : Math.min(1, (zero.lowUs - zeroRule.min) / Math.max(1e-9, nominal(zeroRule) - zeroRule.min))
  const headroom = Math.min(margins.oneHalf, zeroRoom)
  const zeroLimit = Math.min(zeroRule.max ?? Infinity, (clauses['zero-total'].sender.max ?? Infinity) / 2)
  const perRun = isBit(mode.behaviour) ? 2 : 1
  const interruptsPerSecond = 1e6 / (one.us * (mode.behaviour === 'list' ? 2 * (mode.listBits ?? 1) : perRun))
  const option: TimerOption = {
    id: `${timer.kind}-${timer.number}/${mode.id}/${clock.id === 'system' ? '' : `${clock.id}-`}${divider}/${pin}`,
    method: mode.method,
    behaviour: mode.behaviour,
    mode: mode.says(timer, channel),
    modeId: mode.id,
    timer: { kind: timer.kind, number: timer.number, name: timer.name, bits: timer.bits },
    clock: clock.says,
    divider,
    tickUs,
    channel,
    pin,
    ...(opposite ? { inverted: opposite.pin } : {}),
    settings: mode.settings(use),
    loads: mode.loads(use),
    interrupt: mode.interrupt(use),
    one,
    zero,
    tolerance: { share, says },
    margins,
    headroom,
    longestZeroUs: tidy(Math.floor(Math.min(most * tickUs, zeroLimit * (1 - share)) / tickUs) * tickUs),
    interruptsPerSecond,
    deadline,
    cpuShare: Math.min(
      1,
      (interruptsPerSecond * (chip.interruptEntryCycles + response.total)) / controller.clock.frequency,
    ),
    occupies: occupiesOf(timer, mode, pin, opposite?.pin),
    because: '',
    status: timer.status,
  }
  const refused = refusalOf(input, chip, timer, mode, option, most)
  if (refused !== undefined) option.refused = refused
  option.because = reason(option)
  return option
}

interface DeadlineInput {
  mode: Mode
  one: HalfBit
  zero: HalfBit
  tickUs: number
  timer: TimerInfo
  /** Entry and work before the write, us. */
  usedUs: number
  clauses: SearchInput['clauses']
  share: number
}

/**
 * The deadline of each behaviour. Unbuffered: the write must be done before the counter reaches the nearer of the old
 * and the new top, which is that of a one; later, a smaller top lies below the counter, which runs on to full scale and
 * only then up to the top. Buffered: any time before the run ends; later, the old run repeats.
 */
function deadlineOf(d: DeadlineInput): Deadline {
  const { one, zero, tickUs, timer, usedUs } = d
  const shorter = Math.min(one.us, zero.us)
  const full = 2 ** timer.bits * tickUs
  const within = (writeUs: number) => ({ writeUs, lateUs: writeUs - usedUs })
  switch (d.mode.behaviour) {
    case 'half-now': {
      const pulseUs = full + one.us
      return {
        ...within(shorter - tickUs),
        pulseUs,
        breaks: `one pulse of a whole counter period, ${formatTimeUs(pulseUs)}; before a zero, a half of ${formatTimeUs(one.us)} in place of ${formatTimeUs(zero.us)}`,
      }
    }
    case 'bit-now': {
      // The output turns back at half a one as always, and again when the counter wraps.
      const pulseUs = full - one.us
      return {
        ...within(2 * shorter - tickUs),
        pulseUs,
        breaks: `one half of nearly a whole counter period, ${formatTimeUs(pulseUs)}; before a zero, a one in its place`,
      }
    }
    case 'half-next':
      return {
        ...within(shorter - tickUs),
        breaks: 'the old half-bit repeats: two halves that do not match, one packet lost',
      }
    case 'bit-next':
      return {
        ...within(2 * shorter - tickUs),
        breaks: 'the old bit repeats: a wrong bit, the error byte tells, one packet lost',
      }
    case 'list': {
      const listUs = (d.mode.listBits ?? 1) * 2 * one.us
      const idle =
        timer.kind === 'pio'
          ? 'the program waits and the last level stays: one long half-bit'
          : 'old bits are played again: a damaged packet'
      return { writeUs: listUs, lateUs: listUs - usedUs, breaks: idle }
    }
    case 'pin': {
      // An edge that is late by L makes one half longer and the next shorter by L: they differ by 2 L.
      const { max } = d.clauses['one-half'].sender
      const { min } = d.clauses['one-half'].sender
      const spread = (d.clauses['one-difference'].sender.max ?? Infinity) / 2
      const lateUs = Math.min((max ?? Infinity) - one.highUs, one.lowUs - (min ?? 0), spread)
      return {
        writeUs: lateUs + usedUs,
        lateUs,
        breaks: 'the half-bit is longer by the lateness and the next one shorter by as much',
      }
    }
  }
}

function occupiesOf(timer: TimerInfo, mode: Mode, pin: string, second: string | undefined): string[] {
  const list = [second === undefined ? `pin ${pin}` : `pins ${pin} and ${second}`, timer.name]
  const others = timer.outputs
    .filter((o) => o.pin !== pin && o.pin !== second && mode.method !== 'fed')
    .map((o) => o.pin)
  const lost = [...new Set(others)]
  if (lost.length > 0 && lost.length <= 6) list.push(`free PWM on ${lost.join(', ')}`)
  if (timer.reliedOn) list.push(`${timer.reliedOn} (common practice, no source)`)
  return list
}

function refusalOf(
  input: SearchInput,
  chip: ChipInfo,
  timer: TimerInfo,
  mode: Mode,
  o: TimerOption,
  most: number,
): string | undefined {
  const { controller, track, clauses } = input
  const reasons: string[] = []
  if (controller.reservedTimers?.includes(timer.number) && timer.kind !== 'pio' && timer.kind !== 'rmt')
    reasons.push(`${timer.name} is reserved in the design`)
  const reserved = new Set((controller.reservedPins ?? []).map(pinName))
  for (const p of [o.pin, o.inverted])
    if (p !== undefined && reserved.has(p)) reasons.push(`pin ${p} is reserved in the design`)
  if (mode.channels(timer) === 'pins' && !chip.pins.includes(o.pin))
    reasons.push(`${chip.name} has no output pin ${o.pin}`)
  if (Math.round(track.zeroHalf / o.tickUs) > most || Math.round(track.oneHalf / o.tickUs) > most)
    reasons.push(
      `at ${formatTimeUs(o.tickUs)} per tick ${timer.bits} bits reach only ${formatTimeUs(most * o.tickUs)} per half-bit`,
    )
  else {
    const { min, max } = clauses['one-half'].sender
    if (o.margins.oneHalf < 0)
      reasons.push(
        `the one's half comes to ${formatTimeUs(o.one.lowUs)} to ${formatTimeUs(o.one.highUs)} with ticks of ${formatTimeUs(o.tickUs)} and ${formatShare(o.tolerance.share)} of clock tolerance, outside ${min} to ${max} us`,
      )
    if (o.margins.zeroHalf < 0)
      reasons.push(
        `the zero's half comes to ${formatTimeUs(o.zero.lowUs)} to ${formatTimeUs(o.zero.highUs)}, outside ${clauses['zero-half'].sender.min} to ${clauses['zero-half'].sender.max} us`,
      )
    if (reasons.length === 0 && o.deadline.lateUs <= 0)
      reasons.push(
        `the interrupt's own ${formatTimeUs(o.deadline.writeUs - o.deadline.lateUs)} do not fit before the deadline of ${formatTimeUs(o.deadline.writeUs)}`,
      )
  }
  if (controller.clock.frequency > chip.maxHz)
    reasons.push(
      `${chip.name} runs at ${chip.maxHz / 1e6} MHz at most, the design says ${formatNumber(controller.clock.frequency / 1e6)} MHz`,
    )
  return reasons.length > 0 ? reasons.join('; ') : undefined
}

/** How bad a missed deadline is: nothing lost but one packet, a wrong half, a long pulse, every late interrupt seen. */
const MISS_SEVERITY: Record<Behaviour, number> = {
  list: 0,
  'bit-next': 0,
  'half-next': 1,
  'bit-now': 2,
  'half-now': 3,
  pin: 4,
}

/** Steps of a quarter octave: deadlines closer than that are alike. */
const step = (us: number) => Math.round(Math.log2(Math.max(us, 1e-3)) * 4)

interface Merit {
  /** Why the worse of two comes later, said of the worse. */
  says: string
  /** Greater is better. */
  of: (o: TimerOption) => number
}

/** Ranking criteria, most important first. */
const MERITS: readonly Merit[] = [
  // Steps of 5 %: less is no difference in practice.
  { says: 'less room to the limits', of: (o) => Math.round(o.headroom * 20) },
  { says: 'a shorter deadline', of: (o) => step(o.deadline.lateUs) },
  { says: 'a miss does more harm', of: (o) => -MISS_SEVERITY[o.behaviour] },
  { says: 'it takes a timer that other code commonly relies on', of: (o) => -stolen(o) },
  { says: 'a miss makes a longer pulse', of: (o) => -(o.deadline.pulseUs ?? 0) },
  { says: 'zeros stretch less far', of: (o) => o.longestZeroUs },
  // Programmed loops want small counts, counters fine ticks.
  { says: 'longer loops to program', of: (o) => (o.timer.kind === 'pio' ? Math.min(o.tickUs, 1) : 0) },
  { says: 'coarser ticks', of: (o) => -o.divider },
]

function byMerit(a: TimerOption, b: TimerOption): number {
  for (const { of } of MERITS) {
    const difference = of(b) - of(a)
    if (difference !== 0) return difference
  }
  return a.id.localeCompare(b.id, 'en', { numeric: true })
}

/** Why `worse` comes after `better`, in a few words; `undefined` when nothing but their names tells them apart. */
export function whyAfter(worse: TimerOption, better: TimerOption): string | undefined {
  return MERITS.find(({ of }) => of(worse) !== of(better))?.says
}

const stolen = (o: TimerOption) => o.occupies.filter((s) => s.includes('common practice')).length

function reason(o: TimerOption): string {
  if (o.refused !== undefined) return `Refused: ${o.refused}.`
  const left = `${formatShare(o.headroom, 2)} of the room to the nearest limit is left with the clock's tolerance`
  const late = `its interrupt may be ${formatTimeUs(o.deadline.lateUs, 3)} late`
  return `${left}; ${late}, and then ${o.deadline.breaks}.`
}

function unusableModesOf(chip: ChipInfo): SearchResult['unusableModes'] {
  return UNUSABLE_MODES.flatMap((trap) => {
    const timers = chip.timers.filter((t) => trap.kinds.includes(t.kind)).map((t) => t.name)
    return timers.length > 0 ? [{ timers: timers.join(', '), says: trap.says, why: trap.why }] : []
  })
}
