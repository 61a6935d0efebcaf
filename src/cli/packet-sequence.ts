/** `halfbit packet sequence`: all packets of a service-mode operation, as a list, as C arrays or as their signal. */
import { CsvWriter, VcdWriter } from '../capture/index.js'
import {
  type CvAccess,
  factoryResetSequence,
  SERVICE_MODES,
  type ServiceStep,
  serviceSequence,
} from '../packet/index.js'
import { ENCODER_CLOCK, encodeSignal, NOMINAL_TIMING } from '../signal/index.js'
import { formatBytes, InputError, nearest } from '../units/index.js'
import type { Arguments, ExitStatus, Io } from './command.js'
import { writeWhole } from './files/output-file.js'

/** Ones before each packet in service mode (S-9.2.3:2012 E). */
const SERVICE_PREAMBLE = 20
const CHOICES = [...SERVICE_MODES, 'factory-reset']

export function sequence(words: string[], args: Arguments, io: Io): ExitStatus {
  const steps = stepsOf(words, args)
  const out = args.text('out')
  if (out !== undefined) {
    const form = /\.(vcd|csv)$/i.exec(out)?.[1]?.toLowerCase()
    if (form === undefined) throw new InputError(`--out ${out}; expected a name that ends in .vcd or .csv`)
    const Writer = form === 'vcd' ? VcdWriter : CsvWriter
    const packets = steps.flatMap(({ times, bytes }) => Array.from({ length: times }, () => bytes))
    const edges = encodeSignal(packets, { ...NOMINAL_TIMING, preamble: SERVICE_PREAMBLE })
    writeWhole(out, new Writer(ENCODER_CLOCK, { command: 'packet' }).write(edges))
    io.note(`wrote ${out}: ${packets.length} packets`)
  }
  if (args.on('json')) {
    const list = steps.map(({ times, bytes, says }) => ({ times, hex: formatBytes(bytes), says }))
    io.out(
      JSON.stringify({ halfbit: 1, preamble: SERVICE_PREAMBLE, steps: list, file: out ?? null }, null, 2),
    )
  } else if (args.on('c')) io.out(cArrays(steps))
  else if (out === undefined)
    io.out(
      steps
        .map((s) => `${String(s.times).padStart(3)} x  ${formatBytes(s.bytes).padEnd(11)}  ${s.says}`)
        .join('\n'),
    )
  return 0
}

function stepsOf(words: string[], args: Arguments): ServiceStep[] {
  const [mode = ''] = words
  const found = CHOICES.find((c) => c === mode)
  if (words.length !== 1 || found === undefined) {
    const close = nearest(mode, CHOICES)
    throw new InputError(
      `sequence takes one of ${CHOICES.join(', ')}; found ${words.join(' ') || 'none'}${close ? `; the nearest is ${close}` : ''}`,
    )
  }
  const fromPowerOn = args.on('power-on')
  if (found === 'factory-reset') return factoryResetSequence(fromPowerOn)
  try {
    return serviceSequence({
      mode: SERVICE_MODES.find((m) => m === found)!,
      access: accessOf(found, args),
      fromPowerOn,
    })
  } catch (error) {
    if (error instanceof RangeError) throw new InputError(`packet sequence: ${error.message}`)
    throw error
  }
}

function accessOf(mode: string, args: Arguments): CvAccess {
  const number = (name: string, otherwise?: number): number => {
    const text = args.text(name)
    if (text === undefined && otherwise !== undefined) return otherwise
    if (text === undefined || !/^\d{1,4}$/.test(text))
      throw new InputError(`--${name} ${text ?? 'is missing'}; expected a whole number`)
    return Number(text)
  }
  const cv = number('cv', mode === 'address-only' ? 1 : undefined)
  const value = number('value')
  const write = args.on('write')
  if (args.text('bit') === undefined) return { op: write ? 'write' : 'verify', cv, value }
  return { op: write ? 'write-bit' : 'verify-bit', cv, bit: number('bit'), value }
}

/** One row for each step: how often, how many bytes, the bytes with their error byte. */
function cArrays(steps: readonly ServiceStep[]): string {
  const most = Math.max(...steps.map((s) => s.bytes.length))
  const hex = (bytes: Uint8Array) =>
    [...bytes].map((b) => `0x${b.toString(16).padStart(2, '0').toUpperCase()}`).join(', ')
  const rows = steps.map((s) => `    { ${s.times}, ${s.bytes.length}, { ${hex(s.bytes)} } }, /* ${s.says} */`)
  return `/* Service-mode sequence (S-9.2.3:2012 E); each packet with at least ${SERVICE_PREAMBLE} preamble bits. */
struct service_step { unsigned char times, length, bytes[${most}]; };
static const struct service_step SERVICE_SEQUENCE[${steps.length}] = {
${rows.join('\n')}
};`
}
