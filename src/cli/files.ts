/** Files written whole or not at all. */
import { randomBytes } from 'node:crypto'
import { closeSync, fsyncSync, openSync, renameSync, rmSync, writeSync } from 'node:fs'
import { basename, dirname, join } from 'node:path'

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
