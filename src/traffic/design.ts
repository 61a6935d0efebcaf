/**
 * The traffic's parts of the design file: the locomotives with what their decoders are set to, how the firmware
 * schedules packets, who commands what how often, and where trains have to stop.
 */
import { shape, type Value } from '../shape/index.js'

/** What a packet to a locomotive can carry, in the order of the standard's groups. */
export const ITEMS = {
  speed: 'speed and direction',
  'F0-F4': 'functions F0 to F4',
  'F5-F8': 'functions F5 to F8',
  'F9-F12': 'functions F9 to F12',
  'F13-F20': 'functions F13 to F20',
  'F21-F28': 'functions F21 to F28',
  'F29-F36': 'functions F29 to F36',
  'F37-F44': 'functions F37 to F44',
  'F45-F52': 'functions F45 to F52',
  'F53-F60': 'functions F53 to F60',
  'F61-F68': 'functions F61 to F68',
} as const

export type Item = keyof typeof ITEMS

const HOUR_US = 3600e6
const NAME = { maxLength: 60 } as const

const locomotive = shape({
  kind: 'record',
  title: 'locomotive',
  help: 'A decoder that the station talks to; with `count` a row of equal ones at successive addresses.',
  keys: {
    address: { kind: 'number', title: 'address', integer: true, min: 1, max: 10239, example: 3 },
    count: { kind: 'number', title: 'how many alike', integer: true, min: 1, max: 10000, default: 1 },
    form: {
      kind: 'choice',
      title: 'form of the address',
      help: 'auto: short (one byte) up to 127, long (two bytes) from 128. Short 100 and long 100 are two addresses.',
      choices: { auto: 'by its number', short: 'short, CV1', long: 'long, CV17 and CV18' },
      default: 'auto',
    },
    steps: {
      kind: 'choice',
      title: 'speed steps',
      choices: { '14': '14 steps', '28': '28 steps', '128': '126 steps, the advanced instruction' },
      default: '128',
    },
    functions: {
      kind: 'number',
      title: 'highest function in use',
      help: '0 for the headlight alone; decides which function groups the station has to send.',
      integer: true,
      min: 0,
      max: 68,
      default: 4,
    },
    acceleration: {
      kind: 'number',
      title: 'CV3',
      help: 'Momentum when speeding up: CV3 x 0.896 s from standstill to the top step.',
      integer: true,
      min: 0,
      max: 255,
      default: 0,
    },
    deceleration: {
      kind: 'number',
      title: 'CV4',
      help: 'Momentum when slowing down: CV4 x 0.896 s from the top step to a stop.',
      integer: true,
      min: 0,
      max: 255,
      default: 0,
    },
    timeout: {
      kind: 'quantity',
      dimension: 'time',
      title: 'packet time-out',
      help: 'How long the decoder runs on without a packet to it: what CV11 amounts to, by its manual. 0 s: indefinitely.',
      min: 0,
      max: HOUR_US,
      optional: true,
      example: '2 s',
    },
    topSpeed: {
      kind: 'quantity',
      dimension: 'speed',
      title: 'scale speed at the top step',
      help: 'Speed of the full-size train, such as 80 km/h; the scale turns it into mm/s.',
      min: 1,
      max: 2e5,
      default: '100 km/h',
    },
    runOut: {
      kind: 'quantity',
      dimension: 'length',
      title: 'run-out',
      help: 'How far it rolls on when the decoder has switched the motor off, measured.',
      min: 0,
      max: 1e5,
      default: '0 mm',
    },
    spread: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'spread of its speed',
      help: 'How far the speed at one step wanders either way with warmth, load and grade.',
      min: 0,
      max: 0.9,
      default: '5 %',
    },
    length: {
      kind: 'quantity',
      dimension: 'length',
      title: 'length of the train',
      help: 'From the rolling stock of the same name when left out.',
      min: 1,
      max: 1e6,
      optional: true,
      example: '1.1 m',
    },
    parked: {
      kind: 'switch',
      title: 'parked',
      help: 'It is stopped, keeps its place in the station and gets no commands.',
      default: false,
    },
  },
})

/** `fleet:` of the design file. */
export const fleetShape = shape({
  kind: 'named',
  title: 'fleet',
  help: 'Locomotives by name. A name that the rolling stock has too is the same train.',
  of: locomotive,
  minItems: 1,
  maxItems: 10000,
})

