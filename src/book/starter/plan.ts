/** What the starter firmware of a design will be: everything is decided, or refused, before a line is written. */
import {
  type Choice,
  type CutoutTimes,
  chosenOptions,
  hasHeader,
  isSimulated,
  makesCutout,
  type SimulatedChip,
  type TimerOption,
  timerEvidence,
} from '../../controller/index.js'
import { type LoadedDesign, preambleOf, profileOfDesign } from '../../design/index.js'
import type { Finding } from '../../finding/index.js'
import { allStages, pinsServing } from '../../power/index.js'
import type { Output } from '../../signal/index.js'
import { senderLimits } from '../../standard/index.js'
import { formatTimeUs, InputError } from '../../units/index.js'
import { STARTER_FINDINGS as SAYS } from './findings.data.js'
import { type PolicyPlan, policyPlan } from './policy.js'
import { planPower, type Sensing, type SwitchPlan } from './sensing.js'
import { type SerialPlan, serialPlan } from './serial.js'

export type { SensePlan, Sensing, SwitchPlan } from './sensing.js'

export interface OutputPlan {
  role: 'track' | 'service'
  name: string
  output: Output
  /** Absent where the chip is calculated only and no timer fits. */
  option: TimerOption
  preamble: number
  /** Where the design asks for a cut-out after each packet. */
  cutout?: CutoutPlan
}

export interface CutoutPlan extends CutoutTimes {
  /** Ones of the preamble that it hides. */
  ones: number
}

export interface StarterPlan {
  loaded: LoadedDesign
  /** Its registers are known here and its firmware can be run; otherwise only the parts without registers are written. */
  chip: SimulatedChip | undefined
  track: OutputPlan
  service: OutputPlan | undefined
  switches: SwitchPlan[]
  sensing: Sensing | undefined
  policy: PolicyPlan
  serial: SerialPlan
  /** What the builder has to know: what protects nothing, what is not written. */
  findings: Finding[]
}

/** @throws InputError where no sound firmware can be made, with the place in the design. */
export function starterPlan(loaded: LoadedDesign, file: string): StarterPlan {
  const { design } = loaded
  const refuse = refuser(loaded, file)
  const { chip: id } = design.controller
  const chip = isSimulated(id) ? id : undefined
  const findings: Finding[] = []
  if (!chip) findings.push(SAYS.find('portable-only', { chip: id }))
  const outputs = outputsOf(loaded, chip, refuse)
  const serial = serialPlan(design, chip, refuse)
  const power = planPower(loaded, chip, outputs, serial, refuse)
  const policy = policyPlan(loaded, outputs.track.preamble, refuse)
  findings.push(...power.findings, ...policy.findings)
  if (outputs.track.cutout && design.power)
    findings.push(SAYS.find('cutout-level', { drivers: driversOf(loaded, outputs.track.name) }))
  return {
    loaded,
    chip,
    ...outputs,
    switches: power.switches,
    sensing: power.sensing,
    policy,
    serial,
    findings,
  }
}

/** Refuses with one message: where, what was found, what was expected. */
export type Refuse = (path: (string | number)[], message: string) => never

function refuser(loaded: LoadedDesign, file: string): Refuse {
  return (path, message) => {
    throw new InputError(`no starter firmware: ${message}`, { file, ...loaded.placeOf(path) })
  }
}

export interface Outputs {
  track: OutputPlan
  service: OutputPlan | undefined
}

function outputsOf(loaded: LoadedDesign, chip: SimulatedChip | undefined, refuse: Refuse): Outputs {
  const { design } = loaded
  const { controller, signal } = design
  const parts = { controller, signal }
  const choices = chosenOptions(parts, (o) => profileOfDesign(loaded, o.cutout).clauses)
  const named = Object.entries(signal.outputs)
  const of = (mode: Output['mode']) => named.filter(([, o]) => o.mode === mode)
  const [track, second] = of('operations')
  const [service, third] = of('service')
  const path = ['signal', 'outputs']
  if (!track) refuse(path, 'the design has no output in operations mode; expected one')
  if (second)
    refuse(
      [...path, second[0]],
      `a second output in operations mode; expected one, which may feed any number of drivers from its pin`,
    )
  if (third) refuse([...path, third[0]], 'a second output in service mode; expected one at most')
  const plan = (role: OutputPlan['role'], [name, output]: [string, Output]): OutputPlan => {
    const { option } = usable(choices.get(name)!, output, [...path, name], chip !== undefined, refuse)
    const preamble = preambleOf(loaded, output)
    if (!output.cutout || role === 'service') return { role, name, output, option, preamble }
    return {
      ...{ role, name, output, option, preamble },
      cutout: cutoutPlan(loaded, { name, output, option }, chip, refuse),
    }
  }
  const outputs = { track: plan('track', track), service: service && plan('service', service) }
  refuseBroken(loaded, refuse)
  return outputs
}

