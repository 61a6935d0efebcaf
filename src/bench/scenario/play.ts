/** Plays a scenario: lets its acts happen at their times, writes down what follows, and judges it at the end. */
import type { Command } from '../../controller/index.js'
import { seededRandom } from '../../corner/index.js'
import type { Finding } from '../../finding/index.js'
import { isShown, type Statement, type Verdict } from '../../standard/index.js'
import { codeUnits, InputError, Sha256 } from '../../units/index.js'
import { BENCH_FINDINGS as SAYS } from '../findings.data.js'
import type { BenchAct } from '../station/acts.js'
import { CoupledRun } from '../station/coupled.js'
import type { BenchSetup } from '../station/setup.js'
import { type Deed, deedOf } from './deed.js'
import { type ActDesign, EXPECTATION_KEYS, type ExpectationDesign, type ScenarioDesign } from './design.js'
import { withDrawn } from './drawn.js'
import { heardIn } from './heard.js'
import { doubted, doubtedStatement, foundIf, statedIf, unmodelledIn } from './judge/doubt.js'
import { judge } from './judge/index.js'
import { ratings, shortedThrough } from './judge/ratings.js'
import { stopsInside } from './judge/stops.js'
import type { BenchPlan } from './plan.js'
import { type Found, type Outcome, type ScenarioResult, statementOf, worstOf } from './result.js'
import { signalsOf } from './signals.js'
import { type DoneAct, Trace } from './trace.js'

/** A time in which the scenario itself keeps the program from running, us. */
export interface Interruption {
  fromUs: number
  toUs: number
}

/** What a run is watched for by whoever knows the whole design. */
export interface RunWatch {
  /** Statements about the signal and the traffic of the run so far. */
  statements(ranUs: number): { signal: Statement[]; traffic: Statement[] }
}

export interface PlayOptions {
  /**
   * By the design a short of so many amperes is off within, us; undefined where it does not tell.
   * @param slower so much longer a period of the controller's clock is in this run, share
   */
  plannedUs(district: string, amp: number, slower: number): number | undefined
  /** By the design a current above this trips for certain, A; undefined where the design does not tell. */
  tripsAbove?: ((district: string) => number | undefined) | undefined
  /** File of the firmware. */
  file: string
  /**
   * What attempts into a short that lasts come to over time, from when it is off first until it is gone; undefined where
   * it stays off, or where what carries them is not known.
   */
  attempts?:
    | ((
        district: string,
        switched: readonly { on: boolean; timeUs: number }[],
        toUs: number,
      ) => { onUs: number; offUs: number; verdict: Verdict; because: string } | undefined)
    | undefined
  /**
   * What a driver stands, and how hot its junction gets while the current of a district follows points.
   * Absent figures are not known; `peakAmp` is absent for a driver that limits its current by itself.
   */
  driverUnder?:
    | ((
        district: string,
        points: readonly { us: number; amp: number }[],
      ) =>
        | { hottestC?: number | undefined; junctionMaxC?: number | undefined; peakAmp?: number | undefined }
        | undefined)
    | undefined
  /** What the run is held against where a light load would show nothing. */
  planned?: BenchPlan | undefined
  /** Attached before the run begins. */
  watch?: ((run: CoupledRun, interruptions: readonly Interruption[]) => RunWatch) | undefined
}

/** Between looks at what an act waits for, us. */
const WATCH_EVERY_US = 1000
/** A firmware that begins anew sends its first packet within this, us. */
const STARTS_WITHIN_US = 1e6
/** Simulated time between two steps, us: some ten milliseconds of work. */
const STEP_US = 100e3

/** The bench cannot do what an act of a scenario asks for. */
export class ActRefused extends InputError {
  override name = 'ActRefused'
  /** Of the act in its scenario. */
  readonly index: number

  constructor(message: string, index: number) {
    super(message)
    this.index = index
  }
}

/** How far a scenario is, 0 to 1. */
export type Playing = Generator<number, ScenarioResult>

/**
 * Play a scenario that has been checked. Deterministic: the same scenario gives the same result, to the cycle.
 * @throws ActRefused where the bench cannot do what an act asks for.
 */
