/** What the built-in scenarios have in common: the station's districts and trains, their times, and how one is made. */
import { type CommandValues, commandBytes, recogniseCommands } from '../../../controller/index.js'
import type { ClauseId } from '../../../standard/index.js'
import type { BenchDecoder, BenchDistrict, BenchSetup } from '../../station/setup.js'
import { type ActDesign, type ExpectationDesign, SCENARIO_VERSION, type ScenarioDesign } from '../design.js'
import { ActRefused, type Playing, type PlayOptions, play, playAll } from '../play.js'
import { notRun, type ScenarioResult } from '../result.js'

/** When the first locomotive is commanded, and from one to the next, us: a firmware may still send its resets before. */
export const FIRST_COMMAND_US = 300e3
export const COMMAND_EVERY_US = 60e3
/** A state has settled so long after the last command, us. */
export const SETTLED_US = 700e3
export const POWER_ON_AFTER_US = 200e3
/** Something lies across the rails so long, us. */
export const SHORT_LASTS_US = 400e3
/** Power must be back so long after the short has gone, us; a breaker waits 2 s. */
export const POWER_BACK_US = 2.8e6
/** Track power that is commanded off must be off within this, us; assumed: nobody waits longer at a stop button. */
export const POWER_OFF_US = 300e3
/** A command must have moved its locomotive within this, us. */
export const OBEYED_WITHIN_US = 1e6
/** After the last command each address is watched for so many of its time-outs. */
export const TIME_OUTS = 1.3

/** Of the current from which a trip is certain: what a short of some resistance draws. */
const OVERLOAD = 1.15

export const NO_LANGUAGE = 'the design does not say how the firmware is commanded'
export const NO_LOCOMOTIVE = 'the design names no locomotive that is there'

/** A scenario that can be played on a bench. */
export interface Playable {
  name: string
  /** Absent where it cannot be run. */
  scenario?: ScenarioDesign
  /** Steps of the run, for whoever shows how far it is. */
  steps(): Playing
  run(): ScenarioResult
}

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

/** Share of full speed that a train has reached so long after it was driven, by its momentum (CV3: value × 0.896 s). */
const reached = ({ cvs }: BenchDecoder, us: number) => (cvs[3] ? Math.min(1, us / (cvs[3] * 0.896e6)) : 1)

/** Bytes as text of a scenario file. */
export const escaped = (bytes: Uint8Array) =>
  Array.from(bytes, (b) => `\\x${b.toString(16).padStart(2, '0')}`).join('')

/** What a built-in scenario shows first, for the statement that it could not be run. */
export interface Shows {
  clause: ClauseId
  about: string | undefined
}

/** The station of a design as the built-in scenarios see it. */
export class Frame {
  readonly setup: BenchSetup
  readonly options: PlayOptions
  readonly operations: readonly BenchDistrict[]
  readonly service: readonly BenchDistrict[]
  /** On the operations tracks. */
  readonly trains: readonly BenchDecoder[]
  readonly canDrive: boolean

  constructor(setup: BenchSetup, options: PlayOptions) {
    this.setup = setup
    this.options = options
    const modeOf = new Map(setup.outputs.map((o) => [o.name, o.mode]))
    this.operations = setup.districts.filter((d) => modeOf.get(d.output) === 'operations')
    this.service = setup.districts.filter((d) => modeOf.get(d.output) === 'service')
    this.trains = setup.decoders.filter((d) => this.operations.some((o) => o.name === d.district))
    this.canDrive = this.bytes({ kind: 'speed', address: 3, speed: 0.5, forward: true }) !== undefined
  }

  /** Of a command in the language of the firmware; undefined where it has no word for it. */
  bytes(command: CommandValues): Uint8Array | undefined {
    const { commands } = this.setup
    return commands && commandBytes(command, commands)
  }

  /** Whether the language has room for the values of a command: a number may have to fit in a byte. */
  canSay(command: CommandValues & { kind: 'write' }): boolean {
    const bytes = this.bytes(command)
    const { commands } = this.setup
    if (!bytes || !commands) return false
    const [said] = recogniseCommands(
      Array.from(bytes, (value, i) => ({ value, timeUs: i })),
      commands,
    )
    return said?.kind === 'write' && said.cv === command.cv && said.value === command.value
  }

  make(
    { clause, about }: Shows,
    name: string,
    lasts: number,
    acts: ActDesign[],
    expect: ExpectationDesign[],
  ): Playable {
    const scenario = { scenario: SCENARIO_VERSION, name, lasts, seed: 1, acts, expect }
    return playable(scenario, this.setup, this.options, (refused) =>
      notRun(name, clause, about, refused.message),
    )
  }

