/** Which program goes into the controller, how it is built and loaded, and how it is spoken to. */
import { CHIPS, isSimulated, type SimulatedChip } from '../../controller/index.js'
import { commandList } from '../bring-up/commands.js'
import type { StarterPlan } from '../starter/plan.js'
import type { BookSources } from './sources.js'

/** The chip for `-p` of avrdude: ids of its avrdude.conf, with `-U memory:operation:file:format` as in its manual page (7.1, Debian). */
const PROGRAMMER_NAME: Readonly<Record<SimulatedChip, string>> = {
  atmega328p: 'm328p',
  atmega2560: 'm2560',
  atmega32u4: 'm32u4',
}

export function firmwareLines(s: BookSources): string[] {
  const { firmware } = s.loaded.design
  const input = s.proof.about.inputs.find((i) => i.role === 'firmware')
  if (!firmware && !input) return starterLines(s)
  const file = input?.file ?? firmware!.file
  const sum = input?.sha256 === undefined ? '' : `, SHA-256 ${input.sha256}`
  const folder = file.replace(/\/?[^/]*$/, '')
  return [
    `The controller runs ${file}${sum}: the firmware that the design names. Load this file and no other build of it; what this book says of the firmware’s behaviour was shown with it.`,
    `The design names the built file only. To build it again, follow the Makefile or instructions beside its source${folder === '' ? '' : `, in ${folder} or where its author keeps it`}; with a Makefile the command is make -C ${folder === '' ? '.' : folder}. A build with another sum has to be proved again.`,
    ...loadLines(s, file),
    ...commandList(s),
  ]
}

function starterLines(s: BookSources): string[] {
  const others =
    'Other firmware must use the pins, registers, constants and trip figures of this book. Nothing of what a firmware does is shown until it was run.'
  if (s.starter === undefined)
    return [
      `The design names no firmware, and no starter firmware can be made for it: halfbit starter says why. ${others}`,
    ]
  if (!isSimulated(s.loaded.design.controller.chip))
    return [
      `The design names no firmware. halfbit starter DESIGN firmware writes the parts that need no registers; signal, serial line and current monitoring of the ${CHIPS[s.loaded.design.controller.chip].name} are yours to write. ${others}`,
    ]
  return [
    `The design names no firmware. Make one from it: halfbit starter DESIGN firmware writes a C program into the folder firmware, where DESIGN is the design file of this book; make -C firmware then builds station.elf and station.hex. That takes avr-gcc and avr-libc. Its README lists all commands with their answers. ${others}`,
    ...loadLines(s, 'firmware/station.hex'),
    ...serialLines(s.starter.plan),
    ...commandList(s),
  ]
}

function serialLines({ serial }: StarterPlan): string[] {
  const [receives, sends] = serial.pins
  return [
    `It is spoken to over a serial line: ${serial.baud} baud, 8 data bits, no parity, 1 stop bit; ${receives} receives and ${sends} sends. A board whose USB goes to these pins needs no more than its cable and a terminal program; a bare chip needs a USB adapter for serial lines of the controller’s own voltage, its TX to ${receives}, its RX to ${sends}, GND to GND. One command a line, each answered with a line; words in capitals stand for numbers. An address is the one that is set in the decoder: 3 in a new one (CV 1, S-9.2.2).`,
  ]
}

function loadLines({ loaded }: BookSources, file: string): string[] {
  const { chip } = loaded.design.controller
  if (!isSimulated(chip))
    return [`Write it into the flash of the ${CHIPS[chip].name} with the loader of its board or chip maker.`]
  const format = file.endsWith('.elf') ? 'e' : 'i'
  return [
    `Write it into the flash before the drivers get power, with a programmer at the chip’s programming pins, or over USB where the board has a boot loader. With avrdude: avrdude -p ${PROGRAMMER_NAME[chip]} -c PROGRAMMER -U flash:w:${file}:${format}, with the name of your programmer for PROGRAMMER; a boot loader also needs its port (-P) and speed (-b). Set the fuse bits first, as the step “The controller alone, and its clock” says.`,
  ]
}
