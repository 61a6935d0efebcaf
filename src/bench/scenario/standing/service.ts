/** A CV on the service track: stored, verified, verified with a wrong value, and asked of a track without a decoder. */
import type { BenchDistrict } from '../../station/setup.js'
import { onService } from '../check.js'
import type { ActDesign, ExpectationDesign } from '../design.js'
import {
  COMMAND_EVERY_US,
  FIRST_COMMAND_US,
  type Frame,
  NO_LANGUAGE,
  OBEYED_WITHIN_US,
  type Playable,
  POWER_OFF_US,
  SETTLED_US,
} from './frame.js'

/** A CV, and values that the decoder does not have before. */
const CV = 3
const VALUE = 12
const WRONG_VALUE = 13
/** A value of eight bits: a program may take it for a signed one. */
const HIGH = { cv: 4, value: 200 }
/** Of a CV above 256 a program may lose the high bits, which leaves CV4. Nobody needs to offer as many: only what it writes counts. */
const FAR = { cv: 516, value: 77 }
/** Commands for trains come in so long after a write on the service track, us. */
const MEANWHILE_US = 50e3
/** From one service-mode command to the next, us: 20 packets of power-up, and the operation. */
const SERVICE_EVERY_US = 1.2e6

/**
 * Of a read, us: bit by bit it takes about a second. Programs that try one value after the other need 70 ms for each: time for
 * a low value, a high one, and all of them.
 */
const READ_US = { low: 3e6, high: 16e6, silent: 20e6 }

interface ServiceStep {
  name: string
  does: ActDesign
  is?: 'acknowledged' | 'unanswered'
  value?: number
  /** Until the next one, us. */
  takesUs?: number
}

/** Until the first operation no more are driven. */
const MOST_DRIVEN = 10

export function programme(f: Frame, district: BenchDistrict): Playable {
  const name = `CV on ${district.name}`
  const shows = { clause: 'ack-detect', about: district.name } as const
  const { commands } = f.setup
  const decoder = onService(f.setup)
  if (!commands?.write || !decoder) return f.missing(shows, name, NO_LANGUAGE)
  // One answer that is always the same would be right for one kind of question.
  if (!commands.verify)
    return f.missing(
      shows,
      name,
      'the design does not say how a CV is verified, so that silence is never due',
    )
  if (!commands.acknowledged || !commands.unanswered)
    return f.missing(shows, name, 'the design does not say what the firmware answers')
  const reads = commands.read !== undefined && commands.readAnswer !== undefined
  const read = (cv: number, value: number, takesUs: number): ServiceStep[] =>
    reads ? [{ name: `read CV${cv}`, does: { read: { cv } }, value, takesUs }] : []
  const steps: ServiceStep[] = [
    { name: `write CV${CV} = ${VALUE}`, does: { write: { cv: CV, value: VALUE } }, is: 'acknowledged' },
    { name: `verify CV${CV} = ${VALUE}`, does: { verify: { cv: CV, value: VALUE } }, is: 'acknowledged' },
    {
      name: `verify CV${CV} = ${WRONG_VALUE}`,
      does: { verify: { cv: CV, value: WRONG_VALUE } },
      is: 'unanswered',
    },
    {
      name: `write CV${HIGH.cv} = ${HIGH.value}`,
      does: { write: HIGH },
      is: 'acknowledged',
    },
    ...(f.canSay({ kind: 'write', ...FAR })
      ? [{ name: `write CV${FAR.cv} = ${FAR.value}`, does: { write: FAR } }]
      : []),
    ...read(CV, VALUE, READ_US.low),
    ...read(HIGH.cv, HIGH.value, READ_US.high),
    // A program that answers from memory, or any write with yes, is right until here.
    {
      name: 'write without a decoder',
      does: { write: { cv: CV, value: WRONG_VALUE } },
      is: 'unanswered',
    },
    {
      name: 'verify without a decoder',
      does: { verify: { cv: CV, value: WRONG_VALUE } },
      is: 'unanswered',
    },
    ...(reads
      ? [
          {
            name: 'read without a decoder',
            does: { read: { cv: CV } },
            is: 'unanswered' as const,
            takesUs: READ_US.silent,
          },
        ]
      : []),
  ]
  const goneFrom = steps.findIndex((step) => step.name.endsWith('without a decoder'))
  const startsUs: number[] = []
  let endUs = FIRST_COMMAND_US + SERVICE_EVERY_US
  for (const { takesUs = SERVICE_EVERY_US } of steps) {
    startsUs.push(endUs)
    endUs += takesUs
  }
  // Trains run meanwhile: nothing of what is sent here may reach them.
  const trains = f.trains.slice(0, MOST_DRIVEN).map(({ name: train }, i) => ({
    at: FIRST_COMMAND_US + (i + 1) * COMMAND_EVERY_US,
    drive: { train, speed: 0.5 },
  }))
  // The first write is a moment ago: trains are to be stopped all the same.
  const [first] = trains
  const meanwhile: ActDesign[] = first
    ? [
        { at: startsUs[0]! + MEANWHILE_US, drive: { train: first.drive.train, speed: 0.3 } },
        ...(commands.stop ? [{ at: startsUs[1]! + MEANWHILE_US, stop: 'all' }] : []),
      ]
    : []
  return f.make(
    shows,
    name,
    endUs + POWER_OFF_US + SETTLED_US,
    [
      ...(f.canDrive ? [...trains, ...meanwhile] : []),
      ...(commands.serviceOn ? [{ at: FIRST_COMMAND_US, service: 'on' as const }] : []),
      ...steps.map(({ name, does }, i) => ({ name, at: startsUs[i]!, ...does })),
      { at: startsUs[goneFrom]! - SERVICE_EVERY_US / 4, remove: decoder.name },
      ...(commands.serviceOff ? [{ at: endUs, service: 'off' as const }] : []),
    ],
    [
      { cv: { cv: CV, value: VALUE } },
      { cv: HIGH },
      ...steps.flatMap(({ name: to, is, value, takesUs: within = SERVICE_EVERY_US }): ExpectationDesign[] => {
        if (is !== undefined) return [{ answer: { to, is, within } }]
        return value === undefined ? [] : [{ answer: { to, value, within } }]
      }),
      { signal: true },
      ...(f.canDrive && trains.length > 0
        ? [{ onlyCommanded: true }, { traffic: true }, { commandsActed: { within: OBEYED_WITHIN_US } }]
        : []),
      ...(commands.serviceOff ? [{ powerOff: { within: POWER_OFF_US } }] : []),
    ],
  )
}
