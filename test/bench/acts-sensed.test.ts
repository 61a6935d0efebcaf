// What a scenario does to the currents that firmware measures: acknowledgements of every kind, and noise.
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { isSimulated, loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchOf, scenarioFromFile } from '../../src/proof/index.js'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { planted } from './planted.js'

const examples = new URL('../../examples/', import.meta.url).pathname

function outcomes(example: string, text: string, elf = join(examples, example, 'firmware/station.elf')) {
  const loaded = loadDesign(readFileSync(join(examples, example, 'halfbit.yaml'), 'utf8'))
  const { chip } = loaded.design.controller
  if (!isSimulated(chip)) throw new Error('the example has another chip now')
  const bench = benchOf(loaded, loadFirmware(readFileSync(elf), elf), chip, elf)
  if (!bench) throw new Error('the example has no power stage')
  return scenarioFromFile(bench, text, 'scenario.yaml')
    .run()
    .outcomes.map((o) => o.verdict)
}

const written = (how: string, is: string) => `scenario: 1
name: a decoder that acknowledges in its own way
lasts: 2 s
acts:
  - at: 100 ms
    service: on
  - at: 200 ms
    acknowledge: { train: decoder on the service track, ${how} }
  - at: 1 s
    name: write
    write: { cv: 3, value: 12 }
expect:
  - cv: { cv: 3, value: 12 }
  - answer: { is: ${is}, to: write, within: 900 ms }
`

describe('an acknowledgement', () => {
  // S-9.2.3:2012 D: 60 mA or more for 5 to 7 ms. The example's firmware wants 40 mA, smoothed, for 3.1 ms.
  it.each([
    ['of 60 mA for 5 ms is seen', 'current: 60 mA, lasts: 5 ms', 'acknowledged'],
    ['of 25 mA is too weak', 'current: 25 mA', 'unanswered'],
    ['of 2 ms is too short', 'lasts: 2 ms', 'unanswered'],
    ['that comes a quarter of a second late is not awaited any more', 'after: 250 ms', 'unanswered'],
    ['of 60 mA that is chopped has half of it as its mean', 'chopped: 200 us', 'unanswered'],
    ['of 150 mA that is chopped is seen', 'current: 150 mA, chopped: 200 us', 'acknowledged'],
  ])('%s', (_, how, is) => {
    expect(outcomes('two-tracks', written(how, is))).toEqual(['met', 'met'])
  })
})

const NOISY = `scenario: 1
name: noise on the sense
lasts: 1.5 s
acts:
  - at: 300 ms
    drive: { train: express, speed: 50 % }
  - at: 900 ms
    noise: { district: main, voltage: 200 mV, lasts: 300 ms }
expect:
  - staysOn: { district: main }
`

describe('noise', () => {
  it('trips nothing where 20 readings in a row are wanted', () => {
    expect(outcomes('exhibition', NOISY)).toEqual(['met'])
  })

  it.runIf(HAVE_COMPILER)('trips where one is enough, and only while it lasts', () => {
    const hasty = planted('exhibition', [
      ['main.c', 'TRIP_READINGS 20', 'TRIP_READINGS 1'],
      ['main.c', 'TRIP_COUNTS 326', 'TRIP_COUNTS 600'],
    ])
    expect(outcomes('exhibition', NOISY, hasty)).toEqual(['broken'])
    expect(outcomes('exhibition', NOISY.replace('200 mV', '5 mV'), hasty)).toEqual(['met'])
  })

  it('is refused with its line where nothing is sensed', () => {
    expect(() =>
      outcomes('exhibition', NOISY.replace('noise: { district: main', 'noise: { district: yard')),
    ).toThrow(/there is no district with a current sense "yard"/)
  })
})
