/**
 * A dead controller: in reset, while it boots, is flashed or hangs, its pins float or keep a level. A driver that is on
 * then puts direct current on the rails, and a decoder that may run on it (CV 29, bit 2) can run away. And whether
 * the levels of a live controller reach the thresholds of the driver's inputs.
 */
import { CHIPS, type ChipId, type LogicLevels, logicLevels, pinStateInReset } from '../controller/index.js'
import type { SignalDesign } from '../signal/index.js'
import type { BoardPin, PowerDesign } from './design/index.js'
import { type DriverModel, resolveDriver } from './driver.js'
import { outputsOf } from './pins.js'

/** `open`: nothing that is known holds it. */
type Level = 'high' | 'low' | 'open'

export interface PinInReset {
  driver: string
  pin: string
  role: BoardPin['role']
  level: Level
  /** What holds it, or why nothing is known to. */
  because: string
}

export interface DeadDriver {
  driver: string
  /** `off`: nothing on the rails; `dc`: a steady voltage for certain; `short`: its supply is shorted; `open`: any of them may be. */
  rails: 'off' | 'dc' | 'open' | 'short'
  because: string
  pins: PinInReset[]
}

export interface DeadOutput {
  output: string
  drivers: DeadDriver[]
}

function chipOf(chip: string | undefined): ChipId | undefined {
  return chip !== undefined && Object.hasOwn(CHIPS, chip) ? (chip as ChipId) : undefined
}

/** The levels of the controller's pins, at the voltage of its supply. */
export function controllerLevels(
  power: PowerDesign,
  chip: string | undefined,
  loadAmp = 0,
): LogicLevels | undefined {
  const id = chipOf(chip)
  if (!id) return undefined
  const own = power.controller?.voltage
  // A board may be fed with 5 V and run its chip at 3.3 V: outside of what the chip allows its usual voltage counts.
  return (
    (own === undefined ? undefined : logicLevels(id, { supplyVolt: own, loadAmp })) ??
    logicLevels(id, { loadAmp })
  )
}

/**
 * What each output's drivers do while the controller is dead. An output of which no driver has its inputs in the design
 * is left out; beside others, a driver without them may do anything.
 */
export function deadOutputs(
  power: PowerDesign,
  signal: SignalDesign | undefined,
  chip: string | undefined,
): DeadOutput[] {
  const outputs = new Map<string, DeadDriver[]>()
  for (const [name, driver] of Object.entries(power.drivers)) {
    const model = resolveDriver(driver)
    for (const output of outputsOf(power, name, signal)) {
      const own = (driver.pins ?? []).filter((p) => p.output === undefined || p.output === output)
      const dead = deadDriver(name, own, model, chipOf(chip))
      outputs.set(output, [...(outputs.get(output) ?? []), dead])
    }
  }
  return [...outputs]
    .map(([output, drivers]) => ({ output, drivers }))
    .filter(({ drivers }) => drivers.some((d) => d.pins.some((p) => tellsPolarity(p))))
}

function tellsPolarity({ role }: { role: BoardPin['role'] }): boolean {
  return role === 'direction' || role === 'inverted'
}

function deadDriver(
  driver: string,
  pins: readonly BoardPin[],
  model: DriverModel,
  chip: ChipId | undefined,
): DeadDriver {
  const held = pins
    .filter((p) => ['direction', 'inverted', 'enable'].includes(p.role))
    .map((p): PinInReset => ({ driver, pin: p.name, role: p.role, ...heldIn(p, pins, model, chip) }))
  const enables = pins.filter((p) => p.role === 'enable')
  const levelOf = (p: BoardPin) => held.find((h) => h.pin === p.name && h.role === p.role)!
  for (const p of enables) {
    const { level, because } = levelOf(p)
    if (level !== 'open' && level !== p.active)
      return {
        driver,
        rails: 'off',
        because: `${p.name} is ${level}, which switches it off: ${because}`,
        pins: held,
      }
  }
  const floating = enables.map(levelOf).find((h) => h.level === 'open')
  const directions = held.filter(tellsPolarity)
  const [first] = directions
  if (!first) return { driver, rails: 'open', because: 'the design does not name its inputs', pins: held }
  const levels = new Set(directions.map((h) => h.level))
  if (directions.length > 1 && model.bothHigh === 'short' && first.level === 'high' && levels.size === 1)
    return {
      driver,
      rails: 'short',
      because: `its inputs are all high: ${first.because}`,
      pins: held,
    }
  if (directions.length > 1 && levels.size === 1 && !levels.has('open'))
    return {
      driver,
      rails: 'off',
      because: `its inputs are all ${first.level}, so both rails have the same level: ${first.because}`,
      pins: held,
    }
  if (floating)
    return {
      driver,
      rails: 'open',
      because: `nothing is known to hold ${floating.pin}: ${floating.because}`,
      pins: held,
    }
  const open = directions.find((h) => h.level === 'open')
  // One input alone tells the polarity: whichever level it has, it is a polarity.
  if (directions.length > 1 && open)
    return {
      driver,
      rails: 'open',
      because: `nothing is known to hold ${open.pin}: ${open.because}`,
      pins: held,
    }
  const on =
    enables.length > 0
      ? 'its enable input switches it on'
      : 'the design names no enable input that switches it off'
  return {
    driver,
    rails: 'dc',
    because: `${on}, and ${first.pin} is ${first.level}: ${first.because}`,
    pins: held,
  }
}

