/** The scenarios that every design gives rise to, as the same data that a scenario file holds. */
import { commandBytes } from '../../controller/index.js'
import type { ClauseId } from '../../standard/index.js'
import type { BenchDistrict, BenchSetup } from '../station/setup.js'
import { onService } from './check.js'
import { type ActDesign, type ExpectationDesign, SCENARIO_VERSION, type ScenarioDesign } from './design.js'
import { ActRefused, type Playing, type PlayOptions, play, playAll } from './play.js'
import { notRun, type ScenarioResult } from './result.js'

/** When the first locomotive is commanded, and from one to the next, us: a firmware may still send its resets before. */
const FIRST_COMMAND_US = 300e3
const COMMAND_EVERY_US = 60e3
/** A state has settled so long after the last command, us. */
const SETTLED_US = 700e3
const SHORT_LASTS_US = 400e3
const POWER_ON_AFTER_US = 200e3
/** Power must be back so long after the short has gone, us; a breaker waits 2 s. */
const POWER_BACK_US = 2.8e6
const START_WATCHED_US = 2e6
/** After a restart every locomotive must have stopped within this, us. */
const STOPPED_WITHIN_US = 1e6
const RESTART_WATCHED_US = 3e6
/** A command must have moved its locomotive within this, us. */
const OBEYED_WITHIN_US = 1e6
/** From one command to the next under the heaviest traffic, us: several hands at once. */
const BUSY_EVERY_US = 50e3
const BUSY_LASTS_US = 4e6
/** After the last command each address is watched for so many of its time-outs. */
const TIME_OUTS = 1.3
/** A CV on the service track, and values that the decoder does not have before. */
const CV = 3
const VALUE = 12
const WRONG_VALUE = 13
/** From one service-mode command to the next, us: 20 packets of power-up, and the operation. */
const SERVICE_EVERY_US = 1.2e6

/** A scenario that can be played on a bench. */
export interface Playable {
  name: string
  /** Absent where it cannot be run. */
  scenario?: ScenarioDesign
  /** Steps of the run, for whoever shows how far it is. */
  steps(): Playing
  run(): ScenarioResult
}

const NO_LANGUAGE = 'the design does not say how the firmware is commanded'
const NO_LOCOMOTIVE = 'the design names no locomotive that is there'

/** @param onRefusal what is made of an act that the bench cannot do; thrown on where it is absent. */
export function playable(
  scenario: ScenarioDesign,
  setup: BenchSetup,
  options: PlayOptions,
  onRefusal?: (refused: ActRefused) => ScenarioResult,
): Playable {
  function* steps(): Playing {
    try {
      return yield* play(scenario, setup, options)
    } catch (error) {
      if (onRefusal && error instanceof ActRefused) return onRefusal(error)
      throw error
    }
  }
  return { name: scenario.name, scenario, steps, run: () => playAll(steps()) }
}

