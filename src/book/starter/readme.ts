/** The README that stands beside the starter firmware. */
import { CHIPS } from '../../controller/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../../units/index.js'
import { listed } from './c-text.js'
import { firmwareYaml } from './commands.js'
import { PAGE_HEAD } from './places.js'
import type { StarterPlan } from './plan.js'
import { trial } from './trial.js'

const FILES: Readonly<Record<string, string>> = {
  'figures.h': 'every number, with its source; includes nothing',
  'signal.h': 'pins and timers: start, load, stop',
  'main.c': 'the interrupts of the signal, the main loop, the tracks as a whole',
  'packet.h': 'the bytes of a packet',
  'sender.h': 'packets to bits, for the interrupt',
  'turns.c': 'the locomotives, and which packet goes out next',
  'language.c': 'commands and answers',
  'serial.c': 'the serial line',
  'power.c': 'the drivers’ inputs, current monitoring',
  'service.c': 'service mode: write, verify and read a variable',
  'detector.h': 'tells an acknowledgement from the idle current',
  'trial.stimulus': 'every command and a short, for a simulated run',
  'board.h': 'what is yours to write for this chip',
}

function protects({ sensing, switches, chip }: StarterPlan): string[] {
  if (!sensing)
    return ['**This firmware watches no current: it does not switch off a short.** See below for what does.']
  const rows = sensing.senses.map(
    (s) =>
      `- **${s.district}**: more than ${formatSi(s.tripAmp, 'A')} for ${formatTimeUs(s.tripUs, 3)} (${s.readings} readings in a row on ${s.pin}) switches off ${listed(switches.find((w) => w.id === s.switchId)!.districts)}.`,
  )
  const retry = formatTimeUs((sensing.retryReadings / sensing.rate) * 1e6, 3)
  const then =
    sensing.retries > 0
      ? `After a trip an operations track is switched on again after ${retry}, ${sensing.retries} times; then it stays off until \`power on\`. A service track stays off until \`service on\`.`
      : 'After a trip the track stays off until it is switched on again.'
  if (!chip)
    return ['These figures are for the current monitoring that **you** write; see `board.h`.', '', ...rows]
  return [...rows, '', then]
}

function language(plan: StarterPlan): string[] {
  const power = plan.switches.some((s) => !s.service)
  const rows: [string, string, string][] = [
    ['drive 3 at 40 forward', 'steps 0 to 126; or `backward`', 'done'],
    ['function 0 of 3 on', `or \`off\`; functions 0 to ${plan.policy.functionHighest}`, 'done'],
    ['stop everything', 'emergency stop for every locomotive', 'done'],
    ['stop 3', 'emergency stop for one', 'done'],
    [
      'turnout 12 straight',
      'or `diverging`; on for a quarter of a second, then off; one after the other',
      'done',
    ],
    ['forget 3', 'no longer refreshed; its place is free', 'done'],
    ...(power
      ? ([['power on', 'or `off`: the operations track', 'done']] as [string, string, string][])
      : []),
    ...(plan.service
      ? ([
          ['service on', 'or `off`: the service track', 'done'],
          ['write 12 to variable 3', 'direct mode', 'started, then acknowledged, or no acknowledgement'],
          ['verify variable 3 is 12', 'direct mode', 'the same'],
          [
            'read variable 3',
            'bit by bit, then checked',
            'started, then variable 3 is 12, or no acknowledgement',
          ],
        ] as [string, string, string][])
      : []),
    ['status', 'what is on, how many places are taken', '1 of 12 places taken, …'],
  ]
  return [
    `One command per line, ${plan.serial.baud} baud, 8 data bits, no parity, 1 stop bit${plan.chip ? `, on ${listed(plan.serial.pins)}` : ''}. Each gets one line in answer.`,
    '',
    '| command | what it does | answer |',
    '|---|---|---|',
    ...rows.map(([c, does, answer]) => `| \`${c}\` | ${does} | ${answer} |`),
    '',
    'Other answers: `not understood`, `out of range`, `no place left`, `not known`, `busy`, `service is off`. Unasked,',
    'the station says `short on …, off for a while` or `short on …, off`.',
  ]
}

export function readme(plan: StarterPlan, files: readonly string[]): string {
  const { design } = plan.loaded
  const { chip, clock } = design.controller
  const title = `${CHIPS[chip].name} at ${formatNumber(clock.frequency / 1e6, 8)} MHz`
  const build = plan.chip
    ? [
        '`make` builds `station.elf` and `station.hex` and says how much flash and RAM they take.',
        '',
        'Let the design run it. In the design file:',
        '',
        '```yaml',
        firmwareYaml(plan, 'PATH/', trial(plan).runS).trimEnd(),
        '```',
        '',
        'With that, a proof runs it: signal, behaviour, health, and the coupled bench with its shorts, restarts and service track.',
      ]
    : [
        '`make` builds `libstation.a`, the parts that need no registers, for your computer; give it your chip’s compiler.',
        '',
        '**Not shown:** the signal, the serial line and current monitoring. They are yours to write (`board.h`), and this',
        'chip cannot be simulated. Only a capture of the finished station shows that they are right.',
      ]
  const told = plan.findings.map((f) => `- ${f.sentence}.`)
  return `${PAGE_HEAD}# Firmware of ${design.name ?? 'the station'}

For an ${title}. Written from the design; change the design and write it again.

## Build

${build.join('\n')}

## What protects what

${protects(plan).join('\n')}
${told.length > 0 ? `\n${told.join('\n')}\n` : ''}
Low voltage, but real current: a short can melt a rail joint or a driver. Fuse each district, never join the outputs of two
drivers, use a certified supply, and leave mains wiring to a licensed electrician; local codes come first. These figures
are calculated: try the trip with a resistor and a meter before the first train.

## Language

${language(plan).join('\n')}

## Files

| file | what is in it |
|---|---|
${files
  .filter((f) => f in FILES)
  .map((f) => `| \`${f}\` | ${FILES[f]} |`)
  .join('\n')}

## Your own code

Write it between \`your own: …\` and \`end of your own: …\`: it is kept when the firmware is written again. What you add
to the main loop should take less than 5 ms per pass; the trip does not wait for it. Keep your own interrupts short, as
the signal's waits for them${plan.chip ? ` (it may be ${formatTimeUs(Math.max(0, plan.track.option.deadline.lateUs), 3)} late)` : ''}. There is no dynamic memory here; do without it in your code too.
`
}
