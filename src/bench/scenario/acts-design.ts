/** What may happen in a scenario, and when, as keys of its file. */
import { name, onOff, optional, time, train, yes } from './keys.js'

const resistance = optional({
  kind: 'quantity',
  dimension: 'resistance',
  title: 'resistance',
  help: 'Of what lies across the rails, with its contacts; the contact of the design where it is left out.',
  min: 0,
  max: 1e6,
  example: '50 mOhm',
})
const lasts = (what: string) => optional(time('lasts', what, '400 ms'))
const levels = {
  low: 'driven low, or pulled there',
  high: 'driven high, or pulled there',
  floating: 'neither: the driver’s own pull decides',
  kept: 'as it was',
} as const

const place = {
  kind: 'record',
  title: 'place',
  help: 'A section, an end of a district by how much a short draws there, or where a train is.',
  keys: {
    section: optional(
      name('section', 'As in the track of the design; `south.3` is the third of a run.', 'south.3'),
    ),
    from: optional({
      kind: 'quantity',
      dimension: 'length',
      title: 'from its start',
      help: 'How far along the section; its middle where it is left out.',
      min: 0,
      max: 1e6,
      example: '120 mm',
    }),
    district: optional(name('district', 'A power district of the design.', 'main')),
    end: optional({
      kind: 'choice',
      title: 'end',
      help: 'Of the district: where a short draws least or most. The weakest where it is left out.',
      choices: { weakest: 'a short draws least', strongest: 'a short draws most' },
    }),
    train: optional(train),
  },
} as const

export const when = {
  at: optional(time('at', 'From the start of the scenario.', '1.5 s')),
  between: optional({
    kind: 'list',
    title: 'between',
    help: 'At a random time between two, drawn by the seed.',
    of: time('time', 'From the start of the scenario.', '2 s'),
    minItems: 2,
    maxItems: 2,
    example: ['1 s', '3 s'],
  }),
  after: optional(name('after', 'After the act of this name.', 'first short')),
  when: optional({
    kind: 'record',
    title: 'when',
    help: 'When something happens for the first time from here on.',
    keys: {
      answer: optional(name('answer', 'The firmware sends this text.', 'short\\n')),
      off: optional(name('off', 'This district loses power.', 'main')),
      on: optional(name('on', 'This district has power.', 'main')),
      moves: optional(name('moves', 'This train receives a command to move.', 'express')),
      stops: optional(
        name('stops', 'This train receives a command to stop, or no longer obeys an old one.', 'express'),
      ),
    },
  }),
  wait: optional(time('wait', 'So long after `after` or `when`.', '20 ms')),
  name: optional(name('name', 'Of the act, so that others can refer to it.', 'first short')),
} as const

