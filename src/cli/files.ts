/** Files read up to a limit, and written whole or not at all. */
import { randomBytes } from 'node:crypto'
import {
  closeSync,
  fchmodSync,
  fstatSync,
  fsyncSync,
  openSync,
  readSync,
  renameSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs'
import { basename, dirname, join } from 'node:path'
import { InputError } from '../units/index.js'

/** An output file that appears under its name only once {@link commit} has been called. */
export class WholeFile {
  readonly #path: string
  readonly #draft: string
  readonly #handle: number
  #open = true

  /** @throws a file system error naming `path` when its folder is missing or may not be written. */
  constructor(path: string) {
    this.#path = path
    this.#draft = join(dirname(path), `.${basename(path)}.${randomBytes(6).toString('hex')}.part`)
    try {
      this.#handle = openSync(this.#draft, 'wx')
    } catch (error) {
      throw Object.assign(error as NodeJS.ErrnoException, { path })
    }
    // Who could not read the file before cannot read what replaces it.
    const before = statSync(path, { throwIfNoEntry: false })
    if (before?.isFile()) fchmodSync(this.#handle, before.mode & 0o777)
  }

  write(data: string | Uint8Array): void {
    const bytes = typeof data === 'string' ? Buffer.from(data) : data
    for (let at = 0; at < bytes.length; ) at += writeSync(this.#handle, bytes, at)
  }

  commit(): void {
    fsyncSync(this.#handle)
    closeSync(this.#handle)
    this.#open = false
    renameSync(this.#draft, this.#path)
  }

  /** Leave nothing behind. Does nothing after {@link commit}. */
  discard(): void {
    if (!this.#open) return
    closeSync(this.#handle)
    this.#open = false
    rmSync(this.#draft, { force: true })
  }
}

/** Write a whole file at once: a reader sees the old content or the new, never a part. */
export function writeWhole(path: string, content: string | Uint8Array): void {
  const file = new WholeFile(path)
  try {
    file.write(content)
    file.commit()
  } finally {
    file.discard()
  }
}

/**
 * A file's bytes, if there are at most `most`; also of a pipe or a device, whose size nobody tells.
 * @param what the file should be, for the message: `a design file`.
 * @throws InputError when it is larger or a folder; a file system error naming `path`.
 */
export function readUpTo(path: string, most: number, what: string): Uint8Array {
  const handle = openSync(path, 'r')
  try {
    const info = fstatSync(handle)
    if (info.isDirectory()) throw new InputError(`is a folder; expected ${what}`, { file: path })
    const tooLong = () => new InputError(`is larger than ${what} can be (${most} bytes)`, { file: path })
    if (info.size > most) throw tooLong()
    const parts: Uint8Array[] = []
    for (let total = 0; ; ) {
      const part = new Uint8Array(65536)
      const read = readSync(handle, part)
      if (read === 0) return Buffer.concat(parts)
      parts.push(part.subarray(0, read))
      total += read
      if (total > most) throw tooLong()
    }
  } catch (error) {
    // Reading through an open handle names no path of its own.
    throw error instanceof InputError ? error : Object.assign(error as NodeJS.ErrnoException, { path })
  } finally {
    closeSync(handle)
  }
}
