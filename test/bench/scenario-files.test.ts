// Scenario files on the bench of the exhibition: some that must not load, some that must fail, some that must pass.
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { drawScenario, recordOf, type ScenarioResult } from '../../src/bench/index.js'
import { isSimulated, loadFirmware } from '../../src/controller/index.js'
import { DesignError, loadDesign, loadScenario, scenarioText } from '../../src/design/index.js'
import { benchOf, drawRanges, scenarioFromFile } from '../../src/proof/index.js'
import { isShown } from '../../src/standard/index.js'
import { halfbitHere } from '../contract/here.js'
import { runs } from '../runs.js'

function benchOfExample(example: string) {
  const folder = new URL(`../../examples/${example}/`, import.meta.url)
  const loaded = loadDesign(readFileSync(new URL('halfbit.yaml', folder), 'utf8'))
  const { chip } = loaded.design.controller
  if (!isSimulated(chip)) throw new Error('the example has another chip now')
  const image = loadFirmware(readFileSync(new URL('firmware/station.elf', folder)), 'station.elf')
  const bench = benchOf(loaded, image, chip, 'station.elf')
  if (!bench) throw new Error('the example has no power stage')
  return { loaded, bench }
}

const { loaded, bench } = benchOfExample('exhibition')

const file = (acts: string, expected: string, lasts = '1 s') =>
  `scenario: 1\nname: one of the tests\nlasts: ${lasts}\nacts:\n${acts}\nexpect:\n${expected}\n`
const drive = '  - { at: 300 ms, drive: { train: express, speed: 60 % } }'
const short = '  - { at: 500 ms, short: { at: { district: main }, lasts: 100 ms } }'

const messages = (text: string): string[] => {
  try {
    loadScenario(text, 'x.yaml', bench.setup)
  } catch (error) {
    if (error instanceof DesignError) return error.describe().split('\n')
    throw error
  }
  return []
}

