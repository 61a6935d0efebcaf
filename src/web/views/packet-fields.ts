/** Where a field is in a packet: found by changing it and looking which bits follow. */
import { encodePacket, type FieldInfo, packetFromFields } from '../../packet/index.js'

export type Given = Record<string, string | boolean | undefined>

/** Other values of a field to try: near ones, and those of all kinds of fields. */
function others(value: string | boolean | undefined): (string | boolean)[] {
  if (typeof value === 'boolean') return [!value]
  const n = Number(value)
  const near = Number.isInteger(n) ? [n + 1, n - 1, n + 4, n ^ 1].map(String) : []
  return [...near, '0', '1', '2', '3', '7', '14', '28', '126', '0,1', 'CV23', 'CV24', 'read', 'write', 'all']
}

/**
 * The byte of the packet that most depends on a field, the error byte left out; -1 where none does, or where the field
 * cannot be changed alone.
 */
export function byteOfField(kind: string, given: Given, { name }: FieldInfo, bytes: Uint8Array): number {
  const votes = new Array<number>(bytes.length - 1).fill(0)
  for (const value of others(given[name])) {
    let other: Uint8Array
    try {
      other = encodePacket(packetFromFields(kind, { ...given, [name]: value }))
    } catch {
      continue
    }
    const first = votes.findIndex((_, i) => bytes[i] !== other[i])
    if (first < 0) continue
    // One of another length is another form of the packet: it begins to differ where the field is.
    if (other.length !== bytes.length) votes[first]! += 1
    else for (let i = first; i < votes.length; i++) if (bytes[i] !== other[i]) votes[i]! += 1
  }
  const most = Math.max(0, ...votes)
  return most === 0 ? -1 : votes.indexOf(most)
}
