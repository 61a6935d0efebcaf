/** The design's own choice of timer for one output, resolved to one option. */
import type { Output, SignalDesign } from '../../signal/index.js'
import type { Clause, ClauseId } from '../../standard/index.js'
import type { ControllerDesign } from '../design.js'
import type { TimerOption } from './option.js'
import { searchTimers } from './search.js'

export interface Choice {
  /** The option that the design means; `refused` tells why it cannot work; absent when no timer makes it at all. */
  option?: TimerOption
  /** What the design left open, in words: `timer and prescaler`. */
  leftOpen?: string
}

type Parts = { controller: ControllerDesign; signal: SignalDesign }
type Clauses = Readonly<Record<ClauseId, Clause>>

/**
 * Resolve what the design says of an output (pin, method, timer, prescaler) to the one option it means. What the design
 * leaves open is filled with the best option that keeps to the rest, on a timer that no other output uses.
 */
export function chosenOption(parts: Parts, name: string, clauses: Clauses): Choice {
  if (parts.signal.outputs[name] === undefined) throw new RangeError(`no output ${name} in the design`)
  return chosenOptions(parts, () => clauses).get(name)!
}

/** The choice of every output; those that name their timer choose before those that leave it open. */
export function chosenOptions(parts: Parts, clausesFor: (output: Output) => Clauses): Map<string, Choice> {
  const outputs = Object.entries(parts.signal.outputs)
  const used = new Set<string>()
  const choices = new Map<string, Choice>()
  for (const settled of [true, false]) {
    for (const [name, output] of outputs) {
      if ((output.timer !== undefined) !== settled) continue
      const choice = choose(parts.controller, output, clausesFor(output), used)
      choices.set(name, choice)
      const { option } = choice
      if (option && !sharesTimer(option.timer.kind)) used.add(timerKey(option))
    }
  }
  return choices
}

export const timerKey = (o: TimerOption) => `${o.timer.kind} ${o.timer.number}`

/** Programmable I/O has several engines under one number. */
export const sharesTimer = (kind: string) => kind === 'pio'

function choose(
  design: ControllerDesign,
  output: Output,
  clauses: Clauses,
  used: ReadonlySet<string>,
): Choice {
  // Reservations are judged apart: an output's own pin may well be listed as in use.
  const controller = { ...design, reservedPins: [], reservedTimers: [] }
  const found = searchTimers({
    controller,
    track: output,
    clauses,
    keepTo: { pin: true, method: true, timer: true },
  })
  const open = [
    output.method === undefined ? 'method' : '',
    output.timer === undefined ? 'timer' : '',
    output.prescaler === undefined ? 'prescaler' : '',
  ].filter((x) => x !== '')
  const reserved = new Set(design.reservedTimers ?? [])
  const free = (o: TimerOption) => !reserved.has(o.timer.number) && !used.has(timerKey(o))
  const option =
    found.options.find(free) ??
    found.options[0] ??
    found.refused.find((o) => output.timer === undefined || o.timer.number === output.timer)
  return { ...(option ? { option } : {}), ...(open.length > 0 ? { leftOpen: listed(open) } : {}) }
}

const listed = (words: readonly string[]) =>
  words.length < 3 ? words.join(' and ') : `${words.slice(0, -1).join(', ')} and ${words.at(-1)}`
