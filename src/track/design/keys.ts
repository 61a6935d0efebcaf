/** Keys that several parts of the railroad have. */
export const NAME = { maxLength: 60 } as const

export const RAIL_CODE = { kind: 'number', integer: true, min: 30, max: 400 } as const
export const ALLOY = {
  kind: 'choice',
  title: 'rail alloy',
  choices: {
    'nickel silver': 'nickel silver',
    brass: 'brass',
    steel: 'steel',
    stainless: 'stainless steel',
  },
} as const

export const JOINER = {
  kind: 'choice',
  title: 'joiner',
  help: 'How rails meet. bad: loose or corroded.',
  choices: { soldered: 'soldered', slip: 'pushed together', bad: 'loose or corroded' },
} as const
export const LENGTH_MAX_MM = 1e7

export const POINT = {
  kind: 'list',
  title: 'x and y in mm',
  of: { kind: 'number', min: -1e7, max: 1e7 },
  minItems: 2,
  maxItems: 2,
} as const

export const where = {
  section: {
    kind: 'text',
    title: 'section',
    help: 'Where it stands: a section such as east or main.3, or a turnout.',
    ...NAME,
    optional: true,
    example: 'main.3',
  },
  at: {
    kind: 'quantity',
    dimension: 'length',
    title: 'place on the section',
    help: 'From its `from` end; its middle when left out.',
    min: 0,
    max: LENGTH_MAX_MM,
    optional: true,
  },
} as const

export const LOAD = {
  kind: 'choice',
  title: 'how it draws',
  help: 'current: the same at any voltage. power: more when the voltage falls, as switching regulators do. resistor: less, as lamps do; those draw more while they are cold.',
  choices: { current: 'constant current', power: 'constant power', resistor: 'as a resistor' },
  default: 'current',
} as const
