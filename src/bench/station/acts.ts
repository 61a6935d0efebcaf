/**
 * What may happen to a station and its railroad, as plain data: scenario files are read into it, and a replay carries it.
 * A time belongs to whoever lets an act happen.
 */
import { type CommandValues, commandBytes } from '../../controller/index.js'
import { planWithFault } from '../../track/index.js'
import { InputError, nearest } from '../../units/index.js'
import type { Acknowledgement, BenchSetup } from './setup.js'

/** Somewhere on the rails. */
export type BenchPlace =
  /** A section, or a leg of a turnout or crossing (`T1.points`), so far from its start; its middle by default, mm. */
  | { section: string; atMm?: number }
  /** Where a short draws least or most of the district's source. */
  | { district: string; end: 'weakest' | 'strongest' }
  /** Where a train is at that moment. */
  | { train: string }

/** What a pin does while the controller does not run its program: `kept` is the level that it had. */
export type HeldLevel = 'high' | 'low' | 'floating' | 'kept'

/** Why the program does not run. After a hang it goes on where it was; after anything else it begins anew. */
export type HoldCause = 'hang' | 'main loop' | 'reset' | 'boot' | 'flashing' | 'brown-out'

/** The program goes on where it was. */
export const isHang = (why: HoldCause): boolean => why === 'hang' || why === 'main loop'

export type BenchAct =
  /** Text that comes in on a serial line; characters up to U+00FF are one byte each. */
  | { act: 'say'; text: string; port?: number }
  /** The same in the firmware's own language, by the patterns of the design. */
  | { act: 'command'; command: CommandValues }
  /** A train comes on the rails, from the shelf or from elsewhere on the railroad. */
  | { act: 'place'; train: string; at: BenchPlace }
  | { act: 'remove'; train: string }
  /** Something lies across the rails. Any number of shorts may be there at once, each with a name of its own. */
  | { act: 'short'; name: string; at: BenchPlace; ohm: number }
  | { act: 'end-short'; name: string }
  /** Something draws current from the rails through a rectifier, as lit cars that are parked do. */
  | { act: 'load'; name: string; at: BenchPlace; amp: number }
  | { act: 'end-load'; name: string }
  /** A train derails: it shorts the rails as long as it moves, and hears nothing. */
  | { act: 'derail'; train: string; ohm: number }
  | { act: 'rerail'; train: string }
  | { act: 'lose-contact'; train: string; forUs: number }
  /** Every train loses contact while it is on the stretch. */
  | { act: 'dirt'; name: string; at: BenchPlace; lengthMm: number }
  | { act: 'clean'; name: string }
  /** A supply gives so many volts (0: it drops out), and then its own again. */
  | { act: 'supply'; supply: string; volt: number; forUs: number }
  /** What the converter reads of a district's current is so much noisier, V RMS at its input. */
  | { act: 'noise'; district: string; volt: number; forUs: number }
  /** A decoder acknowledges in another way from now on; what is not named stays. */
  | { act: 'acknowledge'; train: string; how: Partial<Acknowledgement> }
  /** The controller is reset for an instant, as when a serial port is opened. */
  | { act: 'reset' }
  /** The program does not run. Pins that are not named do what `others` says. A hang leaves timers and watchdog running. */
  | {
      act: 'hold'
      why: HoldCause
      forUs: number
      pins?: Readonly<Record<string, HeldLevel>>
      others?: HeldLevel
    }
  /** A decoder is laid on the service track, from wherever it was. */
  | { act: 'service-track'; train: string }
  /** A motor that cannot turn draws its stall current when it is driven. */
  | { act: 'stick-motor'; train: string }
  | { act: 'free-motor'; train: string }
  /** A fault of the wiring, such as `open-feeder:south.3/A`. */
  | { act: 'track-fault'; fault: string }
  | { act: 'mend-fault'; fault: string }
  /** A turnout is thrown by hand. */
  | { act: 'throw'; turnout: string; to: 'straight' | 'diverging' }

/** A place in words: `south.3`, `south.3 at 120 mm`, `the weakest place of yard`, `where express is`. */
export function placeWords(at: BenchPlace): string {
  if ('train' in at) return `where ${at.train} is`
  if ('district' in at) return `the ${at.end} place of ${at.district}`
  return at.atMm === undefined ? at.section : `${at.section} at ${Math.round(at.atMm)} mm`
}

