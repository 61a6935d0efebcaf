/** Faults of controller, pins and firmware settings. Weights and degrees are common practice, no source. */

import type { Station } from '../model/station.js'
import { type Effects, type FaultAt, type FaultKindEntry, readingKey, type Wave } from './effects.js'
import { districtsOf } from './power.data.js'

interface DriverInput {
  driver: string
  name: string
  role: 'direction' | 'inverted' | 'enable'
  pin: string
  /** Level that it has while the station runs. */
  level: 'switches' | 'high' | 'low'
  output?: string
}

/** The driver inputs that a wire leads to. */
function inputsOf(station: Station): DriverInput[] {
  const { power } = station.loaded.design
  const used = new Set([...station.districts.values()].map((d) => d.stage.driverName))
  return [...used].flatMap((driver) =>
    (power!.drivers[driver]!.pins ?? []).flatMap((p): DriverInput[] => {
      const pin = p.wired ?? p.fixed
      if (!pin || (p.role !== 'direction' && p.role !== 'inverted' && p.role !== 'enable')) return []
      const level = p.role !== 'enable' ? 'switches' : p.active
      return [{ driver, name: p.name, role: p.role, pin, level, ...(p.output ? { output: p.output } : {}) }]
    }),
  )
}

/** What a driver puts out while one of its inputs is held at a level. */
function held(station: Station, input: DriverInput, level: 'high' | 'low'): Partial<Effects> {
  const own = inputsOf(station).filter((i) => i.driver === input.driver)
  const isTwoWire = own.some((i) => i.role === 'inverted')
  const driver = `driver ${input.driver}`
  const words = new Map<string, string>()
  let wave: Wave = { ac: 1, dc: 0 }
  if (input.role === 'enable') {
    if (level === input.level) return { words }
    wave = { ac: 0, dc: 0 }
    words.set(readingKey(driver, 'half A'), 'floats').set(readingKey(driver, 'half B'), 'floats')
  } else if (isTwoWire) {
    const isA = input.role === 'direction'
    wave = { ac: 0.5, dc: (level === 'high') === isA ? 0.5 : -0.5 }
    words.set(readingKey(driver, isA ? 'half A' : 'half B'), level)
  } else {
    wave = { ac: 0, dc: level === 'high' ? 1 : -1 }
    words.set(readingKey(driver, 'half A'), level)
    words.set(readingKey(driver, 'half B'), level === 'high' ? 'low' : 'high')
  }
  const names = districtsOf(
    station,
    (d) => d.stage.driverName === input.driver && (!input.output || d.stage.output === input.output),
  )
  return {
    waves: new Map(names.map((n) => [n, wave])),
    words,
    trains: wave.ac === 0 ? 'stand' : 'perhaps',
  }
}

/** What cannot be read at an output that does not switch. */
function silent(output: string): [string, { set: { low: number; high: number } }][] {
  const none = { set: { low: 0, high: 0 } }
  return (['half of a one', 'preamble', 'lateness', 'refresh'] as const).map((q) => [
    readingKey(`output ${output}`, q),
    none,
  ])
}

function outputsAt(station: Station, fault: (name: string) => FaultAt[]): FaultAt[] {
  return Object.keys(station.loaded.design.signal?.outputs ?? {}).flatMap(fault)
}

const timing = (output: string, times: number): Partial<Effects>['figures'] =>
  new Map([
    [readingKey(`output ${output}`, 'half of a one'), { times: { low: times * 0.995, high: times * 1.005 } }],
  ])

function all<T>(station: Station, f: (output: string) => ReadonlyMap<string, T>): Map<string, T> {
  return new Map(Object.keys(station.loaded.design.signal?.outputs ?? {}).flatMap((o) => [...f(o)]))
}

