/**
 * Whom a packet is for, as one number, cheap enough for the reader's inner loop.
 * Partitions of the first byte: S-9.2.1:2012 A (confirmed).
 */

/** Nobody: idle, reserved first bytes, service-mode packets. */
export const NOBODY = -1
export const BROADCAST = 0
const LONG = 0x10000
const BASIC_ACCESSORY = 0x20000
const EXTENDED_ACCESSORY = 0x30000

/**
 * The addressee of a packet: equal for two packets exactly if the same decoder (or consist) listens to both.
 * @param b bytes of the packet from `at`, with the error byte; @param length at least 2.
 */
export function addresseeOf(b: ArrayLike<number>, at: number, length: number): number {
  const first = b[at]!
  if (first < 128) return first
  const second = b[at + 1]!
  if (first < 192) {
    const low = first & 0x3f
    const high = (~second >> 4) & 7
    const board = (high << 6) | low
    if (second & 0x80) {
      if (first === 0xbf && high === 7) return BROADCAST
      return BASIC_ACCESSORY | board
    }
    return length < 3 ? NOBODY : EXTENDED_ACCESSORY | (board << 2) | ((second >> 1) & 3)
  }
  if (first < 232) return LONG | ((first & 0x3f) << 8) | second
  return NOBODY
}

/** Words for an addressee: `3`, `long 1234`, `accessory board 5`, `everyone`. */
export function nameAddressee(addressee: number): string {
  if (addressee === NOBODY) return 'nobody'
  if (addressee === BROADCAST) return 'everyone'
  const number = addressee & 0xffff
  if (addressee >= EXTENDED_ACCESSORY) return `extended accessory ${number}`
  if (addressee >= BASIC_ACCESSORY) return `accessory board ${number}`
  return addressee >= LONG ? `long ${number}` : String(number)
}
