/** From the design to what is simulated: checks that the parts fit each other, and resolves names to numbers. */

import type { ControllerDesign } from '../controller/index.js'
import { AVR_MODELS } from '../controller/index.js'
import { addresseeOf } from '../packet/index.js'
import type { SignalDesign } from '../signal/index.js'
import { DEFAULT_SIGNAL_LIMITS, type Scale, type StandardDesign, scaleRatio } from '../standard/index.js'
import type { RollingStockDesign, TrackDesign } from '../track/index.js'
import { InputError, nearest } from '../units/index.js'
import type { FleetDesign, Item, LocomotiveDesign, PolicyDesign, TrafficDesign } from './design.js'
import { type DecoderAddress, ITEM_NAMES, itemBytes, itemOfFunction, type PacketTiming } from './packets.js'

export interface TrafficInput {
  fleet: FleetDesign
  traffic: TrafficDesign
  timing: PacketTiming
  /** How many times smaller than the original the trains are. */
  ratio: number
  /** See the signal's `accessoryOffset`. */
  accessoryOffset: number
  /** Sections of the track by name, for stops that refer to one. */
  sections?: Readonly<Record<string, { length: number; count?: number | undefined }>> | undefined
  /** Trains by name, for their lengths. */
  rollingStock?: Readonly<Record<string, { length: number }>> | undefined
  /** Memory of the controller, bytes, when known. */
  ramBytes?: number | undefined
}

/** Something in the design that cannot be; `path` leads to it from the top of the file. */
export interface TrafficFault {
  path: readonly (string | number)[]
  message: string
}

export interface Locomotive extends DecoderAddress {
  /** Name in the fleet, with a number where there are several alike. */
  name: string
  /** Key in the fleet. */
  key: string
  addressee: number
  design: LocomotiveDesign
  trainMm: number | undefined
}

export interface ResolvedTraffic {
  input: TrafficInput
  locomotives: Locomotive[]
  /** Policies by name; the one the firmware has is `policy`. */
  policies: Record<string, PolicyDesign>
  policy: string
  /** Most locomotives that the station holds; undefined when the design does not say. */
  capacity: number | undefined
  /** Lengths of the stops in the order of the design, mm. */
  stops: { name: string; lengthMm: number; trains: number[] }[]
}

const REPEATS = { speed: 2, functions: 1, turnouts: 2 }
const WEIGHTS = { changes: 6, moving: 3, standing: 1, functions: 2 }
export const DEFAULT_TABLE: readonly Item[] = ['speed', ...ITEM_NAMES.slice(1)]

/** A policy with every value at its default. */
export const DEFAULT_POLICY: PolicyDesign = {
  order: 'changes',
  perVisit: 1,
  stopsFirst: false,
  waiting: 'merge',
  queue: 32,
  gap: DEFAULT_SIGNAL_LIMITS.sameAddress.minUs,
}

/** What is compared when the design names no policies. */
export const USUAL_POLICIES: Readonly<Record<string, PolicyDesign>> = {
  'plain cycle': { ...DEFAULT_POLICY, order: 'cycle' },
  'changes first': DEFAULT_POLICY,
  weighted: { ...DEFAULT_POLICY, order: 'weighted' },
}

export function repeatsOf(policy: PolicyDesign): typeof REPEATS {
  return policy.repeats ?? REPEATS
}

export function weightsOf(policy: PolicyDesign): typeof WEIGHTS {
  return policy.weights ?? WEIGHTS
}

/** Entries of a policy's table that a locomotive uses, as item numbers. */
export function tableOf(policy: PolicyDesign, design: LocomotiveDesign): number[] {
  const highest = itemOfFunction(design.functions)
  return (policy.table ?? DEFAULT_TABLE)
    .map((name) => ITEM_NAMES.indexOf(name))
    .filter((item) => item <= highest)
}

/** The parts of a design that the traffic depends on. */
export interface TrafficParts {
  fleet: FleetDesign
  traffic?: TrafficDesign | undefined
  signal: SignalDesign
  standard: Pick<StandardDesign, 'profile'>
  scale: Scale
  track?: TrackDesign | undefined
  rollingStock?: RollingStockDesign | undefined
  /** Decides how much memory there is, where its data sheet is known here. */
  controller?: Pick<ControllerDesign, 'chip'> | undefined
}

/** A traffic section with every value at its default. */
export const DEFAULT_TRAFFIC: TrafficDesign = {
  memoryEach: 16,
  turnouts: 0,
  lost: 0.05,
  limit: 250e3,
  sure: 0.99,
  seed: 1,
}

