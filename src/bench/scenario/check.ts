/** What is wrong with a scenario beside its form: names that lead nowhere, waits without end, expectations that nothing can judge. */
import { PatternError, type SimulatedChip, SimulatedController, textBytes } from '../../controller/index.js'
import { formatTimeUs, InputError, nearest } from '../../units/index.js'
import { checkAct, isHang } from '../station/acts.js'
import type { BenchSetup } from '../station/setup.js'
import { deedKeys, deedOf, isCommand, isRestart, isShort, placeOf } from './deed.js'
import {
  type ActDesign,
  DEED_KEYS,
  EXPECTATION_KEYS,
  type ExpectationDesign,
  type ScenarioDesign,
} from './design.js'

export interface ScenarioFault {
  path: (string | number)[]
  message: string
}

type Note = (path: (string | number)[], message: string) => void

/** Everything that a scenario of this form asks for and this bench cannot give; none means it can be run. */
export function checkScenario(scenario: ScenarioDesign, setup: BenchSetup): ScenarioFault[] {
  const faults: ScenarioFault[] = []
  const note: Note = (path, message) => faults.push({ path, message })
  const names = new Map<string, number>()
  for (const [i, { name }] of scenario.acts.entries()) {
    if (name === undefined) continue
    const before = names.get(name)
    if (before !== undefined)
      note(['acts', i, 'name'], `act ${before + 1} has the name "${name}" too; expected another`)
    else names.set(name, i)
  }
  const earliest = earliestTimes(scenario, names, note)
  for (const [i, act] of scenario.acts.entries()) {
    checkTimes(scenario, act, i, earliest[i]!, note)
    checkDeed(act, i, setup, note)
  }
  for (const [i, e] of scenario.expect.entries())
    checkExpectation(scenario, e, i, setup, { names, earliest, note })
  return faults
}

function unknown(what: string, name: string, names: readonly string[]): string {
  const close = nearest(name, names)
  const expected =
    names.length === 0
      ? 'there is none'
      : `${close ? `the nearest is "${close}"; ` : ''}expected one of ${names.slice(0, 20).join(', ')}`
  return `no ${what} "${name}"; ${expected}`
}

/** When each act happens at the earliest, us; NaN where it is not said or never. */
function earliestTimes(scenario: ScenarioDesign, names: ReadonlyMap<string, number>, note: Note): number[] {
  const times: number[] = new Array(scenario.acts.length).fill(Number.NaN)
  const found = new Set<number>()
  const under = new Set<number>()
  const look = (i: number): number => {
    if (found.has(i)) return times[i]!
    const act = scenario.acts[i]!
    if (under.has(i)) {
      note(['acts', i, 'after'], `act ${i + 1} waits for itself; expected one that happens without it`)
      found.add(i)
      return Number.NaN
    }
    under.add(i)
    const wait = act.wait ?? 0
    let time = act.at ?? act.between?.[0]
    if (time === undefined && act.after !== undefined) {
      const other = names.get(act.after)
      if (other === undefined)
        note(
          ['acts', i, 'after'],
          unknown(
            'act',
            act.after,
            [...names.keys()].filter((n) => n !== act.name),
          ),
        )
      else time = look(other) + wait
    } else if (time === undefined && act.when) time = wait
    times[i] = time ?? Number.NaN
    found.add(i)
    return times[i]!
  }
  for (let i = 0; i < scenario.acts.length; i++) look(i)
  return times
}

function checkTimes(
  { lasts }: ScenarioDesign,
  act: ActDesign,
  i: number,
  earliestUs: number,
  note: Note,
): void {
  const path = ['acts', i]
  const { at, between, after, when, wait } = act
  const ways = [at !== undefined, between !== undefined, after !== undefined || when !== undefined]
  const count = ways.filter(Boolean).length
  if (count !== 1) {
    const found = count === 0 ? 'no time' : 'more than one time'
    note(path, `act ${i + 1} has ${found}; expected one of at, between, after, when`)
  }
  if (wait !== undefined && !ways[2])
    note([...path, 'wait'], 'a wait for nothing; expected "after" or "when" beside it')
  if (between && !(between[0]! < between[1]!))
    note([...path, 'between'], 'the second time is not later than the first; expected two times in order')
  const latest = between?.[1] ?? earliestUs
  if (latest > lasts) {
    const key = at !== undefined ? 'at' : between ? 'between' : wait === undefined ? 'after' : 'wait'
    note(
      [...path, key],
      `act ${i + 1} would happen at ${formatTimeUs(latest, 6)}; the scenario ends at ${formatTimeUs(lasts, 6)}`,
    )
  }
}

