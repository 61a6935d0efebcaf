/** Which program goes into the controller, how it is built and loaded, and how it is spoken to. */
import { CHIPS, type ControllerDesign, isSimulated, type SimulatedChip } from '../../controller/index.js'
import { commandList } from '../bring-up/commands.js'
import { starterCommands } from '../starter/commands.js'
import type { StarterPlan } from '../starter/plan.js'
import { SERIAL_PINS } from '../starter/serial.js'
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
  // As the design names it, so that it is found beside the design wherever that has been taken.
  const file = firmware?.file ?? input!.file
  const sum = input?.sha256 === undefined ? '' : `, SHA-256 ${input.sha256}`
  const folder = file.replace(/\/?[^/]*$/, '')
  return [
    `The controller runs ${file}${sum}: the firmware that the design names. Load this file and no other build of it; what this book says of the firmware’s behaviour was shown with it.`,
    `The design names the built file only. To build it again, follow the Makefile or instructions beside its source${folder === '' ? '' : `, in ${folder} or where its author keeps it`}; with a Makefile the command is make -C ${folder === '' ? '.' : folder}. A build with another sum has to be proved again.`,
    ...loadLines(s, file),
    ...spokenLines(s),
    ...commandList(s),
  ]
}

/** The pins of the serial line, receive first: the port that the design names for its firmware, or that of the starter. */
export function serialPins({ loaded, starter }: BookSources): readonly string[] {
  const { firmware, controller } = loaded.design
  if (!firmware) return starter?.plan.chip === undefined ? [] : starter.plan.serial.pins
  const { chip } = controller
  const { commands } = firmware
  return (commands && isSimulated(chip) && SERIAL_PINS[chip][commands.port]) || []
}

const pinsSaid = ([receives, sends]: readonly string[]) =>
  receives === undefined ? '' : ` (${receives} receives, ${sends} sends)`

const ENDS: Readonly<Record<string, string>> = {
  '\\n': 'a line feed (LF)',
  '\\r': 'a carriage return (CR)',
  '\\r\\n': 'a carriage return and a line feed (CR LF)',
}

/** How firmware of the builder's own is spoken to, as far as its design says. */
function spokenLines(s: BookSources): string[] {
  const { firmware, traffic } = s.loaded.design
  const commands = firmware?.commands
  if (!commands)
    return [
      'The design does not say how this firmware is spoken to: look it up in its instructions before you go on.',
    ]
  const { end, port, fullSpeed } = commands
  const rate = traffic?.link?.baud
  const ended =
    end === ''
      ? 'The bytes of its commands follow each other without an end.'
      : `Each command ends with ${ENDS[end] ?? `“${end}”`}: set the terminal program to send that.`
  return [
    `It is spoken to over serial port ${port} of the chip${pinsSaid(serialPins(s))}, ${rate === undefined ? 'at a speed that the design does not give: look it up in its instructions' : `at ${rate} baud`}. ${ended} Words in capitals stand for numbers; SPEED is ${fullSpeed} at full speed.`,
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

function serialLines({ serial, policy }: StarterPlan): string[] {
  const [receives, sends] = serial.pins
  const { fullSpeed } = starterCommands({ serial, switches: [], service: undefined })
  return [
    `It is spoken to over a serial line: ${serial.baud} baud, 8 data bits, no parity, 1 stop bit; ${receives} receives and ${sends} sends. A board whose USB goes to these pins needs no more than its cable and a terminal program; a bare chip needs a USB adapter for serial lines of the controller’s own voltage, its TX to ${receives}, its RX to ${sends}, GND to GND. One command a line, each answered with a line. A line feed (LF) ends a command: set the terminal program to send one with Enter, alone or after a carriage return; nothing answers a carriage return alone. Switch its local echo on, to see what you type. Words in capitals stand for numbers: SPEED is 0 to ${fullSpeed}, FUNCTION 0 to ${policy.functionHighest}. An address is the one that is set in the decoder: 3 in a new one (CV 1, S-9.2.2).`,
  ]
}

function loadLines({ loaded }: BookSources, file: string): string[] {
  const { chip } = loaded.design.controller
  if (!isSimulated(chip))
    return [`Write it into the flash of the ${CHIPS[chip].name} with the loader of its board or chip maker.`]
  const format = file.endsWith('.elf') ? 'e' : 'i'
  return [
    ...fuseLines(loaded.design.controller, `avrdude -p ${PROGRAMMER_NAME[chip]} -c PROGRAMMER`),
    `Write it into the flash before the drivers get power, with a programmer at the chip’s programming pins, or over USB where the board has a boot loader. With avrdude: avrdude -p ${PROGRAMMER_NAME[chip]} -c PROGRAMMER -U flash:w:${file}:${format}, with the name of your programmer for PROGRAMMER; a boot loader also needs its port (-P) and speed (-b). Set the fuse bits first: the step “The controller alone, and its clock” says when.`,
  ]
}

/**
 * Low fuse byte of a crystal from 8 to 16 MHz in low-power mode with the longest start-up and the divider off; a resonator would
 * start sooner and takes it, too: data sheets of these chips, sections "Clock Options" and "Fuse Bits", from memory.
 */
export const LOW_FUSE = 0xff

const isExternal = (source: string) => source === 'crystal' || source === 'resonator'

/** The book knows the byte for this clock. */
export function hasLowFuse({ chip, clock }: ControllerDesign): boolean {
  return isSimulated(chip) && isExternal(clock.source) && clock.frequency >= 8e6 && clock.frequency <= 16e6
}

function fuseLines(controller: ControllerDesign, avrdude: string): string[] {
  if (!hasLowFuse(controller)) return []
  const byte = `0x${LOW_FUSE.toString(16)}`
  return [
    `Fuse bits, over the programming pins only; a boot loader cannot write them. Read the low byte: ${avrdude} -U lfuse:r:-:h. For this ${controller.clock.source} with the divider off it is ${byte} (from memory; compare it with the data sheet before you write). Only where it differs: ${avrdude} -U lfuse:w:${byte}:m. A new chip runs from a slow clock of its own until then: add -B 10 to the first commands, or the programmer does not reach it. Leave the other fuse bytes as they are.`,
  ]
}
