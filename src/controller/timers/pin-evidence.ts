/** Conflicts of the outputs' pins and timers: one evidence for the whole controller. */
import type { Finding } from '../../finding/index.js'
import type { Evidence, Profile } from '../../standard/index.js'
import { CHIPS, pinConcerns, pinName, verdictOfConcern } from '../chips/index.js'
import { type Choice, sharesTimer, timerKey } from './choice.js'
import { TIMER_FINDINGS } from './findings.data.js'
import { MODES } from './modes.js'
import { type SignalParts, statement } from './statement.js'

export function pinEvidence(
  parts: SignalParts,
  choices: ReadonlyMap<string, Choice>,
  profile: Profile,
): Evidence {
  const { controller, signal } = parts
  const chip = CHIPS[controller.chip]
  const checked = new Set((controller.checkedPins ?? []).map(pinName))
  const users = new Map<string, string[]>()
  const timers = new Map<string, { number: number; by: string[] }>()
  const problems: Finding[] = []
  const doubts: Finding[] = []
  const notes: Finding[] = []
  const outputs: string[] = []
  const use = (pin: string, who: string) => users.set(pin, [...(users.get(pin) ?? []), who])

  for (const p of controller.reservedPins ?? []) use(pinName(p), 'reserved')
  for (const [name, output] of Object.entries(signal.outputs)) {
    const pair = [output.pin, output.inverted].filter((p) => p !== undefined).map(pinName)
    for (const [i, pin] of pair.entries()) {
      outputs.push(pin)
      use(pin, i === 0 ? `output ${name}` : `output ${name}, inverted`)
      for (const concern of pinConcerns(controller.chip, pin, {
        as: 'output',
        clock: controller.clock.source,
        checked: controller.checkedPins ?? [],
      })) {
        const verdict = verdictOfConcern(concern)
        const list = verdict === 'broken' ? problems : verdict === 'undecided' ? doubts : notes
        list.push(concern.finding)
      }
    }
    const byHardware = output.method !== 'interrupt'
    const { option } = choices.get(name)!
    if (option === undefined && pair.every((p) => chip.pins.includes(p))) {
      const params = {
        pins: pair,
        chip: chip.name,
        output: name,
        ...(output.timer === undefined ? {} : { timer: output.timer }),
        ...(output.method === undefined ? {} : { method: output.method }),
      }
      // The table of pins may lack one, but not a timer, nor a mode of one.
      const able = chip.timers.some(
        (t) =>
          (output.timer === undefined || t.number === output.timer) &&
          MODES[t.kind].some((m) => output.method === undefined || m.method === output.method),
      )
      if (chip.outputsComplete || !able) problems.push(TIMER_FINDINGS.find('pin-not-driven', params))
      else if (!pair.every((p) => checked.has(p))) doubts.push(TIMER_FINDINGS.find('pin-not-listed', params))
    }
    // What the design leaves open is filled with the best, which two outputs may share without meaning to.
    if (option && (byHardware || output.timer !== undefined)) {
      const by = timers.get(timerKey(option))?.by ?? []
      if (!sharesTimer(option.timer.kind))
        timers.set(timerKey(option), { number: option.timer.number, by: [...by, `output ${name}`] })
      if (option.behaviour !== 'pin' && controller.reservedTimers?.includes(option.timer.number))
        problems.push(TIMER_FINDINGS.find('timer-taken', { timer: option.timer.name, output: name }))
    }
  }
  for (const [pin, by] of users)
    if (by.length > 1) problems.push(TIMER_FINDINGS.find('pin-used-twice', { pin, users: by }))
  for (const { number, by } of timers.values())
    if (by.length > 1) problems.push(TIMER_FINDINGS.find('timer-used-twice', { timer: number, users: by }))

  const n = problems.length
  const sentences = (list: readonly Finding[]) => list.map((f) => f.sentence)
  const codes = (list: readonly Finding[]) => list.map((f) => f.code)
  return statement(
    {
      clause: 'pin-conflict',
      low: n,
      high: n,
      undecided: doubts.length > 0,
      finding:
        n > 0
          ? TIMER_FINDINGS.find('pins-in-conflict', { problems: sentences(problems), codes: codes(problems) })
          : doubts.length > 0
            ? TIMER_FINDINGS.find('pins-in-doubt', { doubts: sentences(doubts), codes: codes(doubts) })
            : TIMER_FINDINGS.find('pins-free', { pins: outputs, chip: chip.name, notes: sentences(notes) }),
    },
    profile,
  )
}