/** Where the end of the last hidden one is less than this share of the window inside it, the middle is taken. */
const INSIDE = 0.2

/** When the cut-out starts and ends, so that the timer makes its edges; or why it cannot. */
function cutoutPlan(
  loaded: LoadedDesign,
  { name, output, option }: Pick<OutputPlan, 'name' | 'output' | 'option'>,
  chip: SimulatedChip | undefined,
  refuse: Refuse,
): CutoutPlan {
  const path = ['signal', 'outputs', name]
  const { clauses } = profileOfDesign(loaded, true)
  const limits = (id: 'cutout-start' | 'cutout-end') => {
    const { min = 0, max = 0 } = senderLimits(clauses[id], 'operations')
    return { min, max, width: max - min, middle: (min + max) / 2 }
  }
  const [start, end] = [limits('cutout-start'), limits('cutout-end')]
  if (!chip)
    refuse(
      [...path, 'cutout'],
      'a cut-out on a controller that is calculated only, so that no run could show it; expected cutout: false, or firmware of your own',
    )
  if (output.inverted === undefined)
    refuse(
      [...path, 'cutout'],
      `a cut-out, and the output has one pin; it joins both rails for a time that may vary by ${formatTimeUs(start.width, 3)} only, so one timer has to make the edges of both inputs of the driver: expected "inverted", on another pin of the same timer`,
    )
  if (!makesCutout(option))
    refuse(
      [...path, 'cutout'],
      `a cut-out by ${option.timer.name}, ${option.mode}; expected a 16-bit timer with method: buffered, which makes its edges by itself`,
    )
  refuseOneInput(loaded, name, refuse)
  const bitUs = 2 * option.one.us
  const ones = Math.round(end.middle / bitUs)
  const whole = ones * bitUs
  const inside = Math.min(whole - end.min, end.max - whole) >= INSIDE * end.width
  return inside
    ? { startUs: start.middle, endUs: whole, ones }
    : { startUs: start.middle, endUs: end.middle, ones: Math.ceil(end.middle / bitUs) }
}

function driversOf({ design: { power, signal } }: LoadedDesign, output: string): string[] {
  const stages = power ? allStages(power, signal) : []
  return [...new Set(stages.filter((s) => s.output === output).map((s) => s.driverName))]
}

/** A driver that takes one input of the pair does not see the cut-out. */
function refuseOneInput(loaded: LoadedDesign, output: string, refuse: Refuse): void {
  const { power, signal } = loaded.design
  if (!power) return
  for (const s of allStages(power, signal)) {
    if (s.output !== output) continue
    const roles = pinsServing(s)
    for (const role of ['direction', 'inverted'] as const)
      if (!roles.some((p) => p.role === role && p.tied === undefined))
        refuse(
          ['power', 'drivers', s.driverName],
          `a cut-out, and this driver has no input with the role "${role}" wired; the cut-out makes both inputs of a bridge high, expected a driver that takes both`,
        )
  }
}

function usable(
  choice: Choice,
  output: Output,
  path: (string | number)[],
  simulated: boolean,
  refuse: Refuse,
): { option: TimerOption } {
  const { option } = choice
  if (!option)
    refuse(path, `no timer of the controller drives ${output.pin} that way; expected a pin of a timer`)
  if (option.refused !== undefined) refuse(path, `${option.timer.name}, ${option.mode}: ${option.refused}`)
  if (!simulated) return { option }
  if (option.behaviour === 'pin')
    refuse(
      path,
      `the interrupt would write ${output.pin} itself, and other interrupts would make its edges late by more than they may be; expected a pin of a timer`,
    )
  if (!hasHeader(option))
    refuse(
      path,
      `${option.timer.name}, ${option.mode}: no code is written for it; expected an 8- or 16-bit timer`,
    )
  return { option }
}

/** What the calculation finds broken already need not be built. */
function refuseBroken(loaded: LoadedDesign, refuse: Refuse): void {
  const { controller, signal } = loaded.design
  for (const e of timerEvidence({ controller, signal }, (cutout) => profileOfDesign(loaded, cutout))) {
    if (e.verdict !== 'broken') continue
    const known = e.about !== undefined && e.about in signal.outputs
    refuse(known ? ['signal', 'outputs', e.about!] : ['controller'], `${e.clause} is broken: ${e.because}`)
  }
}
