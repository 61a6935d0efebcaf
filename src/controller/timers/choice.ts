/** The design's own choice of timer for one output, resolved to one option. */
import type { SignalDesign } from '../../signal/index.js'
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

/**
 * Resolve what the design says of an output (pin, method, timer, prescaler) to the one option it means. What the design
 * leaves open is filled with the best option that keeps to the rest.
 */
export function chosenOption(
  parts: { controller: ControllerDesign; signal: SignalDesign },
  track: string,
  clauses: Readonly<Record<ClauseId, Clause>>,
): Choice {
  const output = parts.signal.outputs[track]
  if (output === undefined) throw new RangeError(`no output ${track} in the design`)
  // Reservations are judged apart: an output's own pin may well be listed as in use.
  const controller = { ...parts.controller, reservedPins: [], reservedTimers: [] }
  const found = searchTimers({
    controller,
    track: output,
    clauses,
    keepTo: { pin: true, method: true, timer: true },
  })
  const open = [
    output.timer === undefined ? 'timer' : '',
    output.prescaler === undefined ? 'prescaler' : '',
  ].filter((x) => x !== '')
  const taken = new Set(parts.controller.reservedTimers ?? [])
  const option =
    found.options.find((o) => !taken.has(o.timer.number)) ??
    found.options[0] ??
    found.refused.find((o) => output.timer === undefined || o.timer.number === output.timer)
  return { ...(option ? { option } : {}), ...(open.length > 0 ? { leftOpen: open.join(' and ') } : {}) }
}
