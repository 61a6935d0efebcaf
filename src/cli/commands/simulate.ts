import { basename } from 'node:path'
import { CHIPS, flashEnd, pinName, SIMULATED_CHIPS, type SimulatedChip } from '../../controller/index.js'
import type { Finding } from '../../finding/index.js'
import { wrapText } from '../../plot/index.js'
import { evidenceOfRun, type FirmwareRun, outputsOf, type PinnedOutput } from '../../proof/index.js'
import { type PacketJson, packetJson, signalJson } from '../../signal/index.js'
import { profileOf, type Statement } from '../../standard/index.js'
import { formatTimeUs, InputError, nearest, parseQuantity } from '../../units/index.js'
import {
  type Arguments,
  type Command,
  type ExitStatus,
  type Io,
  TRANSLATE_OPTION,
  VARIANT_OPTION,
} from '../command.js'
import { evidenceLines } from '../evidence-text.js'
import { OutputFile } from '../files/index.js'
import { DEFAULT_RUN_US, readFirmware, readStimulus } from '../firmware-evidence.js'
import { type DesignFile, readDesign } from '../read-design.js'
import { runFirmware } from '../run-firmware.js'
import { readingText } from '../signal-text.js'
import { simulationText } from '../simulation-text.js'
import { VcdEdges } from '../vcd-edges.js'

/** Packets listed at most; more are counted. */
const MOST_LISTED = 200_000

