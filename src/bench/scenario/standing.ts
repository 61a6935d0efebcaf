/** The scenarios that every design gives rise to, and what each run of them shows. */
import { commandBytes, recogniseAnswers } from '../../controller/index.js'
import type { Finding } from '../../finding/index.js'
import {
  type ClauseId,
  type Evidence,
  marginWithin,
  notShown,
  type Statement,
  type Verdict,
} from '../../standard/index.js'
import { BENCH_FINDINGS as SAYS } from '../findings.data.js'
import { type BenchEvent, CoupledRun } from '../station/coupled.js'
import type { BenchDistrict, BenchSetup } from '../station/setup.js'

export interface ScenarioResult {
  name: string
  statements: Statement[]
  findings: Finding[]
  /** What happened, in the order of time; empty where the scenario was not run. */
  timeline: BenchEvent[]
  /** Current of each district at every change, A. */
  amps: ReadonlyMap<string, readonly { timeUs: number; amp: number }[]>
  /** Simulated time, us. */
  ranUs: number
}

export interface StandingOptions {
  /** By the design a short of so many amperes is off within, us; undefined where it does not tell. */
  plannedUs(district: string, amp: number): number | undefined
  file: string
}

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
/** Events of the bench fall on whole instructions: finer than this nothing is told apart, us. */
const GRAIN_US = 10
/** After a restart every locomotive must have stopped within this, us. */
const STOPPED_WITHIN_US = 1e6
const RESTART_WATCHED_US = 3e6
/** Between looks at whether something moves, us. */
const LOOK_EVERY_US = 20e3
/** A CV on the service track, and values that the decoder does not have before. */
const CV = 3
const VALUE = 12
const WRONG_VALUE = 13
/** From one service-mode command to the next, us: 20 packets of power-up, and the operation. */
const SERVICE_EVERY_US = 1.2e6

export interface Standing {
  name: string
  run(): ScenarioResult
}

/** In the order in which they are worth knowing. */
export function standingScenarios(setup: BenchSetup, options: StandingOptions): Standing[] {
  const outputMode = new Map(setup.outputs.map((o) => [o.name, o.mode]))
  const operations = setup.districts.filter((d) => outputMode.get(d.output) === 'operations')
  const service = setup.districts.filter((d) => outputMode.get(d.output) === 'service')
  return [
    ...operations.map((d) => ({ name: `short in ${d.name}`, run: () => short(setup, d, options) })),
    { name: 'every locomotive starts at once', run: () => startAtOnce(setup, operations, options) },
    { name: 'controller restarts under way', run: () => restart(setup, operations, options) },
    ...service.map((d) => ({ name: `CV on ${d.name}`, run: () => programme(setup, d, options) })),
  ]
}

function notRun(name: string, clause: ClauseId, about: string | undefined, why: string): ScenarioResult {
  const finding = SAYS.find('not-run', { scenario: name, why })
  return {
    name,
    statements: [notShown(clause, 'simulated', finding, { about })],
    findings: [finding],
    timeline: [],
    amps: new Map(),
    ranUs: 0,
  }
}

function canSay(setup: BenchSetup, kind: 'speed'): boolean {
  const { commands } = setup
  return (
    commands !== undefined &&
    commandBytes({ kind, address: 3, speed: 0.5, forward: true }, commands) !== undefined
  )
}

const NO_LANGUAGE = 'the design does not say how the firmware is commanded'
const NO_LOCOMOTIVE = 'the design names no locomotive that stands there'

/** Every locomotive of the fleet gets a speed; @returns when the last has settled, us. */
function commandAll(run: CoupledRun, setup: BenchSetup, speed: number, everyUs: number): number {
  let timeUs = FIRST_COMMAND_US
  for (const { name, address, district } of setup.decoders) {
    const output = setup.districts.find((d) => d.name === district)?.output
    if (setup.outputs.find((o) => o.name === output)?.mode !== 'operations') continue
    run.at(
      timeUs,
      () => void run.command({ kind: 'speed', address, speed, forward: true }, `speed for ${name}`),
    )
    timeUs += everyUs
  }
  return timeUs + SETTLED_US
}