const repeats = (title: string, count: number) =>
  ({ kind: 'number', title, integer: true, min: 0, max: 50, default: count }) as const
const weight = (title: string, count: number) =>
  ({ kind: 'number', title, integer: true, min: 0, max: 1000, default: count }) as const

const policy = shape({
  kind: 'record',
  title: 'scheduling policy',
  help: 'How the firmware decides which packet comes next.',
  keys: {
    order: {
      kind: 'choice',
      title: 'order',
      choices: {
        cycle: 'plain cycle: every address in turn, a change waits for its turn',
        changes: 'changes first, then their repeats, then the cycle',
        weighted: 'classes of packets share the track by weight',
      },
      default: 'changes',
    },
    table: {
      kind: 'list',
      title: 'what is refreshed for an address',
      help: 'Walked in this order, as far as the locomotive uses it; an entry may come several times.',
      of: { kind: 'choice', choices: ITEMS },
      minItems: 1,
      maxItems: 64,
      orOne: true,
      optional: true,
      example: ['speed', 'F0-F4', 'speed', 'F5-F8'],
    },
    perVisit: {
      kind: 'number',
      title: 'packets per visit',
      help: 'Entries of the table sent before the cycle goes to the next address.',
      integer: true,
      min: 1,
      max: 64,
      default: 1,
    },
    repeats: {
      kind: 'record',
      title: 'repeats of a change',
      help: 'Packets after the first one. The cycle repeats what its table holds anyway.',
      optional: true,
      keys: {
        speed: repeats('of a speed change', 2),
        functions: repeats('of a function change', 1),
        turnouts: repeats('of a turnout command', 2),
      },
    },
    stopsFirst: {
      kind: 'switch',
      title: 'stops first',
      help: 'A command to stop goes in front of all other changes.',
      default: false,
    },
    waiting: {
      kind: 'choice',
      title: 'waiting changes',
      choices: {
        merge: 'a newer command replaces the one that waits for the same address and group',
        queue: 'every command waits for its turn',
      },
      default: 'merge',
    },
    queue: {
      kind: 'number',
      title: 'room for waiting changes',
      help: 'Changes that find it full are lost.',
      integer: true,
      min: 1,
      max: 65536,
      default: 32,
    },
    gap: {
      kind: 'quantity',
      dimension: 'time',
      title: 'time kept between packets to one address',
      help: 'End bit to start bit; the standard asks for 5 ms. 0 us: the firmware does not care.',
      min: 0,
      max: 1e6,
      default: '5 ms',
    },
    weights: {
      kind: 'record',
      title: 'weights',
      help: 'Shares of the track while all classes have something to send; only for order weighted.',
      optional: true,
      keys: {
        changes: weight('changes and repeats', 6),
        moving: weight('speed of moving locomotives', 3),
        standing: weight('speed of standing locomotives', 1),
        functions: weight('functions', 2),
      },
    },
  },
})

const operator = shape({
  kind: 'record',
  title: 'operator',
  help: 'A person or a program that gives commands at random times.',
  keys: {
    count: { kind: 'number', title: 'how many alike', integer: true, min: 1, max: 1000, default: 1 },
    via: {
      kind: 'choice',
      title: 'way to the station',
      choices: {
        panel: 'wired to the station',
        link: 'over the link from a computer',
        automation: 'a program that acts once per loop, then over the link',
      },
      default: 'panel',
    },
    knob: {
      kind: 'quantity',
      dimension: 'rate',
      title: 'turns of the knob',
      min: 0,
      max: 1e5,
      default: '0.2 /s',
    },
    commandsPerTurn: {
      kind: 'number',
      title: 'speed commands in one turn',
      integer: true,
      min: 1,
      max: 1000,
      default: 1,
    },
    commandSpacing: {
      kind: 'quantity',
      dimension: 'time',
      title: 'time between the commands of a turn',
      min: 100,
      max: 60e6,
      default: '100 ms',
    },
    function: {
      kind: 'quantity',
      dimension: 'rate',
      title: 'function keys',
      min: 0,
      max: 1e5,
      default: '0.05 /s',
    },
    turnout: {
      kind: 'quantity',
      dimension: 'rate',
      title: 'turnouts thrown',
      min: 0,
      max: 1e5,
      default: '0 /s',
    },
    stop: {
      kind: 'quantity',
      dimension: 'rate',
      title: 'commands to stop',
      min: 0,
      max: 1e5,
      default: '0 /s',
    },
    locomotives: {
      kind: 'list',
      title: 'locomotives',
      help: 'Whom it commands: names of the fleet; all that are not parked when left out.',
      of: { kind: 'text', ...NAME },
      orOne: true,
      minItems: 1,
      maxItems: 10000,
      optional: true,
    },
  },
})