describe('a scenario file is refused with file, line, column and what was expected', () => {
  it.each<[string, string, RegExp]>([
    ['nothing', '', /^x\.yaml:1:1: the file is empty; expected a scenario with "scenario: 1"/],
    ['no YAML', 'scenario: 1\n\tname: x\n', /^x\.yaml:2:1: /],
    [
      'another version',
      file(drive, '  - onlyCommanded: yes').replace('1', '2'),
      /^x\.yaml:1:\d+: scenario is "2"; expected 1/,
    ],
    [
      'no end',
      file(drive, '  - onlyCommanded: yes').replace('lasts: 1 s\n', ''),
      /lacks "lasts"; expected a quantity such as "6 s"/,
    ],
    [
      'an unknown key',
      file(drive.replace('drive', 'drves'), '  - onlyCommanded: yes'),
      /^x\.yaml:5:.*no key "drves".*nearest is "drive"/,
    ],
    [
      'an unknown train',
      file(drive.replace('express', 'expres'), '  - onlyCommanded: yes'),
      /^x\.yaml:5:.*no train "expres"; the nearest is "express"/,
    ],
    [
      'an unknown district',
      file(short.replace('main', 'mine'), '  - shortOff: {}'),
      /^x\.yaml:5:.*no district "mine"/,
    ],
    [
      'an unknown section',
      file(short.replace('district: main', 'section: moon.1'), '  - shortOff: {}'),
      /^x\.yaml:5:.*no section "moon.1"/,
    ],
    [
      'an unknown pin',
      file(
        `${drive}\n  - { at: 1 ms, hold: { why: boot, lasts: 1 ms, pins: { PC5: high } } }`,
        '  - onlyCommanded: yes',
      ),
      /^x\.yaml:6:.*no pin of a driver "PC5"/,
    ],
    [
      'an unknown port',
      file('  - { at: 1 ms, send: go, port: 3 }', '  - onlyCommanded: yes'),
      /^x\.yaml:5:.*no serial port "3"/,
    ],
    [
      'a bad escape',
      file('  - { at: 1 ms, send: go\\q }', '  - onlyCommanded: yes'),
      /^x\.yaml:5:.*"\\q"; expected/,
    ],
    [
      'an unknown decoder',
      file(drive, '  - cv: { train: ghost, cv: 1, value: 3 }'),
      /^x\.yaml:7:.*no train "ghost"/,
    ],
    [
      'two places',
      file(short.replace('district: main', 'district: main, train: express'), '  - shortOff: {}'),
      /this is no place; expected one of/,
    ],
    [
      'two acts in one',
      file('  - { at: 1 ms, reset: yes, power: on }', '  - onlyCommanded: yes'),
      /does power and reset; expected one of send/,
    ],
    ['no act', file('  - { at: 1 ms }', '  - onlyCommanded: yes'), /^x\.yaml:5:.*does nothing/],
    [
      'no time',
      file('  - { power: on }', '  - onlyCommanded: yes'),
      /no time; expected one of at, between, after, when/,
    ],
    [
      'two times',
      file('  - { at: 1 ms, between: [1 ms, 2 ms], power: on }', '  - onlyCommanded: yes'),
      /more than one time/,
    ],
    [
      'times out of order',
      file('  - { between: [3 ms, 2 ms], power: on }', '  - onlyCommanded: yes'),
      /second time is not later/,
    ],
    [
      'a time after the end',
      file(drive.replace('300 ms', '3 s'), '  - onlyCommanded: yes'),
      /^x\.yaml:5:.*would happen at 3 s; the scenario ends at 1 s/,
    ],
    [
      'a wait past the end',
      file(
        `  - { name: a, at: 1 ms, power: on }\n  - { after: a, wait: 2 s, power: off }`,
        '  - onlyCommanded: yes',
      ),
      /^x\.yaml:6:.*would happen at 2\.001 s/,
    ],
    [
      'a wait for itself',
      file(
        '  - { name: a, after: b, power: on }\n  - { name: b, after: a, power: off }',
        '  - onlyCommanded: yes',
      ),
      /waits for itself/,
    ],
    [
      'a wait for nobody',
      file('  - { after: a, power: on }', '  - onlyCommanded: yes'),
      /no act "a"; there is none/,
    ],
    [
      'one name twice',
      file(
        '  - { name: a, at: 1 ms, power: on }\n  - { name: a, at: 2 ms, power: off }',
        '  - onlyCommanded: yes',
      ),
      /^x\.yaml:6:.*act 1 has the name "a" too/,
    ],
    [
      'no short to be off',
      file(drive, '  - shortOff: {}'),
      /^x\.yaml:7:.*nothing can show this: no act shorts the rails/,
    ],
    [
      'power back from a short without end',
      file(short.replace(', lasts: 100 ms', ''), '  - powerBack: { within: 1 s }'),
      /nothing can show this: no short of it ever ends/,
    ],
    [
      'power back after the end',
      file(short, '  - powerBack: { within: 1 s }'),
      /nothing can show this: the scenario ends at 1 s; expected it to last 1\.6 s or more/,
    ],
    [
      'a reset without a command after it',
      file(`${drive}\n  - { at: 500 ms, reset: yes }`, '  - afterReset: { stops: 300 ms, obeys: 100 ms }'),
      /nothing can show this: no train is driven after/,
    ],
    [
      'commands acted on without any',
      file(short, '  - commandsActed: { within: 1 s }'),
      /nothing can show this: no act is a command/,
    ],
    [
      'an answer that comes too late',
      file('  - { name: a, at: 900 ms, send: "x\\n" }', '  - answer: { text: ok, to: a, within: 1 s }'),
      /nothing can show this: the scenario ends/,
    ],
    [
      'an answer that is not described',
      file(
        '  - { name: a, at: 1 ms, send: "x\\n" }',
        '  - answer: { is: acknowledged, to: a, within: 100 ms }',
      ),
      /the design does not say what "acknowledged" looks like/,
    ],
    [
      'two expectations in one',
      file(short, '  - { shortOff: {}, signal: yes }'),
      /2 expectations in one entry/,
    ],
    ['an expectation that is off', file(drive, '  - signal: no'), /expected "yes", or the entry left out/],
    ['nothing expected', file(drive, '  []'), /expect has 0 entries; expected at least 1/],
  ])('%s', (_, text, message) => {
    expect(messages(text).join('\n')).toMatch(message)
  })

  it('whatever the text is, and never otherwise', () => {
    const sound = file(`${drive}\n${short}`, '  - shortOff: {}')
    fc.assert(
      fc.property(
        fc.nat(sound.length),
        fc.nat(sound.length),
        fc.string({ maxLength: 12 }),
        (from, size, other) => {
          const text = sound.slice(0, from) + other + sound.slice(from + size)
          for (const message of messages(text)) expect(message).toMatch(/^(x\.yaml:\d+:\d+: .|and \d+ more)/)
        },
      ),
      { numRuns: runs(300) },
    )
  })
})

