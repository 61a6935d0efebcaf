/** SHA-256 of files. */
import { Sha256, sha256Hex } from '../../units/index.js'
import { SLICE_BYTES } from './file-parts.js'

/** What is hashed at once by the browser; larger files come in parts. */
const AT_ONCE = 64 << 20

/** A page opened over plain HTTP from another machine has no `crypto.subtle`. */
export async function sha256Of(data: Uint8Array | string): Promise<string>
/** @param go hears how far it is and says whether to go on. @returns undefined when it did not. */
export async function sha256Of(data: Blob, go?: (share: number) => boolean): Promise<string | undefined>
export async function sha256Of(
  data: Uint8Array | string | Blob,
  go: (share: number) => boolean = () => true,
): Promise<string | undefined> {
  if (data instanceof Blob) {
    if (data.size <= AT_ONCE) return sha256Of(new Uint8Array(await data.arrayBuffer()))
    const sum = new Sha256()
    for (let at = 0; at < data.size; at += SLICE_BYTES) {
      sum.push(new Uint8Array(await data.slice(at, at + SLICE_BYTES).arrayBuffer()))
      // Lets messages in: a cancel.
      await new Promise((done) => setTimeout(done, 0))
      if (!go(at / data.size)) return undefined
    }
    return sum.hex()
  }
  const bytes = typeof data === 'string' ? new TextEncoder().encode(data) : data
  const subtle = globalThis.crypto?.subtle as SubtleCrypto | undefined
  if (!subtle) return sha256Hex(bytes)
  const sum = new Uint8Array(await subtle.digest('SHA-256', bytes as Uint8Array<ArrayBuffer>))
  return Array.from(sum, (b) => b.toString(16).padStart(2, '0')).join('')
}
