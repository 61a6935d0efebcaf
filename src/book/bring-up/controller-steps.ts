/** The controller alone: its clock, its reset, and the signal at its pins. */
import { CHIPS } from '../../controller/index.js'
import { between, plain, type Said, said } from '../contents/figure.js'
import { hasLowFuse } from '../contents/firmware.js'
import type { BookSources } from '../contents/sources.js'
import { command } from './commands.js'
import type { Step } from './step.js'

/** Factory setting of the AVR fuse CKDIV8: the system clock is an eighth of its source. Data sheets, section "Clock Options". */
const CLOCK_DIVIDER = 8
/** Chips that have this fuse. */
const HAS_DIVIDER = /^(atmega|attiny)/

export function controllerSteps(s: BookSources): Step[] {
  const { controller } = s.loaded.design
  const { name } = CHIPS[controller.chip]
  const divides = HAS_DIVIDER.test(controller.chip)
  const clock = s.figures.at('Hz', 'design', 'controller', 'clock', 'frequency')!
  const external = controller.clock.source === 'crystal' || controller.clock.source === 'resonator'
  const steps: Step[] = [
    {
      id: 'controller-clock',
      title: 'The controller alone, and its clock',
      instrument: 'the programmer',
      probes: plain(fedHow(s)),
      expected: divides
        ? said`The ${name} answers the programmer; its fuse bits choose ${external ? `the ${controller.clock.source} of ` : ''}${clock} and leave the clock divider off.`
        : said`The ${name} answers the programmer and runs at ${clock}.`,
      off: [
        ...(divides
          ? [
              plain(
                'New chips come with the clock divider on (fuse CKDIV8): everything, serial line and half-bits, is then eight times too slow. Boards with a boot loader usually have it off.',
              ),
              ...lowFuse(s),
              plain(
                'If a fuse byte selected a clock that is not present, the chip no longer answers: feed a clock into its crystal pin, and set the byte again.',
              ),
            ]
          : []),
        plain(
          'The controller restarts whenever a program opens the serial port: on many boards a line of the USB bridge pulls its reset. Expect this, and make sure that the drivers are off meanwhile.',
        ),
      ],
      not: plain(
        'With USB plugged in, GND of the station is the ground of the computer, and so of a mains-earthed oscilloscope on the same bench: from now on, no ground clip of either may touch a rail. Do not power the drivers yet: while the controller is in reset or being programmed its pins drive nothing, and what the drivers then do is checked next.',
      ),
    },
  ]
  steps.push(firmwareStep(s))
  for (const [output, { option }] of s.timers) {
    if (!option) continue
    const at = ['timers', output] as const
    const pin = s.loaded.design.signal.outputs[output]!.pin
    for (const [half, reading, words] of [
      ['one', 'half of one', 'one'],
      ['zero', 'half of zero', 'zero'],
    ] as const) {
      const low = s.figures.at('us', ...at, half, 'lowUs')!
      const high = s.figures.at('us', ...at, half, 'highUs')!
      const slow = s.figures.by('us', 'times the clock divider', [...at, half, 'us'])!
      steps.push({
        id: `half-${words}-${output}`,
        title: `Half of a ${words} at ${pin}, output ${output}`,
        instrument: 'oscilloscope or logic analyser',
        probes: plain(
          `Drivers still without power. Probe on ${pin}, its ground clip on GND of the controller. With the station idling, measure one level of a ${half === 'one' ? 'short' : 'long'} bit.`,
        ),
        expected: expectedHalf(s, between(low, high), half),
        range: { reading, of: output, low, high },
        off: [
          ...(divides
            ? [said`${slow}: the clock divider is on (${String(CLOCK_DIVIDER)} times too long).`]
            : []),
          plain(
            'Off by a little, always by the same amount: the timer value, or a clock frequency other than that in the design.',
          ),
          plain('Off now and then: an interrupt comes late. Take a capture and have it judged.'),
          plain(
            'No signal: the pin is not an output, another timer is set, or the firmware waits for something.',
          ),
        ],
        not: plain(
          'Do not go on to the drivers with a signal that does not alternate: a constant level is DC on the rails.',
        ),
      })
    }
  }
  return steps
}

function lowFuse({ loaded }: BookSources): Said[] {
  if (!hasLowFuse(loaded.design.controller)) return []
  return [
    plain(
      `Divider and clock are in the low fuse byte. Every bit of it reads one for this ${loaded.design.controller.clock.source} with the divider off (from memory). “Firmware” has the commands that read and write it. Leave the other fuse bytes as they are.`,
    ),
  ]
}

/** Until it is in the chip there is no signal to look at. */
function firmwareStep(s: BookSources): Step {
  const { firmware } = s.loaded.design
  const stop = command(s, 'stop')
  const answers = firmware === undefined && s.starter?.plan.chip !== undefined
  return {
    id: 'firmware-load',
    title: 'The firmware in the controller',
    instrument: 'a terminal program on a computer',
    probes: plain(
      `Drivers still without power. Write the firmware into the flash with the programmer or boot loader, as “Firmware” says.${stop === undefined ? '' : ` Then open its serial line and send “${stop}”.`}`,
    ),
    expected: plain(
      `The programmer reads back what it wrote, without a difference.${answers ? ' The firmware answers “done”.' : ''}`,
    ),
    off: [
      plain(
        'A difference: try again more slowly, or with a shorter cable; a lock bit may keep the flash from being read.',
      ),
      ...(stop === undefined
        ? []
        : [
            plain(
              'Signs that make no sense: the speed of the terminal program, or the clock divider, which makes the line slower too.',
            ),
            plain(
              'No answer at all: the end of the line that the terminal program sends, another serial port, or the lines that send and receive swapped.',
            ),
          ]),
    ],
    not: plain('Do not power the drivers with a chip that is empty or holds another program.'),
  }
}

/** The controller alone, with the drivers dead. */
function fedHow({ loaded }: BookSources): string {
  const { power } = loaded.design
  if (power?.controller?.from !== 'track')
    return 'Drivers without power. Only the controller’s own supply, or USB, is connected.'
  const supply = power.controller.supply ?? Object.keys(power.supplies)[0]!
  const fuse = power.supplies[supply]!.fuse === undefined ? '' : `fit the fuse of supply ${supply}, and `
  return `Drivers without power: take the wires off their + terminals until their own steps. Then ${fuse}plug in supply ${supply}, which feeds the controller through its regulator; or use USB alone.`
}

function expectedHalf({ figures: f }: BookSources, range: Said, half: 'one' | 'zero'): Said {
  const stretched = half === 'zero' ? '; zeros that are stretched on purpose are longer' : ''
  const limits = ['clauses', `${half}-half`, 'sender'] as const
  const [min, max] = [f.at('us', ...limits, 'min'), f.at('us', ...limits, 'max')]
  const allowed = min && max ? said`; the standard allows ${between(min, max)}` : plain('')
  return said`${range}, both levels alike${stretched}${allowed}`
}