  missing({ clause, about }: Shows, name: string, why: string): Playable {
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

  /** Every train is driven, one after the other; `settledUs` is when all of them have heard it. */
  driveAll(speed: number, everyUs: number, fromUs: number): { acts: ActDesign[]; settledUs: number } {
    return {
      acts: this.trains.map(({ name }, i) => ({ at: fromUs + i * everyUs, drive: { train: name, speed } })),
      settledUs: fromUs + this.trains.length * everyUs + SETTLED_US,
    }
  }

  /**
   * Every word of the firmware's language that concerns the operations tracks, one after the other; at the end power is on.
   * A program may watch the current no more after one of them.
   */
  everyWord(fromUs: number): { acts: ActDesign[]; untilUs: number } {
    const { commands } = this.setup
    const [first] = this.trains
    const last = this.trains.at(-1)
    const acts: ActDesign[] = []
    let at = fromUs
    const say = (isThere: unknown, act: ActDesign, thenUs = COMMAND_EVERY_US) => {
      if (isThere === undefined) return
      acts.push({ at, ...act })
      at += thenUs
    }
    if (first && last) {
      say(commands?.function, { function: { train: first.name, number: 0, is: 'on' } })
      say(commands?.function, { function: { train: first.name, number: 0, is: 'off' } })
      say(commands?.stopOne, { stop: first.name })
      say(commands?.stop, { stop: 'all' })
      say(commands?.forget, { forget: last.name })
    }
    say(commands?.serviceOn, { service: 'on' }, SETTLED_US)
    say(commands?.serviceOn && commands.serviceOff, { service: 'off' })
    if (commands?.powerOn) {
      say(commands.powerOff, { power: 'off' }, POWER_OFF_US + COMMAND_EVERY_US)
      // Whoever has switched power off does not expect a throttle to switch it on.
      if (first) say(commands.powerOff, { drive: { train: first.name, speed: 0.3 } })
      say(commands.powerOn, { power: 'on' }, POWER_ON_AFTER_US)
    }
    return { acts, untilUs: at }
  }

  /** Across the rails at the weakest place, Ohm, so that a little more flows than trips for certain; undefined where the supply gives less. */
  overloadOhm(district: BenchDistrict): number | undefined {
    const { setup, options } = this
    const supply = setup.supplies.find((s) => s.name === district.supply)
    const trip = district.tripBy === 'sense' ? options.tripsAbove?.(district.name) : undefined
    if (trip === undefined || !supply) return undefined
    const amp = OVERLOAD * trip
    const most = Math.min(supply.limitAmp, district.holdsAmp)
    const ohm = (supply.volt - district.dropVolt) / amp - supply.ohm - district.ohm - district.farOhm
    return amp < most && ohm > setup.contactOhm ? ohm : undefined
  }

  /** Other districts on the operations tracks that the program switches off by a pin of their own. */
  #switchedApart(district: BenchDistrict): BenchDistrict[] {
    if (district.tripBy !== 'sense') return []
    const pins = (d: BenchDistrict) => [...(d.driver.enable ?? []), ...(d.driver.enableLow ?? [])]
    const own = pins(district)
    return this.operations.filter(
      (d) =>
        d.name !== district.name &&
        d.tripBy === 'sense' &&
        own.length > 0 &&
        pins(d).length > 0 &&
        !pins(d).some((pin) => own.includes(pin)),
    )
  }

  /**
   * Of these, one of each other supply: they can be shorted at once. Two on one supply share what it gives, so that neither may
   * reach its trip.
   */
  protectedApart(district: BenchDistrict): BenchDistrict[] {
    const supplies = new Set([district.supply])
    return this.#switchedApart(district).filter(({ supply }) => !supplies.has(supply) && supplies.add(supply))
  }

  /** Of these, those on its supply: they can be shorted only while it is off. */
  protectedInTurn(district: BenchDistrict): BenchDistrict[] {
    return this.#switchedApart(district).filter((d) => d.supply === district.supply)
  }

  /** Of all trains, us; 0 where no decoder has one. */
  get longestTimeoutUs(): number {
    return Math.max(0, ...this.trains.map((t) => t.timeoutUs))
  }

  /**
   * What is to be drawn in a district beside its trains for its worst planned load, A.
   * @param share of full speed that its trains are told, so long ago, us
   */
  #restOfPlan(district: string, share: number, us: number): number {
    const planned = this.options.planned?.drivers
      ?.flatMap((d) => d.districts)
      .find((d) => d.name === district)?.plannedAmp
    if (planned === undefined) return 0
    const own = this.setup.decoders
      .filter((t) => t.district === district)
      .reduce(
        (sum, t) => sum + t.idleAmp + t.motorAmp * Math.min(share, reached(t, us)) + (t.tailAmp ?? 0),
        0,
      )
    return Math.max(0, planned - own - this.#accessoriesAmp(district))
  }

  /** Drawn by what is no train, A. */
  #accessoriesAmp(district: string): number {
    const { plan, net } = this.setup.railroad ?? {}
    if (!plan || !net) return 0
    return plan.stands
      .filter((s) => !s.train)
      .filter((s) => {
        const run = plan.runs[s.run]
        return (s.track < 0 ? run?.district : net.districts[net.districtOfTrack[s.track]!]) === district
      })
      .reduce((sum, s) => sum + s.amp, 0)
  }

  /**
   * Every district draws its planned load from a time on.
   * @param share of full speed that trains are told, so long before its end, us
   */
  loadAll(
    fromUs: number,
    share: number,
    us: number,
    districts: readonly BenchDistrict[] = this.operations,
  ): ActDesign[] {
    return districts.flatMap(({ name }) => {
      const current = this.#restOfPlan(name, share, us)
      if (current === 0) return []
      return [{ at: fromUs, load: { at: { district: name, end: 'weakest' as const }, current } }]
    })
  }
}