export const deeds = {
  send: optional(
    name('send', 'Text for the serial line, as written; \\n, \\r, \\t and \\xHH are bytes.', 'go 3 60\\n'),
  ),
  port: optional({
    kind: 'number',
    title: 'port',
    help: 'Serial port of `send`; that of the design’s commands where it is left out.',
    integer: true,
    min: 0,
    max: 9,
    example: 0,
  }),
  drive: optional({
    kind: 'record',
    title: 'drive',
    help: 'A speed command in the language of the design.',
    keys: {
      train,
      speed: {
        kind: 'quantity',
        dimension: 'ratio',
        title: 'speed',
        help: 'Share of full speed.',
        min: 0,
        max: 1,
        example: '50 %',
      },
      reverse: optional(yes('reverse', 'The other way.')),
    },
  }),
  function: optional({
    kind: 'record',
    title: 'function',
    help: 'A function command.',
    keys: {
      train,
      number: {
        kind: 'number',
        title: 'number',
        help: 'Of the function; 0 is the light.',
        integer: true,
        min: 0,
        max: 68,
        example: 0,
      },
      is: onOff('is', 'What it is to be.'),
    },
  }),
  stop: optional(name('stop', '`all`, or a train.', 'all')),
  forget: optional(train),
  power: optional(onOff('power', 'Track power, by command.')),
  service: optional(onOff('service', 'The service track, by command.')),
  write: optional(cvRecord('write', 'A CV is written on the service track.')),
  verify: optional(cvRecord('verify', 'A CV is verified on the service track.')),
  read: optional({
    kind: 'record',
    title: 'read',
    help: 'A CV is read on the service track.',
    keys: { cv: { kind: 'number', title: 'CV', integer: true, min: 1, max: 1024, example: 3 } },
  }),
  place: optional({
    kind: 'record',
    title: 'place',
    help: 'A train is put on the rails.',
    keys: { train, at: place },
  }),
  remove: optional({ ...train, title: 'remove', help: 'A train is taken off the rails.' }),
  short: optional({
    kind: 'record',
    title: 'short',
    help: 'Something lies across the rails.',
    keys: { at: place, resistance, lasts: lasts('Until it is taken away; to the end where it is left out.') },
  }),
  load: optional({
    kind: 'record',
    title: 'load',
    help: 'Something draws current, as parked cars with lights do.',
    keys: {
      at: place,
      current: {
        kind: 'quantity',
        dimension: 'current',
        title: 'current',
        help: 'Drawn from the rails.',
        min: 0,
        max: 100,
        example: '1.2 A',
      },
      lasts: lasts('Until it is taken away; to the end where it is left out.'),
    },
  }),
  derail: optional({
    kind: 'record',
    title: 'derailment',
    help: 'A train derails: it shorts the rails while it moves, and hears nothing.',
    keys: { train, resistance, lasts: lasts('Until it is put back; to the end where it is left out.') },
  }),
  contact: optional({
    kind: 'record',
    title: 'lost contact',
    help: 'A train has no contact for a while.',
    keys: { train, lost: time('lost', 'How long it lasts.', '20 ms') },
  }),
  dirt: optional({
    kind: 'record',
    title: 'dirt',
    help: 'Every train loses contact on a stretch.',
    keys: {
      at: place,
      length: {
        kind: 'quantity',
        dimension: 'length',
        title: 'length',
        help: 'Of the stretch.',
        min: 0,
        max: 1e5,
        example: '15 mm',
      },
      lasts: lasts('Until it is cleaned; to the end where it is left out.'),
    },
  }),
  supply: optional({
    kind: 'record',
    title: 'supply',
    help: 'A supply sags, or drops out.',
    keys: {
      name: name('name', 'As in the design.', 'main'),
      voltage: {
        kind: 'quantity',
        dimension: 'voltage',
        title: 'voltage',
        help: 'Its voltage during this time; 0 V: nothing.',
        min: 0,
        max: 100,
        example: '9 V',
      },
      lasts: time('lasts', 'Then it gives its own voltage again.', '300 ms'),
    },
  }),
  noise: optional({
    kind: 'record',
    title: 'noise',
    help: 'What the converter reads of a current is noisier for a while: a motor sparks, or a wire runs beside the rails.',
    keys: {
      district: name('district', 'A power district of the design that has a current sense.', 'main'),
      voltage: {
        kind: 'quantity',
        dimension: 'voltage',
        title: 'voltage',
        help: 'RMS at the input of the converter, beside the noise of the design.',
        min: 0,
        max: 5,
        example: '20 mV',
      },
      lasts: time('lasts', 'How long it lasts.', '300 ms'),
    },
  }),
  acknowledge: optional({
    kind: 'record',
    title: 'acknowledge',
    help: 'How a decoder acknowledges from now on. The standard has 60 mA or more for 5 to 7 ms (S-9.2.3:2012 D).',
    keys: {
      train,
      current: optional({
        kind: 'quantity',
        dimension: 'current',
        title: 'current',
        help: 'More than before the acknowledgement.',
        min: 0,
        max: 10,
        example: '45 mA',
      }),
      lasts: lasts('How long it lasts.'),
      after: optional(
        time('after', 'From the second packet of two; later is a late acknowledgement.', '20 ms'),
      ),
      chopped: optional({
        ...time('chopped', 'Its motor is switched on and off with this period, on for half of it.', '500 us'),
        min: 50,
      }),
    },
  }),
  reset: optional(yes('reset', 'The controller is reset for an instant, as when a serial port is opened.')),
  hold: optional({
    kind: 'record',
    title: 'hold',
    help: 'The program does not run for a while. After a hang it goes on; after anything else it restarts.',
    keys: {
      why: {
        kind: 'choice',
        title: 'why',
        choices: {
          hang: 'the program hangs, and its interrupts too; timers go on',
          'main loop': 'the main loop hangs; interrupts go on',
          reset: 'held in reset',
          boot: 'a boot loader waits',
          flashing: 'the firmware is written',
          'brown-out': 'the supply of the controller is too low',
        },
      },
      lasts: time('lasts', 'How long it lasts.', '1.5 s'),
      pins: optional({
        kind: 'named',
        title: 'pins',
        help: 'What single pins do during this time.',
        of: { kind: 'choice', title: 'level', choices: levels },
        example: { PB0: 'floating' },
      }),
      others: optional({
        kind: 'choice',
        title: 'others',
        help: 'What every other pin does; in reset pins float, in a hang they stay as they are.',
        choices: levels,
      }),
    },
  }),
  serviceTrack: optional({ ...train, title: 'service track', help: 'A train is laid on the service track.' }),
  stuck: optional({
    kind: 'record',
    title: 'stuck motor',
    help: 'A motor that cannot turn draws its stall current when it is driven.',
    keys: { train, lasts: lasts('Until it turns again; to the end where it is left out.') },
  }),
  fault: optional({
    kind: 'record',
    title: 'fault of the wiring',
    help: 'One of the faults that the railroad’s report lists.',
    keys: {
      id: name('id', 'Of the fault.', 'open-feeder:south.3/A'),
      lasts: lasts('Until it is mended; to the end where it is left out.'),
    },
  }),
  throw: optional({
    kind: 'record',
    title: 'throw',
    help: 'A turnout is thrown by hand.',
    keys: {
      turnout: name('turnout', 'As in the design.', 'T1'),
      to: { kind: 'choice', title: 'to', choices: { straight: 'straight', diverging: 'diverging' } },
    },
  }),
} as const

function cvRecord<const T extends string>(title: T, help: string) {
  return {
    kind: 'record',
    title,
    help,
    keys: {
      cv: { kind: 'number', title: 'CV', integer: true, min: 1, max: 1024, example: 3 },
      value: { kind: 'number', title: 'value', integer: true, min: 0, max: 255, example: 12 },
    },
  } as const
}
