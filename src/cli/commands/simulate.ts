import { readFileSync } from 'node:fs'
import { CHIPS, loadFirmware, parseStimulus, pinName, type SimulatedChip } from '../../controller/index.js'
import { judgeSignal, packetJson, signalJson } from '../../signal/index.js'
import { type Evidence, type Profile, profileOf } from '../../standard/index.js'
import { formatTimeUs, InputError, nearest, parseQuantity } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { evidenceText, readingText } from '../signal-text.js'
import { runFirmware, type SimulatedOutput } from '../simulation.js'
import { simulationText } from '../simulation-text.js'

const SIMULATED: readonly SimulatedChip[] = ['atmega328p', 'atmega2560', 'atmega32u4']

export const command: Command = {
  usage: ["simulate FIRMWARE --chip CHIP --clock '16 MHz' --pin PIN… [options]"],
  about: `Runs compiled firmware (HEX or ELF) on a simulated controller, cycle by cycle, and judges the signal that its pins send.
Beside the signal it tells the load, every interrupt, how close the signal's interrupt came to its deadline, the stack, resets.`,
  options: {
    chip: { type: 'string', value: 'CHIP', help: `controller: ${SIMULATED.join(', ')}` },
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
      help: 'operations or service; what the pins given by --pin are for (operations)',
    },
    for: { type: 'string', value: 'TIME', help: 'simulated time (5 s)' },
    skip: { type: 'string', value: 'TIME', help: 'time at the start that is not judged (0 us)' },
    stimulus: {
      type: 'string',
      value: 'FILE',
      help: 'script of bytes, levels and voltages given to the controller',
    },
    packets: { type: 'boolean', help: 'list every packet' },
  },
  takes: { min: 1, max: 1, what: 'one firmware file' },
  examples: ["halfbit simulate station.elf --chip atmega328p --clock '16 MHz' --pin PB1 --for '10 s'"],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const setting = settingOf(args)
  const image = loadFirmware(readFileSync(file), file)
  const forUs = time(args, 'for', 5e6)
  const skipUs = time(args, 'skip', 0)
  const script = args.text('stimulus')
  const lists = new Map<string, ReturnType<typeof packetJson>[]>()
  const result = await runFirmware({
    image,
    chip: setting.chip,
    clockHz: setting.clockHz,
    outputs: setting.outputs,
    stimulus: script === undefined ? undefined : parseStimulus(readFileSync(script, 'utf8'), script),
    forUs,
    skipUs,
    signal: io.signal,
    onProgress: (simulatedUs, speed) => io.progress(progressText(simulatedUs, forUs, speed)),
    onPacket: args.on('packets')
      ? (output, packet) => {
          const list = lists.get(output.name) ?? []
          lists.set(output.name, list)
          list.push(packetJson(packet, { mode: output.mode }))
        }
      : undefined,
  })
  io.progress('')
  if (result.interrupted)
    io.note(`stopped after ${formatTimeUs(result.report.simulatedUs)} of ${formatTimeUs(forUs)}`)
  const judged = result.outputs.map((output) => {
    const source = `${formatTimeUs(result.report.simulatedUs)} of ${file}`
    const evidence = judgeSignal(output.reading, setting.profile, {
      origin: 'simulated',
      source,
      about: output.name,
      probe: 'logic',
      place: { file, channel: output.pin },
    })
    return { output, evidence }
  })
  if (args.on('json')) {
    const [first] = judged
    const object = {
      ...signalJson(first!.output.reading, first!.evidence, lists.get(first!.output.name)),
      outputs: judged.map(({ output, evidence }) => ({
        name: output.name,
        pin: output.pin,
        ...signalJson(output.reading, evidence, lists.get(output.name)),
      })),
      simulation: result.report,
      interrupted: result.interrupted,
    }
    io.out(JSON.stringify(object, null, 2))
  } else {
    io.out(simulationText(result.report).join('\n'))
    for (const { output, evidence } of judged) {
      io.out(['', `${output.name}:`, ...readingText(output.reading), ...evidenceText(evidence)].join('\n'))
      for (const p of lists.get(output.name) ?? []) {
        io.out(`${formatTimeUs(p.tUs, 8).padStart(12)}  ${p.hex}  ${p.valid ? '' : 'not valid: '}${p.says}`)
      }
    }
  }
  return statusOf(judged.flatMap((j) => j.evidence))
}

interface Setting {
  chip: SimulatedChip
  clockHz: number
  outputs: SimulatedOutput[]
  profile: Profile
}

function settingOf(args: Arguments): Setting {
  const chip = chipOf(args.text('chip'))
  const clockHz = clockOf(args.text('clock'), chip)
  const mode = args.text('mode') ?? 'operations'
  if (mode !== 'operations' && mode !== 'service') {
    throw new InputError(`--mode ${mode}; expected operations or service`)
  }
  const pins = args.texts('pin')
  if (pins.length === 0) throw new InputError('no pin to judge; give one, such as --pin PB1')
  const outputs = pins.map((text): SimulatedOutput => {
    const names = text.split(',').map(pinName)
    if (names.length > 2) throw new InputError(`--pin ${text}; expected one pin, or two with a comma between`)
    for (const name of names) checkPin(name, chip)
    return { name: names.join(','), pin: names[0]!, inverted: names[1], mode }
  })
  return { chip, clockHz, outputs, profile: profileOf({ profile: 'nmra', scale: 'H0', cutout: false }) }
}

function chipOf(text: string | undefined): SimulatedChip {
  if (text === undefined)
    throw new InputError(`no controller; give --chip with one of ${SIMULATED.join(', ')}`)
  const found = SIMULATED.find((id) => id === text.toLowerCase())
  if (found !== undefined) return found
  const close = nearest(text.toLowerCase(), SIMULATED)
  const why = Object.hasOwn(CHIPS, text) ? 'cannot be simulated' : 'is not known'
  throw new InputError(
    `--chip ${text} ${why}; expected one of ${SIMULATED.join(', ')}${close ? `; the nearest is ${close}` : ''}`,
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

const BAR = 24

function progressText(simulatedUs: number, forUs: number, speed: number): string {
  const done = Math.round((BAR * simulatedUs) / forUs)
  const bar = '#'.repeat(done) + '.'.repeat(BAR - done)
  return `[${bar}] ${formatTimeUs(simulatedUs)} of ${formatTimeUs(forUs)} simulated, ${speed.toFixed(1)} times real time`
}

function statusOf(evidence: readonly Evidence[]): ExitStatus {
  return evidence.some((e) => e.verdict === 'broken') ? 1 : 0
}
