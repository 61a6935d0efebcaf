/** SHA-256 of files. */
import { createHash } from 'node:crypto'
import { closeSync, fstatSync, openSync, readSync } from 'node:fs'
import { setImmediate } from 'node:timers/promises'
import type { Io } from './command.js'

export function sha256(bytes: Uint8Array): string {
  return createHash('sha256').update(bytes).digest('hex')
}

/** Of a file of any size; `undefined` for what cannot be read twice, or after Ctrl-C. */
export async function fileSum(path: string, io: Io): Promise<string | undefined> {
  if (path === '-') return undefined
  const handle = openSync(path, 'r')
  try {
    if (!fstatSync(handle).isFile()) return undefined
    const hash = createHash('sha256')
    const part = Buffer.allocUnsafe(1 << 20)
    for (let n = 1; ; n++) {
      const read = readSync(handle, part)
      if (read === 0) return hash.digest('hex')
      hash.update(part.subarray(0, read))
      // Lets Ctrl-C through.
      if (n % 64 === 0) await setImmediate()
      if (io.signal.aborted) return undefined
    }
  } finally {
    closeSync(handle)
  }
}
