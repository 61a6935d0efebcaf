/** Which decoder acted on which command when, and which never did and why. */
import type { Command } from '../../controller/index.js'
import { addresseeOf, BROADCAST } from '../../packet/index.js'
import type { BenchDecoder } from '../station/setup.js'
import type { DecoderState, Trace } from './trace.js'

export type Deaf =
  /** No decoder on the rails has this address. */
  | 'no such decoder'
  /** No packet to it was sent until the next command of its kind. */
  | 'not sent'
  /** Packets were sent, but not for what was commanded. */
  | 'sent otherwise'
  /** Packets were sent while its rails had no power. */
  | 'no power on the rails'
  /** Packets were sent while it had browned out. */
  | 'decoder without power'
  /** Packets were sent and none reached it whole. */
  | 'not received'

export interface Heard {
  timeUs: number
  /** The command as it came. */
  command: string
  decoder: string
  /** When it did what was commanded, us; absent where it never did. */
  actedUs?: number
  /** Until another command of its kind came, or the end, us. */
  untilUs: number
  /** It was as commanded already. */
  already?: true
  why?: Deaf
}

/** With this full speed each number of the firmware's language is one of 126 steps. */
export const STEPS = 126

/**
 * Whether a decoder was told a speed: to the step where the language of the firmware counts in those that were sent, else
 * by less than one step, whichever way the firmware rounds.
 */
export function isTold(
  { told, steps }: DecoderState,
  speed: number,
  forward: boolean | undefined,
  full: number,
) {
  const away = Math.abs(Math.abs(told) - speed) * steps
  const near = full === steps && steps === STEPS ? away < 0.5 : away < 1 - 1e-9
  return near && (speed === 0 ? told === 0 : told === 0 || forward === undefined || told > 0 === forward)
}

/** Commands for a train: what its state must become. */
function wanted(
  command: Command,
  fullSpeed: number,
): { address?: number; fits(s: DecoderState): boolean; kind: string } | undefined {
  switch (command.kind) {
    case 'speed': {
      const { address, speed, forward } = command
      return {
        address,
        kind: 'speed',
        fits: (s) => isTold(s, speed, forward, fullSpeed),
      }
    }
    case 'stop':
      return { kind: 'speed', fits: ({ told }) => told === 0 }
    case 'stopOne':
      return { address: command.address, kind: 'speed', fits: ({ told }) => told === 0 }
    case 'function': {
      const { address, on } = command
      const f = String(command.function)
      return { address, kind: `function ${f}`, fits: (s) => s.functions.split(' ').includes(f) === on }
    }
    default:
      return undefined
  }
}

/** @param toUs until when a decoder may act on a command that no other follows. */
export function heardIn(trace: Trace, toUs: number): Heard[] {
  const { setup } = trace
  const operations = new Set(setup.outputs.filter((o) => o.mode === 'operations').map((o) => o.name))
  const outputOf = (d: BenchDecoder) => setup.districts.find((p) => p.name === d.district)?.output
  const there = setup.decoders.filter((d) => operations.has(outputOf(d) ?? ''))
  const commands = trace.commands().flatMap((command) => {
    const want = wanted(command, setup.commands?.fullSpeed ?? STEPS)
    return want ? [{ command, want }] : []
  })
  return commands.flatMap(({ command, want }, i): Heard[] => {
    const said = { timeUs: command.timeUs, command: command.text }
    // Address 0 is no locomotive's, so that nobody need act on it (S-9.2.1:2012 A).
    if (want.address === 0) return []
    const meant = there.filter((d) => want.address === undefined || d.address === want.address)
    if (meant.length === 0)
      return [{ ...said, decoder: String(want.address), untilUs: toUs, why: 'no such decoder' }]
    return meant.map((decoder): Heard => {
      const next = commands
        .slice(i + 1)
        .find((c) => c.want.kind === want.kind && (c.want.address ?? decoder.address) === decoder.address)
      const untilUs = next?.command.timeUs ?? toUs
      const before = trace.stateAt(decoder.name, command.timeUs)
      const about = { ...said, decoder: decoder.name, untilUs }
      if (before?.powered && want.fits(before)) return { ...about, actedUs: command.timeUs, already: true }
      const acted = trace.states
        .get(decoder.name)!
        .find((s) => s.timeUs > command.timeUs && s.timeUs <= untilUs && s.powered && want.fits(s))
      if (acted) return { ...about, actedUs: acted.timeUs }
      return { ...about, why: whyDeaf(trace, decoder, outputOf(decoder)!, command.timeUs, untilUs) }
    })
  })
}

function whyDeaf(trace: Trace, decoder: BenchDecoder, output: string, fromUs: number, toUs: number): Deaf {
  const isLong = decoder.cvs[29] !== undefined && (decoder.cvs[29] & 32) !== 0
  const own = isLong ? 0x10000 | decoder.address : decoder.address
  const sent = trace.ears.get(output)!.packets.filter(({ endUs, bytes }) => {
    if (endUs <= fromUs || endUs > toUs) return false
    const to = addresseeOf(bytes, 0, bytes.length)
    return to === own || (to === BROADCAST && bytes[0] === 0)
  })
  if (sent.length === 0) return 'not sent'
  const dark = sent.every(({ endUs }) => !trace.wasOn(decoder.district, endUs))
  if (dark) return 'no power on the rails'
  const off = sent.every(({ endUs }) => trace.stateAt(decoder.name, endUs)?.powered !== true)
  if (off) return 'decoder without power'
  // It heard something for it meanwhile, so that the rails were well: what came was another thing.
  return (trace.run.decoder(decoder.name)?.heardUs ?? 0) > fromUs ? 'sent otherwise' : 'not received'
}
