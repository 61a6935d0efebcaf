/** SHA-256 (FIPS 180-4), for files that come in parts and for pages whose browser offers no digest of its own. */

/** The first 32 bits of the fractional parts of the roots of the first primes: FIPS 180-4, 4.2.2 and 5.3.3. */
function fractions(count: number, root: 2 | 3): Int32Array {
  const words = new Int32Array(count)
  for (let n = 2, k = 0; k < count; n++) {
    let prime = true
    for (let d = 2; d * d <= n; d++) if (n % d === 0) prime = false
    if (!prime) continue
    const x = root === 2 ? Math.sqrt(n) : Math.cbrt(n)
    words[k++] = Math.floor((x - Math.floor(x)) * 2 ** 32)
  }
  return words
}

const K = fractions(64, 3)
const START = fractions(8, 2)

const turn = (x: number, by: number) => (x >>> by) | (x << (32 - by))

export class Sha256 {
  readonly #h = START.slice()
  readonly #w = new Int32Array(64)
  readonly #block = new Uint8Array(64)
  #used = 0
  #length = 0

  /** Take more of the file. */
  push(bytes: Uint8Array): this {
    this.#length += bytes.length
    for (let at = 0; at < bytes.length; ) {
      if (this.#used === 0 && bytes.length - at >= 64) {
        // Whole blocks are taken where they lie.
        for (; bytes.length - at >= 64; at += 64) this.#mix(bytes, at)
        continue
      }
      const take = Math.min(64 - this.#used, bytes.length - at)
      this.#block.set(bytes.subarray(at, at + take), this.#used)
      this.#used += take
      at += take
      if (this.#used === 64) this.#mix(this.#block, 0)
    }
    return this
  }

  /** The sum in hexadecimal; nothing may be pushed after it. */
  hex(): string {
    const bits = this.#length * 8
    this.#block[this.#used++] = 0x80
    if (this.#used > 56) {
      this.#block.fill(0, this.#used)
      this.#mix(this.#block, 0)
    }
    this.#block.fill(0, this.#used, 56)
    const view = new DataView(this.#block.buffer)
    view.setUint32(56, Math.floor(bits / 2 ** 32))
    view.setUint32(60, bits % 2 ** 32)
    this.#mix(this.#block, 0)
    return Array.from(this.#h, (word) => (word >>> 0).toString(16).padStart(8, '0')).join('')
  }

  #mix(block: Uint8Array, from: number): void {
    const w = this.#w
    for (let i = 0; i < 16; i++) {
      const at = from + 4 * i
      w[i] = (block[at]! << 24) | (block[at + 1]! << 16) | (block[at + 2]! << 8) | block[at + 3]!
    }
    for (let i = 16; i < 64; i++) {
      const x = w[i - 15]!
      const y = w[i - 2]!
      const s0 = turn(x, 7) ^ turn(x, 18) ^ (x >>> 3)
      const s1 = turn(y, 17) ^ turn(y, 19) ^ (y >>> 10)
      w[i] = (w[i - 16]! + s0 + w[i - 7]! + s1) | 0
    }
    const sum = this.#h
    let a = sum[0]!
    let b = sum[1]!
    let c = sum[2]!
    let d = sum[3]!
    let e = sum[4]!
    let f = sum[5]!
    let g = sum[6]!
    let h = sum[7]!
    for (let i = 0; i < 64; i++) {
      const s1 = turn(e, 6) ^ turn(e, 11) ^ turn(e, 25)
      const one = (h + s1 + ((e & f) ^ (~e & g)) + K[i]! + w[i]!) | 0
      const s0 = turn(a, 2) ^ turn(a, 13) ^ turn(a, 22)
      const two = (s0 + ((a & b) ^ (a & c) ^ (b & c))) | 0
      h = g
      g = f
      f = e
      e = (d + one) | 0
      d = c
      c = b
      b = a
      a = (one + two) | 0
    }
    sum[0]! += a
    sum[1]! += b
    sum[2]! += c
    sum[3]! += d
    sum[4]! += e
    sum[5]! += f
    sum[6]! += g
    sum[7]! += h
    this.#used = 0
  }
}

/** The sum of what is all there, in hexadecimal. */
export function sha256Hex(bytes: Uint8Array): string {
  return new Sha256().push(bytes).hex()
}

/** The UTF-16 code units of a text, for a sum of it: domain rooms have no encoder, and only equality matters. */
export function codeUnits(text: string): Uint8Array {
  const bytes = new Uint8Array(2 * text.length)
  for (let i = 0; i < text.length; i++) {
    const code = text.charCodeAt(i)
    bytes[2 * i] = code & 255
    bytes[2 * i + 1] = code >> 8
  }
  return bytes
}
