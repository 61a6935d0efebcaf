/**
 * Whom a packet is for, as one number, cheap enough for the reader's inner loop.
 * Partitions of the first byte: S-9.2.1:2012 A (confirmed).
 */

/** Nobody: idle, reserved first bytes. */
export const NOBODY = -1
/** All decoders of a kind: the broadcasts to multi-function, basic and extended accessory decoders are not told apart. */
export const BROADCAST = 0
const LONG = 0x10000
const BASIC_ACCESSORY = 0x20000
const EXTENDED_ACCESSORY = 0x30000

/**
 * The addressee of a packet: equal for two packets exactly if the same decoder (or consist) listens to both, in
 * operations mode; first bytes 112 to 127 on a service-mode track are for every decoder there.
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
    if (second & 0x80) return board === 511 ? BROADCAST : BASIC_ACCESSORY | board
    if (length < 3) return NOBODY
    // NOP to a basic decoder (RCN-213, from memory), or the old form of CV access (S-9.2.1:2012 App. A, confirmed).
    if (second & 8 && (length === 5 || (second & 1) === 0)) return BASIC_ACCESSORY | board
    const address = (board << 2) | ((second >> 1) & 3)
    return address === 2047 ? BROADCAST : EXTENDED_ACCESSORY | address
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
