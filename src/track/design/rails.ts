/** Sections, turnouts, crossings, turntables and the joints between them. */
import { shape } from '../../shape/index.js'
import { ALLOY, JOINER, LENGTH_MAX_MM, NAME, POINT, RAIL_CODE } from './keys.js'
import { FEEDERS } from './wiring.js'

const DRAWN = {
  points: {
    kind: 'list',
    title: 'points of the drawing',
    help: 'x and y in mm, from end to end; repeated sections share them out.',
    of: POINT,
    minItems: 2,
    maxItems: 10000,
    optional: true,
    example: [
      [0, 0],
      [1200, 0],
    ],
  },
  arc: {
    kind: 'record',
    title: 'arc of the drawing',
    help: 'Instead of points: angles in degrees, counted from the right, growing downwards like y.',
    optional: true,
    keys: {
      centre: POINT,
      radius: { kind: 'quantity', dimension: 'length', min: 1, max: 1e6, example: '600 mm' },
      from: { kind: 'number', title: 'angle of the from end', min: -3600, max: 3600 },
      to: { kind: 'number', title: 'angle of the to end', min: -3600, max: 3600 },
    },
  },
} as const

const ALONG = {
  kind: 'number',
  title: 'direction of the drawing, degrees',
  help: 'Direction of its first leg: 0 is to the right, 90 downwards; used only where no end meets a section.',
  min: -3600,
  max: 3600,
  optional: true,
} as const

export const section = shape({
  kind: 'record',
  title: 'section',
  help: 'A length of track between two ends; with `count` a row of equal ones, named NAME.1, NAME.2 and so on.',
  keys: {
    count: {
      kind: 'number',
      title: 'how many in a row',
      integer: true,
      min: 1,
      max: 100000,
      optional: true,
      example: 8,
    },
    length: {
      kind: 'quantity',
      dimension: 'length',
      title: 'length',
      help: 'Of one section.',
      min: 0,
      max: LENGTH_MAX_MM,
      example: '1 m',
    },
    from: {
      kind: 'text',
      title: 'from',
      help: 'Name of the joint at its start: the same name at two ends joins them. Turnouts: NAME.points, NAME.straight, NAME.diverging.',
      ...NAME,
      optional: true,
      example: 'T1.straight',
    },
    to: {
      kind: 'text',
      title: 'to',
      help: 'Name of the joint at its end; a buffer stop when left out.',
      ...NAME,
      optional: true,
      example: 'east',
    },
    rail: { ...RAIL_CODE, title: 'rail code', optional: true, example: 83 },
    alloy: { ...ALLOY, optional: true },
    joiner: { ...JOINER, title: 'joiner between repeated sections', optional: true },
    gaps: {
      kind: 'choice',
      title: 'gaps',
      help: 'Ends at which both rails are cut.',
      choices: { none: 'none', from: 'at its start', to: 'at its end', both: 'at both ends' },
      default: 'none',
    },
    feeders: FEEDERS,
    ...DRAWN,
  },
})

export const turnout = shape({
  kind: 'record',
  title: 'turnout',
  help: 'Joins three ends: NAME.points, NAME.straight and NAME.diverging. Both rails run through to every end.',
  keys: {
    length: {
      kind: 'quantity',
      dimension: 'length',
      min: 0,
      max: LENGTH_MAX_MM,
      default: '230 mm',
    },
    rail: { ...RAIL_CODE, title: 'rail code', optional: true },
    alloy: { ...ALLOY, optional: true },
    feeders: FEEDERS,
    at: { ...POINT, title: 'place of the drawing, x and y in mm', optional: true },
    along: ALONG,
    hand: {
      kind: 'choice',
      title: 'hand of the drawing',
      help: 'The side to which it diverges, seen from its points.',
      choices: { left: 'left', right: 'right' },
      optional: true,
    },
  },
})

export const crossing = shape({
  kind: 'record',
  title: 'crossing or slip',
  help: 'Two routes, NAME.a1 to NAME.a2 and NAME.b1 to NAME.b2. A slip joins them; a1 and b1 are then on the same side.',
  keys: {
    length: { kind: 'quantity', dimension: 'length', min: 0, max: LENGTH_MAX_MM, default: '230 mm' },
    slip: { kind: 'switch', title: 'slip', default: false },
    rail: { ...RAIL_CODE, title: 'rail code', optional: true },
    alloy: { ...ALLOY, optional: true },
    feeders: FEEDERS,
    at: { ...POINT, title: 'place of the drawing, x and y in mm', optional: true },
    along: ALONG,
  },
})

export const turntable = shape({
  kind: 'record',
  title: 'turntable',
  help: 'A bridge that turns between roads NAME.1, NAME.2 and so on.',
  keys: {
    length: { kind: 'quantity', dimension: 'length', min: 0, max: LENGTH_MAX_MM, example: '300 mm' },
    roads: { kind: 'number', integer: true, min: 1, max: 200, example: 6 },
    turns: {
      kind: 'choice',
      title: 'polarity of the bridge',
      help: 'What swaps the polarity when the bridge has turned by half.',
      choices: {
        fixed: 'nothing: it keeps its polarity',
        automatic: 'an automatic reverser',
        'split ring': 'a split contact ring',
      },
      default: 'fixed',
    },
    rail: { ...RAIL_CODE, title: 'rail code', optional: true },
    alloy: { ...ALLOY, optional: true },
    feeders: FEEDERS,
    at: { ...POINT, title: 'place of the drawing, x and y in mm', optional: true },
  },
})

export const joint = shape({
  kind: 'record',
  title: 'joint',
  keys: {
    joiner: { ...JOINER, optional: true },
    gap: {
      kind: 'choice',
      title: 'gap',
      help: 'left and right as seen along the section that comes first in the file.',
      choices: {
        none: 'none',
        both: 'both rails are cut',
        left: 'the left rail is cut',
        right: 'the right rail is cut',
      },
      default: 'none',
    },
  },
})
