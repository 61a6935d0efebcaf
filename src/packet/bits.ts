/** Packets on the wire: bits and durations. Source: S-9.2:2004 A (frame), S-9.1:2020 Table 1 (durations). */

/** Exclusive-or of the bytes: the error byte that belongs behind them (S-9.2:2004 B). */
export function errorByte(bytes: ArrayLike<number>, length = bytes.length): number {
  let check = 0
  for (let i = 0; i < length; i++) check ^= bytes[i]!
  return check
}

/** `111…1 0 00110111 0 … 1`: preamble, a start bit before each byte, end bit. */
export function packetBits(bytes: ArrayLike<number>, preamble: number): string {
  const parts = ['1'.repeat(preamble)]
  for (let i = 0; i < bytes.length; i++) parts.push('0', bytes[i]!.toString(2).padStart(8, '0'))
  parts.push('1')
  return parts.join(' ')
}

/** Time a packet takes with its preamble and end bit, us. */
export function packetDurationUs(
  bytes: ArrayLike<number>,
  preamble: number,
  oneHalfUs = 58,
  zeroHalfUs = 100,
): number {
  let ones = 0
  for (let i = 0; i < bytes.length; i++) {
    for (let rest = bytes[i]!; rest > 0; rest &= rest - 1) ones++
  }
  const zeros = 8 * bytes.length - ones
  return 2 * oneHalfUs * (preamble + 1 + ones) + 2 * zeroHalfUs * (bytes.length + zeros)
}

/** CRC-8 of packets to first bytes 253 and 254: x⁸ + x⁵ + x⁴ + 1, least bit first (RCN-218, from memory). */
export function crc8(bytes: ArrayLike<number>, length = bytes.length): number {
  let crc = 0
  for (let i = 0; i < length; i++) {
    crc ^= bytes[i]!
    for (let bit = 0; bit < 8; bit++) crc = crc & 1 ? (crc >> 1) ^ 0x8c : crc >> 1
  }
  return crc
}

/** Fewest and most ones that stand for a preamble in a written string of bits. */
const PREAMBLE_DIGITS = { min: 1, max: 10_000 }

/**
 * Read a packet written as bits, as {@link packetBits} writes it; spaces do not matter. Ones may follow its end bit.
 * @throws RangeError naming the first bit (from 1) that does not fit.
 */
export function packetFromBits(text: string): { bytes: number[]; preamble: number } {
  const bits = text.replace(/\s+/g, '')
  const odd = /[^01]/.exec(bits)
  if (odd) throw new RangeError(`bit ${odd.index + 1} is ${JSON.stringify(odd[0])}; expected 0 or 1`)
  const preamble = bits.indexOf('0')
  if (preamble < PREAMBLE_DIGITS.min || preamble > PREAMBLE_DIGITS.max) {
    throw new RangeError(
      preamble === 0 ? 'bit 1 is 0; expected a preamble of ones' : 'no start bit in these bits',
    )
  }
  const bytes: number[] = []
  let at = preamble
  while (bits[at] === '0') {
    const byte = bits.slice(at + 1, at + 9)
    if (byte.length < 8)
      throw new RangeError(`byte ${bytes.length + 1} ends after ${byte.length} bits; expected 8`)
    bytes.push(Number.parseInt(byte, 2))
    at += 9
  }
  if (at >= bits.length) throw new RangeError(`no end bit after byte ${bytes.length}`)
  const more = bits.indexOf('0', at)
  if (more >= 0) throw new RangeError(`bit ${more + 1} is 0 after the end bit; expected one packet`)
  return { bytes, preamble }
}