function resultOf(
  name: string,
  run: CoupledRun,
  statements: Statement[],
  findings: Finding[] = [],
): ScenarioResult {
  const said = statements.flatMap((s) => s.finding ?? [])
  return {
    name,
    statements,
    findings: [...said, ...findings],
    timeline: run.timeline(),
    amps: run.amps,
    ranUs: run.nowUs,
  }
}

function evidence(
  clause: ClauseId,
  about: string,
  verdict: Verdict,
  found: { low: number; high: number; unit: string; max?: number | undefined },
  finding: Finding,
  { file }: StandingOptions,
  timeUs?: number,
): Evidence {
  const { low, high, unit, max } = found
  const margin = max === undefined ? (verdict === 'met' ? 1 : -1) : marginWithin(low, high, { max })
  return {
    clause,
    origin: 'simulated',
    about,
    verdict,
    value: { low, high, unit },
    margin:
      verdict === 'undecided' ? 0 : verdict === 'broken' ? Math.min(-0.01, margin) : Math.max(0, margin),
    where: { file, ...(timeUs === undefined ? {} : { timeUs }) },
    because: finding.sentence,
    finding,
  }
}

const BY: Readonly<Record<BenchDistrict['tripBy'], string>> = {
  sense: 'the firmware',
  breaker: 'the breaker',
  driver: 'the driver',
  nobody: 'nobody',
}

function short(setup: BenchSetup, district: BenchDistrict, options: StandingOptions): ScenarioResult {
  const name = `short in ${district.name}`
  if (!canSay(setup, 'speed')) return notRun(name, 'short-trip', district.name, NO_LANGUAGE)
  if (district.tripBy === 'driver')
    return notRun(name, 'short-trip', district.name, 'a driver’s own trip is not modelled')
  const run = new CoupledRun(setup)
  const shortUs = commandAll(run, setup, 0.5, COMMAND_EVERY_US)
  run.runTo(shortUs)
  if (!run.isOn(district.name))
    return notRun(name, 'short-trip', district.name, 'the track has no power before the short')
  const before = new Set(setup.districts.filter((d) => run.isOn(d.name)).map((d) => d.name))
  run.short(district.name, setup.contactOhm)
  const goneUs = shortUs + SHORT_LASTS_US
  run.runTo(goneUs)
  const off = run.events.find(
    (e) => e.timeUs >= shortUs && e.about === district.name && (e.kind === 'breaker' || e.kind === 'driver'),
  )
  const amp = peakOf(run, district.name, shortUs, goneUs)
  run.short(district.name, Number.POSITIVE_INFINITY)
  run.at(goneUs + POWER_ON_AFTER_US, () => void run.command({ kind: 'powerOn' }, 'power on'))
  const also = [...before].filter((d) => d !== district.name && !run.isOn(d))
  run.runTo(goneUs + POWER_BACK_US)
  const allowedUs = options.plannedUs(district.name, amp)
  const tookUs = off ? off.timeUs - shortUs : SHORT_LASTS_US
  const found = { low: tookUs, high: tookUs, unit: 'us', max: allowedUs }
  let statement: Evidence
  if (!off) {
    const finding = SAYS.find('short-stays-on', { district: district.name, amp, lastedUs: SHORT_LASTS_US })
    statement = evidence('short-trip', district.name, 'broken', found, finding, options, shortUs)
  } else {
    const by =
      off.kind === 'breaker' ? 'its breaker' : BY[district.tripBy === 'breaker' ? 'sense' : district.tripBy]
    const late = allowedUs !== undefined && tookUs > allowedUs + GRAIN_US
    const again = onAgain(run, district.name, off.timeUs, goneUs, allowedUs ?? tookUs)
    const finding = again
      ? SAYS.find('short-on-again', { district: district.name, amp, ...again })
      : late
        ? SAYS.find('short-late', { district: district.name, tookUs, by, allowedUs })
        : SAYS.find('short-off', { district: district.name, tookUs, by, also })
    const verdict = late || again ? 'broken' : allowedUs === undefined ? 'undecided' : 'met'
    statement = evidence('short-trip', district.name, verdict, found, finding, options, shortUs)
  }
  const back = run.isOn(district.name)
  const more = back
    ? []
    : [SAYS.find('power-stays-off', { district: district.name, waitedUs: POWER_BACK_US })]
  return resultOf(name, run, [statement], more)
}

