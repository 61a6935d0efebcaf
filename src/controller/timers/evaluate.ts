/** One way to make the signal, in figures. */
import type { Finding } from '../../finding/index.js'
import { type ClauseId, type Limits, marginWithin } from '../../standard/index.js'
import { type ChipInfo, pinConcerns, pinName, type TimerInfo } from '../chips/index.js'
import { timerClock } from './clock.js'
import { TIMER_FINDINGS } from './findings.data.js'
import type { Behaviour, Mode, Use } from './mode.js'
import { type Deadline, type HalfBit, RESPONSE, type SearchInput, type TimerOption } from './option.js'

/** Does one run of the counter make a whole bit? Otherwise it makes half of one. */
const isBit = (b: Behaviour) => b === 'bit-now' || b === 'bit-next'

/** Longest half, in ticks, that a run of the counter can hold. */
export function mostTicks(timer: TimerInfo, behaviour: Behaviour): number {
  const full = 2 ** timer.bits
  if (timer.kind === 'pio') return 2 ** 32 - 1
  // A remote-pulse item holds two 15-bit durations.
  if (timer.kind === 'rmt') return full - 1
  return isBit(behaviour) || behaviour === 'list' ? Math.floor(full / 2) : full
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
export const tidy = (us: number) => Number(us.toPrecision(12))
export const middle = (l: Limits) => ((l.min ?? 0) + (l.max ?? 0)) / 2
export const nominal = (l: Limits) => l.nominal ?? l.min ?? 0

/** One way in figures: counts, margins, deadline, what it takes, and why it cannot be used if it cannot. */
export function evaluateOption(
  input: SearchInput,
  chip: ChipInfo,
  mode: Mode,
  partial: Omit<Use, 'oneTicks' | 'zeroTicks'>,
): TimerOption {
  const { timer, clock, divider, channel, pin, opposite } = partial
  const { clauses, track, controller } = input
  const { hz, share, says } = timerClock(clock, controller.clock, chip)
  const tickUs = (divider / hz) * 1e6
  const most = mostTicks(timer, mode.behaviour)
  const one = halfBit(track.oneHalf, { hz, divider }, share, most)
  const zero = halfBit(track.zeroHalf, { hz, divider }, share, most)
  const use: Use = { ...partial, oneTicks: one.ticks, zeroTicks: zero.ticks }
  const pinUse = {
    as: 'output' as const,
    clock: controller.clock.source,
    checked: controller.checkedPins ?? [],
  }
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
    ...(timer.reliedOn === undefined ? {} : { reliedOn: timer.reliedOn }),
    pinConcerns: [pin, opposite?.pin]
      .filter((p) => p !== undefined)
      .flatMap((p) => pinConcerns(controller.chip, p, pinUse)),
    because: '',
    refusals: [],
    status: timer.status,
  }
  option.refusals = refusalsOf(input, chip, timer, option, most)
  if (option.refusals.length > 0) option.refused = option.refusals.map((f) => f.sentence).join('; ')
  option.because = `${worthOf(option).sentence}.`
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
        miss: TIMER_FINDINGS.find('miss-half-now', { pulseUs, oneUs: one.us, zeroUs: zero.us }),
      }
    }
    case 'bit-now': {
      // The output turns back at half a one as always, and again when the counter wraps.
      const pulseUs = full - one.us
      return {
        ...within(2 * shorter - tickUs),
        pulseUs,
        miss: TIMER_FINDINGS.find('miss-bit-now', { pulseUs }),
      }
    }
    case 'half-next':
      return {
        ...within(shorter - tickUs),
        miss: TIMER_FINDINGS.find('miss-half-next', {}),
      }
    case 'bit-next':
      return {
        ...within(2 * shorter - tickUs),
        miss: TIMER_FINDINGS.find('miss-bit-next', {}),
      }
    case 'list': {
      const listUs = (d.mode.listBits ?? 1) * 2 * one.us
      return {
        ...within(listUs),
        miss: TIMER_FINDINGS.find(timer.kind === 'pio' ? 'miss-queue' : 'miss-list', {}),
      }
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
        miss: TIMER_FINDINGS.find('miss-pin', {}),
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

function refusalsOf(
  input: SearchInput,
  chip: ChipInfo,
  timer: TimerInfo,
  o: TimerOption,
  most: number,
): Finding[] {
  const { controller, track, clauses } = input
  const found: Finding[] = []
  // One of several engines or channels under a number can be free beside a reserved one.
  if (controller.reservedTimers?.includes(timer.number) && timer.kind !== 'pio' && timer.kind !== 'rmt')
    found.push(TIMER_FINDINGS.find('timer-reserved', { timer: timer.name }))
  const reserved = new Set((controller.reservedPins ?? []).map(pinName))
  for (const pin of [o.pin, o.inverted])
    if (pin !== undefined && reserved.has(pin)) found.push(TIMER_FINDINGS.find('pin-reserved', { pin }))
  for (const concern of o.pinConcerns) if (concern.care === 'forbidden') found.push(concern.finding)
  const reserves = found.length
  const { tickUs, one, zero } = o
  if (Math.round(track.zeroHalf / tickUs) > most || Math.round(track.oneHalf / tickUs) > most) {
    found.push(TIMER_FINDINGS.find('too-few-bits', { tickUs, bits: timer.bits, reachUs: most * tickUs }))
  } else {
    const range = (h: HalfBit, clause: ClauseId) => {
      const { min, max } = clauses[clause].sender
      return { lowUs: h.lowUs, highUs: h.highUs, min: min!, max: max! }
    }
    if (o.margins.oneHalf < 0)
      found.push(
        TIMER_FINDINGS.find('one-outside', { ...range(one, 'one-half'), tickUs, share: o.tolerance.share }),
      )
    if (o.margins.zeroHalf < 0) found.push(TIMER_FINDINGS.find('zero-outside', range(zero, 'zero-half')))
    if (found.length === reserves && o.deadline.lateUs <= 0)
      found.push(
        TIMER_FINDINGS.find('no-time-for-interrupt', {
          usedUs: o.deadline.writeUs - o.deadline.lateUs,
          writeUs: o.deadline.writeUs,
        }),
      )
  }
  const hz = controller.clock.frequency
  if (hz > chip.maxHz)
    found.push(TIMER_FINDINGS.find('clock-too-fast', { chip: chip.name, maxHz: chip.maxHz, hz }))
  return found
}

function worthOf(o: TimerOption): Finding {
  return o.refusals.length > 0
    ? TIMER_FINDINGS.find('refused', { reasons: o.refusals.map((f) => f.sentence) })
    : TIMER_FINDINGS.find('worth', {
        headroom: o.headroom,
        lateUs: o.deadline.lateUs,
        miss: o.deadline.miss.sentence,
      })
}
