/** Something across the rails: everywhere, at light and at full load, while power returns, and while commands come in. */
import type { BenchDistrict } from '../../station/setup.js'
import { onService } from '../check.js'
import type { ActDesign } from '../design.js'
import {
  COMMAND_EVERY_US,
  escaped,
  FIRST_COMMAND_US,
  type Frame,
  NO_LANGUAGE,
  NO_LOCOMOTIVE,
  OBEYED_WITHIN_US,
  type Playable,
  POWER_BACK_US,
  POWER_OFF_US,
  POWER_ON_AFTER_US,
  SETTLED_US,
  SHORT_LASTS_US,
  TIME_OUTS,
} from './frame.js'

/** Longer than most programs wait before they try again, us: each attempt must trip too. */
const LASTING_US = 2.5e6
const HALF_SPEED = 0.5
/** What is on the same supply is shorted so much later, while the first is off, us: no whole number of usual retry times. */
const IN_TURN_US = 1137e3
const IN_TURN_LASTS_US = 150e3
/** The load of the plan is there so long before the rails are shorted, us: a reading may be averaged over some. */
const LOADED_US = 200e3
/** Somebody switches power on again while the short is still there, so long after it began, us. */
const TOO_EARLY_US = 150e3
/** The first part of a command comes so long before the short, and the rest so long after it began, us. */
const HALF_COMMAND_US = 20e3
/** A service track that is switched on again a short's length after it has gone has power by then, us. */
const SERVICE_BACK_US = 900e3
/** A write is so far on the way that the service track has power, us: 20 packets of power-up take longer. */
const BUSY_SINCE_US = 100e3
const BUSY_WITH = { cv: 3, value: 12 }
/** Into a write with the track powered up first (20 packets), and into the packets and the wait for an acknowledgement, us. */
const INTO_WRITES_US = [BUSY_SINCE_US, 300e3]
/** The main loop has hung for so long when the rails are shorted, us; assumed: a watchdog that takes longer protects nothing in time. */
const HUNG_SINCE_US = 1e6
/** A command comes in while the firmware trips, so long after the short began, us. */
const MEANWHILE_US = 1000

export function shortIn(f: Frame, district: BenchDistrict, end: 'weakest' | 'strongest'): Playable {
  const name = end === 'weakest' ? `short in ${district.name}` : `short in ${district.name}, strongest place`
  const shows = { clause: 'short-trip', about: district.name } as const
  if (!f.canDrive) return f.missing(shows, name, NO_LANGUAGE)
  const hasPowerOn = f.setup.commands?.powerOn !== undefined
  const place = { at: { district: district.name, end }, lasts: SHORT_LASTS_US }
  const lasting = { ...place, lasts: end === 'weakest' ? SHORT_LASTS_US : LASTING_US }
  // At the strongest place the first is no dead short: little more flows than trips for certain.
  const resistance = end === 'weakest' ? undefined : f.overloadOhm(district)
  const overload =
    resistance === undefined ? place : { ...place, at: { district: district.name }, resistance }
  // A short soon after power-up, then another: a watch may be blind at first, or trip but once.
  const firstGoneUs = FIRST_COMMAND_US + SHORT_LASTS_US
  const early: ActDesign[] = hasPowerOn
    ? [
        { at: FIRST_COMMAND_US, short: overload },
        { at: firstGoneUs + POWER_ON_AFTER_US, power: 'on' },
      ]
    : []
  const readyUs = FIRST_COMMAND_US + (hasPowerOn ? SHORT_LASTS_US + POWER_BACK_US : 0)
  const words = end === 'weakest' ? f.everyWord(readyUs) : { acts: [], untilUs: readyUs }
  const isSwitchedOff = words.acts.some((act) => act.power === 'off' || act.service === 'off')
  const { acts, settledUs } = f.driveAll(HALF_SPEED, COMMAND_EVERY_US, words.untilUs)
  const goneUs = settledUs + lasting.lasts
  // Where nobody can switch power on again, the overload comes last: power may stay off.
  const lastUs = goneUs + POWER_BACK_US
  const comesLast = !hasPowerOn && resistance !== undefined
  return f.make(
    shows,
    name,
    comesLast ? lastUs + SHORT_LASTS_US + POWER_BACK_US : lastUs,
    [
      ...early,
      ...words.acts,
      ...acts,
      ...f.loadAll(settledUs - LOADED_US, HALF_SPEED, settledUs),
      ...(end === 'strongest' ? halfCommand(f, settledUs) : []),
      { at: settledUs, short: lasting },
      ...(end === 'strongest' ? f.protectedApart(district) : []).map((other): ActDesign => {
        return { at: settledUs, short: { ...lasting, at: { district: other.name, end } } }
      }),
      ...(end === 'strongest' ? f.protectedInTurn(district) : []).map((other, i): ActDesign => {
        return {
          at: settledUs + IN_TURN_US + 2 * i * IN_TURN_LASTS_US,
          short: { at: { district: other.name, end }, lasts: IN_TURN_LASTS_US },
        }
      }),
      ...(hasPowerOn
        ? [
            { at: settledUs + TOO_EARLY_US, power: 'on' as const },
            { at: goneUs + POWER_ON_AFTER_US, power: 'on' as const },
          ]
        : []),
      ...(comesLast ? [{ at: lastUs, short: overload }] : []),
    ],
    [
      { shortOff: {} },
      { powerBack: { within: POWER_BACK_US } },
      ...(isSwitchedOff ? [{ powerOff: { within: POWER_OFF_US } }] : []),
      // What a trip changes of the signal decoders may still hear.
      ...(end === 'weakest' ? [{ signal: true }] : []),
    ],
  )
}