function known(what: string, name: string, names: readonly string[]): void {
  if (names.includes(name)) return
  const close = nearest(name, names)
  const expected =
    names.length === 0
      ? 'the design names none'
      : close
        ? `the nearest is "${close}"`
        : `expected one of ${names.slice(0, 20).join(', ')}`
  throw new InputError(`there is no ${what} "${name}"; ${expected}`)
}

function atLeast(what: string, value: number, least: number): void {
  if (!Number.isFinite(value) || value < least)
    throw new InputError(`${what} of ${value}; expected a number of at least ${least}`)
}

/**
 * Whether this bench can do an act.
 * @throws InputError with one sentence when a name leads nowhere, a figure cannot be, or the design lacks what it needs.
 */
export function checkAct(act: BenchAct, setup: BenchSetup): void {
  const trains = setup.decoders.map((d) => d.name)
  const place = (at: BenchPlace) => {
    if ('train' in at) known('train', at.train, trains)
    else if ('district' in at)
      known(
        'district',
        at.district,
        setup.districts.map((d) => d.name),
      )
    else known('section', at.section, setup.sections ?? [])
  }
  switch (act.act) {
    case 'say':
      if ([...act.text].some((c) => c.codePointAt(0)! > 255))
        throw new InputError('text for a serial line with characters above U+00FF; expected bytes')
      break
    case 'command':
      if (!setup.commands || !commandBytes(act.command, setup.commands))
        throw new InputError(`the design does not say how "${act.command.kind}" looks on the serial line`)
      break
    case 'place':
      known('train', act.train, trains)
      place(act.at)
      break
    case 'short':
      atLeast('a resistance', act.ohm, 0)
      place(act.at)
      break
    case 'load':
      atLeast('a current', act.amp, 0)
      place(act.at)
      break
    case 'derail':
      atLeast('a resistance', act.ohm, 0)
      known('train', act.train, trains)
      break
    case 'lose-contact':
      atLeast('a time', act.forUs, 0)
      known('train', act.train, trains)
      break
    case 'dirt':
      atLeast('a length', act.lengthMm, 0)
      place(act.at)
      break
    case 'supply':
      atLeast('a voltage', act.volt, 0)
      atLeast('a time', act.forUs, 0)
      known(
        'supply',
        act.supply,
        setup.supplies.map((s) => s.name),
      )
      break
    case 'noise': {
      atLeast('a voltage', act.volt, 0)
      atLeast('a time', act.forUs, 0)
      const sensed = setup.districts.filter((d) => d.sense).map((d) => d.name)
      known('district with a current sense', act.district, sensed)
      break
    }
    case 'acknowledge':
      known('train', act.train, trains)
      for (const figure of Object.values(act.how)) atLeast('a figure of an acknowledgement', figure, 0)
      break
    case 'hold':
      atLeast('a time', act.forUs, 0)
      for (const pin of Object.keys(act.pins ?? {})) known('pin of a driver', pin, driverPins(setup))
      break
    case 'service-track':
      known('train', act.train, trains)
      if (!serviceDistrict(setup)) throw new InputError('the design has no service track')
      break
    case 'remove':
    case 'rerail':
    case 'stick-motor':
    case 'free-motor':
      known('train', act.train, trains)
      break
    case 'throw':
      known('turnout', act.turnout, setup.turnouts ?? [])
      break
    case 'track-fault':
    case 'mend-fault':
      if (!setup.railroad) throw new InputError('the design describes no track, so nothing of it can fail')
      planWithFault(setup.railroad.plan, act.fault)
      break
    default:
  }
}

/** The district of the service track, where there is one. */
export function serviceDistrict(setup: BenchSetup): string | undefined {
  const service = setup.outputs.find((o) => o.mode === 'service')?.name
  return setup.districts.find((d) => d.output === service)?.name
}

/** Pins of the controller that steer a driver. */
export function driverPins({ districts }: BenchSetup): string[] {
  const pins = districts.flatMap(({ driver }) => [
    driver.direction,
    driver.inverted,
    ...driver.enable,
    ...(driver.enableLow ?? []),
    ...driver.brake,
  ])
  return [...new Set(pins.filter((p) => p !== undefined))]
}
