/** Files that are read whole, up to a limit; also of a pipe or a device, whose size nobody knows. */
import { closeSync, constants, fstatSync, openSync, readSync, statSync } from 'node:fs'
import { InputError } from '../../units/index.js'

const STANDARD_INPUT = 0
const POLL_MS = 10
/** After this long without a byte it is said that a pipe is being waited for, ms. */
const QUIET_MS = 1000

/**
 * A file's bytes, if there are at most `most`.
 * @param path a file, or `-` for standard input.
 * @param what the file should be, for the message: `a design file`.
 * @throws InputError when it is larger or a folder; a file system error naming `path`.
 */
export function readUpTo(path: string, most: number, what: string): Uint8Array {
  if (path === '-') return interruptible(() => bytesOf(STANDARD_INPUT, path, most, what))
  const info = statSync(path)
  if (info.isDirectory()) throw new InputError(`is a folder; expected ${what}`, { file: path })
  const plain = info.isFile()
  // Opened in the usual way a pipe without a writer would hold us for ever.
  const handle = openSync(path, constants.O_RDONLY | (plain ? 0 : constants.O_NONBLOCK))
  try {
    return plain
      ? bytesOf(handle, path, most, what)
      : interruptible(() => bytesOf(handle, path, most, what, info.isFIFO()))
  } finally {
    closeSync(handle)
  }
}

/** @param named it is a pipe by name, which may have no writer yet. */
function bytesOf(handle: number, path: string, most: number, what: string, named = false): Uint8Array {
  const tooLong = () => new InputError(`is larger than ${what} can be (${most} bytes)`, { file: path })
  try {
    const info = fstatSync(handle)
    if (info.isDirectory()) throw new InputError(`is a folder; expected ${what}`, { file: path })
    if (info.isFile() && info.size > most) throw tooLong()
    const parts: Uint8Array[] = []
    let total = 0
    let quietMs = 0
    // A pipe without a writer reads like one that has ended; one that holds nothing yet has a writer.
    let written = !named
    for (;;) {
      const part = new Uint8Array(65536)
      const read = readNow(handle, part)
      if (read === 'nothing yet') written = true
      if (read === 'nothing yet' || (read === 0 && !written)) {
        if (quietMs === QUIET_MS) process.stderr.write(waitingFor(path, written))
        quietMs += POLL_MS
        Atomics.wait(new Int32Array(new SharedArrayBuffer(4)), 0, 0, POLL_MS)
        continue
      }
      if (read === 0) return Buffer.concat(parts)
      written = true
      parts.push(part.subarray(0, read))
      total += read
      if (total > most) throw tooLong()
    }
  } catch (error) {
    // Reading through an open handle names no path of its own.
    throw error instanceof InputError ? error : Object.assign(error as NodeJS.ErrnoException, { path })
  }
}

function readNow(handle: number, part: Uint8Array): number | 'nothing yet' {
  try {
    return readSync(handle, part)
  } catch (error) {
    const { code } = error as NodeJS.ErrnoException
    if (code === 'EAGAIN') return 'nothing yet'
    // Standard input that ends on Windows.
    if (code === 'EOF') return 0
    throw error
  }
}

function waitingFor(path: string, written: boolean): string {
  const what = written ? 'nothing has come through it yet' : 'nothing writes into it yet'
  return `halfbit: ${path}: ${what}; waiting, Ctrl-C ends it\n`
}

/** Nothing but the signal's own default ends a process that waits in the middle of a read. */
function interruptible<T>(work: () => T): T {
  const listeners = process.listeners('SIGINT')
  process.removeAllListeners('SIGINT')
  try {
    return work()
  } finally {
    for (const listener of listeners) process.on('SIGINT', listener)
  }
}
