/**
 * Files that are written. A regular file appears whole or not at all: it is written beside its place and renamed over
 * it. What is no regular file (a pipe, a device, standard output) takes the bytes as a stream and stays what it is.
 */
import { randomBytes } from 'node:crypto'
import {
  closeSync,
  constants,
  fchmodSync,
  fsyncSync,
  openSync,
  readlinkSync,
  realpathSync,
  renameSync,
  rmSync,
  statSync,
  writeSync,
} from 'node:fs'
import { basename, dirname, join, resolve } from 'node:path'
import { InputError } from '../../units/index.js'

/** How long a named pipe may wait for its reader, ms. */
const READER_WAIT_MS = 5000
const POLL_MS = 10

/** Names of standard output: opened anew, a file behind them would be written over from its start. */
const STANDARD_OUTPUT: ReadonlySet<string> = new Set(['-', '/dev/stdout', '/dev/fd/1', '/proc/self/fd/1'])

/** A place that takes the bytes of one output. */
interface Target {
  write(bytes: Uint8Array): void
  commit(): void
  discard(): void
}

/** One output. What replaces a regular file appears under its name only once {@link commit} has been called. */
export class OutputFile {
  readonly #path: string
  readonly #target: Target
  #open = true

  /**
   * @param path a file, or `-` for standard output. Symbolic links are followed.
   * @throws a file system error naming `path` when its folder is missing or may not be written; InputError for a pipe
   * that nobody reads.
   */
  constructor(path: string) {
    this.#path = path
    this.#target = this.#naming(() => targetOf(path))
  }

  write(data: string | Uint8Array): void {
    const bytes = typeof data === 'string' ? Buffer.from(data) : data
    this.#naming(() => this.#target.write(bytes))
  }

  commit(): void {
    this.#naming(() => this.#target.commit())
    this.#open = false
  }

  /** Leave nothing behind. Does nothing after {@link commit}. */
  discard(): void {
    if (!this.#open) return
    this.#open = false
    this.#target.discard()
  }

  /** Writing through an open handle names no path of its own. */
  #naming<T>(work: () => T): T {
    try {
      return work()
    } catch (error) {
      throw error instanceof InputError ? error : Object.assign(error as Error, { path: this.#path })
    }
  }
}

/** Write a whole output at once: a reader of a regular file sees the old content or the new, never a part. */
export function writeWhole(path: string, content: string | Uint8Array): void {
  const file = new OutputFile(path)
  try {
    file.write(content)
    file.commit()
  } finally {
    file.discard()
  }
}

function targetOf(path: string): Target {
  if (STANDARD_OUTPUT.has(path)) return standardOutput()
  const before = statSync(path, { throwIfNoEntry: false })
  if (before?.isDirectory()) throw Object.assign(new Error('is a folder'), { code: 'EISDIR' })
  if (before && !before.isFile()) return special(path)
  return new Draft(before ? realpathSync(path) : endOfLinks(path), before && before.mode & 0o777)
}

/** Where a link leads that leads to nothing yet. */
function endOfLinks(path: string): string {
  let at = path
  for (let links = 0; links < 40; links++) {
    let next: string
    try {
      next = readlinkSync(at)
    } catch {
      return at
    }
    at = resolve(dirname(at), next)
  }
  throw Object.assign(new Error('too many links'), { code: 'ELOOP' })
}

function standardOutput(): Target {
  return {
    // Through the stream, not its descriptor: what was printed before comes first.
    write: (bytes) => void process.stdout.write(bytes),
    commit() {},
    discard() {},
  }
}

/** A pipe, a device or a socket by name. */
function special(path: string): Target {
  const handle = openForReader(path)
  return {
    write(bytes) {
      for (let at = 0; at < bytes.length; ) {
        try {
          at += writeSync(handle, bytes, at)
        } catch (error) {
          if ((error as NodeJS.ErrnoException).code !== 'EAGAIN') throw error
          pause(POLL_MS)
        }
      }
    },
    commit: () => closeSync(handle),
    discard: () => closeSync(handle),
  }
}

/** Opened in the usual way a pipe without a reader would hold us for ever, deaf to Ctrl-C. */
function openForReader(path: string): number {
  for (let waitedMs = 0; ; waitedMs += POLL_MS) {
    try {
      return openSync(path, constants.O_WRONLY | constants.O_NONBLOCK)
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'ENXIO') throw error
      if (waitedMs >= READER_WAIT_MS)
        throw new InputError('nothing reads from it; start the reader of a pipe first', { file: path })
      pause(POLL_MS)
    }
  }
}

function pause(ms: number): void {
  Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, ms)
}

/** A regular file that is being written, under a hidden name beside its own. */
class Draft implements Target {
  readonly #path: string
  readonly #draft: string
  readonly #handle: number

  /** @param mode of the file that is there: who could not read it cannot read what replaces it. */
  constructor(path: string, mode: number | undefined) {
    this.#path = path
    this.#draft = join(dirname(path), `.${basename(path)}.${randomBytes(6).toString('hex')}.part`)
    this.#handle = openSync(this.#draft, 'wx')
    open.add(this.#draft)
    if (open.size === 1) watchForEnd()
    if (mode !== undefined) fchmodSync(this.#handle, mode)
  }

  write(bytes: Uint8Array): void {
    for (let at = 0; at < bytes.length; ) at += writeSync(this.#handle, bytes, at)
  }

  commit(): void {
    fsyncSync(this.#handle)
    closeSync(this.#handle)
    renameSync(this.#draft, this.#path)
    this.#forget()
  }

  discard(): void {
    try {
      closeSync(this.#handle)
    } catch {
      // Closed already, by a commit that then could not rename it.
    }
    rmSync(this.#draft, { force: true })
    this.#forget()
  }

  #forget(): void {
    open.delete(this.#draft)
    if (open.size === 0) forgetEnd()
  }
}

/** Drafts that would be left behind if the process ended now. */
const open = new Set<string>()

/** Signals that end a process at once, with the status that a shell gives for each. */
const ENDS = { SIGTERM: 143, SIGHUP: 129 } as const

function watchForEnd(): void {
  process.on('exit', removeDrafts)
  // Only while there is a draft: without one nothing has to be put away, and the signal ends even a busy process.
  for (const signal of Object.keys(ENDS)) process.on(signal, end)
}

function forgetEnd(): void {
  process.off('exit', removeDrafts)
  for (const signal of Object.keys(ENDS)) process.off(signal, end)
}

function removeDrafts(): void {
  for (const draft of open) rmSync(draft, { force: true })
}

function end(signal: keyof typeof ENDS): void {
  process.exit(ENDS[signal])
}