function play(text: string, on = bench): ScenarioResult {
  return scenarioFromFile(on, text, 'x.yaml').run()
}
const outcomes = (r: ScenarioResult) => r.outcomes.map((o) => `${o.key} ${o.verdict} ${o.finding.code}`)

describe('a scenario that must pass', () => {
  it('short: off by the design and by a time of its own, acts after others and after what happens', () => {
    const acts = `${drive}
  - { name: bang, when: { moves: express }, wait: 150 ms, short: { at: { district: main }, lasts: 50 ms } }
  - { name: said, when: { answer: 'short\\n' }, wait: 60 ms, power: on }
  - { after: said, wait: 100 ms, send: 'go 3 0\\n' }`
    const result = play(
      file(
        acts,
        '  - shortOff: {}\n  - shortOff: { within: 3 ms }\n  - commandsActed: { within: 200 ms }\n  - driverSafe: yes',
      ),
    )
    expect(outcomes(result)).toEqual([
      'shortOff met bench/short-off',
      'shortOff met bench/short-off',
      'commandsActed met bench/acted',
      'driverSafe met bench/driver-withstands',
    ])
    expect(result.heard.map((h) => [h.command, h.decoder, h.actedUs !== undefined])).toEqual([
      ['go 3 76', 'express', true],
      ['go 3 0', 'express', true],
    ])
  })

  it('a command that waits for power, or longer than the design wants, is no evidence of the latency it asks for', () => {
    const latencies = (latencyUs: number) => {
      const acts = `${drive}
  - { name: bang, at: 500 ms, short: { at: { district: main }, lasts: 50 ms } }
  - { after: bang, wait: 20 ms, send: 'go 3 30\\n' }
  - { name: again, after: bang, wait: 300 ms, power: on }
  - { after: again, wait: 400 ms, send: 'go 3 0\\n' }`
      const result = play(file(acts, '  - commandsActed: { within: 1 s }', '1.5 s'), {
        ...bench,
        setup: { ...bench.setup, latencyUs },
      })
      return [
        outcomes(result),
        result.statements.flatMap((s) =>
          isShown(s) && s.clause === 'command-latency'
            ? [[s.verdict, s.because, (s.value?.high ?? Infinity) <= latencyUs]]
            : [],
        ),
      ]
    }
    expect(latencies(250e3)).toEqual([
      ['commandsActed met bench/acted'],
      [['met', expect.stringMatching(/^2 commands are acted on, each within [\d.]+ ms$/), true]],
    ])
    expect(latencies(1e3)).toEqual([
      ['commandsActed broken bench/acted-late'],
      [['broken', expect.stringMatching(/1 ms/), false]],
    ])
  })

  it('the firmware’s answer, and only commanded trains move', () => {
    const acts = `  - { name: nonsense, between: [200 ms, 300 ms], send: 'gibberish\\n' }\n${drive.replace('300', '400')}`
    const result = play(
      file(
        acts,
        "  - answer: { text: 'no\\n', to: nonsense, within: 50 ms }\n  - onlyCommanded: yes",
        '600 ms',
      ),
    )
    expect(outcomes(result)).toEqual(['answer met bench/answered', 'onlyCommanded met bench/only-commanded'])
  })
})

