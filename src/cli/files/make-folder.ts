/** Folders made level by level: Node's own recursive way never returns below places such as /proc. */
import { mkdirSync, statSync } from 'node:fs'
import { dirname } from 'node:path'
import { InputError } from '../../units/index.js'

/**
 * Make a folder and those above it that are missing.
 * @returns the uppermost folder that had to be made, if any
 * @throws InputError when the path is a file; a file system error naming the folder that cannot be made
 */
export function makeFolder(folder: string): string | undefined {
  const missing: string[] = []
  for (let at = folder; !statSync(at, { throwIfNoEntry: false }); at = dirname(at)) {
    missing.push(at)
    if (dirname(at) === at) break
  }
  let made: string | undefined
  for (const level of missing.reverse()) {
    try {
      mkdirSync(level)
      made ??= level
    } catch (error) {
      // Somebody else may have made it meanwhile.
      if ((error as NodeJS.ErrnoException).code !== 'EEXIST') throw error
    }
  }
  if (!statSync(folder, { throwIfNoEntry: false })?.isDirectory())
    throw new InputError('is no folder; expected a folder, or nothing yet', { file: folder })
  return made
}
