/** Pin plan: which driver-board pin meets which controller pin, what collides, and which wires or jumpers to fit. */
import {
  CHIPS,
  type ChipId,
  type ClockKind,
  PIN_RATINGS,
  pinConcerns,
  pinName,
  verdictOfConcern,
} from '../controller/index.js'
import type { Finding } from '../finding/index.js'
import type { SignalDesign } from '../signal/index.js'
import type { BoardPin, PowerDesign } from './design/index.js'
import { resolveDriver } from './driver.js'
import { PIN_PLAN_FINDINGS } from './pin-findings.data.js'
import { districtsOfDriver } from './stage.js'

const SAYS = PIN_PLAN_FINDINGS

export interface PinRow {
  driver: string
  board: string
  role: BoardPin['role']
  output?: string
  /** Controller pin the firmware uses for it, where the design tells. */
  wanted?: string
  /** Controller pin it ends on, with the jumper the design names. */
  meets?: string
  tied?: 'high' | 'low'
  /** What to fit or to bend out; empty when nothing is needed. */
  fit: string
  /** What is wrong; empty when nothing is. */
  conflict: string
  /** The same with its code. */
  problem?: Finding
  /** A second duty of the controller pin that the design does not settle. */
  doubt?: Finding
  /** Current through the controller pin, A; absent when not known. */
  amp?: number
}

export interface PinPlan {
  rows: PinRow[]
  conflicts: string[]
  /** What keeps the plan from being decided. */
  doubts: string[]
}

/** What the design says of the controller's pins. */
export interface PinUsers {
  chip: string
  clock?: ClockKind
  /** Port pins that the signal must not take; the firmware's own enable and sense pins are among them. */
  reservedPins?: readonly string[]
  /** Pins whose second duty has been checked against the circuit. */
  checkedPins?: readonly string[]
}

/** Outputs of the station that a driver carries, by its districts. */
export function outputsOf(power: PowerDesign, driver: string, signal: SignalDesign | undefined): string[] {
  const all = Object.keys(signal?.outputs ?? {})
  const own = districtsOfDriver(power, driver)
    .map((d) => d.output ?? all[0])
    .filter((o): o is string => o !== undefined)
  return [...new Set(own)]
}

/**
 * Which way round a driver follows an output, by what its inputs are wired to: `unknown` where they are wired to something else or
 * not all the same way round; `undefined` where the design does not tell.
 */
export function senseOfInputs(
  pins: readonly BoardPin[] | undefined,
  output: string | undefined,
  signal: SignalDesign | undefined,
): 'straight' | 'inverted' | 'unknown' | undefined {
  const track = output === undefined ? undefined : signal?.outputs[output]
  if (!track) return undefined
  const senses = new Set<'straight' | 'inverted' | 'unknown'>()
  for (const pin of pins ?? []) {
    if (pin.output !== undefined && pin.output !== output) continue
    const meets = pin.wired ?? pin.fixed
    if (!(pin.role === 'direction' || pin.role === 'inverted') || pin.tied || meets === undefined) continue
    const straight = pin.role === 'direction' ? track.pin : track.inverted
    const inverted = pin.role === 'direction' ? track.inverted : track.pin
    const same = (other: string | undefined) => other !== undefined && pinName(other) === pinName(meets)
    senses.add(same(straight) ? 'straight' : same(inverted) ? 'inverted' : 'unknown')
  }
  return senses.size > 1 ? 'unknown' : [...senses][0]
}

/** The plan of all driver boards, and what collides in it. */
export function pinPlan(
  power: PowerDesign,
  signal: SignalDesign | undefined,
  controller?: PinUsers,
): PinPlan {
  const chip = controller?.chip
  const rows: PinRow[] = []
  for (const [name, driver] of Object.entries(power.drivers)) {
    const input = resolveDriver(driver).inputAmp
    for (const pin of driver.pins ?? []) rows.push(rowOf(name, pin, power, signal, input))
  }
  const users = new Map<string, string[]>()
  const use = (pin: string, who: string) => users.set(pinName(pin), [...(users.get(pinName(pin)) ?? []), who])
  for (const row of rows) {
    if (row.conflict === '' && row.meets) use(row.meets, `${row.driver} ${row.board}`)
  }
  const analog = chip && Object.hasOwn(PIN_RATINGS, chip) ? PIN_RATINGS[chip as ChipId].analog : undefined
  const taken = new Set((controller?.reservedPins ?? []).map(pinName))
  for (const row of rows) {
    const pin = row.meets === undefined ? undefined : pinName(row.meets)
    if (row.conflict !== '' || pin === undefined) continue
    const others = users.get(pin)!.filter((w) => w !== `${row.driver} ${row.board}`)
    // One logic output may serve several drivers: all of them repeat the same signal.
    const shared = rows.filter((r) => r.meets !== undefined && pinName(r.meets) === pin)
    const sameSignal = shared.every((r) => r.role === row.role && r.output === row.output && isInput(r.role))
    if (others.length && !sameSignal) refuse(row, SAYS.find('shared', { pin: row.meets!, users: others }))
    else if (taken.has(pin) && (row.role === 'direction' || row.role === 'inverted'))
      refuse(row, SAYS.find('reserved', { pin: row.meets! }))
    else if (row.role === 'sense' && analog && !analog.test(pin))
      refuse(row, SAYS.find('no-analog-input', { pin: row.meets! }))
    else if (!(row.role === 'direction' || row.role === 'inverted')) {
      const output = outputPins(signal).get(pin)
      if (output) refuse(row, SAYS.find('carries-signal', { pin: row.meets!, output }))
    }
  }
  if (controller) for (const row of rows) judgeDuty(row, controller)
  // An output whose pin reaches no driver makes no track signal.
  const conflicts = rows.filter((r) => r.conflict !== '').map((r) => `${r.driver}, ${r.board}: ${r.conflict}`)
  const doubts = rows.flatMap((r) => (r.doubt ? [`${r.driver}, ${r.board}: ${r.doubt.sentence}`] : []))
  return { rows, conflicts, doubts }
}