const event = shape({
  kind: 'record',
  title: 'event',
  keys: {
    at: { kind: 'quantity', dimension: 'time', title: 'at', min: 0, max: HOUR_US, example: '2 s' },
    every: {
      kind: 'quantity',
      dimension: 'time',
      title: 'again every',
      help: 'Once only when left out.',
      min: 1000,
      max: 24 * HOUR_US,
      optional: true,
      example: '60 s',
    },
    do: {
      kind: 'choice',
      title: 'what',
      choices: {
        speed: 'a new speed',
        stop: 'a stop',
        function: 'a function',
        turnout: 'a turnout',
      },
    },
    locomotive: { kind: 'text', title: 'locomotive', ...NAME, optional: true },
    step: { kind: 'number', title: 'speed step', integer: true, min: 0, max: 126, optional: true },
    function: { kind: 'number', title: 'function', integer: true, min: 0, max: 68, optional: true },
    turnout: { kind: 'number', title: 'turnout', integer: true, min: 1, max: 2040, optional: true },
    via: {
      kind: 'choice',
      title: 'way to the station',
      choices: { panel: 'wired', link: 'link', automation: 'program loop and link' },
      default: 'panel',
    },
  },
})

const stop = shape({
  kind: 'record',
  title: 'stop',
  help: 'A block or platform in which an automated train has to stop after a detector saw its front.',
  keys: {
    kind: {
      kind: 'choice',
      title: 'kind',
      help: 'block: the front must stay inside. platform: the whole train must also have arrived.',
      choices: { block: 'block', platform: 'platform' },
      default: 'block',
    },
    length: {
      kind: 'quantity',
      dimension: 'length',
      title: 'length',
      help: 'From the detector to the end; that of the section when left out.',
      min: 1,
      max: 1e7,
      optional: true,
      example: '900 mm',
    },
    section: {
      kind: 'text',
      title: 'section',
      help: 'Section of the track whose length it has.',
      ...NAME,
      optional: true,
    },
    margin: {
      kind: 'quantity',
      dimension: 'length',
      title: 'margin',
      help: 'What has to stay free at the end.',
      min: 0,
      max: 1e6,
      default: '0 mm',
    },
    speed: {
      kind: 'quantity',
      dimension: 'speed',
      title: 'approach, scale speed',
      help: 'The top speed of each locomotive when left out.',
      min: 0.1,
      max: 2e5,
      optional: true,
      example: '40 km/h',
    },
    brake: {
      kind: 'choice',
      title: 'brake',
      choices: { momentum: 'speed 0, the decoder slows down by CV4', emergency: 'emergency stop' },
      default: 'momentum',
    },
    detector: {
      kind: 'quantity',
      dimension: 'time',
      title: 'delay of the detector',
      min: 0,
      max: 60e6,
      default: '20 ms',
    },
    scan: {
      kind: 'quantity',
      dimension: 'time',
      title: 'scan of the detector',
      help: 'Polling period; adds a delay of up to one period.',
      min: 0,
      max: 60e6,
      default: '20 ms',
    },
    wait: {
      kind: 'quantity',
      dimension: 'time',
      title: 'wait of the program',
      help: 'From the detector to the command to stop, so that a train comes to stand farther on.',
      min: 0,
      max: 600e6,
      default: '0 s',
    },
    rate: {
      kind: 'quantity',
      dimension: 'rate',
      title: 'trains that stop there',
      min: 1e-4,
      max: 100,
      default: '2 /min',
    },
    trains: {
      kind: 'list',
      title: 'trains',
      help: 'Names of the fleet; all that are not parked when left out.',
      of: { kind: 'text', ...NAME },
      orOne: true,
      minItems: 1,
      maxItems: 10000,
      optional: true,
    },
  },
})