/**
 * The driver is switched on into the short that it was switched off for: after less time than the trip may take, so that
 * the short flows half of the time or more, or for longer than the trip may take.
 */
function onAgain(run: CoupledRun, district: string, offUs: number, goneUs: number, tripUs: number) {
  const switched = run.events.filter(
    (e) => e.kind === 'driver' && e.about === district && e.timeUs >= offUs && e.timeUs < goneUs,
  )
  // It was on before; each event is the other of the two.
  for (let i = 1; i < switched.length; i += 2) {
    const offForUs = switched[i]!.timeUs - switched[i - 1]!.timeUs
    const onForUs = (switched[i + 1]?.timeUs ?? goneUs) - switched[i]!.timeUs
    if (offForUs < tripUs || onForUs > tripUs + GRAIN_US) return { offForUs, onForUs }
  }
  return undefined
}

function peakOf(run: CoupledRun, district: string, fromUs: number, toUs: number): number {
  let peak = 0
  for (const { timeUs, amp } of run.amps.get(district) ?? [])
    if (timeUs >= fromUs && timeUs <= toUs) peak = Math.max(peak, amp)
  return peak
}

function startAtOnce(
  setup: BenchSetup,
  districts: readonly BenchDistrict[],
  options: StandingOptions,
): ScenarioResult {
  const name = 'every locomotive starts at once'
  if (!canSay(setup, 'speed')) return notRun(name, 'inrush', districts[0]?.name, NO_LANGUAGE)
  const run = new CoupledRun(setup)
  // Power-up comes first: the capacitors charge in it too.
  const untilUs = commandAll(run, setup, 1, 0) + START_WATCHED_US
  run.runTo(untilUs)
  const statements = districts.map((d): Statement => {
    if (!setup.decoders.some((decoder) => decoder.district === d.name))
      return notRun(name, 'inrush', d.name, NO_LOCOMOTIVE).statements[0]!
    const peakAmp = peakOf(run, d.name, 0, untilUs)
    const first = run.events.find((e) => e.about === d.name && e.kind === 'driver')
    const off = run.events.find(
      (e) =>
        e.about === d.name &&
        first !== undefined &&
        e.timeUs > first.timeUs &&
        (e.kind === 'breaker' || (e.kind === 'driver' && e.on === false)),
    )
    if (first === undefined)
      return notShown(
        'inrush',
        'simulated',
        SAYS.find('not-run', { scenario: name, why: 'the track never has power' }),
        {
          about: d.name,
        },
      )
    const finding = off
      ? SAYS.find('trips-at-start', { district: d.name, atUs: off.timeUs, peakAmp })
      : SAYS.find('start-holds', { district: d.name, peakAmp })
    const verdict = off ? 'broken' : 'met'
    return evidence(
      'inrush',
      d.name,
      verdict,
      { low: 0, high: off ? 1 : 0, unit: 'share' },
      finding,
      options,
      off?.timeUs,
    )
  })
  return resultOf(name, run, statements)
}