function checkDeed(act: ActDesign, i: number, setup: BenchSetup, note: Note): void {
  const path = ['acts', i]
  const trains = setup.decoders.map((d) => d.name)
  const districts = setup.districts.map((d) => d.name)
  if (act.when) {
    const { when } = act
    const keys = Object.keys(when) as (keyof typeof when)[]
    if (keys.length !== 1)
      note(
        [...path, 'when'],
        `${keys.length} things to wait for; expected one of answer, off, on, moves, stops`,
      )
    for (const key of ['off', 'on'] as const)
      if (when[key] !== undefined && !districts.includes(when[key]))
        note([...path, 'when', key], unknown('district', when[key], districts))
    for (const key of ['moves', 'stops'] as const)
      if (when[key] !== undefined && !trains.includes(when[key]))
        note([...path, 'when', key], unknown('train', when[key], trains))
    if (when.answer !== undefined) checkText(when.answer, [...path, 'when', 'answer'], note)
  }
  const keys = deedKeys(act)
  const [key] = keys
  if (keys.length !== 1 || key === undefined) {
    const found = keys.length === 0 ? 'does nothing' : `does ${keys.join(' and ')}`
    note(path, `act ${i + 1} ${found}; expected one of ${DEED_KEYS.join(', ')}`)
    return
  }
  if (act.reset === false) note([...path, 'reset'], 'no reset; expected "yes", or another act')
  if (act.port !== undefined) {
    if (act.send === undefined)
      note([...path, 'port'], 'a port without text for it; expected "send" beside it')
    const ports = portsOf(setup)
    if (!ports.includes(String(act.port)))
      note([...path, 'port'], unknown('serial port', String(act.port), ports))
  }
  if (act.send !== undefined && !checkText(act.send, [...path, 'send'], note)) return
  const train =
    act.drive?.train ?? act.function?.train ?? act.forget ?? (act.stop === 'all' ? undefined : act.stop)
  if (train !== undefined && !trains.includes(train)) {
    const inside = act.drive || act.function ? [key, 'train'] : [key]
    note([...path, ...inside], unknown('train', train, trains))
    return
  }
  const at = act.place?.at ?? act.short?.at ?? act.dirt?.at
  if (at && placeOf(at) === undefined) {
    note([...path, key, 'at'], 'this is no place; expected one of section, district, train')
    return
  }
  const deed = deedOf(act, i, setup)
  if (!deed) return
  try {
    checkAct(deed.begins, setup)
  } catch (error) {
    if (!(error instanceof InputError)) throw error
    note([...path, key], error.message)
  }
}

function checkText(text: string, path: (string | number)[], note: Note): boolean {
  try {
    if (textBytes(text).length > 0) return true
    note(path, 'an empty text; expected what is sent')
  } catch (error) {
    if (!(error instanceof PatternError)) throw error
    note(path, error.message)
  }
  return false
}

/** Numbers of the serial ports of a chip. */
function portsOf({
  chip,
  clockHz,
  image,
}: {
  chip: SimulatedChip
  clockHz: number
  image: BenchSetup['image']
}) {
  const machine = new SimulatedController(chip, clockHz, image, {})
  return [0, 1, 2, 3].filter((n) => machine.serial(n)).map(String)
}

interface Known {
  names: ReadonlyMap<string, number>
  earliest: readonly number[]
  note: Note
}

