import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { afterAll, describe, expect, it } from 'vitest'
import { runTraffic } from '../../src/cli/traffic-tasks.js'
import { terminalWidth } from '../../src/plot/index.js'
import { LOCOMOTIVE, OPERATOR, railroad } from './sample.js'

const program = fileURLToPath(new URL('../../dist/cli/main.js', import.meta.url))
const folder = mkdtempSync(join(tmpdir(), 'halfbit-traffic-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const DESIGN = `halfbit: 2
name: invented test railroad
standard: { profile: nmra }
scale: H0
controller:
  chip: atmega328p
  clock: { frequency: 16 MHz }
signal:
  outputs:
    main: { pin: PB1, preamble: 16 }
fleet:
  goods: { address: 3, count: 4, timeout: 2 s, deceleration: 4, topSpeed: 60 km/h }
  local: { address: 1201, steps: "28", timeout: 2 s }
traffic:
  capacity: 8
  turnouts: 6
  link: { baud: 19200, replyBytes: 2 }
  operators:
    hand: { knob: 0.3 /s, turnout: 0.1 /s }
  stops:
    yard: { length: 800 mm, trains: [goods] }
`

function halfbit(text: string, ...args: string[]) {
  const file = join(folder, 'railroad.yaml')
  writeFileSync(file, text)
  return spawnSync(process.execPath, [program, 'traffic', file, ...args], { encoding: 'utf8' })
}

describe('halfbit traffic', () => {
  it('tells the figures, the choice and the constants, and writes the drawings', () => {
    const r = halfbit(
      DESIGN,
      '--for',
      '10 min',
      '--svg',
      join(folder, 'svg'),
      '--c',
      join(folder, 'settings.h'),
    )
    expect(r.stderr).toContain('4 drawings')
    for (const text of ['refresh of', 'changes first', 'Suits best', 'yard', 'command-latency'])
      expect(r.stdout).toContain(text)
    expect(r.status).toBe(0)
    // A place in a file is never broken, so that a terminal can follow it.
    const wide = r.stdout.split('\n').filter((l) => terminalWidth(l) > 80 && !/\.yaml:\d+$/.test(l))
    expect(wide).toEqual([])
    expect(readdirSync(join(folder, 'svg')).sort()).toEqual([
      'traffic-latency.svg',
      'traffic-load.svg',
      'traffic-stops.svg',
      'traffic-timeline.svg',
    ])
    expect(readFileSync(join(folder, 'settings.h'), 'utf8')).toContain('#define TRAFFIC_CAPACITY ')
  }, 60_000)

  it('gives the same object with one thread and with two', () => {
    const args = ['--for', '5 min', '--json', '--most', '5']
    const one = halfbit(DESIGN, ...args, '--jobs', '1')
    const two = halfbit(DESIGN, ...args, '--jobs', '2')
    expect(one.stdout).toBe(two.stdout)
    const object = JSON.parse(one.stdout)
    expect(object).toMatchObject({ halfbit: 1, interrupted: false, traffic: { policy: 'changes first' } })
    expect(object.traffic.cases).toHaveLength(6)
    expect(object.evidence.map((e: { clause: string }) => e.clause)).toEqual([
      'refresh',
      'same-address-gap',
      'packet-interval',
      'command-latency',
      'stopping-distance',
    ])
  }, 60_000)

  it('ends with 1 when a clause is broken', () => {
    const r = halfbit(DESIGN.replace('length: 800 mm', 'length: 20 mm'), '--for', '60 min', '--most', '0')
    expect(r.stdout).toContain('too short')
    expect(r.status).toBe(1)
  }, 60_000)

  it.each([
    ['goods: { address: 3,', 'goods: { address: 1200,', /railroad\.yaml:13:\d+: .*1201 belongs to "goods"/],
    ['capacity: 8', 'capacity: 4', /railroad\.yaml:15:\d+: room for 4 locomotives; the fleet has 5/],
    [
      'capacity: 8',
      'capacity: 200',
      /railroad\.yaml:15:\d+: 200 locomotives .* controller has 2048: room for 128/,
    ],
    ['trains: [goods]', 'trains: [good]', /railroad\.yaml:21:\d+: no locomotive "good".*"goods"/],
    ['knob: 0.3 /s', 'knob: 90000 /s', /railroad\.yaml:14:\d+: 90000 commands per second/],
    ['knob: 0.3 /s', 'commandsPerTurn: 900', /railroad\.yaml:19:\d+: a turn of 900 commands lasts 90 s/],
    ['turnouts: 6', 'turnouts: 0', /railroad\.yaml:19:\d+: turnouts are thrown/],
  ])('%s → %s is refused with its line', (from, to, message) => {
    const r = halfbit(DESIGN.replace(from, to))
    expect(r.stderr).toMatch(message)
    expect(r.status).toBe(2)
    expect(r.stdout).toBe('')
  })

  it.each([
    [['--policy', 'chnges first'], /nearest is "changes first"/],
    [['--most=-1'], /whole number/],
    [['--for', '10'], /expected/],
    [['--run', '1 s'], /--firmware/],
  ])('%j is refused', (args, message) => {
    const r = halfbit(DESIGN, ...args)
    expect(r.stderr).toMatch(message)
    expect(r.status).toBe(2)
  })

  it('needs a fleet', () => {
    const r = halfbit(DESIGN.replace(/fleet:[\s\S]*/, ''))
    expect(r.stderr).toMatch(/no fleet/)
    expect(r.status).toBe(2)
  })

  // The firmware sends each change three times (firmware/turns.c); the capture was made by an independent simulator.
  it('puts what a capture shows beside the plan', () => {
    const folder = fileURLToPath(new URL('../../examples/exhibition/', import.meta.url))
    const files = [join(folder, 'halfbit.yaml'), '--capture', join(folder, 'captures/main.vcd.gz')]
    const args = [program, 'traffic', ...files, '--for', '1 min', '--most', '0', '--json']
    const { traffic, evidence } = JSON.parse(spawnSync(process.execPath, args, { encoding: 'utf8' }).stdout)
    expect(traffic.sent).toHaveLength(1)
    const [sent] = traffic.sent
    expect(sent.origin).toBe('measured')
    expect(sent.changes.find((c: { content: string }) => c.content === 'speed').repeats).toBe(2)
    expect(Math.abs(sent.perSecond / traffic.cases[0].perSecond - 1)).toBeLessThan(0.1)
    const measured = evidence.filter((e: { origin: string }) => e.origin === 'measured')
    // It is shorter than the time-outs: nothing is decided by it.
    expect(measured).toMatchObject([{ clause: 'refresh', verdict: 'undecided' }])
  }, 60_000)

  it('shows its options', () => {
    expect(execFileSync(process.execPath, [program, 'traffic', '--help'], { encoding: 'utf8' })).toContain(
      '--svg',
    )
  })
})

it('stops soon when interrupted, with what is there', async () => {
  const stop = new AbortController()
  const input = railroad({ a: { ...LOCOMOTIVE, count: 9 } }, { operators: { o: OPERATOR } })
  const runs = await runTraffic(
    { input, policies: ['changes first', 'weighted'], most: 9, forUs: 60e6, jobs: 1 },
    { progress: () => stop.abort(), signal: stop.signal },
  )
  expect(runs.interrupted).toBe(true)
  // The first policy has no figures on dirty track yet: it is left out.
  expect(runs.clean).toEqual([])
  expect(runs.points).toEqual([])
})