/**
 * An input that the part itself does not have, such as an enable, or a single input that tells the polarity: something on the
 * board stands before its inputs, and no pull inside reaches it.
 */
function gateBefore(pins: readonly BoardPin[], model: DriverModel): string | undefined {
  const ways = model.part?.driven
  if (!ways) return undefined
  const way = ways[pins.some((p) => p.role === 'inverted') ? 'pair' : 'one']
  const enable = pins.find((p) => p.role === 'enable')
  if (!way) return (enable ?? pins.find(tellsPolarity))?.name
  return way.pins.enable === undefined ? enable?.name : undefined
}

/** Level at which the driver itself holds an input that nothing drives; undefined where it does not, or is not met by it. */
export function pullInside(pins: readonly BoardPin[], model: DriverModel): 'low' | 'high' | undefined {
  if (gateBefore(pins, model) !== undefined) return undefined
  return model.inputPull === 'high' || model.inputPull === 'low' ? model.inputPull : undefined
}

/** The level of one of a driver's pins while the controller does not drive it. */
function heldIn(
  pin: BoardPin,
  pins: readonly BoardPin[],
  model: DriverModel,
  chip: ChipId | undefined,
): { level: Level; because: string } {
  if (pin.tied) return { level: pin.tied, because: `tied ${pin.tied}` }
  const meets = pin.wired ?? pin.fixed
  const state = meets !== undefined && chip ? pinStateInReset(chip, meets) : undefined
  if (state?.state === 'driven')
    return { level: 'open', because: `${meets} is driven while the controller boots (${state.source})` }
  const inside = pullInside(pins, model)
  // An isolator passes no pull of the controller on: nothing but its own side holds the input.
  const pulls = model.isolator ? undefined : state?.state
  const byChip = pulls === 'pull-up' ? 'high' : pulls === 'pull-down' ? 'low' : undefined
  if (pin.pull === 'high' || pin.pull === 'low') {
    const against =
      byChip && byChip !== pin.pull ? meets : inside && inside !== pin.pull ? model.name : undefined
    // The resistors divide the voltage between them, and no design gives both.
    if (against !== undefined)
      return {
        level: 'open',
        because: `a pull resistor on the board pulls it ${pin.pull}, ${against} itself the other way`,
      }
    return { level: pin.pull, because: `a pull resistor on the board holds it ${pin.pull}` }
  }
  if (byChip && inside && byChip !== inside)
    return { level: 'open', because: `${meets} pulls it ${byChip}, ${model.name} itself ${inside}` }
  if (byChip) return { level: byChip, because: `${meets} pulls it ${byChip} in reset (${state!.source})` }
  if (meets !== undefined && !state)
    return {
      level: 'open',
      because: `what ${meets} does in reset is not known${pin.pull ? '' : ', and no pull resistor is given'}`,
    }
  if (inside)
    return { level: inside, because: `a pull resistor inside ${model.name} holds it ${inside} (from memory)` }
  const gate = gateBefore(pins, model)
  const floats = meets === undefined ? 'it is not connected' : `${meets} floats in reset`
  const no =
    gate === undefined
      ? `${model.name} has no pull resistor that is known`
      : `${gate} is no terminal of ${model.name} itself, so that no pull resistor inside it counts`
  return { level: 'open', because: `${floats}, and ${no}` }
}

export interface LogicLevelCheck {
  output: string
  driver: string
  pin: string
  /** What is surely to spare beyond both thresholds, and below what the input withstands, V; the least of them. */
  spareVolt: number
  /** The same with the controller's supply at its favourable end, V. */
  mostSpareVolt: number
  supplyVolt: number
  because: string
}

