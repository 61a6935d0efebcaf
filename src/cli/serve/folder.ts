/** Files of one folder, and nothing outside it. */
import { createHash } from 'node:crypto'
import { lstatSync, readdirSync, readFileSync, realpathSync, statSync } from 'node:fs'
import { join, relative, resolve, sep } from 'node:path'
import { writeWhole } from '../files.js'

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
      for (const name of readdirSync(folder).sort()) {
        if (name.startsWith('.') || name === 'node_modules' || found.length >= LISTED) continue
        const path = join(folder, name)
        const info = lstatSync(path)
        if (info.isDirectory() && depth < DEPTH) walk(path, depth + 1)
        else if (info.isFile())
          found.push({ path: relative(this.root, path).split(sep).join('/'), bytes: info.size })
      }
    }
    walk(this.root, 0)
    return found
  }
}

/** The design file with a revision that changes with its content. */
export class DesignText {
  readonly path: string
  constructor(path: string) {
    this.path = path
  }

  read(): { text: string; revision: string } {
    const text = readFileSync(this.path, 'utf8')
    return { text, revision: revisionOf(text) }
  }

  /** Write only over the revision the writer knew. @returns the file's state; `written` tells whether it was. */
  write(text: string, known: string): { written: boolean; text: string; revision: string } {
    const now = this.read()
    if (now.revision !== known) return { written: false, ...now }
    writeWhole(this.path, text)
    return { written: true, text, revision: revisionOf(text) }
  }
}

export function revisionOf(text: string): string {
  return createHash('sha256').update(text).digest('hex').slice(0, 32)
}
