/** A new design: the commented file for a station of one's own, or a copy of an example. */
import { randomBytes } from 'node:crypto'
import {
  existsSync,
  readdirSync,
  readFileSync,
  renameSync,
  rmdirSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs'
import { dirname, join, relative } from 'node:path'
import { fileURLToPath } from 'node:url'
import { InputError, nearest } from '../units/index.js'
import { makeFolder } from './files/index.js'
import { PACKAGE_FOLDER } from './package-folder.js'

const EXAMPLES = fileURLToPath(new URL('examples', PACKAGE_FOLDER))

/** Examples that came with the package. */
export function exampleNames(): string[] {
  if (!existsSync(EXAMPLES)) return []
  return readdirSync(EXAMPLES).filter((name) => existsSync(join(EXAMPLES, name, 'halfbit.yaml')))
}

/** Path inside the folder → content. */
export type NewFiles = ReadonlyMap<string, string | Uint8Array>

/** @throws InputError naming the examples there are. */
export function exampleFiles(name: string): NewFiles {
  const names = exampleNames()
  if (!names.includes(name)) {
    const close = nearest(name, names)
    throw new InputError(
      `--example ${name}: no such example${close ? `; the nearest is ${close}` : ''}; expected one of ${names.join(', ')}`,
    )
  }
  const files = new Map<string, Uint8Array>()
  const walk = (folder: string) => {
    for (const entry of readdirSync(folder, { withFileTypes: true })) {
      const path = join(folder, entry.name)
      if (entry.isDirectory()) walk(path)
      else if (!entry.name.startsWith('.'))
        files.set(relative(join(EXAMPLES, name), path), readFileSync(path))
    }
  }
  walk(join(EXAMPLES, name))
  return files
}

/**
 * Write all the files or none. Nothing that is there already is replaced.
 * @throws InputError when one of them exists.
 */
export function writeNewFolder(folder: string, files: NewFiles): void {
  const there = statSync(folder, { throwIfNoEntry: false })
  if (there && !there.isDirectory()) throw new InputError('is a file; expected a folder', { file: folder })
  const tops = new Set([...files.keys()].map((path) => path.split(/[\\/]/)[0]!))
  for (const top of tops) {
    if (existsSync(join(folder, top))) {
      throw new InputError('exists already; nothing was written', { file: join(folder, top) })
    }
  }
  // All is written beside its place first, so that a full disk leaves nothing behind.
  const made = makeFolder(folder)
  const draft = join(folder, `.halfbit-${randomBytes(6).toString('hex')}.part`)
  const moved: string[] = []
  try {
    for (const [path, content] of files) {
      const target = join(draft, path)
      makeFolder(dirname(target))
      writeFileSync(target, content)
    }
    for (const top of tops) {
      renameSync(join(draft, top), join(folder, top))
      moved.push(join(folder, top))
    }
    rmdirSync(draft)
  } catch (error) {
    for (const path of [...moved, draft]) rmSync(path, { recursive: true, force: true })
    if (made !== undefined) rmSync(made, { recursive: true, force: true })
    throw error
  }
}