/** A regulator's output may be off by so much either way, as a share; common practice, no source. */
const LOGIC_SUPPLY_SPREAD = 0.05

/**
 * The controller's levels against the thresholds of the drivers' inputs; what is not known of them is `missing`, and the
 * outputs that it concerns are `open`, each with the reason.
 */
export function logicLevelChecks(
  power: PowerDesign,
  signal: SignalDesign | undefined,
  chip: string | undefined,
): { checks: LogicLevelCheck[]; missing: string[]; open: { output: string; because: string }[] } {
  const checks: LogicLevelCheck[] = []
  const open: { output: string; because: string }[] = []
  const missing: string[] = []
  for (const [name, driver] of Object.entries(power.drivers)) {
    const model = resolveDriver(driver)
    const inputs = (driver.pins ?? []).filter(
      (p) =>
        !p.tied &&
        (p.wired ?? p.fixed) !== undefined &&
        ['direction', 'inverted', 'enable', 'brake'].includes(p.role),
    )
    const leavesOpen = (because: string) => {
      for (const output of outputsOf(power, name, signal)) open.push({ output, because })
    }
    if (inputs.length === 0) {
      if (!driver.pins?.some(tellsPolarity))
        leavesOpen(`the design does not name the inputs of driver ${name}`)
      continue
    }
    if (model.isolator) {
      leavesOpen(`the inputs of driver ${name} are behind an isolator, whose levels the design does not give`)
      continue
    }
    const gate = gateBefore(driver.pins ?? [], model)
    // What stands before the inputs has thresholds of its own: only those that the design gives can be meant for it.
    const known = (figure: 'inputHighVolt' | 'inputLowVolt' | 'inputMaxVolt') =>
      gate === undefined || model.status[figure] === 'given' ? model[figure] : undefined
    const [high, low, most] = [known('inputHighVolt'), known('inputLowVolt'), known('inputMaxVolt')]
    if (gate !== undefined && (high === undefined || low === undefined)) {
      leavesOpen(
        `the thresholds of ${gate}, which is no terminal of ${model.name} itself, are not given for driver ${name}`,
      )
      missing.push(`driver "${name}": the thresholds of ${gate}, so its logic levels are not shown`)
      continue
    }
    if (high === undefined || low === undefined) {
      leavesOpen(`the thresholds of the inputs of driver ${name} are not known`)
      missing.push(`driver "${name}": the thresholds of its inputs, so its logic levels are not shown`)
      continue
    }
    if (most === undefined)
      leavesOpen(`the highest level that the inputs of driver ${name} withstand is not known`)
    for (const pin of inputs) {
      const load = pin.current ?? model.inputAmp ?? 0
      const levels = controllerLevels(power, chip, load)
      const given = levels?.output
      if (!levels || !given) continue
      const spread = levels.supplyVolt * LOGIC_SUPPLY_SPREAD
      const least = given.highMinVolt - spread
      /** To spare in the unfavourable case and in the favourable one, and of what. */
      const rows: [number, number, string][] = [
        [
          least - high,
          given.highMinVolt + spread - high,
          `high from ${volt(high)}, the controller gives at least ${volt(least)}`,
        ],
        [
          low - given.lowMaxVolt,
          low - given.lowMaxVolt,
          `low up to ${volt(low)}, the controller gives at most ${volt(given.lowMaxVolt)}`,
        ],
        ...(most === undefined
          ? []
          : ([
              [
                most - levels.supplyVolt - spread,
                most - levels.supplyVolt + spread,
                `withstands ${volt(most)}, the controller gives up to ${volt(levels.supplyVolt + spread)}`,
              ],
            ] as [number, number, string][])),
      ]
      const [spareVolt, , because] = rows.reduce((a, b) => (b[0] < a[0] ? b : a))
      const mostSpareVolt = Math.min(...rows.map((row) => row[1]))
      for (const output of pin.output === undefined ? outputsOf(power, name, signal) : [pin.output])
        checks.push({
          output,
          driver: name,
          pin: pin.name,
          spareVolt,
          mostSpareVolt,
          supplyVolt: levels.supplyVolt,
          because: `${gate === undefined ? model.name : `what stands before ${model.name}`}, ${pin.name}: ${because}`,
        })
    }
  }
  return { checks, missing, open }
}

function volt(value: number): string {
  return `${Math.round(value * 100) / 100} V`
}