/** Ones before a packet where the design gives none: two more than S-9.2:2004 asks for, or what a cut-out needs. */
const PREAMBLE = { plain: 16, cutout: 17 }

/** Gathers what the traffic depends on. Call {@link checkTraffic} first: an output that is not there throws. */
export function trafficInputOf(parts: TrafficParts): TrafficInput {
  const { fleet, signal, standard, scale, track, rollingStock, controller } = parts
  const traffic = parts.traffic ?? DEFAULT_TRAFFIC
  const name = outputOf(signal, traffic.output)
  const output = name === undefined ? undefined : signal.outputs[name]
  if (!output) throw new InputError(noOutput(signal, traffic.output))
  return {
    fleet,
    traffic: { ...traffic, output: name },
    timing: {
      oneHalfUs: output.oneHalf,
      zeroHalfUs: output.zeroHalf,
      preamble: output.preamble ?? (output.cutout ? PREAMBLE.cutout : PREAMBLE.plain),
      cutoutUs: output.cutout ? DEFAULT_SIGNAL_LIMITS.cutout.endMaxUs : 0,
    },
    ratio: scaleRatio(scale, standard.profile),
    accessoryOffset: signal.accessoryOffset,
    sections: track?.sections,
    rollingStock,
    ramBytes: ramOf(controller?.chip),
  }
}

/** What does not fit in the fleet and the traffic of a design; none means {@link resolveTraffic} takes it. */
export function checkTraffic(parts: TrafficParts): TrafficFault[] {
  const wanted = parts.traffic?.output
  if (outputOf(parts.signal, wanted) === undefined)
    return [
      {
        path: wanted === undefined ? ['fleet'] : ['traffic', 'output'],
        message: noOutput(parts.signal, wanted),
      },
    ]
  return trafficFaults(trafficInputOf(parts))
}

function ramOf(chip: string | undefined): number | undefined {
  const models: Readonly<Record<string, { ramBytes: number }>> = AVR_MODELS
  return chip !== undefined && Object.hasOwn(models, chip) ? models[chip]!.ramBytes : undefined
}

/** The output that trains run on; undefined when there is none of that name in operations mode. */
function outputOf(signal: SignalDesign, wanted: string | undefined): string | undefined {
  const running = Object.keys(signal.outputs).filter((k) => signal.outputs[k]!.mode === 'operations')
  return wanted === undefined ? running[0] : running.find((k) => k === wanted)
}

function noOutput(signal: SignalDesign, wanted: string | undefined): string {
  const names = Object.keys(signal.outputs).filter((k) => signal.outputs[k]!.mode === 'operations')
  if (names.length === 0) return 'no output is in operations mode: locomotives have nothing to run on'
  const close = nearest(wanted ?? '', names)
  return `no output "${wanted}" in operations mode${close ? `; the nearest is "${close}"` : ''}; expected one of ${names.join(', ')}`
}

/** Addresses there are: 127 short, 10,239 long and long 0. */
const ADDRESSES = 127 + 10240

/**
 * Everything in the fleet and the traffic that does not fit together, in the order of the file.
 * Values themselves are checked against the shapes before.
 */
