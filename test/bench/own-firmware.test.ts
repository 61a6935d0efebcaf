// Firmware in another style than the examples', in languages of its own, with single faults planted, against the built-in scenarios.
import { readFileSync } from 'node:fs'
import { describe, expect, it, vi } from 'vitest'
import type { ScenarioResult } from '../../src/bench/index.js'
import { loadFirmware, type SimulatedChip } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchOf, scenarioFromFile } from '../../src/proof/index.js'
import { compile, HAVE_COMPILER, workFolder } from '../firmware/compile.js'

/** Each test compiles a firmware and plays up to a minute with it: on a machine that is busy that takes its time, ms. */
vi.setConfig({ testTimeout: 600_000 })

type Station = 'two-districts' | 'twin-tracks'
const CHIPS: Record<Station, SimulatedChip> = { 'two-districts': 'atmega32u4', 'twin-tracks': 'atmega2560' }
const folder = workFolder()

function benchWith(station: Station, ...flags: string[]) {
  return benchOfText(station, designOf(station), ...flags)
}

const designOf = (station: Station) =>
  readFileSync(new URL(`firmware/${station}.yaml`, import.meta.url), 'utf8')

function benchOfText(station: Station, design: string, ...flags: string[]) {
  const chip = CHIPS[station]
  const { path, bytes } = compile(folder, { file: `../bench/firmware/${station}.c` }, chip, flags)
  return benchOf(loadDesign(design), loadFirmware(bytes, path), chip, path)!
}

const run = (station: Station, scenario: string, ...flags: string[]) =>
  benchWith(station, ...flags)
    .standing.find((s) => s.name === scenario)!
    .run()

const notMet = ({ outcomes, statements }: ScenarioResult) => [
  ...outcomes.filter((o) => o.verdict !== 'met').map((o) => o.finding.sentence),
  ...statements.filter((s) => s.verdict === 'broken').map((s) => s.because),
]

describe.runIf(HAVE_COMPILER)('a sound station', () => {
  it.each<[Station, string]>([
    ['two-districts', 'short in west, strongest place'],
    ['two-districts', 'stop during a short'],
    ['two-districts', 'heaviest traffic'],
    ['two-districts', 'controller restarts under way'],
    ['two-districts', 'a minute without commands'],
    ['twin-tracks', 'short in programming'],
    ['twin-tracks', 'CV on programming'],
  ])('%s passes: %s', (station, scenario) => {
    expect(notMet(run(station, scenario))).toEqual([])
  })
})

describe.runIf(HAVE_COMPILER)('a fault is caught', () => {
  it.each<[string, Station, string, string, string]>([
    [
      'trips at half as much again as planned',
      'two-districts',
      'TRIPS_LATE',
      'short in west, strongest place',
      'short-stays-on',
    ],
    [
      'watches one district at a time',
      'two-districts',
      'ONE_AT_A_TIME',
      'short in west, strongest place',
      'short-on-again',
    ],
    [
      'takes readings of one district for the other',
      'two-districts',
      'WRONG_CHANNEL',
      'short in west',
      'short-stays-on',
    ],
    [
      'waits for its answer to go out while the rails are shorted',
      'two-districts',
      'LONG_ANSWERS',
      'stop during a short',
      'short-late',
    ],
    [
      'has power without packets after a brown-out only',
      'two-districts',
      'AFTER_BROWN_OUT',
      'controller restarts under way',
      'moves-after-restart',
    ],
    ['sends an emergency stop once', 'two-districts', 'STOP_ONCE', 'heaviest traffic', 'never-acted'],
    ['does not stop one locomotive', 'two-districts', 'STOPS_NOBODY', 'heaviest traffic', 'clause-of-run'],
    [
      'counts milliseconds in 16 bits',
      'two-districts',
      'SIXTEEN_BITS',
      'a minute without commands',
      'clause-of-run',
    ],
    ['obeys nothing while a CV is written', 'twin-tracks', 'BLOCKS', 'CV on programming', 'never-acted'],
    [
      'writes the CV that is left of a high number',
      'twin-tracks',
      'LOW_BITS',
      'CV on programming',
      'cv-written-beside',
    ],
    [
      'watches no current while it programmes',
      'twin-tracks',
      'NO_TRIP',
      'short in programming',
      'short-late',
    ],
  ])('%s', (_, station, fault, scenario, code) => {
    const { outcomes } = run(station, scenario, `-D${fault}`)
    const broken = outcomes.filter((o) => o.verdict === 'broken').map((o) => o.finding.code)
    expect(broken).toContain(`bench/${code}`)
  })
})

describe.runIf(HAVE_COMPILER)('two districts on one supply, shorted one after the other', () => {
  const design = designOf('two-districts')
    .replace('supply: two', 'supply: one')
    .replace(/ {4}two: .*\n/, '')
    .replace(
      'rating: 4 A, limit: constant, limitCurrent: 4.5 A',
      'rating: 5 A, limit: constant, limitCurrent: 5.5 A',
    )
    .replace('fuse: 5 A', 'fuse: 6.3 A')
  const shorted = (...flags: string[]) =>
    benchOfText('two-districts', design, ...flags)
      .standing.find((s) => s.name === 'short in west, strongest place')!
      .run()

  it('are switched off both by sound firmware', () => {
    expect(notMet(shorted())).toEqual([])
  })

  it('show firmware that does not watch one while the other is off', () => {
    const broken = shorted('-DONE_AT_A_TIME').outcomes.filter((o) => o.verdict === 'broken')
    expect(broken.map((o) => o.finding.code)).toContain('bench/short-on-again')
  })
})

describe.runIf(HAVE_COMPILER)('a language in which the number of a CV is one byte', () => {
  it('has no word for CV516, which is not asked of its firmware', () => {
    const written = (design: string) =>
      benchOfText('twin-tracks', design)
        .standing.find((s) => s.name === 'CV on programming')!
        .scenario!.acts.flatMap(({ write }) => write?.cv ?? [])
    const design = designOf('twin-tracks')
    expect(written(design)).toContain(516)
    expect(written(design.replaceAll('{cv:hex}', '{cv:u8}'))).toEqual(
      written(design).filter((cv) => cv !== 516),
    )
  })
})

describe.runIf(HAVE_COMPILER)('a main loop that hangs while interrupts go on', () => {
  const scenario = `scenario: 1
name: main loop hangs
lasts: 7 s
acts:
  - { at: 300 ms, drive: { train: mole, speed: 50 % } }
  - { at: 1 s, hold: { why: main loop, lasts: 5 s } }
  - { at: 6.5 s, drive: { train: mole, speed: 30 % } }
expect:
  - afterHang: yes
`
  const played = (...flags: string[]) =>
    scenarioFromFile(benchWith('two-districts', ...flags), scenario, 'hang.yaml').run()

  it('leaves the signal as it was: idle packets, until decoders time out, and the program goes on where it was', () => {
    const { outcomes, heard, timeline } = played('-DNOWDT')
    expect(outcomes).toMatchObject([{ verdict: 'met', finding: { params: { how: 'time-out' } } }])
    expect(heard.at(-1)!.actedUs).toBeGreaterThan(6.5e6)
    expect(timeline.filter((e) => e.kind === 'restart').map((e) => e.sentence)).toEqual([
      'the main loop hangs',
      'the program goes on',
    ])
  })

  it('is ended by a watchdog', () => {
    const [outcome] = played().outcomes
    expect(outcome).toMatchObject({ verdict: 'met', finding: { params: { how: 'restart' } } })
    expect(outcome!.finding.params.stoppedUs).toBeLessThan(50e3)
  })
})
