/** What a packet tells locomotives about their speed and functions. */
import { addresseeOf, decodePacket } from '../../packet/index.js'

export interface HeardPacket {
  /** First edge of the start bit and last edge of the end bit, us. */
  timeUs: number
  endUs: number
  bytes: Uint8Array
  /** Error byte right and length allowed. */
  valid: boolean
}

export interface ToldSpeed {
  /** Share of full speed; 0 stops. */
  speed: number
  /** Speed steps of the packet's scale. */
  of: 14 | 28 | 126
  /** Absent where the packet says that direction may be ignored. */
  forward?: boolean
}

/** Functions of one packet: lowest number and how many follow; `on` lists those that are on. */
export interface ToldFunctions {
  from: number
  count: number
  on: ReadonlySet<number>
}

export interface Told {
  packet: HeardPacket
  /** As `addresseeOf` gives it; `everyone` for a broadcast. */
  to: number | 'everyone'
  speed?: ToldSpeed
  functions?: ToldFunctions
}

/** How many functions a group carries, by its first (S-9.2.1:2012 C; from F29 from memory of RCN-212). */
function groupSize(first: number): number {
  if (first === 0) return 5
  return first < 13 ? 4 : 8
}

/**
 * @param reads14 whether the decoder of an addressee reads baseline speeds in 14 steps (CV29 bit 1 clear): it then has the
 * headlight in them, and none in function group one (S-9.2.1:2012 C).
 * @returns undefined for a packet that tells nothing of the kind.
 */
export function toldBy(
  packet: HeardPacket,
  reads14: (addressee: number) => boolean = () => false,
): Told | undefined {
  if (!packet.valid) return undefined
  const to = addresseeOf(packet.bytes, 0, packet.bytes.length)
  const in14 = reads14(to)
  const { packet: p } = decodePacket(packet.bytes, { steps: in14 ? 14 : 28 })
  if (!p) return undefined
  if (p.kind === 'broadcast-stop') return { packet, to: 'everyone', speed: { speed: 0, of: 28 } }
  // A reset stops every decoder at once (S-9.2:2004 B).
  if (p.kind === 'reset' && p.target.kind === 'all')
    return { packet, to: 'everyone', speed: { speed: 0, of: 28 } }
  switch (p.kind) {
    case 'speed':
    case 'speed-126': {
      const of = p.kind === 'speed' ? p.of : 126
      const ignored = p.kind === 'speed' && p.directionIgnored
      return {
        packet,
        to: p.target.kind === 'all' ? 'everyone' : to,
        speed: { speed: p.step / of, of, ...(ignored ? {} : { forward: p.forward }) },
        ...(p.kind === 'speed' && of === 14
          ? { functions: { from: 0, count: 1, on: new Set(p.headlight ? [0] : []) } }
          : {}),
      }
    }
    case 'speed-and-functions': {
      const on = new Set(p.functions.flatMap((byte, i) => bits(byte).map((bit) => 8 * i + bit)))
      return {
        packet,
        to,
        speed: { speed: p.step / 126, of: 126, forward: p.forward },
        functions: { from: 0, count: 8 * p.functions.length, on },
      }
    }
    case 'functions': {
      const from = in14 && p.group === 0 ? 1 : p.group
      return {
        packet,
        to,
        functions: { from, count: p.group + groupSize(p.group) - from, on: new Set(p.on) },
      }
    }
    default:
      return undefined
  }
}

function bits(byte: number): number[] {
  return [0, 1, 2, 3, 4, 5, 6, 7].filter((bit) => byte & (1 << bit))
}
