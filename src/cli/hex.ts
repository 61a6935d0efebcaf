/** Bytes as people type them. */
import { InputError } from '../units/index.js'

/** @throws InputError saying what stands where hexadecimal digits belong. */
export function parseHex(text: string): number[] {
  const words = text.split(/[\s,;:_|\-[\]{}()]+/).filter(Boolean)
  const digits = words.map((word) => {
    const bare = word.replace(/^0x/i, '')
    if (!/^[0-9a-f]+$/i.test(bare)) {
      throw new InputError(`found ${JSON.stringify(word)}; expected bytes in hexadecimal, such as 37 74 43`)
    }
    if (bare.length > 2 && bare.length % 2 !== 0) {
      throw new InputError(`${word} has an odd number of digits; expected two for each byte`)
    }
    return bare.padStart(2, '0')
  })
  const joined = digits.join('')
  if (joined.length > 512) throw new InputError(`${joined.length / 2} bytes; no packet is that long`)
  return Array.from({ length: joined.length / 2 }, (_, i) =>
    Number.parseInt(joined.slice(2 * i, 2 * i + 2), 16),
  )
}
