/** One packet of the station with its real edges: bits, what they belong to, and when they begin and turn. */
import { preambleOf } from '../../design/index.js'
import { describePacket, encodePacket, type Packet } from '../../packet/index.js'
import { formatBytes } from '../../units/index.js'
import type { BookSources } from '../contents/sources.js'

export interface PacketBit {
  part: string
  one: boolean
  /** From the first edge of the preamble, us. */
  beginsUs: number
  turnsUs: number
}

export interface PacketEdges {
  output: string
  address: number
  /** Name of the locomotive in the design, or `a locomotive`. */
  train: string
  named: boolean
  says: string
  hex: string
  bits: PacketBit[]
  ones: number
  zeros: number
  lastsUs: number
}

/** Half speed of 28 steps. */
const STEP = 14

/** The speed packet of the first locomotive on the first output in operations mode; absent where no timer makes it. */
export function packetEdges({ loaded, timers }: BookSources): PacketEdges | undefined {
  const { signal, fleet } = loaded.design
  const output = Object.entries(signal.outputs).find(([, o]) => o.mode === 'operations')
  const option = output && timers.get(output[0])?.option
  if (!output || !option) return undefined
  const [train, loco] = Object.entries(fleet ?? {}).find(([, l]) => l.address >= 1 && l.address <= 127) ?? []
  const address = loco?.address ?? 3
  const packet: Packet = {
    kind: 'speed',
    target: { kind: 'short', address },
    of: 28,
    step: STEP,
    forward: true,
    emergency: false,
    directionIgnored: false,
    headlight: false,
  }
  const bytes = encodePacket(packet)
  const parts: [part: string, one: boolean][] = []
  for (let i = 0; i < preambleOf(loaded, output[1]); i++) parts.push(['preamble', true])
  const names = ['address', 'instruction', 'error byte']
  bytes.forEach((byte, i) => {
    parts.push([`start of the ${names[i]}`, false])
    for (let bit = 7; bit >= 0; bit--) parts.push([names[i]!, ((byte >> bit) & 1) === 1])
  })
  parts.push(['end', true])
  let at = 0
  const bits = parts.map(([part, one]): PacketBit => {
    const half = one ? option.one.us : option.zero.us
    const bit = { part, one, beginsUs: at, turnsUs: at + half }
    at += 2 * half
    return bit
  })
  const ones = bits.filter((b) => b.one).length
  return {
    output: output[0],
    address,
    train: train ?? 'a locomotive',
    named: train !== undefined,
    says: describePacket(packet),
    hex: formatBytes(bytes),
    bits,
    ones,
    zeros: bits.length - ones,
    lastsUs: at,
  }
}
