/** How commands look on the firmware's own serial line; part of the design file. */
import { shape, type Value } from '../../shape/index.js'

const pattern = (title: string, help: string, example: string) =>
  ({
    kind: 'list',
    title,
    help,
    of: { kind: 'text', maxLength: 200 },
    orOne: true,
    minItems: 1,
    maxItems: 20,
    optional: true,
    example,
  }) as const

export const commandsShape = shape({
  kind: 'record',
  title: 'commands',
  help: 'How a command looks on the serial line of this firmware, so that what was commanded can be looked for on the rails. Text stands for itself, \\n, \\r, \\t and \\xHH for bytes; a space is one or more spaces. {address}, {speed}, {function}, {cv}, {value} are decimal numbers; {address:hex} is hexadecimal, {address:u8}, {address:u16} and {address:u16le} are bytes. {direction:f|r} and {state:on|off} list the words for forward and reverse, on and off; {any} is a word that does not matter.',
  keys: {
    port: {
      kind: 'number',
      title: 'serial port',
      help: 'Number of the port, as in the stimulus.',
      integer: true,
      min: 0,
      max: 9,
      default: 0,
    },
    end: {
      kind: 'text',
      title: 'end of a command',
      help: 'What ends a command; an empty text where commands are bytes that follow each other without an end.',
      maxLength: 8,
      default: '\\n',
    },
    speed: pattern(
      'speed',
      'Needs {address} and {speed}. A negative speed is reverse, unless there is a {direction}.',
      'go {address} {speed}',
    ),
    fullSpeed: {
      kind: 'number',
      title: 'full speed',
      help: 'What {speed} says at full speed. With 126 each number is a speed step.',
      integer: true,
      min: 1,
      max: 65535,
      default: 126,
    },
    ramp: {
      kind: 'quantity',
      dimension: 'time',
      title: 'ramp',
      help: 'Where the station itself accelerates trains: the longest time until the last step is on the rails.',
      min: 0,
      max: 600e6,
      default: '0 us',
    },
    function: pattern(
      'function',
      'Needs {address}, {function} and {state}.',
      'key {address} {function} {state:on|off}',
    ),
    stop: pattern('stop everything', 'Every locomotive must stop.', 'halt'),
    stopOne: pattern('stop one locomotive', 'Needs {address}.', 'halt {address}'),
    forget: pattern(
      'forget a locomotive',
      'Needs {address}. It need not be refreshed any more.',
      'forget {address}',
    ),
    write: pattern('write a CV on the service track', 'Needs {cv} and {value}.', 'write {cv} {value}'),
    powerOn: pattern(
      'track power on',
      'Needed where a trip leaves the track off until somebody turns it on.',
      'power on',
    ),
    powerOff: pattern('track power off', 'Every output goes off.', 'power off'),
    serviceOn: pattern(
      'service track on',
      'Where the service track must be switched on before CVs are written.',
      'service on',
    ),
    serviceOff: pattern('service track off', 'The opposite.', 'service off'),
    acknowledged: pattern(
      'answer: acknowledged',
      'What the firmware says when a decoder has acknowledged a service-mode command.',
      'yes',
    ),
    unanswered: pattern('answer: silence', 'What it says when no decoder has acknowledged.', 'silent'),
    verify: pattern('verify a CV on the service track', 'Needs {cv} and {value}.', 'verify {cv} {value}'),
    read: pattern('read a CV on the service track', 'Needs {cv}.', 'read {cv}'),
    readAnswer: pattern(
      'answer: value of a CV',
      'What it says when it has read one. Needs {value}; with {cv} the number must be right, too.',
      'CV {cv} is {value}',
    ),
  },
  optional: true,
})

export type CommandsDesign = NonNullable<Value<typeof commandsShape>>