/** A command of which half has come in when the rails are shorted: a program that waits for the rest watches nothing. */
function halfCommand(f: Frame, shortUs: number): ActDesign[] {
  const [first] = f.trains
  const bytes = first && f.bytes({ kind: 'speed', address: first.address, speed: HALF_SPEED, forward: true })
  if (!bytes || bytes.length < 2) return []
  const half = Math.ceil(bytes.length / 2)
  return [
    { at: shortUs - HALF_COMMAND_US, send: escaped(bytes.slice(0, half)) },
    { at: shortUs + SHORT_LASTS_US / 4, send: escaped(bytes.slice(half)) },
  ]
}

/** The service track has a limit of its own (S-9.2.3:2012 B: 250 mA for no more than 100 ms). */
export function shortOnService(f: Frame, district: BenchDistrict): Playable {
  const name = `short in ${district.name}`
  const shows = { clause: 'short-trip', about: district.name } as const
  const { commands } = f.setup
  if (!commands?.serviceOn && !commands?.write)
    return f.missing(shows, name, 'the design does not say how the service track is switched on')
  // It has power all the time, or while it programmes.
  if (!commands.serviceOn)
    return f.make(
      shows,
      name,
      FIRST_COMMAND_US + 2 * (SETTLED_US + SHORT_LASTS_US) + 2 * SHORT_LASTS_US,
      [0, 1].flatMap((i): ActDesign[] => {
        const at = FIRST_COMMAND_US + i * (SETTLED_US + SHORT_LASTS_US)
        return [
          { at, write: BUSY_WITH },
          {
            at: at + BUSY_SINCE_US,
            short: { at: { district: district.name, end: 'weakest' }, lasts: SHORT_LASTS_US },
          },
        ]
      }),
      [{ shortOff: {} }],
    )
  const shortUs = FIRST_COMMAND_US + SETTLED_US
  const short = { at: { district: district.name, end: 'weakest' as const }, lasts: SHORT_LASTS_US }
  // It may trip but once.
  const againUs = shortUs + 2 * SHORT_LASTS_US
  const lastUs = againUs + SETTLED_US + 2 * SHORT_LASTS_US
  const hasServiceOff = commands.serviceOff !== undefined
  return f.make(
    shows,
    name,
    lastUs + SERVICE_BACK_US,
    [
      { at: FIRST_COMMAND_US, service: 'on' },
      { at: shortUs, short },
      ...(hasServiceOff ? [{ at: againUs - COMMAND_EVERY_US, service: 'off' as const }] : []),
      { at: againUs, service: 'on' },
      // And not while it is busy with a decoder.
      ...(commands.write ? [{ at: againUs + SETTLED_US - HALF_COMMAND_US, write: BUSY_WITH }] : []),
      { at: againUs + SETTLED_US, short },
      { at: lastUs, service: 'on' },
    ],
    [{ shortOff: {} }, { powerBack: { within: SERVICE_BACK_US } }],
  )
}

