/**
 * What is asked at the beginning of a design: six steps of questions as data, each with its choices, their figures and a
 * default that follows from the answers before it. Every face asks the same questions.
 */
import { CHIPS } from '../controller/index.js'
import { DRIVER_PARTS, type DriverPart, driverPart } from '../power/index.js'
import { SCALES, type Scale } from '../standard/index.js'
import { type Dimension, formatNumber, formatSi } from '../units/index.js'
import type { Answers, Settled } from './answers.js'
import { SCALE_CURRENT, SCALE_RAILS, SCALE_SUPPLY_VOLT, TRAIN_KINDS } from './parts.data.js'
import { SHAPES, shapeOf } from './shapes.data.js'
import { trainsText } from './trains.js'
import { metres, scaled, usualRating, usualTrains, usualVolt } from './usual.js'

export type StepId = 'railroad' | 'controller' | 'power' | 'shape' | 'trains' | 'write'

export interface Step {
  id: StepId
  title: string
  about: string
}

export const STEPS: readonly Step[] = [
  {
    id: 'railroad',
    title: 'Scale and standard',
    about: 'They decide the voltage, and the size of everything.',
  },
  {
    id: 'controller',
    title: 'Controller',
    about: 'The chip that makes the signal, and its clock.',
  },
  { id: 'power', title: 'Driver and supply', about: 'They turn the signal into track power.' },
  { id: 'shape', title: 'Shape of the railroad', about: 'A plan to begin with; change anything later.' },
  { id: 'trains', title: 'What runs', about: 'The trains, and who drives them.' },
  { id: 'write', title: 'Check and write', about: 'A commented file with every part filled in.' },
]

export type QuestionId = keyof Answers

export interface Choice {
  value: string
  label: string
  /** Figures and words that help to choose. */
  facts: string[]
}

export interface Question {
  id: QuestionId
  step: StepId
  /** A noun: the label of its field, and what a message begins with. */
  asks: string
  help: string
  kind: 'choice' | 'quantity' | 'whole' | 'text' | 'counts'
  dimension?: Dimension
  /** In base units. */
  min?: number
  max?: number
  choices?(answers: Settled): Choice[]
  /** As it would be written. */
  usual(answers: Settled): string
  /** False where another answer makes it pointless. */
  applies?(answers: Settled): boolean
}

const SCALE_NAMES: Readonly<Record<Scale, string>> = {
  Z: 'Z, 1:220',
  N: 'N, 1:160',
  TT: 'TT, 1:120',
  H0: 'H0, 1:87',
  S: 'S, 1:64',
  '0': '0, 1:45',
  '1': '1, 1:32',
  G: 'G, 1:22.5',
}

const LIMITS = {
  constant: ['holds the current', 'its voltage falls at the limit: easiest on drivers and wires'],
  hiccup: ['switches off and tries again', 'as most closed bricks do beyond their rating'],
} as const

/** Drivers that can carry this signal, by what they deliver. */
export function usableDrivers(): DriverPart[] {
  return DRIVER_PARTS.filter((p) => p.suits === 'yes' && p.inputs !== undefined)
}

/** A driver with a peak current and no limit of its own: capacitors of a supply give more than that. */
export function needsLimiter(driver: string | undefined): boolean {
  const figures = driverPart(driver ?? 'DRV8874')?.figures
  return figures?.limitAmp === undefined && figures?.peakAmp !== undefined
}

function driverFacts(p: DriverPart): string[] {
  const { figures } = p
  const carries = figures.continuousAmp ?? figures.peakAmp
  return [
    p.about,
    ...(carries ? [`${figures.continuousAmp ? '' : 'peak '}${formatSi(carries.value, 'A', 3)}`] : []),
    ...(figures.supplyMinVolt && figures.supplyMaxVolt
      ? [`${formatNumber(figures.supplyMinVolt.value)} to ${formatNumber(figures.supplyMaxVolt.value)} V`]
      : []),
    p.inputs === 'pair' ? 'an input for each leg' : 'one input for the polarity',
    ...(p.neverSound === undefined ? [] : [`not shown to be sound: ${p.neverSound}`]),
  ]
}

