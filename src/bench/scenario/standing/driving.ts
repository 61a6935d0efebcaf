/** Trains on the operations tracks: a start of all, the planned load, every kind of command, a restart. */
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
  POWER_ON_AFTER_US,
  SETTLED_US,
  SHORT_LASTS_US,
  TIME_OUTS,
} from './frame.js'

const START_WATCHED_US = 2e6
/** Then dirt under every train at once, so often, for so long, us: longer than a decoder without a stay-alive keeps its capacitor. */
const DIRTY_PLACES = { count: 30, everyUs: 50e3, lostUs: 20e3 }
/** After a restart every locomotive must have stopped within this, us. */
const STOPPED_WITHIN_US = 1e6
const RESTART_WATCHED_US = 3e6
/** From one command to the next under the heaviest traffic, us: several hands at once. */
const BUSY_EVERY_US = 50e3
const BUSY_LASTS_US = 4e6
/** Dirty wheels break each packet for so long, us, so often, from the command to stop on; no decoder browns out by it. */
const DIRT = { lostUs: 200, everyUs: 4e3, times: 10 }
/** The controller's supply fails for so long, us. */
const BROWN_OUT_US = 30e3
/** A program that hangs is watched for as long at least, us: a watchdog or a driver has done its work by then. */
const HANG_WATCHED_US = 3e6
/** The lowest of 126 steps: one less is a stop, and the code between them an emergency stop. */
const LOWEST = 1 / 126
/** Speeds in turn, negative in reverse. */
const SPEEDS = [0.3, -0.5, 1, LOWEST, 0.6, -LOWEST, 0.7, 0.4]

/** Power-up comes first: the capacitors charge in it too. Then the load of the plan is added. */
export function startAtOnce(f: Frame): Playable {
  const name = 'every locomotive starts at once'
  const shows = { clause: 'inrush', about: f.operations[0]?.name } as const
  if (!f.canDrive) return f.missing(shows, name, NO_LANGUAGE)
  if (f.trains.length === 0) return f.missing(shows, name, NO_LOCOMOTIVE)
  const { acts, settledUs } = f.driveAll(1, 0, FIRST_COMMAND_US)
  const dirtyUs = settledUs + START_WATCHED_US
  // Every capacitor charges again and again: a program may add up what no single one makes too long.
  const dirt = Array.from({ length: DIRTY_PLACES.count }, (_, i) =>
    f.trains.map(({ name: train }): ActDesign => {
      return { at: dirtyUs + (i + 1) * DIRTY_PLACES.everyUs, contact: { train, lost: DIRTY_PLACES.lostUs } }
    }),
  )
  const lasts = dirtyUs + (DIRTY_PLACES.count + 2) * DIRTY_PLACES.everyUs
  const hasService = f.service.length > 0 && f.setup.commands?.serviceOn !== undefined
  return f.make(
    shows,
    name,
    lasts,
    [
      ...(hasService ? [{ at: FIRST_COMMAND_US, service: 'on' as const }] : []),
      ...acts,
      ...[
        ...f.loadAll(settledUs, 1, dirtyUs - FIRST_COMMAND_US, f.operations),
        // Motors do not run on a service track.
        ...(hasService ? f.loadAll(settledUs, 0, 0, f.service) : []),
      ].map((act): ActDesign => ({ ...act, load: { ...act.load!, lasts: START_WATCHED_US } })),
      ...dirt.flat(),
    ],
    [{ staysOn: {} }, { driverSafe: true }],
  )
}

