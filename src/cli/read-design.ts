/** Reads a design file from disk. */
import { closeSync, fstatSync, openSync, readFileSync } from 'node:fs'
import { type LoadedDesign, loadDesign } from '../design/index.js'
import { InputError } from '../units/index.js'

/** No design is this large; a larger file is another file and is not read into memory. */
const LARGEST_BYTES = 8 << 20

/** @throws InputError (DesignError) with file, line and column; a file system error naming `path`. */
export function readDesign(path: string): LoadedDesign {
  const handle = openSync(path, 'r')
  try {
    const { size } = fstatSync(handle)
    if (size > LARGEST_BYTES) {
      throw new InputError(`the file has ${size} bytes; a design has at most ${LARGEST_BYTES}`, {
        file: path,
      })
    }
    return loadDesign(readFileSync(handle, 'utf8'), path)
  } catch (error) {
    // Reading an open folder names no path of its own.
    if (error instanceof Error && 'code' in error) throw Object.assign(error, { path })
    throw error
  } finally {
    closeSync(handle)
  }
}