function restart(
  setup: BenchSetup,
  districts: readonly BenchDistrict[],
  options: StandingOptions,
): ScenarioResult {
  const name = 'controller restarts under way'
  const about = districts[0]?.output
  if (about === undefined || !canSay(setup, 'speed')) return notRun(name, 'start-up', about, NO_LANGUAGE)
  const there = (d: BenchDistrict) => setup.decoders.some((decoder) => decoder.district === d.name)
  if (!districts.some(there)) return notRun(name, 'start-up', about, NO_LOCOMOTIVE)
  const run = new CoupledRun(setup)
  const restartUs = commandAll(run, setup, 0.5, COMMAND_EVERY_US)
  run.runTo(restartUs)
  // Where nothing moved before, nothing is shown by its standing still.
  if (!run.decoders.some((d) => d.target > 0))
    return notRun(name, 'start-up', about, 'no locomotive moved before it')
  run.restart()
  let stoppedUs = LOOK_EVERY_US
  let moving: { decoder: string; atUs: number } | undefined
  for (let us = LOOK_EVERY_US; us <= RESTART_WATCHED_US; us += LOOK_EVERY_US) {
    run.runTo(restartUs + us)
    const still = run.decoders.find((d) => d.target > 0)
    if (!still) continue
    stoppedUs = us + LOOK_EVERY_US
    if (us > STOPPED_WITHIN_US) moving ??= { decoder: still.name, atUs: us }
  }
  const finding = moving
    ? SAYS.find('moves-after-restart', moving)
    : SAYS.find('still-after-restart', { stoppedUs })
  const found = { low: 0, high: moving ? 1 : 0, unit: 'packets' }
  return resultOf(name, run, [
    evidence('start-up', about, moving ? 'broken' : 'met', found, finding, options, restartUs),
  ])
}

function programme(setup: BenchSetup, district: BenchDistrict, options: StandingOptions): ScenarioResult {
  const name = `CV on ${district.name}`
  const { commands } = setup
  const decoder = setup.decoders.find((d) => d.district === district.name)
  if (!commands?.write || !decoder) return notRun(name, 'ack-detect', district.name, NO_LANGUAGE)
  const run = new CoupledRun(setup)
  let timeUs = FIRST_COMMAND_US
  if (commands.serviceOn) run.at(timeUs, () => void run.command({ kind: 'serviceOn' }, 'service track on'))
  const asked: { timeUs: number; says: string; wanted: 'acknowledged' | 'unanswered' }[] = []
  const ask = (kind: 'write' | 'verify', value: number, wanted: 'acknowledged' | 'unanswered') => {
    timeUs += SERVICE_EVERY_US
    const says = `${kind} CV${CV} = ${value}`
    run.at(timeUs, () => void run.command({ kind, cv: CV, value }, says))
    if (commands[kind]) asked.push({ timeUs, says, wanted })
  }
  ask('write', VALUE, 'acknowledged')
  ask('verify', VALUE, 'acknowledged')
  ask('verify', WRONG_VALUE, 'unanswered')
  run.runTo(timeUs + SERVICE_EVERY_US)
  const statements: Statement[] = []
  const found = run.decoder(decoder.name)!.cvs.get(CV)
  const answers = recogniseAnswers(run.answers, commands)
  const answerTo = (i: number) => {
    const [from, to] = [asked[i]!.timeUs, asked[i + 1]?.timeUs ?? Number.POSITIVE_INFINITY]
    return answers.find((a) => a.timeUs >= from && a.timeUs < to)?.answer
  }
  const wrong = asked.findIndex((a, i) => commands[a.wanted] && answerTo(i) !== a.wanted)
  const share = { low: 0, high: 0, unit: 'share' }
  if (found !== VALUE) {
    const finding = SAYS.find('cv-not-written', { cv: CV, value: VALUE, found })
    const broken = { low: 1, high: 1, unit: 'operations' }
    statements.push(
      evidence('service-sequence', district.output, 'broken', broken, finding, options, asked[0]!.timeUs),
    )
  }
  if (wrong >= 0) {
    const { says, wanted, timeUs: atUs } = asked[wrong]!
    const said = answerTo(wrong)
    const finding = SAYS.find('answer-wrong', {
      command: says,
      wanted: `"${wanted}"`,
      found: said === undefined ? 'nothing' : `"${said}"`,
    })
    statements.push(
      evidence('ack-detect', district.name, 'broken', { ...share, high: 1 }, finding, options, atUs),
    )
  } else if (!commands.acknowledged || !commands.unanswered) {
    const why = 'the design does not say what the firmware answers'
    statements.push(...notRun(name, 'ack-detect', district.name, why).statements)
  } else if (found === VALUE) {
    const finding = SAYS.find('service-works', {
      write: `CV${CV} = ${VALUE} is written`,
      answers: asked.length,
    })
    statements.push(evidence('ack-detect', district.name, 'met', share, finding, options))
  }
  return resultOf(name, run, statements)
}
