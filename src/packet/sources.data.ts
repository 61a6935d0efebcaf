/**
 * Packets that are known from memory only: RCN-211 to RCN-214 and later editions of S-9.2.1, whose texts were not
 * found. Everything else that the packet room knows is in S-9.2:2004, S-9.2.1:2012 or S-9.2.3:2012 (confirmed).
 */
import { FUNCTION_GROUPS, type Packet } from './packet.js'

const KINDS_FROM_MEMORY: ReadonlySet<Packet['kind']> = new Set<Packet['kind']>([
  'speed-and-functions',
  'cv-extended',
  'layout-time',
  'layout-date',
  'system-time',
  'station-capabilities',
  'accessory-poll',
])
/** The last group of functions that S-9.2.1:2012 C has is F21 to F28. */
const LAST_CONFIRMED_GROUP = FUNCTION_GROUPS[4]

export function isFromMemory(packet: Packet): boolean {
  if (KINDS_FROM_MEMORY.has(packet.kind)) return true
  if (packet.kind === 'functions') return packet.group > LAST_CONFIRMED_GROUP
  // CV17 with 18, CV31 with 32: RCN-214. CV23 and CV24 alone are in S-9.2.1:2012.
  return packet.kind === 'cv-short' && packet.values.length > 1
}

/** Kinds of the partitions 253 and 254. */
const KINDS_OF_DRAFT: ReadonlySet<Packet['kind']> = new Set<Packet['kind']>([
  'advanced-extended',
  'automatic-logon',
])

/** Where a packet is defined, and whether that text was seen. */
export interface PacketSource {
  says: string
  status: 'confirmed' | 'from memory' | 'draft'
}

export function sourceOfPacket(packet: Packet): PacketSource {
  if (KINDS_OF_DRAFT.has(packet.kind))
    return { says: 'S-9.2.1.1, draft of 2021, and RCN-218', status: 'draft' }
  if (isFromMemory(packet))
    return { says: 'RCN-211 to RCN-214 or later editions of S-9.2.1', status: 'from memory' }
  return { says: 'S-9.2:2004, S-9.2.1:2012 or S-9.2.3:2012', status: 'confirmed' }
}