function refuse(row: PinRow, problem: Finding): void {
  row.problem = problem
  row.conflict = problem.sentence
}

/** The second duty of the controller pin that a row ends on; pins of outputs are judged with the signal. */
function judgeDuty(row: PinRow, { chip, clock, checkedPins }: PinUsers): void {
  if (row.conflict !== '' || row.meets === undefined || !Object.hasOwn(CHIPS, chip)) return
  if (row.role === 'direction' || row.role === 'inverted' || row.role === 'other') return
  const [worst] = pinConcerns(chip as ChipId, row.meets, {
    as: isInput(row.role) ? 'output' : 'input',
    ...(clock === undefined ? {} : { clock: clock.source }),
    checked: checkedPins ?? [],
  }).filter((c) => verdictOfConcern(c) !== 'met')
  if (!worst) return
  if (verdictOfConcern(worst) === 'broken') refuse(row, worst.finding)
  else row.doubt = worst.finding
}

function isInput(role: BoardPin['role']): boolean {
  return role === 'direction' || role === 'inverted' || role === 'enable' || role === 'brake'
}

/** Controller pin → the output of the station whose signal it carries. */
function outputPins(signal: SignalDesign | undefined): Map<string, string> {
  const map = new Map<string, string>()
  for (const [name, track] of Object.entries(signal?.outputs ?? {})) {
    map.set(pinName(track.pin), name)
    if (track.inverted) map.set(pinName(track.inverted), name)
  }
  return map
}

function rowOf(
  driver: string,
  pin: BoardPin,
  power: PowerDesign,
  signal: SignalDesign | undefined,
  inputAmp: number | undefined,
): PinRow {
  const outputs = outputsOf(power, driver, signal)
  const output = pin.output ?? (outputs.length === 1 ? outputs[0] : undefined)
  const track = output === undefined ? undefined : signal?.outputs[output]
  const wanted = pin.role === 'direction' ? track?.pin : pin.role === 'inverted' ? track?.inverted : undefined
  const row: PinRow = { driver, board: pin.name, role: pin.role, fit: '', conflict: '' }
  if (output !== undefined) row.output = output
  if (wanted !== undefined) row.wanted = wanted
  const amp = pin.current ?? (isInput(pin.role) && !pin.tied ? inputAmp : undefined)
  if (amp !== undefined) row.amp = amp
  const same = (a: string | undefined, b: string | undefined) =>
    a !== undefined && b !== undefined && pinName(a) === pinName(b)
  if (pin.tied) {
    row.tied = pin.tied
    const level = pin.tied === 'high' ? 'the logic supply' : 'ground'
    row.fit = `tie ${pin.name} to ${level}${pin.fixed ? ` and bend its contact out of ${pin.fixed}` : ''}`
    if (pin.role === 'direction') refuse(row, SAYS.find('tied-direction', {}))
    else if (pin.wired) refuse(row, SAYS.find('tied-and-wired', { tied: pin.tied, wired: pin.wired }))
    return row
  }
  const meets = pin.wired ?? pin.fixed
  if (meets !== undefined) row.meets = meets
  if (pin.wired && pin.fixed && !same(pin.wired, pin.fixed)) {
    row.fit = `bend the contact of ${pin.name} out of ${pin.fixed}; jumper from ${pin.wired} to ${pin.name}`
  } else if (pin.wired) row.fit = `wire ${pin.wired} to ${pin.name}`
  if (pin.role === 'direction' || pin.role === 'inverted') {
    if (output === undefined && outputs.length > 1) {
      refuse(row, SAYS.find('which-output', { outputs }))
    } else if (output !== undefined && signal && !track) {
      refuse(row, SAYS.find('no-such-output', { output, outputs: Object.keys(signal.outputs) }))
    } else if (pin.role === 'inverted' && track && wanted === undefined) {
      refuse(row, SAYS.find('no-inverted-signal', { output: output! }))
    } else if (wanted && !same(meets, wanted)) {
      refuse(
        row,
        meets
          ? SAYS.find('wrong-pin', { meets, output: output!, wanted })
          : SAYS.find('not-connected', { output: output!, wanted }),
      )
    }
  } else if (meets === undefined && pin.role !== 'other' && pin.role !== 'fault') {
    refuse(row, SAYS.find('floats', {}))
  }
  return row
}