function checkExpectation(
  { acts, lasts }: ScenarioDesign,
  e: ExpectationDesign,
  i: number,
  setup: BenchSetup,
  { names, earliest, note }: Known,
): void {
  const path = ['expect', i]
  const keys = EXPECTATION_KEYS.filter((key) => e[key] !== undefined)
  const [key] = keys
  if (keys.length !== 1 || key === undefined) {
    note(path, `${keys.length} expectations in one entry; expected one of ${EXPECTATION_KEYS.join(', ')}`)
    return
  }
  const never = (why: string, expected: string) =>
    note([...path, key], `nothing can show this: ${why}; expected ${expected}`)
  const districts = setup.districts.map((d) => d.name)
  const trains = setup.decoders.map((d) => d.name)
  if (e[key] === false) note([...path, key], 'expected "yes", or the entry left out')
  const shorts = acts.filter(isShort)
  switch (key) {
    case 'shortOff':
      if (shorts.length === 0) never('no act shorts the rails', 'a short or a derailment among the acts')
      return
    case 'powerBack': {
      const within = e.powerBack!.within
      const ends = acts.flatMap((act, k) => {
        const forUs = act.short?.lasts ?? act.derail?.lasts
        return forUs === undefined ? [] : [earliest[k]! + forUs]
      })
      if (ends.length === 0) never('no short of it ever ends', 'a short that "lasts" some time')
      else if (ends.every((us) => us + within > lasts))
        never(
          `the scenario ends at ${formatTimeUs(lasts, 6)}`,
          `it to last ${formatTimeUs(Math.min(...ends) + within, 6)} or more`,
        )
      return
    }
    case 'staysOn': {
      const { district } = e.staysOn!
      if (district !== undefined && !districts.includes(district))
        note([...path, key, 'district'], unknown('district', district, districts))
      return
    }
    case 'onlyCommanded':
      if (trains.length === 0) never('the design has no train', 'a fleet in the design')
      return
    case 'commandsActed':
      if (!acts.some(isCommand)) never('no act is a command', 'a command among the acts')
      else if (!setup.commands)
        never('the design does not describe commands', 'firmware.commands in the design')
      return
    case 'afterReset': {
      const at = acts.findIndex(isRestart)
      if (at < 0) {
        never('no act restarts the controller', '"reset" or "hold" among the acts')
        return
      }
      const { stops, obeys } = e.afterReset!
      const drives = acts.flatMap((act, k) => ((act.drive?.speed ?? 0) > 0 ? [k] : []))
      // Only a later command shows that the station is there again: one that is silent for ever stands still too.
      const later = (k: number) =>
        Number.isNaN(earliest[k]!) || Number.isNaN(earliest[at]!) || acts[k]!.at === undefined
          ? k > at
          : earliest[k]! >= earliest[at]! + stops
      if (!drives.some((k) => later(k) && !(earliest[k]! + obeys > lasts)))
        never('no train is driven after the trains had to stop', 'a "drive" later than that, and time for it')
      return
    }
    case 'powerOff':
      if (!setup.commands?.powerOff && !setup.commands?.serviceOff)
        never('the design does not say how power is switched off', 'firmware.commands.powerOff in the design')
      else if (!acts.some((a) => a.power === 'off' || a.service === 'off' || a.send !== undefined))
        never('no act switches power off', '"power: off" or "service: off" among the acts')
      return
    case 'afterHang':
      if (!acts.some((act) => act.hold && isHang(act.hold.why)))
        never('the program never hangs', 'a "hold" that hangs')
      return
    case 'cv': {
      const { train } = e.cv!
      if (train !== undefined && !trains.includes(train))
        note([...path, key, 'train'], unknown('train', train, trains))
      else if (train === undefined && !onService(setup))
        never('the design has no service track', '"train" beside it')
      return
    }
    case 'answer': {
      const { text, is, value, to, within } = e.answer!
      if ([text, is, value].filter((x) => x !== undefined).length !== 1)
        note([...path, key], 'expected one of text, is and value')
      if (text !== undefined) checkText(text, [...path, key, 'text'], note)
      if (is !== undefined && !setup.commands?.[is])
        never(`the design does not say what "${is}" looks like`, `firmware.commands.${is} in the design`)
      if (value !== undefined && !setup.commands?.readAnswer)
        never(
          'the design does not say how the value of a CV is answered',
          'firmware.commands.readAnswer in the design',
        )
      const act = names.get(to)
      if (act === undefined) note([...path, key, 'to'], unknown('act', to, [...names.keys()]))
      else if (earliest[act]! + within > lasts)
        never(
          `the scenario ends at ${formatTimeUs(lasts, 6)}`,
          'it to last longer, or less time for the answer',
        )
      return
    }
    case 'traffic':
      if (!setup.commands) never('the design does not describe commands', 'firmware.commands in the design')
      return
    default:
  }
}

/** The decoder that lies on the service track from the beginning. */
export function onService({ districts, outputs, decoders }: BenchSetup) {
  const service = outputs.find((o) => o.mode === 'service')?.name
  const district = districts.find((d) => d.output === service)?.name
  return district === undefined ? undefined : decoders.find((d) => d.district === district)
}
