/** What the design alone shows about the signal: evidence of origin `calculated`. */
import type { Output, SignalDesign } from '../../signal/index.js'
import {
  type ClauseId,
  type Evidence,
  marginWithin,
  type Profile,
  senderLimits,
} from '../../standard/index.js'
import { formatNumber, formatShare, formatTimeUs } from '../../units/index.js'
import { CHIPS, pinName } from '../chips/index.js'
import type { ControllerDesign } from '../design.js'
import { chosenOption } from './choice.js'
import type { TimerOption } from './option.js'

export interface SignalParts {
  controller: ControllerDesign
  signal: SignalDesign
}

/**
 * Evidence on the half-bits, the preamble and the pins, for every output of the design: exact counts of the chosen timer
 * at the design's clock with its tolerance. A pin written by an interrupt is `undecided`, because only a run of the
 * firmware tells how late its interrupts are.
 */
export function timerEvidence(parts: SignalParts, profile: Profile): Evidence[] {
  const evidence: Evidence[] = []
  for (const [name, track] of Object.entries(parts.signal.outputs)) {
    const { option, leftOpen } = chosenOption(parts, name, profile.clauses)
    if (option) evidence.push(...halves(option, name, profile, leftOpen))
    if (track.preamble !== undefined) evidence.push(preamble(track, name, profile))
  }
  evidence.push(...pins(parts, profile))
  return evidence
}

type Draft = Pick<Evidence, 'clause' | 'because'> & { low: number; high: number; decided?: boolean }

function statement(
  d: Draft,
  about: string | undefined,
  profile: Profile,
  limits = profile.clauses[d.clause].sender,
): Evidence {
  const margin = marginWithin(d.low, d.high, limits) + 0
  const verdict = margin < 0 ? 'broken' : d.decided === false ? 'undecided' : 'met'
  return {
    clause: d.clause,
    origin: 'calculated',
    verdict,
    value: { low: d.low, high: d.high, unit: profile.clauses[d.clause].unit },
    margin,
    ...(about === undefined ? {} : { about }),
    because: d.because,
  }
}

function halves(o: TimerOption, about: string, profile: Profile, leftOpen: string | undefined): Evidence[] {
  const hardware = o.behaviour !== 'pin'
  const open = leftOpen ? `; the design leaves the ${leftOpen} open, the best is taken` : ''
  const by = `${o.timer.name}, ${o.clock} divided by ${o.divider}`
  const clock = `${o.tolerance.says}`
  const late = hardware
    ? ''
    : `; the interrupt writes the pin, so only a run of the firmware tells: an edge may be at most ${formatTimeUs(Math.max(0, o.deadline.lateUs), 3)} late`
  const draft = (clause: ClauseId, low: number, high: number, because: string): Evidence =>
    statement(
      { clause, low, high, decided: hardware, because: because + late + (clause === 'one-half' ? open : '') },
      about,
      profile,
    )
  const { one, zero } = o
  return [
    draft(
      'one-half',
      one.lowUs,
      one.highUs,
      `${one.ticks} ticks of ${formatTimeUs(o.tickUs)} are ${formatTimeUs(one.us, 6)} (${by}), with the clock's tolerance (${clock})`,
    ),
    draft(
      'one-difference',
      0,
      0,
      hardware
        ? `both halves of a one take the same ${one.ticks} ticks of the hardware`
        : 'both halves of a one are asked to be alike',
    ),
    draft(
      'zero-half',
      zero.lowUs,
      zero.highUs,
      `${zero.ticks} ticks of ${formatTimeUs(o.tickUs)} are ${formatTimeUs(zero.us, 6)} (${by}), with the clock's tolerance (${clock})`,
    ),
    draft(
      'zero-total',
      2 * zero.lowUs,
      2 * zero.highUs,
      `twice a half of ${formatTimeUs(zero.us, 6)}, with ${formatShare(o.tolerance.share)} of clock tolerance`,
    ),
  ]
}

function preamble(track: Output, about: string, profile: Profile): Evidence {
  const ones = track.preamble!
  const limits = senderLimits(profile.clauses.preamble, track.mode)
  return statement(
    {
      clause: 'preamble',
      low: ones,
      high: ones,
      because: `the design sends ${ones} ones; ${track.mode} mode wants at least ${formatNumber(limits.min ?? 0)}`,
    },
    about,
    profile,
    limits,
  )
}

/** Conflicts of pins and timers: one evidence for the whole controller. */
function pins(parts: SignalParts, profile: Profile): Evidence[] {
  const chip = CHIPS[parts.controller.chip]
  const users = new Map<string, string[]>()
  const use = (map: Map<string, string[]>, key: string, who: string) =>
    map.set(key, [...(map.get(key) ?? []), who])
  const timers = new Map<string, string[]>()
  const problems: string[] = []
  const doubts: string[] = []
  const outputs: string[] = []
  for (const p of parts.controller.reservedPins ?? []) use(users, pinName(p), 'reserved')
  for (const [name, track] of Object.entries(parts.signal.outputs)) {
    const pair = [track.pin, track.inverted].filter((p) => p !== undefined).map(pinName)
    for (const [i, pin] of pair.entries()) {
      outputs.push(pin)
      use(users, pin, i === 0 ? `output ${name}` : `output ${name}, inverted`)
      if (!chip.pins.includes(pin)) problems.push(`${chip.name} has no output pin ${pin}`)
    }
    const hardware = track.method === 'toggle' || track.method === 'buffered'
    const { option } = chosenOption(parts, name, profile.clauses)
    if (hardware && option === undefined) {
      const which = track.timer === undefined ? `any timer of ${chip.name}` : `timer ${track.timer}`
      const text = `${pair.join(' with ')} cannot be driven by ${which} for method ${track.method} of output ${name}`
      if (pair.every((p) => chip.pins.includes(p))) (chip.outputsComplete ? problems : doubts).push(text)
    }
    // What the design leaves open is filled with the best, which two outputs may share without meaning to.
    if (option && (hardware || track.timer !== undefined)) {
      use(timers, `${option.timer.kind} ${option.timer.number}`, `output ${name}`)
      if (hardware && parts.controller.reservedTimers?.includes(option.timer.number))
        problems.push(`${option.timer.name} is reserved and drives output ${name}`)
    }
  }
  for (const [pin, by] of users)
    if (by.length > 1) problems.push(`pin ${pin} is used twice (${by.join('; ')})`)
  for (const [timer, by] of timers) {
    // Programmable I/O and DMA-fed units have several engines under one number.
    if (by.length > 1 && !timer.startsWith('pio'))
      problems.push(`timer ${timer.split(' ')[1]} is used twice (${by.join('; ')})`)
  }
  const n = problems.length
  const result = statement(
    {
      clause: 'pin-conflict',
      low: n,
      high: n,
      decided: doubts.length === 0,
      because:
        n > 0
          ? `${problems.join('; ')}.`
          : doubts.length > 0
            ? `${doubts.join('; ')}, as far as the table of ${chip.name}'s pins goes, which is not complete.`
            : `every output pin that the design names (${outputs.join(', ')}) is used once, and driven by a timer or code of ${chip.name} that can.`,
    },
    undefined,
    profile,
  )
  return [result]
}
