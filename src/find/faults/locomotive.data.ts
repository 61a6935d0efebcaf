/** Faults of locomotives and of what they are set to. Weights are common practice, no source. */
import type { Station } from '../model/station.js'
import { type FaultAt, type FaultKindEntry, readingKey, type Words } from './effects.js'

const SAYS = ['runs at its address', 'address read back', 'settings read back', 'wheel contact'] as const

function each(
  station: Station,
  words: (name: string) => string,
  seen: Partial<Record<(typeof SAYS)[number], Words>>,
): FaultAt[] {
  return Object.keys(station.loaded.design.fleet ?? {}).map((name) => {
    const place = `locomotive ${name}`
    return {
      place,
      words: words(name),
      forms: [
        {
          words: new Map(
            SAYS.flatMap((q) => (seen[q] === undefined ? [] : [[readingKey(place, q), seen[q]] as const])),
          ),
        },
      ],
    }
  })
}

export const LOCOMOTIVE_FAULTS = {
  'wrong-address': {
    title: 'wrong address in the decoder',
    weight: 5,
    causes: ['does not move'],
    at: (s) =>
      each(s, (n) => `${n} answers to another address`, {
        'runs at its address': 'does not run',
        'address read back': 'another',
      }),
  },
  'wrong-cv': {
    title: 'wrong CV in the decoder',
    weight: 4,
    causes: ['does not move', 'runs away', 'forgets'],
    at: (s) =>
      each(s, (n) => `${n} has CVs that do not suit the design (steps, direction, time-out)`, {
        'runs at its address': { runs: 0.5, 'does not run': 0.5 },
        'settings read back': 'another',
      }),
  },
  'poor-contact': {
    title: 'poor contact of the wheels',
    weight: 10,
    causes: ['does not move', 'forgets', 'reads fail'],
    at: (s) =>
      each(s, (n) => `the wheels of ${n} make poor contact`, {
        'runs at its address': { runs: 0.4, 'does not run': 0.6 },
        'address read back': { 'no answer': 0.7, 'as designed': 0.3 },
        'settings read back': { 'no answer': 0.7, 'as designed': 0.3 },
        'wheel contact': 'poor',
      }),
  },
  'dead-decoder': {
    title: 'decoder or motor dead',
    weight: 2,
    causes: ['does not move', 'reads fail'],
    at: (s) =>
      each(s, (n) => `decoder or motor of ${n} is dead`, {
        'runs at its address': 'does not run',
        'address read back': 'no answer',
        'settings read back': 'no answer',
      }),
  },
  'no-acknowledgement': {
    title: 'acknowledgement too weak to be seen',
    weight: 3,
    causes: ['reads fail'],
    at: (s) =>
      each(s, (n) => `${n} acknowledges too weakly to be read (no load at its motor, or a stay-alive)`, {
        'address read back': 'no answer',
        'settings read back': 'no answer',
      }),
  },
  'acknowledgement-missed': {
    title: 'station misses acknowledgements',
    weight: 3,
    causes: ['reads fail'],
    at: (s) => {
      const names = Object.keys(s.loaded.design.fleet ?? {})
      if (names.length === 0) return []
      return [
        {
          place: 'controller',
          words: 'the station misses acknowledgements (threshold or window)',
          forms: [
            {
              words: new Map(
                names.flatMap((n) =>
                  (['address read back', 'settings read back'] as const).map((q): [string, Words] => [
                    readingKey(`locomotive ${n}`, q),
                    'no answer',
                  ]),
                ),
              ),
            },
          ],
        },
      ]
    },
  },
} as const satisfies Record<string, FaultKindEntry>
