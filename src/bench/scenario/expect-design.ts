/** What may be expected of a scenario, as keys of its file. */
import { name, optional, time, train, yes } from './keys.js'

const within = (help: string, example: string) => time('within', help, example)

export const expectations = {
  shortOff: optional({
    kind: 'record',
    title: 'short off',
    help: 'Every short of the scenario is switched off, and stays off while it lasts.',
    keys: { within: optional(within('By the figures of the design where it is left out.', '20 ms')) },
  }),
  powerBack: optional({
    kind: 'record',
    title: 'power back',
    help: 'After a short has gone the rails have power again, and packets.',
    keys: { within: within('After it has gone.', '3 s') },
  }),
  powerOff: optional({
    kind: 'record',
    title: 'power off',
    help: 'A command that switches track power or the service track off takes its power, until it is asked for again.',
    keys: { within: within('After the command.', '500 ms') },
  }),
  staysOn: optional({
    kind: 'record',
    title: 'stays on',
    help: 'Nothing switches a district off once it has power; trains that are driven start.',
    keys: {
      district: optional(name('district', 'All of the operations tracks where it is left out.', 'main')),
    },
  }),
  onlyCommanded: optional(
    yes('only commanded', 'No train moves that was not told to, and every train that was told to does.'),
  ),
  commandsActed: optional({
    kind: 'record',
    title: 'commands acted on',
    help: 'Every command for a train is acted on by its decoder.',
    keys: { within: within('After its last byte has gone in.', '500 ms') },
  }),
  afterReset: optional({
    kind: 'record',
    title: 'after a reset',
    help: 'Every train stops, none moves until it is commanded, packets come again, and the next command is obeyed.',
    keys: {
      stops: within('By then no train has a command to move.', '1 s'),
      obeys: within('After the next command for a train.', '1 s'),
    },
  }),
  afterHang: optional(
    yes(
      'after a hang',
      'After the program hangs no steady level stays on the rails, every train stops, and none starts.',
    ),
  ),
  cv: optional({
    kind: 'record',
    title: 'CV',
    help: 'At the end a decoder has this value in a CV.',
    keys: {
      train: optional({ ...train, help: 'The one on the service track where it is left out.' }),
      cv: { kind: 'number', title: 'CV', integer: true, min: 1, max: 1024, example: 3 },
      value: { kind: 'number', title: 'value', integer: true, min: 0, max: 255, example: 12 },
    },
  }),
  answer: optional({
    kind: 'record',
    title: 'answer',
    help: 'The firmware answers an act.',
    keys: {
      text: optional(
        name('text', 'What it sends, somewhere in what comes; \\n and \\xHH as in `send`.', 'ok\\n'),
      ),
      is: optional({
        kind: 'choice',
        title: 'is',
        help: 'One of the answers that the design describes.',
        choices: { acknowledged: 'a decoder has acknowledged', unanswered: 'no decoder has' },
      }),
      value: optional({
        kind: 'number',
        title: 'value',
        help: 'It says that a CV has this value, as the design describes.',
        integer: true,
        min: 0,
        max: 255,
        example: 12,
      }),
      to: name('to', 'The act of this name.', 'write CV3'),
      within: within('After the act.', '1 s'),
    },
  }),
  driverSafe: optional(yes('driver safe', 'No driver gets more current, or for longer, than it can take.')),
  signal: optional(yes('signal', 'The clauses of the signal hold throughout.')),
  traffic: optional(
    yes('traffic', 'Every address is refreshed in time, and commands are on the rails in time.'),
  ),
} as const