/** In the order in which they are worth knowing. */
export function standingScenarios(setup: BenchSetup, options: PlayOptions): Playable[] {
  const modeOf = new Map(setup.outputs.map((o) => [o.name, o.mode]))
  const operations = setup.districts.filter((d) => modeOf.get(d.output) === 'operations')
  const service = setup.districts.filter((d) => modeOf.get(d.output) === 'service')
  const trains = setup.decoders.filter((d) => operations.some((o) => o.name === d.district))
  const { commands } = setup
  const canDrive =
    commands !== undefined &&
    commandBytes({ kind: 'speed', address: 3, speed: 0.5, forward: true }, commands) !== undefined

  const standing = (scenario: ScenarioDesign, clause: ClauseId, about: string | undefined): Playable =>
    playable(scenario, setup, options, (refused) => notRun(scenario.name, clause, about, refused.message))
  const missing = (name: string, clause: ClauseId, about: string | undefined, why: string): Playable => {
    const result = notRun(name, clause, about, why)
    return {
      name,
      // biome-ignore lint/correctness/useYield: it is over before its first step
      *steps() {
        return result
      },
      run: () => result,
    }
  }
  const driveAll = (
    speed: number,
    everyUs: number,
    afterUs = 0,
  ): { acts: ActDesign[]; settledUs: number } => ({
    acts: trains.map(({ name }, i) => ({
      at: afterUs + FIRST_COMMAND_US + i * everyUs,
      drive: { train: name, speed },
    })),
    settledUs: afterUs + FIRST_COMMAND_US + trains.length * everyUs + SETTLED_US,
  })

  const short = (district: BenchDistrict, end: 'weakest' | 'strongest'): Playable => {
    const name =
      end === 'weakest' ? `short in ${district.name}` : `short in ${district.name}, strongest place`
    if (!canDrive) return missing(name, 'short-trip', district.name, NO_LANGUAGE)
    const place = { at: { district: district.name, end }, lasts: SHORT_LASTS_US }
    // A short soon after power-up, then another: a watch may be blind at first, or trip but once.
    const isAgain = end === 'strongest' && commands.powerOn !== undefined
    const firstGoneUs = FIRST_COMMAND_US + SHORT_LASTS_US
    const early: ActDesign[] = isAgain
      ? [
          { at: FIRST_COMMAND_US, short: place },
          { at: firstGoneUs + POWER_ON_AFTER_US, power: 'on' },
        ]
      : []
    const { acts, settledUs } = driveAll(0.5, COMMAND_EVERY_US, isAgain ? firstGoneUs + POWER_BACK_US : 0)
    const goneUs = settledUs + SHORT_LASTS_US
    return standing(
      scenarioOf(
        name,
        goneUs + POWER_BACK_US,
        [
          ...early,
          ...acts,
          { at: settledUs, short: place },
          ...(commands.powerOn ? [{ at: goneUs + POWER_ON_AFTER_US, power: 'on' as const }] : []),
        ],
        [{ shortOff: {} }, { powerBack: { within: POWER_BACK_US } }],
      ),
      'short-trip',
      district.name,
    )
  }

  const startAtOnce = (): Playable => {
    const name = 'every locomotive starts at once'
    if (!canDrive) return missing(name, 'inrush', operations[0]?.name, NO_LANGUAGE)
    if (trains.length === 0) return missing(name, 'inrush', operations[0]?.name, NO_LOCOMOTIVE)
    // Power-up comes first: the capacitors charge in it too.
    const { acts, settledUs } = driveAll(1, 0)
    return standing(
      scenarioOf(name, settledUs + START_WATCHED_US, acts, [{ staysOn: {} }, { driverSafe: true }]),
      'inrush',
      operations[0]?.name,
    )
  }

  const heaviestTraffic = (): Playable => {
    const name = 'heaviest traffic'
    const about = operations[0]?.output
    if (!canDrive) return missing(name, 'refresh', about, NO_LANGUAGE)
    if (trains.length === 0) return missing(name, 'refresh', about, NO_LOCOMOTIVE)
    const longest = Math.max(...trains.map((t) => t.timeoutUs))
    const untilUs = FIRST_COMMAND_US + BUSY_LASTS_US
    const acts: ActDesign[] = []
    for (let i = 0; FIRST_COMMAND_US + i * BUSY_EVERY_US < untilUs; i++) {
      const at = FIRST_COMMAND_US + i * BUSY_EVERY_US
      const { name: train } = trains[i % trains.length]!
      const round = Math.floor(i / trains.length)
      // Speeds and functions in turn, each different from the one before.
      if (round % 2 === 0 || !commands?.function)
        acts.push({ at, drive: { train, speed: 0.3 + 0.1 * (round % 5) } })
      else
        acts.push({
          at,
          function: { train, number: round % 4 === 1 ? 0 : 1, is: round % 8 < 4 ? 'on' : 'off' },
        })
    }
    return standing(
      scenarioOf(name, untilUs + SETTLED_US + TIME_OUTS * longest, acts, [
        { traffic: true },
        { commandsActed: { within: OBEYED_WITHIN_US } },
        { onlyCommanded: true },
        { signal: true },
      ]),
      'refresh',
      about,
    )
  }

  const restart = (): Playable => {
    const name = 'controller restarts under way'
    const about = operations[0]?.output
    if (about === undefined || !canDrive) return missing(name, 'start-up', about, NO_LANGUAGE)
    const [first] = trains
    if (!first) return missing(name, 'start-up', about, NO_LOCOMOTIVE)
    const { acts, settledUs } = driveAll(0.5, COMMAND_EVERY_US)
    const againUs = settledUs + RESTART_WATCHED_US
    return standing(
      scenarioOf(
        name,
        againUs + POWER_ON_AFTER_US + OBEYED_WITHIN_US,
        [
          ...acts,
          { at: settledUs, reset: true },
          ...(commands?.powerOn ? [{ at: againUs, power: 'on' as const }] : []),
          { at: againUs + POWER_ON_AFTER_US, drive: { train: first.name, speed: 0.5 } },
        ],
        [{ afterReset: { stops: STOPPED_WITHIN_US, obeys: OBEYED_WITHIN_US } }],
      ),
      'start-up',
      about,
    )
  }

  const programme = (district: BenchDistrict): Playable => {
    const name = `CV on ${district.name}`
    if (!commands?.write || !onService(setup)) return missing(name, 'ack-detect', district.name, NO_LANGUAGE)
    // One answer that is always the same would be right for one kind of question.
    if (!commands.verify)
      return missing(
        name,
        'ack-detect',
        district.name,
        'the design does not say how a CV is verified, so that silence is never due',
      )
    if (!commands.acknowledged || !commands.unanswered)
      return missing(name, 'ack-detect', district.name, 'the design does not say what the firmware answers')
    const at = (i: number) => FIRST_COMMAND_US + i * SERVICE_EVERY_US
    const wanted = [
      [`write CV${CV} = ${VALUE}`, 'acknowledged'],
      [`verify CV${CV} = ${VALUE}`, 'acknowledged'],
      [`verify CV${CV} = ${WRONG_VALUE}`, 'unanswered'],
    ] as const
    return standing(
      scenarioOf(
        name,
        at(4),
        [
          ...(commands.serviceOn ? [{ at: FIRST_COMMAND_US, service: 'on' as const }] : []),
          { name: wanted[0][0], at: at(1), write: { cv: CV, value: VALUE } },
          { name: wanted[1][0], at: at(2), verify: { cv: CV, value: VALUE } },
          { name: wanted[2][0], at: at(3), verify: { cv: CV, value: WRONG_VALUE } },
        ],
        [
          { cv: { cv: CV, value: VALUE } },
          ...wanted.map(([to, is]) => ({ answer: { to, is, within: SERVICE_EVERY_US } })),
          { signal: true },
        ],
      ),
      'ack-detect',
      district.name,
    )
  }

  return [
    ...operations.map((d) => short(d, 'weakest')),
    ...operations.map((d) => short(d, 'strongest')),
    startAtOnce(),
    heaviestTraffic(),
    restart(),
    ...service.map(programme),
  ]
}

function scenarioOf(
  name: string,
  lasts: number,
  acts: ActDesign[],
  expect: ExpectationDesign[],
): ScenarioDesign {
  return { scenario: SCENARIO_VERSION, name, lasts, seed: 1, acts, expect }
}