export function* play(scenario: ScenarioDesign, setup: BenchSetup, options: PlayOptions): Playing {
  const drawn = withDrawn(setup, scenario)
  const run = new CoupledRun(drawn)
  const trace = new Trace(run, drawn)
  const interruptions: Interruption[] = []
  const isWatched = scenario.expect.some((e) => e.signal !== undefined || e.traffic !== undefined)
  const watch = isWatched ? options.watch?.(run, interruptions) : undefined
  const waiting = schedule(scenario, trace, interruptions)
  for (let us = 0; us < scenario.lasts; ) {
    us = Math.min(scenario.lasts, us + STEP_US)
    run.runTo(us)
    yield us / scenario.lasts
  }
  trace.look(run.nowUs)
  const watched = watch?.statements(scenario.lasts)
  const played: Played = { scenario, trace, setup: drawn, options, watched, waiting: [...waiting] }
  const unmodelled = unmodelledIn(run)
  const outcomes: Outcome[] = []
  const statements: Statement[] = []
  const findings: Finding[] = [...waiting].map((i) =>
    SAYS.find('never-happened', { act: nameOf(scenario.acts[i]!, i) }),
  )
  for (const [i, expectation] of scenario.expect.entries()) {
    const key = EXPECTATION_KEYS.find((k) => expectation[k] !== undefined)!
    const found = foundIf(unmodelled, doubted(key, judge(key, expectation, played), run.doubtedUs))
    const worst = worstOf(found)
    if (!worst) continue
    const { verdict, finding, timeUs } = worst
    outcomes.push({ expectation: i, key, verdict, finding, ...(timeUs === undefined ? {} : { timeUs }) })
    findings.push(...found.map((f) => f.finding))
    statements.push(...found.flatMap((f) => statementOf(f, options.file)))
  }
  if (watched)
    statements.push(
      ...watchedFor(scenario, watched).map((s) => statedIf(unmodelled, doubtedStatement(s, run.doubtedUs))),
    )
  const beside = foundIf(unmodelled, doubted('driverSafe', besideExpectations(played), run.doubtedUs))
  findings.push(...beside.map((f) => f.finding))
  statements.push(...beside.flatMap((f) => statementOf(f, options.file)))
  findings.push(...run.controller.notes)
  const said = oneEach(statements)
  return {
    name: scenario.name,
    statements: said,
    findings,
    outcomes,
    heard: heardIn(trace, scenario.lasts),
    timeline: run.timeline(),
    amps: run.amps,
    signals: signalsOf(trace, scenario.lasts),
    ranUs: run.nowUs,
    digest: digestOf(trace, said),
    scenario,
  }
}

/** Play to the end at once. */
export function playAll(playing: Playing): ScenarioResult {
  for (;;) {
    const step = playing.next()
    if (step.done) return step.value
  }
}

export interface Played {
  scenario: ScenarioDesign
  trace: Trace
  setup: BenchSetup
  options: PlayOptions
  watched: ReturnType<RunWatch['statements']> | undefined
  /** Acts that never happened, by index. */
  waiting: number[]
}

/** What drivers and supplies stood, where that is asked for, and every stop in a place where trains have to stop. */
function besideExpectations(played: Played): Found[] {
  const asked = played.scenario.expect.some((e) => e.driverSafe)
  const stops = stopsInside(played)
  // A scenario that stops nobody is not asked where they stop.
  const isStopping = played.trace.commands().some((c) => c.kind.startsWith('stop') || isStop(c))
  const isTold = asked && isStopping
  return [
    ...shortedThrough(played),
    ...(asked ? ratings(played) : []),
    ...stops.filter((f) => isTold || f.verdict !== 'not shown'),
  ]
}

const isStop = (c: Command) => c.kind === 'speed' && c.speed === 0

function digestOf({ run, states, ears, bytesIn }: Trace, statements: readonly Statement[]): string {
  const sum = new Sha256()
  const add = (value: unknown) => sum.push(codeUnits(JSON.stringify(value)))
  add(run.timeline())
  add([...run.amps])
  add([...states])
  add([...ears.values()].map((ear) => [ear.name, ear.packets.map((p) => [p.endUs, ...p.bytes])]))
  add([bytesIn, run.answers, run.nowUs])
  // Not where the files are: a replay elsewhere is the same.
  add(statements.map((s) => [s.clause, s.about, s.verdict, isShown(s) ? s.value : '']))
  return sum.hex()
}

