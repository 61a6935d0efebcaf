/** The scenario file as data: what happens to a station, and what is expected of it. */
import { shape, type Value } from '../../shape/index.js'
import { deeds, when } from './acts-design.js'
import { expectations } from './expect-design.js'
import { name, optional, time } from './keys.js'

export const SCENARIO_VERSION = 1
const MOST_ACTS = 10_000
const MOST_EXPECTED = 200

const share = (title: string, help: string) =>
  optional({ kind: 'quantity', dimension: 'ratio', title, help, min: -0.5, max: 0.5, example: '-1.2 %' })

export const scenarioShape = shape({
  kind: 'record',
  title: 'scenario file',
  help: 'What happens to a station on the bench, and what is expected of it.',
  keys: {
    scenario: {
      kind: 'number',
      integer: true,
      min: SCENARIO_VERSION,
      max: SCENARIO_VERSION,
      title: 'version of the format',
      example: SCENARIO_VERSION,
    },
    name: name('name', 'A few words.', 'short while the express starts'),
    about: optional({ kind: 'text', title: 'about', help: 'Why it is there.', maxLength: 10_000 }),
    lasts: { ...time('lasts', 'Everything ends then.', '6 s'), min: 1000 },
    seed: {
      kind: 'number',
      title: 'seed',
      help: 'Of what is drawn: times between two, and noise.',
      integer: true,
      min: 0,
      max: 4294967295,
      default: 1,
    },
    drawn: optional({
      kind: 'record',
      title: 'drawn',
      help: 'How far this station is from the nominal one of the design; a campaign writes it.',
      keys: {
        supply: share('supply', 'Its voltages.'),
        sense: share(
          'sense',
          'What the converter reads of a current: resistor, amplifier and reference together.',
        ),
        clock: share('clock', 'Of the controller.'),
      },
    }),
    acts: {
      kind: 'list',
      title: 'acts',
      help: 'What happens; one thing each, and when.',
      of: { kind: 'record', title: 'act', keys: { ...when, ...deeds } },
      minItems: 1,
      maxItems: MOST_ACTS,
    },
    expect: {
      kind: 'list',
      title: 'expected',
      help: 'What must be so; one thing each.',
      of: { kind: 'record', title: 'expectation', keys: expectations },
      minItems: 1,
      maxItems: MOST_EXPECTED,
    },
  },
})

/** A scenario file as it was read. */
export type ScenarioDesign = Value<typeof scenarioShape>
export type ActDesign = ScenarioDesign['acts'][number]
export type ExpectationDesign = ScenarioDesign['expect'][number]
export const DEED_KEYS = Object.keys(deeds).filter((key) => key !== 'port')
export const EXPECTATION_KEYS = Object.keys(expectations) as (keyof ExpectationDesign)[]