/** A program that waits for the end of a programming operation may watch no other track meanwhile. */
export function shortWhileProgramming(f: Frame): Playable[] {
  const { commands } = f.setup
  const watched = f.operations.filter((d) => d.tripBy === 'sense')
  const [district] = watched
  if (!district || !commands?.write || !onService(f.setup)) return []
  const name = `short in ${watched.length > 1 ? 'each district' : district.name} while a CV is written`
  const shorted = new Set<BenchDistrict>()
  const rounds = watched.flatMap((d) => {
    if (shorted.has(d)) return []
    const atOnce = [d, ...f.protectedApart(d)]
    for (const one of atOnce) shorted.add(one)
    return INTO_WRITES_US.map((intoUs) => ({ atOnce, intoUs }))
  })
  const acts = rounds.flatMap(({ atOnce, intoUs }, i): ActDesign[] => {
    const at = FIRST_COMMAND_US + SETTLED_US + i * (SHORT_LASTS_US + POWER_BACK_US)
    const goneUs = at + intoUs + SHORT_LASTS_US
    return [
      // What trips may have switched it off.
      ...(commands.serviceOn ? [{ at: at - SETTLED_US, service: 'on' as const }] : []),
      { at, write: BUSY_WITH },
      ...atOnce.map((d): ActDesign => {
        return {
          at: at + intoUs,
          short: { at: { district: d.name, end: 'strongest' }, lasts: SHORT_LASTS_US },
        }
      }),
      ...(commands.powerOn ? [{ at: goneUs + POWER_ON_AFTER_US, power: 'on' as const }] : []),
    ]
  })
  const lasts = FIRST_COMMAND_US + SETTLED_US + rounds.length * (SHORT_LASTS_US + POWER_BACK_US)
  return [
    f.make({ clause: 'short-trip', about: district.name }, name, lasts + INTO_WRITES_US.at(-1)!, acts, [
      { shortOff: {} },
      { powerBack: { within: POWER_BACK_US } },
    ]),
  ]
}

/** A main loop that hangs reads no current; a watchdog has restarted the program by the time of the short, or the trip needs no loop. */
export function shortWhileHung(f: Frame): Playable[] {
  const { commands } = f.setup
  const hasService = commands?.serviceOn !== undefined
  const watched = [...f.operations, ...(hasService ? f.service : [])].filter((d) => d.tripBy === 'sense')
  const [first] = watched
  if (!first) return []
  const { acts, settledUs } = f.driveAll(HALF_SPEED, COMMAND_EVERY_US, FIRST_COMMAND_US)
  // One after the other: two on one supply share what it gives, and one trip may switch off all of them.
  const shorts = watched.map(({ name }, i): ActDesign => {
    const at = settledUs + HUNG_SINCE_US + i * IN_TURN_US
    return { at, short: { at: { district: name, end: 'strongest' }, lasts: SHORT_LASTS_US } }
  })
  const lasts = HUNG_SINCE_US + watched.length * IN_TURN_US
  return [
    f.make(
      { clause: 'short-trip', about: first.name },
      'short while the main loop hangs',
      settledUs + lasts,
      [
        ...(hasService ? [{ at: FIRST_COMMAND_US, service: 'on' as const }] : []),
        ...(f.canDrive ? acts : []),
        { at: settledUs, hold: { why: 'main loop', lasts } },
        ...shorts,
      ],
      [{ shortOff: {} }],
    ),
  ]
}

/** What is commanded while the rails are shorted, and whether everybody hears everything again afterwards. */
export function commandsDuringShort(f: Frame): Playable {
  const name = 'stop during a short'
  const [district] = f.operations
  const shows = { clause: 'refresh', about: district?.output } as const
  const { commands } = f.setup
  if (!district || !f.canDrive) return f.missing(shows, name, NO_LANGUAGE)
  if (f.trains.length === 0) return f.missing(shows, name, NO_LOCOMOTIVE)
  const { acts, settledUs } = f.driveAll(HALF_SPEED, COMMAND_EVERY_US, FIRST_COMMAND_US)
  const stops: ActDesign[] = commands?.stop
    ? [{ at: settledUs + MEANWHILE_US, stop: 'all' }]
    : f.trains.map((t) => ({ at: settledUs + MEANWHILE_US, drive: { train: t.name, speed: 0 } }))
  const backUs = settledUs + SHORT_LASTS_US + POWER_BACK_US
  const again = f.driveAll(HALF_SPEED, COMMAND_EVERY_US, backUs)
  return f.make(
    shows,
    name,
    again.settledUs + TIME_OUTS * f.longestTimeoutUs,
    [
      ...acts,
      {
        at: settledUs,
        short: { at: { district: district.name, end: 'strongest' }, lasts: SHORT_LASTS_US },
      },
      ...stops,
      ...(commands?.powerOn
        ? [{ at: settledUs + SHORT_LASTS_US + POWER_ON_AFTER_US, power: 'on' as const }]
        : []),
      ...again.acts,
    ],
    [
      // What comes in must not keep the program from its trip.
      { shortOff: {} },
      { onlyCommanded: true },
      { commandsActed: { within: POWER_BACK_US + OBEYED_WITHIN_US } },
      { traffic: true },
      { signal: true },
    ],
  )
}
