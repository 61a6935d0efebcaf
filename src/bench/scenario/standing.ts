/** The scenarios that every design gives rise to, and what each run of them shows. */
import { commandBytes } from '../../controller/index.js'
import type { Finding } from '../../finding/index.js'
import { type Evidence, notShown, type Statement } from '../../standard/index.js'
import { formatTimeUs } from '../../units/index.js'
import { BENCH_FINDINGS as SAYS } from '../findings.data.js'
import { CoupledRun } from '../station/coupled.js'
import type { BenchDistrict, BenchSetup } from '../station/setup.js'
import { OutputEar } from './output-ear.js'
import {
  evidence,
  FIRST_COMMAND_US,
  NO_LANGUAGE,
  notRun,
  resultOf,
  type ScenarioResult,
  type StandingOptions,
} from './parts.js'
import { programme } from './programme.js'

const COMMAND_EVERY_US = 60e3
/** A state has settled so long after the last command, us. */
const SETTLED_US = 700e3
const SHORT_LASTS_US = 400e3
const POWER_ON_AFTER_US = 200e3
/** Power must be back so long after the short has gone, us; a breaker waits 2 s. */
const POWER_BACK_US = 2.8e6
const START_WATCHED_US = 2e6
/** A station that works sends a packet in this, us. */
const PACKETS_WATCHED_US = 200e3
/** Events of the bench fall on whole instructions: finer than this nothing is told apart, us. */
const GRAIN_US = 10
/** After a restart every locomotive must have stopped within this, us. */
const STOPPED_WITHIN_US = 1e6
const RESTART_WATCHED_US = 3e6
/** A command must have moved its locomotive within this, us. */
const OBEYED_WITHIN_US = 1e6
/** Between looks at whether something moves, us. */
const LOOK_EVERY_US = 20e3
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

function canSay(setup: BenchSetup, kind: 'speed'): boolean {
  const { commands } = setup
  return (
    commands !== undefined &&
    commandBytes({ kind, address: 3, speed: 0.5, forward: true }, commands) !== undefined
  )
}

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
  const ear = earOf(setup, district.output, run)
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
  return resultOf(name, run, [statement, ...recovery(setup, district, run, ear, options)])
}

/** Whether trains could run again after the short: power on the rails, and packets in it. */
function recovery(
  setup: BenchSetup,
  { name, output }: BenchDistrict,
  run: CoupledRun,
  ear: OutputEar,
  options: StandingOptions,
): Statement[] {
  const before = ear.count
  run.runTo(run.nowUs + PACKETS_WATCHED_US)
  const isOn = run.isOn(name)
  if (isOn && ear.count > before) return []
  const waitedUs = POWER_BACK_US + PACKETS_WATCHED_US
  const found = { low: waitedUs, high: waitedUs, unit: 'us' }
  if (isOn)
    return [
      evidence('short-trip', name, 'broken', found, SAYS.find('silent-after-short', { output }), options),
    ]
  if (!setup.commands?.powerOn) {
    const why = `power is not back ${formatTimeUs(waitedUs)} after the short, and the design does not say how the firmware is told to switch it on`
    return notRun(`return of power to ${name}`, 'short-trip', name, why).statements
  }
  const finding = SAYS.find('power-stays-off', { district: name, waitedUs })
  return [evidence('short-trip', name, 'broken', found, finding, options)]
}

function earOf(setup: BenchSetup, output: string, run: CoupledRun): OutputEar {
  return new OutputEar(setup.outputs.find((o) => o.name === output)!, run.machine, setup.windows)
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
  const here = (decoder: string, district: string) =>
    setup.decoders.some((d) => d.name === decoder && d.district === district)
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
    // Locomotives that never started draw little: that nothing switches off says nothing then.
    const still = run.decoders.find((decoder) => here(decoder.name, d.name) && decoder.target === 0)
    if (!off && still)
      return notRun(name, 'inrush', d.name, `${still.name} did not start when it was commanded`)
        .statements[0]!
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
  const ear = earOf(setup, about, run)
  const restartUs = commandAll(run, setup, 0.5, COMMAND_EVERY_US)
  run.runTo(restartUs)
  // Where nothing moved before, nothing is shown by its standing still.
  if (!run.decoders.some((d) => d.target > 0))
    return notRun(name, 'start-up', about, 'no locomotive moved before it')
  run.restart()
  const sentBefore = ear.count
  let stoppedUs = LOOK_EVERY_US
  let moving: { decoder: string; atUs: number } | undefined
  for (let us = LOOK_EVERY_US; us <= RESTART_WATCHED_US; us += LOOK_EVERY_US) {
    run.runTo(restartUs + us)
    const still = run.decoders.find((d) => d.target > 0)
    if (!still) continue
    stoppedUs = us + LOOK_EVERY_US
    if (us > STOPPED_WITHIN_US) moving ??= { decoder: still.name, atUs: us }
  }
  const found = { low: 0, high: 1, unit: 'packets' }
  const broken = (finding: Finding) =>
    resultOf(name, run, [evidence('start-up', about, 'broken', found, finding, options, restartUs)])
  if (moving) return broken(SAYS.find('moves-after-restart', moving))
  // A station that stays silent stops every locomotive too: it has to come back, and obey.
  if (ear.count === sentBefore)
    return broken(SAYS.find('silent-after-restart', { watchedUs: RESTART_WATCHED_US }))
  const district = districts.find(there)!
  if (!run.isOn(district.name)) {
    run.command({ kind: 'powerOn' }, 'power on')
    run.runTo(run.nowUs + POWER_ON_AFTER_US)
  }
  if (!run.isOn(district.name)) {
    if (setup.commands?.powerOn) return broken(SAYS.find('dark-after-restart', { district: district.name }))
    const why =
      'track power is off after it, and the design does not say how the firmware is told to switch it on'
    return notRun(name, 'start-up', about, why)
  }
  const { name: locomotive, address } = setup.decoders.find((d) => d.district === district.name)!
  run.command({ kind: 'speed', address, speed: 0.5, forward: true }, `speed for ${locomotive}`)
  const commandedUs = run.nowUs
  const decoder = run.decoder(locomotive)!
  while (decoder.target === 0 && run.nowUs < commandedUs + OBEYED_WITHIN_US)
    run.runTo(run.nowUs + LOOK_EVERY_US)
  if (decoder.target === 0)
    return broken(SAYS.find('deaf-after-restart', { decoder: locomotive, waitedUs: OBEYED_WITHIN_US }))
  const finding = SAYS.find('still-after-restart', { stoppedUs, decoder: locomotive })
  return resultOf(name, run, [
    evidence('start-up', about, 'met', { ...found, high: 0 }, finding, options, restartUs),
  ])
}