export const command: Command = {
  usage: [
    'simulate [FIRMWARE] --design DESIGN [options]',
    "simulate FIRMWARE --chip CHIP --clock '16 MHz' --pin PIN… [options]",
  ],
  about: `Runs compiled firmware (HEX or ELF) on a simulated controller, cycle by cycle, and judges the signal that its pins send.
Besides the signal it reports the load, every interrupt, how close the signal's interrupt came to its deadline, the stack and resets.`,
  options: {
    variant: VARIANT_OPTION,
    design: {
      type: 'string',
      value: 'DESIGN',
      help: 'design file: controller, pins, standard, stimulus, times',
    },
    chip: {
      type: 'string',
      value: 'CHIP',
      choices: SIMULATED_CHIPS,
      help: `controller: ${SIMULATED_CHIPS.join(', ')}`,
    },
    clock: { type: 'string', value: 'FREQUENCY', help: 'its clock, such as "16 MHz"' },
    pin: {
      type: 'string',
      value: 'PIN',
      multiple: true,
      help: 'pin to judge; "PB1,PB2" is a pin and its opposite; may be repeated',
    },
    mode: {
      type: 'string',
      value: 'MODE',
      help: 'operations or service: what the pins are for (operations)',
    },
    for: { type: 'string', value: 'TIME', help: "simulated time (the design's, or 5 s)" },
    skip: {
      type: 'string',
      value: 'TIME',
      help: "time at the start that is not judged (the design's, or 0 us)",
    },
    stimulus: {
      type: 'string',
      value: 'FILE',
      help: 'script of bytes, levels and voltages given to the controller',
    },
    packets: { type: 'boolean', help: 'list every packet' },
    export: { type: 'string', value: 'FILE', writes: true, help: 'write the edges as VCD' },
    translate: TRANSLATE_OPTION,
  },
  takes: { min: 0, max: 1, what: 'one firmware file, or none with a design that names it' },
  examples: [
    'halfbit simulate --design halfbit.yaml --for "10 s"',
    "halfbit simulate station.elf --chip atmega328p --clock '16 MHz' --pin PB1 --packets",
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const setting = settingOf(args, io)
  const { firmware: file, forUs, outputs } = setting
  const { image, sha256, source } = readFirmware(file, args.on('translate'))
  if (flashEnd(image) === 0) throw new InputError('holds no program', { file })
  const lists = new Map<string, PacketJson[]>(outputs.map((o) => [o.name, []]))
  const path = args.text('export')
  const exported = path === undefined ? undefined : new OutputFile(path)
  let result: FirmwareRun
  try {
    const vcd =
      exported &&
      new VcdEdges(
        exported,
        setting.clockHz,
        outputs.map((o) => o.name),
        { command: 'simulate', firmware: { name: basename(file), sha256 } },
      )
    result = await runFirmware(
      {
        ...setting,
        image,
        stimulus: setting.stimulus?.stimulus,
        onPacket: (output, packet) => {
          const list = lists.get(output.name)!
          if (args.on('packets') && list.length < MOST_LISTED)
            list.push(packetJson(packet, { mode: output.mode }))
        },
        edgesTo: (output) => vcd?.sink(outputs.indexOf(output)),
      },
      io,
      (tick) => vcd?.settle(tick),
    )
    if (!result.interrupted) vcd?.end(Math.round((result.report.simulatedUs * setting.clockHz) / 1e6))
    else if (vcd) io.note(`interrupted: ${path} was not written`)
  } finally {
    exported?.discard()
  }
  if (result.interrupted)
    io.note(`stopped after ${formatTimeUs(result.report.simulatedUs)} of ${formatTimeUs(forUs)}`)
  const { statements, notes } = evidenceOfRun(result, {
    firmware: source,
    stimulus: setting.stimulus?.source,
    loaded: setting.loaded,
  })
  const names = new Set(outputs.map((o) => o.name))
  const whole = statements.filter((e) => e.about === undefined || !names.has(e.about))
  const judged = result.outputs.map((output) => ({
    output,
    list: args.on('packets') ? lists.get(output.name) : undefined,
    statements: statements.filter((e) => e.about === output.name),
  }))
  if (args.on('json')) io.out(JSON.stringify(jsonOf(judged, whole, notes, result), null, 2))
  else {
    io.out(simulationText(result.report).join('\n'))
    for (const j of judged) io.out(textOf(j, io.width).join('\n'))
    if (whole.length > 0) io.out(['', 'Firmware:', ...evidenceLines(whole, io.width)].join('\n'))
    for (const { sentence } of notes)
      io.out(['', ...wrapText(`Note: ${sentence}`, io.width, '  ')].join('\n'))
  }
  return statements.some((e) => e.verdict === 'broken') ? 1 : 0
}

interface Judged {
  output: FirmwareRun['outputs'][number]
  statements: Statement[]
  list: PacketJson[] | undefined
}

/**
 * The object that `capture` gives too, for the first output and the firmware as a whole; `outputs` has every output,
 * `simulation` the rest.
 */
function jsonOf(
  judged: readonly Judged[],
  whole: readonly Statement[],
  notes: readonly Finding[],
  result: FirmwareRun,
) {
  const [first] = judged
  return {
    ...signalJson(first!.output.reading, [...first!.statements, ...whole], first!.list),
    outputs: judged.map(({ output, statements, list }) => ({
      name: output.name,
      pin: output.pin,
      mode: output.mode,
      ...signalJson(output.reading, statements, list),
    })),
    notes,
    simulation: result.report,
    interrupted: result.interrupted,
  }
}

function textOf({ output, statements, list }: Judged, width: number): string[] {
  const packets = (list ?? []).map(
    (p) => `${formatTimeUs(p.tUs, 8).padStart(12)}  ${p.hex}  ${p.valid ? '' : 'not valid: '}${p.says}`,
  )
  return [
    '',
    `${output.name}:`,
    ...readingText(output.reading),
    ...evidenceLines(statements, width),
    ...packets,
  ]
}

interface Setting {
  firmware: string
  chip: SimulatedChip
  clockHz: number
  outputs: PinnedOutput[]
  stimulus: ReturnType<typeof readStimulus> | undefined
  forUs: number
  skipUs: number
  loaded?: DesignFile
}

function settingOf(args: Arguments, io: Io): Setting {
  const design = args.text('design')
  if (design === undefined) return settingOfOptions(args)
  for (const option of ['chip', 'clock', 'mode']) {
    if (args.text(option) !== undefined) {
      throw new InputError(`--${option} beside --design, which tells it already; expected one of them`)
    }
  }
  if (args.texts('pin').length > 0)
    throw new InputError('--pin beside --design, whose outputs tell it; expected one of them')
  const loaded = readDesign(design, io, args.text('variant'))
  const { controller, firmware } = loaded.design
  const named = firmware === undefined ? undefined : loaded.beside(firmware.file)
  const file = args.positionals[0] ?? named
  if (file === undefined) {
    throw new InputError('names no firmware; give FIRMWARE on the command line or "firmware: file:" in it', {
      file: design,
    })
  }
  const script = args.text('stimulus') ?? (firmware?.stimulus && loaded.beside(firmware.stimulus))
  const chip = SIMULATED_CHIPS.find((id) => id === controller.chip)
  if (chip === undefined) {
    throw new InputError(
      `a ${CHIPS[controller.chip].name}, which cannot be simulated; expected ${SIMULATED_CHIPS.join(', ')}`,
      { file: design, ...loaded.placeOf(['controller', 'chip']) },
    )
  }
  const outputs = outputsOf(loaded)
  for (const { pin, inverted } of outputs) {
    checkPin(pin, chip)
    if (inverted !== undefined) checkPin(inverted, chip)
  }
  return {
    firmware: file,
    chip,
    clockHz: controller.clock.frequency,
    outputs,
    stimulus: script === undefined ? undefined : readStimulus(script),
    forUs: time(args, 'for', firmware?.runFor ?? DEFAULT_RUN_US),
    skipUs: time(args, 'skip', firmware?.skip ?? 0),
    loaded,
  }
}

function settingOfOptions(args: Arguments): Setting {
  const variant = args.text('variant')
  if (variant !== undefined)
    throw new InputError(`--variant ${variant}; expected --design beside it, whose variant it names`)
  const [file] = args.positionals
  if (file === undefined)
    throw new InputError('no firmware; give a HEX or ELF file, or --design with a design that names one')
  const chip = chipOf(args.text('chip'))
  const clockHz = clockOf(args.text('clock'), chip)
  const mode = args.text('mode') ?? 'operations'
  if (mode !== 'operations' && mode !== 'service') {
    throw new InputError(`--mode ${mode}; expected operations or service`)
  }
  const pins = args.texts('pin')
  if (pins.length === 0) throw new InputError('no pin to judge; give one, such as --pin PB1')
  const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
  const outputs = pins.map((text): PinnedOutput => {
    const names = text.split(',').map(pinName)
    if (names.length > 2) throw new InputError(`--pin ${text}; expected one pin, or two with a comma between`)
    for (const name of names) checkPin(name, chip)
    return { name: names.join(','), pin: names[0]!, inverted: names[1], mode, cutout: false, profile }
  })
  const script = args.text('stimulus')
  return {
    firmware: file,
    chip,
    clockHz,
    outputs,
    stimulus: script === undefined ? undefined : readStimulus(script),
    forUs: time(args, 'for', DEFAULT_RUN_US),
    skipUs: time(args, 'skip', 0),
  }
}

function chipOf(text: string | undefined): SimulatedChip {
  if (text === undefined)
    throw new InputError(`no controller; give --chip with one of ${SIMULATED_CHIPS.join(', ')}`)
  const found = SIMULATED_CHIPS.find((id) => id === text.toLowerCase())
  if (found !== undefined) return found
  const close = nearest(text.toLowerCase(), SIMULATED_CHIPS)
  const why = Object.hasOwn(CHIPS, text) ? 'cannot be simulated' : 'is not known'
  throw new InputError(
    `--chip ${text} ${why}; expected one of ${SIMULATED_CHIPS.join(', ')}${close ? `; the nearest is ${close}` : ''}`,
  )
}

function clockOf(text: string | undefined, chip: SimulatedChip): number {
  if (text === undefined) throw new InputError('no clock; give --clock, such as --clock "16 MHz"')
  const parsed = parseQuantity(text, 'frequency')
  if (!parsed.ok) throw new InputError(`--clock ${text}; expected ${parsed.expected}`)
  const { maxHz, name } = CHIPS[chip]
  if (parsed.value < 1e5 || parsed.value > maxHz) {
    throw new InputError(`--clock ${text}; expected 100 kHz to ${maxHz / 1e6} MHz for the ${name}`)
  }
  return parsed.value
}

function checkPin(name: string, chip: SimulatedChip): void {
  const { pins, name: chipName } = CHIPS[chip]
  if (pins.includes(name)) return
  const close = nearest(name, pins)
  throw new InputError(`no pin ${name} on the ${chipName}${close ? `; the nearest is ${close}` : ''}`)
}

function time(args: Arguments, name: string, otherwise: number): number {
  const text = args.text(name)
  if (text === undefined) return otherwise
  const parsed = parseQuantity(text, 'time')
  if (!parsed.ok) throw new InputError(`--${name} ${text}; expected ${parsed.expected}`)
  if (parsed.value < 0 || parsed.value > 24 * 3600e6 || (name === 'for' && parsed.value < 1000)) {
    throw new InputError(`--${name} ${text}; expected ${name === 'for' ? '1 ms' : '0 us'} to 24 h`)
  }
  return parsed.value
}
