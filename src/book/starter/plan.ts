/** What the starter firmware of a design will be: everything is decided, or refused, before a line is written. */
import {
  type Choice,
  chosenOptions,
  hasHeader,
  isSimulated,
  type SimulatedChip,
  type TimerOption,
  timerEvidence,
} from '../../controller/index.js'
import { type LoadedDesign, profileOfDesign } from '../../design/index.js'
import type { Finding } from '../../finding/index.js'
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
    if (output.cutout) refuse([...path, name, 'cutout'], noCutout(loaded))
    const { option } = usable(choices.get(name)!, output, [...path, name], chip !== undefined, refuse)
    const limits = senderLimits(profileOfDesign(loaded).clauses.preamble, output.mode)
    return { role, name, output, option, preamble: output.preamble ?? limits.min ?? 16 }
  }
  const outputs = { track: plan('track', track), service: service && plan('service', service) }
  refuseBroken(loaded, refuse)
  return outputs
}

/** Why this firmware makes no cut-out. */
function noCutout(loaded: LoadedDesign): string {
  const { min = 0, max = 0 } = senderLimits(
    profileOfDesign(loaded, true).clauses['cutout-start'],
    'operations',
  )
  return `the output has a cut-out, which joins both rails at a moment that may vary by ${formatTimeUs(max - min, 3)} only; this firmware writes the inputs of a driver from interrupts, which wait for each other, and the design names no pin of a timer for it; expected cutout: false, or firmware of your own`
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