export const SIGNAL_FAULTS = {
  'pin-stuck': {
    title: 'pin of the controller stuck',
    weight: 1.5,
    causes: ['nothing moves', 'does not move', 'runs away', 'reads fail'],
    at: (s) =>
      outputsAt(s, (output) => {
        const { pin } = s.loaded.design.signal!.outputs[output]!
        const inputs = inputsOf(s).filter((i) => i.pin === pin)
        return [
          {
            place: `pin ${pin}`,
            words: `pin ${pin} of the controller does not switch`,
            forms: (['high', 'low'] as const).map((level) => {
              const parts = inputs.map((i) => held(s, i, level))
              return {
                waves: new Map(parts.flatMap((p) => [...(p.waves ?? [])])),
                figures: new Map(silent(output)),
                words: new Map([
                  ...parts.flatMap((p) => [...(p.words ?? [])]),
                  [readingKey(`pin ${pin}`, 'level'), level],
                  ...inputs.map((i): [string, string] => [
                    readingKey(`input ${i.driver}.${i.name}`, 'input level'),
                    level,
                  ]),
                ]),
                trains: 'stand',
              }
            }),
          },
        ]
      }),
  },
  'input-open': {
    title: 'wire from controller to driver open',
    weight: 4,
    causes: ['nothing moves', 'does not move', 'runs away'],
    at: (s) =>
      inputsOf(s).map((i) => {
        const place = `input ${i.driver}.${i.name}`
        const { words, ...effects } = held(s, i, i.role === 'enable' && i.level === 'low' ? 'high' : 'low')
        return {
          place,
          words: `the wire from pin ${i.pin} to "${i.name}" of driver ${i.driver} is open`,
          forms: [
            {
              ...effects,
              words: new Map([...words!, [readingKey(place, 'input level'), { floats: 0.6, low: 0.4 }]]),
            },
          ],
        }
      }),
  },
  'inputs-swapped': {
    title: 'two wires between controller and driver swapped',
    weight: 4,
    causes: ['nothing moves', 'does not move', 'runs away', 'hot driver'],
    at: (s) => {
      const list = inputsOf(s)
      return list
        .filter((i) => i.role === 'direction')
        .flatMap((d) => {
          const e = list.find((i) => i.driver === d.driver && i.role === 'enable')
          if (!e) return []
          const isUp = e.level === 'high'
          const driver = `driver ${d.driver}`
          const names = districtsOf(s, (x) => x.stage.driverName === d.driver)
          return [
            {
              place: `input ${d.driver}.${d.name}`,
              words: `the wires to "${d.name}" and "${e.name}" of driver ${d.driver} are swapped`,
              forms: [
                {
                  waves: new Map(names.map((n) => [n, { ac: 0.5, dc: isUp ? 0.5 : -0.5 }])),
                  trains: 'perhaps' as const,
                  words: new Map([
                    [readingKey(`input ${d.driver}.${d.name}`, 'input level'), e.level],
                    [readingKey(`input ${d.driver}.${e.name}`, 'input level'), 'switches'],
                    [readingKey(driver, isUp ? 'half B' : 'half A'), 'low'],
                  ]),
                },
              ],
            },
          ]
        })
    },
  },
  'wrong-clock': {
    title: 'wrong clock of the controller',
    weight: 3,
    causes: ['wrong timing', 'nothing moves', 'garbled terminal', 'reads fail'],
    at: (s) => [
      {
        place: 'controller',
        words: 'the controller runs at a different clock than designed (clock divider or source)',
        forms: [8, 2, 0.5].map((times) => ({
          figures: all(s, (o) => timing(o, times)!),
          words: new Map([[readingKey('controller', 'serial line'), 'garbled']]),
          trains: 'stand' as const,
        })),
      },
    ],
  },
  'wrong-prescaler': {
    title: 'wrong prescaler of a timer',
    weight: 3,
    causes: ['wrong timing', 'nothing moves', 'reads fail'],
    at: (s) =>
      outputsAt(s, (output) => [
        {
          place: `output ${output}`,
          words: `the timer of output ${output} has a wrong prescaler`,
          forms: [8, 1 / 8].map((times) => ({ figures: timing(output, times)!, trains: 'stand' as const })),
        },
      ]),
  },
  'wrong-load': {
    title: 'timer loaded with a wrong value',
    weight: 2,
    causes: ['wrong timing', 'does not move', 'forgets', 'reads fail'],
    at: (s) =>
      outputsAt(s, (output) => [
        {
          place: `output ${output}`,
          words: `the timer of output ${output} is loaded with a wrong value`,
          // Just inside what decoders accept up to far outside of it.
          forms: [
            [0.7, 0.85],
            [0.85, 0.94],
            [1.06, 1.2],
            [1.2, 1.4],
          ].map(([low, high]) => ({
            figures: new Map([
              [readingKey(`output ${output}`, 'half of a one'), { times: { low: low!, high: high! } }],
            ]),
            trains: 'perhaps' as const,
          })),
        },
      ]),
  },
  'outputs-swapped': {
    title: 'outputs of the controller swapped',
    weight: 2,
    causes: ['nothing moves', 'does not move', 'reads fail', 'short preamble'],
    at: (s) => {
      const [a, b, ...more] = Object.keys(s.loaded.design.signal?.outputs ?? {})
      if (a === undefined || b === undefined || more.length > 0) return []
      const bits = (from: string, to: string) => {
        const low = s.preambleOf(from)
        return [readingKey(`output ${to}`, 'preamble'), { set: { low, high: low } }] as const
      }
      return [
        {
          place: `output ${a}`,
          words: `the firmware puts the signals of outputs ${a} and ${b} on each other’s pins`,
          forms: [{ figures: new Map([bits(a, b), bits(b, a)]), trains: 'stand' }],
        },
      ]
    },
  },
  'wrong-preamble': {
    title: 'preamble too short',
    weight: 2,
    causes: ['short preamble', 'does not move', 'forgets', 'reads fail'],
    at: (s) =>
      outputsAt(s, (output) => [
        {
          place: `output ${output}`,
          words: `output ${output} sends too few preamble bits`,
          forms: [
            {
              figures: new Map([[readingKey(`output ${output}`, 'preamble'), { set: { low: 6, high: 11 } }]]),
              trains: 'perhaps' as const,
            },
          ],
        },
      ]),
  },
  'late-interrupt': {
    title: 'interrupts served too late',
    weight: 4,
    causes: ['late bits', 'forgets', 'does not move', 'reads fail'],
    at: (s) =>
      outputsAt(s, (output) => [
        {
          place: `output ${output}`,
          words: `another interrupt holds up that of output ${output}`,
          forms: [
            {
              figures: new Map([[readingKey(`output ${output}`, 'lateness'), { set: { low: 6, high: 40 } }]]),
            },
          ],
        },
      ]),
  },
  'no-refresh': {
    title: 'packets not repeated',
    weight: 2,
    causes: ['forgets', 'runs away', 'does not move'],
    at: (s) =>
      outputsAt(s, (output) =>
        s.loaded.design.signal!.outputs[output]!.mode === 'service' || !s.loaded.design.fleet
          ? []
          : [
              {
                place: `output ${output}`,
                words: `output ${output} sends each command once and does not refresh it`,
                forms: [
                  {
                    figures: new Map([
                      [readingKey(`output ${output}`, 'refresh'), { set: { low: 0, high: 0.5 } }],
                    ]),
                  },
                ],
              },
            ],
      ),
  },
  'no-terminator': {
    title: 'terminator missing',
    weight: 3,
    causes: ['forgets', 'does not move'],
    at: (s) =>
      s.terminators.map((name) => ({
        place: `bus ${name}`,
        words: `the terminator of bus run ${name} is missing`,
        forms: [
          { figures: new Map([[readingKey(`bus ${name}`, 'overshoot'), { set: { low: 45, high: 110 } }]]) },
        ],
      })),
  },
} as const satisfies Record<string, FaultKindEntry>
