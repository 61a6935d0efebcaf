/**
 * Accessory numbers as people use them, and what is on the wire. Texts disagree by one board (four pairs) about which
 * wire address is number 1, so the offset is a setting: 4 makes board 1, pair 0 the first (RCN-213, from memory; the
 * board method of S-9.2.2:2012), 0 makes board 0, pair 0 the first (the output formula of S-9.2.2:2012).
 */

/** Wire addresses before number 1, unless the user says otherwise. */
export const ACCESSORY_OFFSET = 4

/** Highest wire address of one accessory: board 511 is for all of them. */
const LAST_BASIC = 4 * 510 + 3
const LAST_EXTENDED = 2046

/**
 * Number of an output pair, or of an extended accessory by its eleven-bit wire address; below 1 when the wire address
 * lies before the first number.
 */
export function accessoryNumber(wireAddress: number, offset = ACCESSORY_OFFSET): number {
  return wireAddress + 1 - offset
}

/**
 * Board and pair of an output pair's number.
 * @throws RangeError when no board has it, or the offset is none of 0 to 4.
 */
export function accessoryPlace(number: number, offset = ACCESSORY_OFFSET): { board: number; pair: number } {
  const wire = wireAddressOf('accessory', number, offset, LAST_BASIC)
  return { board: wire >> 2, pair: wire & 3 }
}

/** Wire address of an extended accessory's number. @throws RangeError as {@link accessoryPlace}. */
export function extendedWireAddress(number: number, offset = ACCESSORY_OFFSET): number {
  return wireAddressOf('extended accessory', number, offset, LAST_EXTENDED)
}

function wireAddressOf(what: string, number: number, offset: number, last: number): number {
  if (!Number.isInteger(offset) || offset < 0 || offset > 4) {
    throw new RangeError(`offset is ${offset}; expected a whole number from 0 to 4`)
  }
  const most = last + 1 - offset
  if (!Number.isInteger(number) || number < 1 || number > most) {
    throw new RangeError(
      `${what} is ${number}; expected a whole number from 1 to ${most} at offset ${offset}`,
    )
  }
  return number - 1 + offset
}