const LIMIT = { kind: 'quantity', dimension: 'time', min: 1000, max: 60e6 } as const

/** `traffic:` of the design file. */
export const trafficShape = shape({
  kind: 'record',
  title: 'traffic',
  help: 'What the station sends in which order, and who commands it how often.',
  keys: {
    output: {
      kind: 'text',
      title: 'output',
      help: 'Name of the output; the first in operations mode when left out.',
      ...NAME,
      optional: true,
    },
    policy: {
      kind: 'text',
      title: 'policy',
      help: 'Name of the policy the firmware has; the first one when left out.',
      ...NAME,
      optional: true,
    },
    policies: {
      kind: 'named',
      title: 'policies',
      help: 'Policies to compare; the usual three when left out.',
      of: policy,
      minItems: 1,
      maxItems: 20,
      optional: true,
    },
    capacity: {
      kind: 'number',
      title: 'capacity',
      help: 'Locomotives that the station can hold.',
      integer: true,
      min: 1,
      max: 10000,
      optional: true,
      example: 24,
    },
    memoryEach: {
      kind: 'quantity',
      dimension: 'data',
      title: 'memory of one locomotive',
      min: 1,
      max: 65536,
      default: '16 bytes',
    },
    memory: {
      kind: 'quantity',
      dimension: 'data',
      title: 'memory for locomotives and queue',
      help: 'What the rest of the firmware leaves free.',
      min: 16,
      max: 1e9,
      optional: true,
      example: '1 kB',
    },
    link: {
      kind: 'record',
      title: 'link from a computer',
      optional: true,
      keys: {
        baud: {
          kind: 'quantity',
          dimension: 'baud',
          title: 'rate of the line',
          help: 'Commands come at this rate when the firmware is run.',
          min: 50,
          max: 1e9,
          default: '115200 baud',
        },
        bitsPerByte: {
          kind: 'number',
          title: 'bits per byte, start and stop among them',
          integer: true,
          min: 8,
          max: 14,
          default: 10,
        },
        commandBytes: {
          kind: 'number',
          title: 'bytes of a command',
          integer: true,
          min: 1,
          max: 4096,
          default: 8,
        },
        replyBytes: {
          kind: 'number',
          title: 'bytes of the reply',
          help: 'The computer waits for it before the next command; 0 when there is none.',
          integer: true,
          min: 0,
          max: 4096,
          default: 0,
        },
        replyAfter: {
          kind: 'quantity',
          dimension: 'time',
          title: 'time until the station replies',
          min: 0,
          max: 10e6,
          default: '0 us',
        },
        loop: {
          kind: 'quantity',
          dimension: 'time',
          title: 'loop of the program',
          help: 'Automation looks at its inputs and acts once in this time.',
          min: 0,
          max: 60e6,
          default: '20 ms',
        },
      },
    },
    turnouts: {
      kind: 'number',
      title: 'turnouts',
      help: 'Numbered from 1.',
      integer: true,
      min: 0,
      max: 2040,
      default: 0,
    },
    operators: { kind: 'named', title: 'operators', of: operator, maxItems: 100, optional: true },
    script: { kind: 'list', title: 'script', of: event, maxItems: 10000, optional: true },
    stops: { kind: 'named', title: 'stops', of: stop, maxItems: 500, optional: true },
    lost: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'packets lost on dirty track',
      help: 'Share of packets a decoder misses, each independently.',
      min: 0,
      max: 0.95,
      default: '5 %',
    },
    limit: {
      ...LIMIT,
      title: 'latency wanted',
      help: 'Time within which 95 of 100 commands must reach the track. Common practice: people notice a quarter of a second.',
      default: '250 ms',
    },
    sure: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'share of trains that must stop inside',
      min: 0.5,
      max: 0.9999,
      default: '99 %',
    },
    seed: { kind: 'number', title: 'seed', integer: true, min: 0, max: 4294967295, default: 1 },
  },
})

export type FleetDesign = Value<typeof fleetShape>
export type LocomotiveDesign = FleetDesign[string]
export type TrafficDesign = Value<typeof trafficShape>
export type PolicyDesign = Value<typeof policy>
export type OperatorDesign = Value<typeof operator>
export type StopDesign = Value<typeof stop>
