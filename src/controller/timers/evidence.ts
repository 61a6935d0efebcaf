/** What the design alone shows about the signal: evidence of origin `calculated`. */
import type { Finding } from '../../finding/index.js'
import type { Output } from '../../signal/index.js'
import { type ClauseId, type Evidence, type Profile, senderLimits } from '../../standard/index.js'
import { chosenOptions } from './choice.js'
import { TIMER_FINDINGS } from './findings.data.js'
import type { TimerOption } from './option.js'
import { pinEvidence } from './pin-evidence.js'
import { type SignalParts, statement } from './statement.js'

/** The profile of an output; its limits depend on whether it makes the bidirectional cut-out. */
export type ProfileFor = (cutout: boolean) => Profile

/**
 * Evidence on the half-bits, the preamble and the pins, for every output of the design: exact counts of the chosen timer
 * at the design's clock with its tolerance. A pin written by an interrupt is `undecided`, because only a run of the
 * firmware tells how late its interrupts are; so is a way that the controller's ratings or the assumed work of the
 * interrupt rule out.
 */
export function timerEvidence(parts: SignalParts, profileFor: ProfileFor): Evidence[] {
  const evidence: Evidence[] = []
  const choices = chosenOptions(parts, (output) => profileFor(output.cutout).clauses)
  for (const [name, output] of Object.entries(parts.signal.outputs)) {
    const profile = profileFor(output.cutout)
    const { option, leftOpen } = choices.get(name)!
    if (option) evidence.push(...halves(option, name, profile, leftOpen))
    if (output.preamble !== undefined) evidence.push(preamble(output, name, profile))
  }
  evidence.push(pinEvidence(parts, choices, profileFor(false)))
  return evidence
}

/** Refusals that make the figures of a way depend on more than arithmetic. */
const NOT_PROMISED: readonly string[] = ['timers/no-time-for-interrupt', 'timers/clock-too-fast']

function halves(o: TimerOption, about: string, profile: Profile, open: string | undefined): Evidence[] {
  const hardware = o.behaviour !== 'pin'
  const doubt = o.refusals.find((f) => NOT_PROMISED.includes(f.code))
  const { one, zero } = o
  const lateUs = Math.max(0, o.deadline.lateUs)
  const draft = (clause: ClauseId, low: number, high: number, finding: Finding): Evidence =>
    statement(
      {
        clause,
        low,
        high,
        about,
        undecided: !hardware || doubt !== undefined,
        finding: doubt
          ? TIMER_FINDINGS.find('not-within-rating', { figures: finding.sentence, why: doubt.sentence })
          : finding,
      },
      profile,
    )
  const half = (h: TimerOption['one'], more: { open?: string } = {}) => {
    const figures = {
      ticks: h.ticks,
      tickUs: o.tickUs,
      us: h.us,
      lowUs: h.lowUs,
      highUs: h.highUs,
      timer: o.timer.name,
      clock: o.clock,
      divider: o.divider,
      tolerance: o.tolerance.says,
      ...more,
    }
    return hardware
      ? TIMER_FINDINGS.find('half', figures)
      : TIMER_FINDINGS.find('half-by-interrupt', { ...figures, lateUs })
  }
  return [
    draft('one-half', one.lowUs, one.highUs, half(one, open === undefined ? {} : { open })),
    draft(
      'one-difference',
      0,
      0,
      hardware
        ? TIMER_FINDINGS.find('same-halves', { ticks: one.ticks })
        : TIMER_FINDINGS.find('halves-by-interrupt', { lateUs }),
    ),
    draft('zero-half', zero.lowUs, zero.highUs, half(zero)),
    draft(
      'zero-total',
      2 * zero.lowUs,
      2 * zero.highUs,
      TIMER_FINDINGS.find('zero-total', { us: zero.us, share: o.tolerance.share }),
    ),
  ]
}

function preamble(output: Output, about: string, profile: Profile): Evidence {
  const ones = output.preamble!
  const limits = senderLimits(profile.clauses.preamble, output.mode)
  const finding = TIMER_FINDINGS.find('preamble', {
    ones,
    mode: output.mode,
    min: limits.min ?? 0,
    cutout: profile.cutout,
  })
  return statement({ clause: 'preamble', low: ones, high: ones, about, finding }, profile, limits)
}