/** Every kind of command to every train, several hands at once; then all stop, and silence for longer than every time-out. */
export function heaviestTraffic(f: Frame): Playable {
  const name = 'heaviest traffic'
  const shows = { clause: 'refresh', about: f.operations[0]?.output } as const
  const { commands } = f.setup
  const { trains } = f
  if (!f.canDrive) return f.missing(shows, name, NO_LANGUAGE)
  if (trains.length === 0) return f.missing(shows, name, NO_LOCOMOTIVE)
  const untilUs = FIRST_COMMAND_US + BUSY_LASTS_US
  const acts: ActDesign[] = []
  for (let i = 0; FIRST_COMMAND_US + i * BUSY_EVERY_US < untilUs; i++) {
    const at = FIRST_COMMAND_US + i * BUSY_EVERY_US
    const t = i % trains.length
    const { name: train, functions = 1 } = trains[t]!
    const round = Math.floor(i / trains.length)
    if (round % 2 === 0 || !commands?.function) {
      const speed = SPEEDS[(commands?.function ? round / 2 : round) % SPEEDS.length]!
      acts.push({ at, drive: { train, speed: Math.abs(speed), ...(speed < 0 ? { reverse: true } : {}) } })
      continue
    }
    // Each train goes on where the one before it will end, so that few rounds reach all of them.
    const rounds = Math.ceil(BUSY_LASTS_US / BUSY_EVERY_US / trains.length / 2)
    const k = (round - 1) / 2
    const number = (t * rounds + k) % (functions + 1)
    acts.push({
      at,
      function: { train, number, is: Math.floor(k / (functions + 1)) % 2 === 0 ? 'on' : 'off' },
    })
  }
  const nobody = f.bytes({ kind: 'speed', address: 0, speed: 0.5, forward: true })
  if (nobody) acts.push({ at: untilUs, send: escaped(nobody) })
  const garbage = overlong(f)
  if (garbage !== undefined) acts.push({ at: untilUs + BUSY_EVERY_US, send: garbage })
  const oneUs = untilUs + 3 * BUSY_EVERY_US
  const stopUs = untilUs + SETTLED_US + (garbage === undefined ? 0 : AFTER_OVERLONG_US)
  const [first] = trains
  return f.make(
    shows,
    name,
    stopUs + 2 * SETTLED_US + TIME_OUTS * f.longestTimeoutUs,
    [
      ...acts,
      ...(commands?.stopOne ? [{ at: oneUs, stop: trains.at(-1)!.name }] : []),
      ...(commands?.stop ? [{ at: stopUs, stop: 'all' }, ...dirtyWheels(first!.name, stopUs)] : []),
      // The others are refreshed all the same.
      ...(commands?.forget && trains.length > 1
        ? [{ at: stopUs + SETTLED_US, forget: trains.at(-1)!.name }]
        : []),
    ],
    [
      { traffic: true },
      { commandsActed: { within: OBEYED_WITHIN_US } },
      { onlyCommanded: true },
      { signal: true },
    ],
  )
}

/** What is sent in this time does not reach the train: it must be sent again. */
function dirtyWheels(train: string, fromUs: number): ActDesign[] {
  const { lostUs: lost, everyUs, times } = DIRT
  return Array.from({ length: times }, (_, i) => ({ at: fromUs + i * everyUs, contact: { train, lost } }))
}

/** Digits of a number in a command that is longer than the buffers of such programs. */
const OVERLONG_DIGITS = 150
const AFTER_OVERLONG_US = 300e3

/** A speed command whose address has far too many digits, as a fault on the line may make one; none where a command is not text. */
function overlong(f: Frame): string | undefined {
  const address = 8
  const bytes = f.bytes({ kind: 'speed', address, speed: 0, forward: true })
  if (!bytes || f.setup.commands?.end === '') return undefined
  const text = String.fromCharCode(...bytes)
  if (!text.includes(String(address)) || !/^[\x20-\x7e]+[\r\n]+$/.test(text)) return undefined
  return text
    .replace(String(address), String(address).repeat(OVERLONG_DIGITS))
    .replaceAll('\\', '\\\\')
    .replaceAll('\n', '\\n')
    .replaceAll('\r', '\\r')
}

/**
 * The program hangs while trains run: its watchdog, the drivers or the time-outs of the decoders must stop them. Where only its
 * main loop hangs, interrupts may go on sending.
 */
