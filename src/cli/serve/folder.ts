/** Files of one folder, and nothing outside it. */
import { createHash } from 'node:crypto'
import { lstatSync, readdirSync, readFileSync, realpathSync, statSync } from 'node:fs'
import { join, relative, resolve, sep } from 'node:path'
import { writeWhole } from '../files/index.js'

/** A request that may not be served; `status` is the HTTP status. */
export class Refused extends Error {
  readonly status: number
  constructor(status: number, message: string) {
    super(message)
    this.status = status
  }
}

export interface ListedFile {
  /** Path inside the folder, with `/`. */
  path: string
  bytes: number
}

const DEPTH = 4
const LISTED = 2000

export class DesignFolder {
  readonly root: string

  constructor(root: string) {
    this.root = realpathSync(root)
  }

  /**
   * The real path of a file inside the folder.
   * @throws Refused 400 for a path that is no plain relative one, 403 for one that leads out, also through a link,
   * 404 for none.
   */
  find(path: string): string {
    if (path.length === 0 || path.length > 1024 || /[\0\\]/.test(path)) throw new Refused(400, 'not a path')
    if (
      path.startsWith('/') ||
      /^[A-Za-z]:/.test(path) ||
      path.split('/').some((part) => part === '..' || part.startsWith('.'))
    ) {
      throw new Refused(403, 'outside the folder of the design')
    }
    const wanted = resolve(this.root, path)
    let real: string
    try {
      real = realpathSync(wanted)
    } catch {
      throw new Refused(404, 'no such file')
    }
    if (real !== this.root && !real.startsWith(this.root + sep))
      throw new Refused(403, 'outside the folder of the design')
    if (!statSync(real).isFile()) throw new Refused(404, 'not a file')
    return real
  }

  /** Files a few folders deep, links left out, names in order. */
  list(): ListedFile[] {
    const found: ListedFile[] = []
    const walk = (folder: string, depth: number) => {
      for (const name of namesIn(folder)) {
        if (name.startsWith('.') || name === 'node_modules' || found.length >= LISTED) continue
        const path = join(folder, name)
        const info = lstatSync(path, { throwIfNoEntry: false })
        if (!info) continue // Gone since its folder was read.
        if (info.isDirectory() && depth < DEPTH) walk(path, depth + 1)
        else if (info.isFile())
          found.push({ path: relative(this.root, path).split(sep).join('/'), bytes: info.size })
      }
    }
    walk(this.root, 0)
    return found
  }
}

/** Names in a folder, in order; none where it may not be read. */
function namesIn(folder: string): string[] {
  try {
    return readdirSync(folder).sort()
  } catch {
    return []
  }
}

/** The design file with a revision that changes with its content. */
export class DesignText {
  readonly path: string
  /** What is written goes where a link leads, and leaves the link. */
  readonly #real: string
  constructor(path: string) {
    this.path = path
    this.#real = realpathSync(path)
  }

  /** @throws Refused 404 when the file is gone, 422 when it is not UTF-8: writing would lose what cannot be shown. */
  read(): { text: string; revision: string } {
    let bytes: Uint8Array
    try {
      bytes = readFileSync(this.#real)
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error
      throw new Refused(404, 'the design file is no longer at its place')
    }
    const text = utf8(bytes)
    if (text === undefined) throw new Refused(422, 'the design file is not UTF-8')
    return { text, revision: revisionOf(text) }
  }

  /** Write only over the revision the writer knew. @returns the file's state; `written` tells whether it was. */
  write(text: string, known: string): { written: boolean; text: string; revision: string } {
    const now = this.read()
    if (now.revision !== known) return { written: false, ...now }
    writeWhole(this.#real, text)
    return { written: true, text, revision: revisionOf(text) }
  }
}

/** The text of bytes, its mark at the start kept; undefined when they are not UTF-8. */
export function utf8(bytes: Uint8Array): string | undefined {
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes)
  } catch {
    return undefined
  }
}

export function revisionOf(text: string): string {
  return createHash('sha256').update(text).digest('hex').slice(0, 32)
}