export function trafficFaults(input: TrafficInput): TrafficFault[] {
  const faults: TrafficFault[] = []
  const fault = (path: (string | number)[], message: string) => void faults.push({ path, message })
  const { fleet, traffic } = input
  const count = Object.values(fleet).reduce((sum, d) => sum + d.count, 0)
  if (count > ADDRESSES) {
    fault(['fleet'], `${count} locomotives; there are ${ADDRESSES} addresses`)
    return faults
  }
  const taken = new Map<number, string>()
  for (const [key, d] of Object.entries(fleet)) {
    const last = d.address + d.count - 1
    const highest = d.form === 'short' ? 127 : 10239
    if (last > highest) {
      fault(
        ['fleet', key, 'address'],
        d.form === 'short'
          ? `short address ${last}; a short one is at most 127`
          : `${d.count} addresses from ${d.address} end at ${last}; the highest is 10239`,
      )
      continue
    }
    for (let i = 0; i < d.count; i++) {
      const addressee = addresseeAt(d, i)
      const other = taken.get(addressee)
      if (other !== undefined) {
        fault(
          ['fleet', key, 'address'],
          `address ${d.address + i} belongs to "${other}" already; every decoder needs one of its own`,
        )
        break
      }
      taken.set(addressee, key)
    }
  }
  const names = Object.keys(fleet)
  const known = (path: (string | number)[], name: string) => {
    if (Object.hasOwn(fleet, name)) return true
    const close = nearest(name, names)
    fault(
      path,
      `no locomotive "${name}" in the fleet${close ? `; the nearest is "${close}"` : `; it has ${some(names)}`}`,
    )
    return false
  }
  policyFaults(traffic, fault)
  memoryFaults(input, count, fault)
  rateFaults(traffic, fault)
  for (const [key, o] of Object.entries(traffic.operators ?? {})) {
    const path = ['traffic', 'operators', key]
    if (o.via !== 'panel' && !traffic.link) fault([...path, 'via'], `via ${o.via} needs traffic.link`)
    o.locomotives?.forEach((name, i) => void known([...path, 'locomotives', i], name))
    if (o.turnout > 0 && traffic.turnouts === 0)
      fault([...path, 'turnout'], 'turnouts are thrown, but traffic.turnouts is 0')
  }
  traffic.script?.forEach((e, i) => {
    const path = ['traffic', 'script', i]
    if (e.via !== 'panel' && !traffic.link) fault([...path, 'via'], `via ${e.via} needs traffic.link`)
    if (e.do === 'turnout') {
      if (e.turnout === undefined) fault(path, 'a turnout event needs a turnout')
      else if (e.turnout > traffic.turnouts)
        fault([...path, 'turnout'], `turnout ${e.turnout}; traffic.turnouts is ${traffic.turnouts}`)
      return
    }
    if (e.locomotive === undefined) fault(path, `a ${e.do} event needs a locomotive`)
    else if (known([...path, 'locomotive'], e.locomotive)) {
      const d = fleet[e.locomotive]!
      const top = d.steps === '128' ? 126 : Number(d.steps)
      if (e.do === 'speed' && (e.step === undefined || e.step > top))
        fault(path, `a speed event for "${e.locomotive}" needs a step from 0 to ${top}`)
      if (e.do === 'function' && (e.function === undefined || e.function > d.functions))
        fault(path, `a function event for "${e.locomotive}" needs a function from 0 to ${d.functions}`)
    }
  })
  for (const [key, s] of Object.entries(traffic.stops ?? {})) {
    const path = ['traffic', 'stops', key]
    if (s.section !== undefined && input.sections?.[s.section] === undefined) {
      const close = nearest(s.section, Object.keys(input.sections ?? {}))
      fault(
        [...path, 'section'],
        `no section "${s.section}" in the track${close ? `; the nearest is "${close}"` : ''}`,
      )
    } else if (s.section === undefined && s.length === undefined)
      fault(path, 'a stop needs a length, or the section that has it')
    s.trains?.forEach((name, i) => void known([...path, 'trains', i], name))
    const trains = s.trains ?? names.filter((n) => !fleet[n]!.parked)
    if (trains.length === 0) fault(path, 'every locomotive is parked: nobody stops here')
    const slow = trains.filter((n) => fleet[n] && s.speed !== undefined && fleet[n].topSpeed < s.speed)
    if (slow.length > 0)
      fault(
        [...path, 'speed'],
        `"${slow[0]}" does not reach this speed; its top speed is ${kmh(fleet[slow[0]!]!.topSpeed)}`,
      )
  }
  return faults
}

function kmh(mmPerS: number): string {
  return `${Math.round((mmPerS * 3600) / 1e6)} km/h`
}

/** A station sends some 130 packets a second: more commands than this are no railroad, and take for ever to simulate. */
export const MOST_COMMANDS_PER_S = 2000
const LONGEST_TURN_US = 60e6

/** All commands of the design per second. */
export function commandsPerSecond(traffic: TrafficDesign): number {
  const sum = (list: readonly number[]) => list.reduce((a, b) => a + b, 0)
  return (
    sum(
      Object.values(traffic.operators ?? {}).map(
        (o) => o.count * (o.knob * o.commandsPerTurn + o.function + o.turnout + o.stop),
      ),
    ) +
    sum(Object.values(traffic.stops ?? {}).map((s) => s.rate)) +
    sum((traffic.script ?? []).map((e) => (e.every === undefined ? 0 : 1e6 / e.every)))
  )
}

function rateFaults(traffic: TrafficDesign, fault: (path: (string | number)[], message: string) => void) {
  const rate = commandsPerSecond(traffic)
  if (rate > MOST_COMMANDS_PER_S)
    fault(
      ['traffic'],
      `${Math.round(rate)} commands per second from operators, stops and script; at most ${MOST_COMMANDS_PER_S} are simulated`,
    )
  for (const [key, o] of Object.entries(traffic.operators ?? {})) {
    const turnUs = o.commandsPerTurn * o.commandSpacing
    if (turnUs > LONGEST_TURN_US)
      fault(
        ['traffic', 'operators', key, 'commandsPerTurn'],
        `a turn of ${o.commandsPerTurn} commands lasts ${Math.round(turnUs / 1e6)} s; at most ${LONGEST_TURN_US / 1e6} s`,
      )
  }
}