export function hang(f: Frame, why: 'hang' | 'main loop'): Playable {
  const name = why === 'hang' ? 'program hangs under way' : 'main loop hangs under way'
  const about = f.operations[0]?.output
  const shows = { clause: 'interruption', about } as const
  if (about === undefined || !f.canDrive) return f.missing(shows, name, NO_LANGUAGE)
  if (f.trains.length === 0) return f.missing(shows, name, NO_LOCOMOTIVE)
  const { acts, settledUs } = f.driveAll(0.5, COMMAND_EVERY_US, FIRST_COMMAND_US)
  const lasts = Math.max(HANG_WATCHED_US, TIME_OUTS * f.longestTimeoutUs)
  return f.make(
    shows,
    name,
    settledUs + lasts,
    [...acts, { at: settledUs, hold: { why, lasts } }],
    [{ afterHang: true }],
  )
}

export function restart(f: Frame): Playable {
  const name = 'controller restarts under way'
  const about = f.operations[0]?.output
  const shows = { clause: 'start-up', about } as const
  if (about === undefined || !f.canDrive) return f.missing(shows, name, NO_LANGUAGE)
  const [first] = f.trains
  if (!first) return f.missing(shows, name, NO_LOCOMOTIVE)
  const { acts, settledUs } = f.driveAll(0.5, COMMAND_EVERY_US, FIRST_COMMAND_US)
  const goesOn = (againUs: number): ActDesign[] => [
    ...(f.setup.commands?.powerOn ? [{ at: againUs, power: 'on' as const }] : []),
    { at: againUs + POWER_ON_AFTER_US, drive: { train: first.name, speed: 0.5 } },
  ]
  const againUs = settledUs + RESTART_WATCHED_US
  // A program can tell one cause of a restart from the other, and do another thing.
  const failsUs = againUs + POWER_ON_AFTER_US + OBEYED_WITHIN_US
  const lastUs = failsUs + BROWN_OUT_US + RESTART_WATCHED_US
  return f.make(
    shows,
    name,
    lastUs + POWER_ON_AFTER_US + OBEYED_WITHIN_US,
    [
      ...acts,
      { at: settledUs, reset: true },
      ...goesOn(againUs),
      { at: failsUs, hold: { why: 'brown-out', lasts: BROWN_OUT_US } },
      ...goesOn(lastUs),
    ],
    [{ afterReset: { stops: STOPPED_WITHIN_US, obeys: OBEYED_WITHIN_US } }],
  )
}

/** Longer than 65 536 ms, us: a counter of milliseconds with 16 bits begins anew meanwhile. */
const QUIET_US = 66.5e6

/** Nobody commands anything for more than a minute: every train is refreshed all the time, and then everything works as before. */
export function quietMinute(f: Frame): Playable {
  const name = 'a minute without commands'
  const about = f.operations[0]?.output
  const shows = { clause: 'refresh', about } as const
  const { commands } = f.setup
  if (about === undefined || !f.canDrive) return f.missing(shows, name, NO_LANGUAGE)
  const [first] = f.trains
  if (!first) return f.missing(shows, name, NO_LOCOMOTIVE)
  const { acts, settledUs } = f.driveAll(0.5, COMMAND_EVERY_US, FIRST_COMMAND_US)
  const againUs = QUIET_US + OBEYED_WITHIN_US
  const district = f.operations.find((d) => d.tripBy === 'sense') ?? f.operations[0]!
  const shortUs = againUs + 2 * OBEYED_WITHIN_US
  return f.make(
    shows,
    name,
    shortUs + SHORT_LASTS_US,
    [
      ...acts,
      ...(commands?.function
        ? [{ at: settledUs, function: { train: first.name, number: 0, is: 'on' as const } }]
        : []),
      { at: againUs, drive: { train: first.name, speed: 0.3 } },
      ...(commands?.stop ? [{ at: againUs + OBEYED_WITHIN_US, stop: 'all' }] : []),
      {
        at: shortUs,
        short: { at: { district: district.name, end: 'weakest' as const }, lasts: SHORT_LASTS_US },
      },
    ],
    [
      { traffic: true },
      { commandsActed: { within: OBEYED_WITHIN_US } },
      { onlyCommanded: true },
      { shortOff: {} },
    ],
  )
}
