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