function policyFaults(traffic: TrafficDesign, fault: (path: (string | number)[], message: string) => void) {
  const { policies, policy } = traffic
  if (policy !== undefined && policies?.[policy] === undefined) {
    const names = Object.keys(policies ?? USUAL_POLICIES)
    if (policies !== undefined || USUAL_POLICIES[policy] === undefined)
      fault(['traffic', 'policy'], `no policy "${policy}"; there are ${some(names)}`)
  }
  for (const [key, p] of Object.entries(policies ?? {})) {
    const path = ['traffic', 'policies', key]
    if (p.table && !p.table.includes('speed'))
      fault([...path, 'table'], 'the table never sends speed: no train would be refreshed')
    if (p.perVisit > (p.table ?? DEFAULT_TABLE).length)
      fault(
        [...path, 'perVisit'],
        `${p.perVisit} packets per visit; the table has ${(p.table ?? DEFAULT_TABLE).length} entries`,
      )
    if (p.order !== 'weighted') continue
    const w = weightsOf(p)
    if (w.changes === 0) fault([...path, 'weights', 'changes'], 'weight 0: no change would ever be sent')
    if (w.moving === 0)
      fault([...path, 'weights', 'moving'], 'weight 0: moving trains would not be refreshed')
  }
}

function memoryFaults(
  input: TrafficInput,
  count: number,
  fault: (path: (string | number)[], message: string) => void,
) {
  const { capacity, memoryEach } = input.traffic
  const memory = input.traffic.memory ?? input.ramBytes
  if (capacity !== undefined && capacity < count)
    fault(['traffic', 'capacity'], `room for ${capacity} locomotives; the fleet has ${count}`)
  if (memory === undefined) return
  const held = capacity ?? count
  if (held * memoryEach > memory)
    fault(
      capacity !== undefined
        ? ['traffic', 'capacity']
        : input.traffic.memory !== undefined
          ? ['traffic', 'memory']
          : ['fleet'],
      `${held} locomotives of ${memoryEach} bytes take ${held * memoryEach} bytes; ${input.traffic.memory === undefined ? `the controller has ${memory}` : `traffic.memory is ${memory}`}: room for ${Math.floor(memory / memoryEach)}`,
    )
}

function some(names: readonly string[]): string {
  return names.length > 8 ? `${names.slice(0, 8).join(', ')} …` : names.join(', ')
}

function addressAt(d: LocomotiveDesign, i: number): DecoderAddress {
  const address = d.address + i
  const long = d.form === 'long' || (d.form === 'auto' && address > 127)
  return { address, long, steps: Number(d.steps) as 14 | 28 | 128 }
}

function addresseeAt(d: LocomotiveDesign, i: number): number {
  const bytes = itemBytes(addressAt(d, i), 0, 0)
  return addresseeOf(bytes, 0, bytes.length)
}

/** The same with names resolved. @throws InputError for the first of {@link trafficFaults}. */
export function resolveTraffic(input: TrafficInput): ResolvedTraffic {
  const [first] = trafficFaults(input)
  if (first) throw new InputError(`${first.path.join('.')}: ${first.message}`)
  const { fleet, traffic } = input
  const locomotives: Locomotive[] = []
  for (const [key, design] of Object.entries(fleet))
    for (let i = 0; i < design.count; i++)
      locomotives.push({
        ...addressAt(design, i),
        addressee: addresseeAt(design, i),
        name: design.count > 1 ? `${key} ${i + 1}` : key,
        key,
        design,
        trainMm: design.length ?? input.rollingStock?.[key]?.length,
      })
  const policies = { ...(traffic.policies ?? USUAL_POLICIES) }
  const policy = traffic.policy ?? (traffic.policies ? Object.keys(traffic.policies)[0]! : 'changes first')
  const stops = Object.entries(traffic.stops ?? {}).map(([name, s]) => {
    const section = s.section === undefined ? undefined : input.sections?.[s.section]
    return {
      name,
      lengthMm: s.length ?? (section ? section.length * (section.count ?? 1) : Number.NaN),
      trains: named(locomotives, s.trains),
    }
  })
  return { input, locomotives, policies, policy, capacity: traffic.capacity, stops }
}

/** Numbers of the locomotives with those names; of all that are not parked when there are none. */
export function named(locomotives: readonly Locomotive[], names: readonly string[] | undefined): number[] {
  const wanted = names && new Set(names)
  return locomotives.flatMap((l, i) => ((wanted ? wanted.has(l.key) : !l.design.parked) ? [i] : []))
}