it('the example and what the page about scenarios shows can be run, and the example holds', () => {
  const root = new URL('../../', import.meta.url)
  const page = readFileSync(new URL('docs/scenarios.md', root), 'utf8')
  const shown = [...page.matchAll(/```yaml\n(scenario: [\s\S]*?)```/g)].map((m) => m[1]!)
  expect(shown).toHaveLength(1)
  expect(shown.flatMap(messages)).toEqual([])
  const example = readFileSync(new URL('examples/exhibition/scenarios/derailment.yaml', root), 'utf8')
  expect(play(example).outcomes.map((o) => `${o.key} ${o.verdict}`)).toEqual([
    'shortOff met',
    'onlyCommanded met',
    'driverSafe met',
  ])
})

describe('a scenario that must fail', () => {
  it('asks for what the firmware does not do', () => {
    const acts = `${drive}\n${short}\n  - { name: odd, at: 650 ms, send: 'gibberish\\n' }\n  - { at: 700 ms, send: 'go 3 30\\n' }`
    const result = play(
      file(
        acts,
        "  - shortOff: { within: 500 us }\n  - powerBack: { within: 200 ms }\n  - answer: { text: 'ok\\n', to: odd, within: 40 ms }\n  - commandsActed: { within: 100 ms }",
      ),
    )
    expect(outcomes(result)).toEqual([
      'shortOff broken bench/short-late',
      'powerBack broken bench/power-stays-off',
      'answer broken bench/answer-wrong',
      'commandsActed broken bench/never-acted',
    ])
    // Nobody has switched the track on again, so the second command went to dark rails.
    expect(result.heard.at(-1)).toMatchObject({ decoder: 'express', why: 'no power on the rails' })
  })

  it('switches power off later than the design asks for, though within what the scenario asks for', () => {
    const off = (latencyUs: number) =>
      outcomes(
        play(file('  - { at: 500 ms, power: off }', '  - powerOff: { within: 300 ms }'), {
          ...bench,
          setup: { ...bench.setup, latencyUs },
        }),
      )
    expect(off(250e3)).toEqual(['powerOff met bench/power-off-obeyed'])
    expect(off(1)).toEqual(['powerOff broken bench/power-off-late'])
  })

  it('raises both inputs of a bridge without a logic of its own, in a scenario that does not ask for it', () => {
    const { bench: sound } = benchOfExample('two-tracks')
    const districts = sound.setup.districts.map((d) => ({
      ...d,
      driver: { ...d.driver, bothHigh: 'short' as const },
    }))
    const bare = { ...sound, setup: { ...sound.setup, districts } }
    const broken = (acts: string, on: typeof sound = bare) =>
      play(file(acts, '  - onlyCommanded: yes', '600 ms'), on).statements.flatMap((s) =>
        isShown(s) && s.verdict === 'broken' ? [`${s.clause} ${s.about}: ${s.because}`] : [],
      )
    const moves = '  - { at: 300 ms, send: "go 3 40\\n" }'
    const hold = (pins: string) =>
      `${moves}\n  - { at: 400 ms, hold: { why: flashing, lasts: 5 ms, pins: { ${pins} } } }`
    const both = 'PB6: high, PB7: high, PH6: high'
    // The two pins of the timer change in one instant.
    expect(broken(moves)).toEqual([])
    expect(broken(hold('PB6: high, PB7: low, PH6: high'))).toEqual([])
    expect(broken(hold('PB6: high, PB7: high, PH6: low'))).toEqual([])
    expect(broken(hold(both), sound)).toEqual([])
    expect(broken(hold(both))).toEqual([
      expect.stringMatching(/^driver-heat main: both inputs of the driver of trial/),
    ])
  })

  it('shows nothing where what it waits for never comes, and says so', () => {
    const acts = `${drive}\n  - { when: { answer: 'never said' }, short: { at: { district: main }, lasts: 50 ms } }`
    const result = play(file(acts, '  - shortOff: {}', '600 ms'))
    expect(outcomes(result)).toEqual(['shortOff not shown bench/nothing-to-judge'])
    expect(result.findings.map((f) => f.code)).toContain('bench/never-happened')
  })

  it('lets a clock that was drawn slow take its time for a trip, and no other one', () => {
    const acts = `  - { at: 617.27265 ms, short: { at: { district: main, end: strongest }, resistance: 32 mOhm, lasts: 400 ms } }
  - { at: 767.39 ms, power: on }`
    const text = (drawn: string) =>
      file(acts, '  - shortOff: {}', '1.1 s').replace('acts:', `drawn: { ${drawn} }\nacts:`)
    // 10 % of the reference and 1.1 % of the clock are the design's own: 20 readings take 1 % longer with the one, each of 104 us.
    expect(outcomes(play(text('sense: -0.09, clock: -0.011')))).toEqual(['shortOff met bench/short-off'])
    expect(outcomes(play(text('sense: -0.3, clock: 0')))).toEqual(['shortOff broken bench/short-on-again'])
  })

  it('is not met where an act never happens, though what is expected holds', async () => {
    const acts = `${drive}\n  - { when: { answer: 'never said' }, drive: { train: express, speed: 0 % } }`
    const result = play(file(acts, '  - onlyCommanded: yes', '600 ms'))
    expect(outcomes(result)).toEqual(['onlyCommanded met bench/only-commanded'])
    expect(recordOf(0, result)).toMatchObject({ verdict: 'open' })
    const path = join(mkdtempSync(join(tmpdir(), 'halfbit-acts-')), 'waits.yaml')
    writeFileSync(path, file(acts, '  - onlyCommanded: yes', '600 ms'))
    const { status, stdout } = await halfbitHere(['bench', 'examples/exhibition/halfbit.yaml', path])
    expect(stdout).toMatch(/not shown +"act 2" never happened/)
    expect(status).toBe(1)
  })

  it('shows nothing of a short on rails without power', () => {
    const acts = `  - { at: 200 ms, power: off }\n${short}`
    const result = play(file(acts, '  - shortOff: {}', '700 ms'))
    expect(outcomes(result)).toEqual(['shortOff not shown bench/short-without-power'])
    expect(result.statements.map((s) => s.verdict)).toEqual(['not shown'])
  })
})

describe('a replay', () => {
  it('of a scenario that was written as a file is the same scenario, to the last digit', () => {
    const ranges = drawRanges(loaded, bench)
    for (const { scenario } of [...bench.standing, ...benchOfExample('two-tracks').bench.standing])
      if (scenario) {
        const setup = bench.standing.some((s) => s.scenario === scenario)
          ? bench.setup
          : benchOfExample('two-tracks').bench.setup
        for (let run = 0; run < 5; run++) {
          const drawn = drawScenario(scenario, 7, run, ranges)
          expect(loadScenario(scenarioText(drawn), 'x.yaml', setup).scenario).toEqual(drawn)
        }
      }
  })

  it('gives the same to the bit, and another seed another run', () => {
    const text = file(
      `${drive}\n  - { between: [400 ms, 600 ms], short: { at: { district: main }, lasts: 50 ms } }`,
      '  - shortOff: {}',
      '700 ms',
    )
    const first = play(text)
    expect(first.digest).toMatch(/^[0-9a-f]{64}$/)
    expect(play(text).digest).toBe(first.digest)
    expect(play(text.replace('lasts: 700 ms', 'lasts: 700 ms\nseed: 2')).digest).not.toBe(first.digest)
  })
})