/** One statement of each clause about each thing: the worst of them, and the first of those. */
function oneEach(statements: readonly Statement[]): Statement[] {
  const order = ['broken', 'undecided', 'not shown', 'met']
  const kept = new Map<string, Statement>()
  for (const s of statements) {
    const key = `${s.clause} ${s.about} ${s.where?.section}`
    const other = kept.get(key)
    if (!other || order.indexOf(s.verdict) < order.indexOf(other.verdict)) kept.set(key, s)
  }
  return [...kept.values()]
}

function watchedFor({ expect }: ScenarioDesign, watched: NonNullable<Played['watched']>): Statement[] {
  const wants = (key: keyof ExpectationDesign) => expect.some((e) => e[key] !== undefined)
  return [...(wants('signal') ? watched.signal : []), ...(wants('traffic') ? watched.traffic : [])]
}

export function nameOf(act: ActDesign, index: number): string {
  return act.name ?? `act ${index + 1}`
}

/** @returns indices of the acts that still wait; the set shrinks as they happen. */
function schedule(
  scenario: ScenarioDesign,
  trace: Trace,
  interruptions: Interruption[],
): ReadonlySet<number> {
  const { run, setup } = trace
  const random = seededRandom(scenario.seed)
  const waiting = new Set<number>()
  const attempt = (act: BenchAct, index: number) => {
    try {
      run.do(act)
    } catch (error) {
      if (error instanceof InputError) throw new ActRefused(error.message, index)
      throw error
    }
  }
  const happen = (index: number, deed: Deed) => {
    const act = scenario.acts[index]!
    waiting.delete(index)
    const done: DoneAct = { act, index, timeUs: run.nowUs, endUs: Number.POSITIVE_INFINITY }
    trace.done.push(done)
    if (act.reset || act.hold) {
      const heldUs = act.hold?.lasts ?? 0
      const fromUs = run.nowUs - setup.windows.zeroMaxUs
      interruptions.push({ fromUs, toUs: run.nowUs + heldUs + STARTS_WITHIN_US })
    }
    attempt(deed.begins, index)
    done.district = districtOf(deed.begins, trace)
    const { ends } = deed
    if (ends)
      run.at(run.nowUs + ends.after, () => {
        done.endUs = run.nowUs
        attempt(ends.act, index)
      })
    for (const [i, other] of scenario.acts.entries())
      if (act.name !== undefined && other.after === act.name) arm(i, other)
  }
  const arm = (index: number, act: ActDesign) => {
    const deed = deedOf(act, index, setup)!
    const { when, wait = 0 } = act
    const fromUs = run.nowUs
    const later = () => {
      if (wait === 0) happen(index, deed)
      else run.at(run.nowUs + wait, () => happen(index, deed))
    }
    if (!when) {
      later()
      return
    }
    const watch = (timeUs: number) =>
      run.at(timeUs, () => {
        if (isSo(when, fromUs, trace)) later()
        else watch(timeUs + WATCH_EVERY_US)
      })
    watch(fromUs + WATCH_EVERY_US)
  }
  for (const [i, act] of scenario.acts.entries()) {
    waiting.add(i)
    const drawn = random.uniform()
    const at = act.at ?? (act.between && act.between[0]! + drawn * (act.between[1]! - act.between[0]!))
    if (at !== undefined) {
      const deed = deedOf(act, i, setup)!
      run.at(at, () => happen(i, deed))
    } else if (act.after === undefined) arm(i, act)
  }
  return waiting
}

/** The district in which an act shorts the rails. */
function districtOf(act: BenchAct, { run, setup }: Trace): string | undefined {
  if (act.act === 'short' || act.act === 'load') {
    const there = (act.act === 'short' ? run.rails.shorts : run.parked).get(act.name)
    return there && setup.districts[run.network.districtOf(there.spot)]?.name
  }
  return act.act === 'derail' ? setup.districts[run.train(act.train).district]?.name : undefined
}

function isSo(when: NonNullable<ActDesign['when']>, fromUs: number, trace: Trace): boolean {
  const { run } = trace
  if (when.answer !== undefined) return trace.answered(when.answer, fromUs) !== undefined
  if (when.off !== undefined) return !run.isOn(when.off)
  if (when.on !== undefined) return run.isOn(when.on)
  if (when.moves !== undefined) return run.decoder(when.moves)!.target > 0
  return run.decoder(when.stops!)!.target === 0
}