export const QUESTIONS: readonly Question[] = [
  {
    id: 'scale',
    step: 'railroad',
    asks: 'scale',
    help: 'Decides the voltage window, and the size and current draw of trains.',
    kind: 'choice',
    choices: () =>
      (Object.keys(SCALE_NAMES) as Scale[])
        .sort((a, b) => SCALES[b].ratio - SCALES[a].ratio)
        .map((value) => ({
          value,
          label: SCALE_NAMES[value],
          facts: [`gauge ${SCALES[value].gaugeMm} mm`, `usually ${SCALE_SUPPLY_VOLT[value]} V`],
        })),
    usual: () => 'H0',
  },
  {
    id: 'profile',
    step: 'railroad',
    asks: 'standard',
    help: 'They differ in voltage, edges and a few packets.',
    kind: 'choice',
    choices: () => [
      { value: 'nmra', label: 'NMRA S-9.x', facts: ['usual in North America'] },
      { value: 'rcn', label: 'RailCommunity and NEM', facts: ['usual in Europe'] },
    ],
    usual: () => 'nmra',
  },
  {
    id: 'chip',
    step: 'controller',
    asks: 'controller',
    help: 'The microcontroller that makes the logic signal.',
    kind: 'choice',
    choices: () =>
      Object.values(CHIPS).map((c) => ({
        value: c.id,
        label: c.name,
        facts: [
          c.title.replace(`${c.name}, `, ''),
          `${c.pins.length} port pins`,
          `usually ${c.usualClock.hz / 1e6} MHz`,
        ],
      })),
    usual: () => 'atmega328p',
  },
  {
    id: 'clock',
    step: 'controller',
    asks: 'clock',
    help: 'Its frequency, as the board has it.',
    kind: 'quantity',
    dimension: 'frequency',
    min: 1e5,
    max: 1e9,
    usual: (a) => `${CHIPS[a.chip ?? 'atmega328p'].usualClock.hz / 1e6} MHz`,
  },
  {
    id: 'source',
    step: 'controller',
    asks: 'clock source',
    help: 'Decides how accurate it is.',
    kind: 'choice',
    choices: () => [
      { value: 'crystal', label: 'quartz crystal', facts: ['accurate to 0.01 %'] },
      { value: 'resonator', label: 'ceramic resonator', facts: ['accurate to 1 %'] },
      { value: 'trimmed rc', label: 'internal oscillator, trimmed by you', facts: ['accurate to 1 to 2 %'] },
      { value: 'rc', label: 'internal oscillator as delivered', facts: ['up to 10 %: too far off on some'] },
      { value: 'internal', label: 'internal oscillator with factory figures', facts: ['by its data sheet'] },
    ],
    usual: (a) => CHIPS[a.chip ?? 'atmega328p'].usualClock.source,
  },
  {
    id: 'pin',
    step: 'controller',
    asks: 'signal pin',
    help: 'When left empty, the best free pin that a timer can drive.',
    kind: 'text',
    usual: () => '',
  },
  {
    id: 'driver',
    step: 'power',
    asks: 'driver',
    help: 'One for each power district.',
    kind: 'choice',
    choices: () => usableDrivers().map((p) => ({ value: p.name, label: p.name, facts: driverFacts(p) })),
    usual: () => 'DRV8874',
  },
  {
    id: 'voltage',
    step: 'power',
    asks: 'supply voltage',
    help: 'One supply for each power district, all of one voltage.',
    kind: 'quantity',
    dimension: 'voltage',
    min: 5,
    max: 30,
    usual: (a) => `${usualVolt(a)} V`,
  },
  {
    id: 'rating',
    step: 'power',
    asks: 'supply current',
    help: 'Continuous rating, from its label.',
    kind: 'quantity',
    dimension: 'current',
    min: 0.2,
    max: 20,
    usual: (a) => `${usualRating(a)} A`,
  },
  {
    id: 'limiter',
    step: 'power',
    asks: 'current limiter',
    help: 'Capacitors behind it empty into a short at once. This driver does not hold that back.',
    kind: 'choice',
    choices: () => [
      {
        value: 'driver',
        label: 'right before the driver',
        facts: [
          'an adjustable current limiter of its own for each driver',
          'only 100 nF between the two: no module with capacitors at its output, no driver board with larger ones',
        ],
      },
      {
        value: 'supply',
        label: 'in the supply',
        facts: ['with its output capacitors behind it', 'more than this driver survives in a short'],
      },
    ],
    usual: (a) => (needsLimiter(a.driver) ? 'driver' : 'supply'),
    applies: (a) => needsLimiter(a.driver),
  },
  {
    id: 'limit',
    step: 'power',
    asks: 'supply beyond its limit',
    help: 'What it does when overloaded; see its data sheet.',
    kind: 'choice',
    choices: () => Object.entries(LIMITS).map(([value, [label, fact]]) => ({ value, label, facts: [fact] })),
    usual: () => 'constant',
    applies: (a) => a.limiter !== 'driver',
  },
  {
    id: 'shape',
    step: 'shape',
    asks: 'shape',
    help: 'Of the railroad, to begin with.',
    kind: 'choice',
    choices: () => SHAPES.map(({ id, name, facts }) => ({ value: id, label: name, facts: [...facts] })),
    usual: () => 'oval',
  },
  {
    id: 'length',
    step: 'shape',
    asks: 'length',
    help: 'Of the whole plan, from end to end.',
    kind: 'quantity',
    dimension: 'length',
    min: 400,
    max: 30_000,
    usual: (a) => metres(scaled(shapeOf(a.shape ?? 'oval').usualMm[0], a.scale ?? 'H0')),
  },
  {
    id: 'depth',
    step: 'shape',
    asks: 'depth',
    help: 'From front to back.',
    kind: 'quantity',
    dimension: 'length',
    min: 60,
    max: 10_000,
    usual: (a) => metres(scaled(shapeOf(a.shape ?? 'oval').usualMm[1], a.scale ?? 'H0')),
  },
  {
    id: 'tracks',
    step: 'shape',
    asks: 'tracks side by side',
    help: 'In the yard.',
    kind: 'whole',
    min: 2,
    max: 12,
    usual: () => '4',
    applies: (a) => a.shape === 'yard',
  },
  {
    id: 'rail',
    step: 'shape',
    asks: 'rail code',
    help: 'Its height in thousandths of an inch.',
    kind: 'choice',
    choices: (a) =>
      SCALE_RAILS[a.scale ?? 'H0'].map((code) => ({ value: String(code), label: `code ${code}`, facts: [] })),
    usual: (a) => String(SCALE_RAILS[a.scale ?? 'H0'][0]),
  },
  {
    id: 'feeders',
    step: 'shape',
    asks: 'a feeder every',
    help: 'The longest stretch of rail with one feeder.',
    kind: 'quantity',
    dimension: 'length',
    min: 200,
    max: 5000,
    usual: (a) => metres(Math.max(300, Math.min(1500, scaled(900, a.scale ?? 'H0')))),
  },
  {
    id: 'districts',
    step: 'shape',
    asks: 'power districts',
    help: 'Each has a driver, a supply and a trip of its own: a short in one leaves the other running.',
    kind: 'choice',
    choices: () => [
      { value: '1', label: 'one', facts: ['one driver and one supply'] },
      { value: '2', label: 'two', facts: ['two drivers and two supplies, gaps between them'] },
    ],
    usual: () => '1',
  },
  {
    id: 'trains',
    step: 'trains',
    asks: 'trains',
    help: 'How many of each run at the same time.',
    kind: 'counts',
    min: 0,
    max: 20,
    choices: (a) =>
      TRAIN_KINDS.map((k) => {
        const times = SCALE_CURRENT[a.scale ?? 'H0']
        return {
          value: k.id,
          label: k.name,
          facts: [
            k.says,
            `${formatSi((k.runningAmp + k.lightsAmp + k.soundAmp) * times, 'A', 2)} running`,
            `${metres(scaled(k.lengthMm, a.scale ?? 'H0'))} long`,
          ],
        }
      }),
    usual: (a) => trainsText(usualTrains(a)),
  },
  {
    id: 'drivenBy',
    step: 'trains',
    asks: 'driven from',
    help: 'Decides how soon a command is on the rails.',
    kind: 'choice',
    choices: () => [
      { value: 'panel', label: 'controls wired to the station', facts: ['knobs and keys'] },
      { value: 'computer', label: 'a computer', facts: ['over a serial link of 115200 baud'] },
    ],
    usual: () => 'panel',
  },
  {
    id: 'name',
    step: 'write',
    asks: 'name',
    help: 'Of the station, for reports.',
    kind: 'text',
    usual: () => 'My command station',
  },
]

export function questionOf(id: QuestionId): Question {
  return QUESTIONS.find((q) => q.id === id)!
}

/** The questions of a step that the answers so far leave open. */
export function questionsOf(step: StepId, answers: Settled): Question[] {
  return QUESTIONS.filter((q) => q.step === step && (q.applies?.(answers) ?? true))
}
