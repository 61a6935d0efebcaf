/** Reads the design file from disk, and the files that it names beside it. */
import { realpathSync, statSync } from 'node:fs'
import { dirname, isAbsolute, join, relative, resolve } from 'node:path'
import {
  DESIGN_VERSION,
  DesignError,
  type LoadedDesign,
  loadDesign,
  type Path,
  type Place,
  upgradeDesign,
} from '../design/index.js'
import { stationName } from '../proof/index.js'
import { InputError } from '../units/index.js'
import type { Io } from './command.js'
import { readUpTo } from './files/index.js'

export { profileOfDesign } from '../design/index.js'

export interface DesignFile extends LoadedDesign {
  /** As given on the command line. */
  file: string
  bytes: Uint8Array
  /** Path of a file that the design names, relative to its own folder. */
  beside(name: string): string
}

/** A design is a few kilobytes; what is larger is another file, and is not read into memory. */
const LARGEST_BYTES = 8 << 20

/**
 * @param io where it is said that the file is of an earlier version, or names files outside its folder.
 * @param variant the variant of the design that is wanted; the design as written when left out.
 * @throws InputError (or a file system error) telling what is wrong with the file and where.
 */
export function readDesign(
  file: string,
  io?: Pick<Io, 'note' | 'withhold' | 'named'>,
  variant?: string,
): DesignFile {
  const bytes = readUpTo(file, LARGEST_BYTES, 'a design file')
  const text = textOf(bytes, file)
  const loaded = loadedOrAdvised(text, file, variant, io)
  if (loaded.version < DESIGN_VERSION)
    io?.note(
      `${file} is version ${loaded.version} of the design file; "halfbit check --upgrade ${file}" rewrites it as version ${DESIGN_VERSION}`,
    )
  const design: DesignFile = {
    ...loaded,
    file,
    bytes,
    beside: (name) => (isAbsolute(name) ? name : join(dirname(file), name)),
  }
  // A design may come from someone else: what it reaches for beyond its own folder is the user's to know.
  for (const { path, name, place } of namedFiles(design)) {
    const target = design.beside(name)
    io?.named?.(target, `${file}:${place.line}:${place.column}: ${path.join('.')} names ${name}`)
    if (!isOutside(dirname(file), target)) continue
    io?.note(
      `${file}:${place.line}:${place.column}: ${path.join('.')} names ${name}, which is outside the folder of the design`,
    )
    io?.withhold?.(target)
  }
  return design
}

/** The loaded design; where only former names of keys keep it from loading, it is said what renames them. */
function loadedOrAdvised(
  text: string,
  file: string,
  variant: string | undefined,
  io?: Pick<Io, 'note'>,
): LoadedDesign {
  try {
    // No edit follows, so that its parts need not be known.
    return loadDesign(text, file, variant, 'whole')
  } catch (error) {
    if (upgradeDesign(text) !== text)
      io?.note(`"halfbit check --upgrade ${file}" renames keys that have changed; comments are kept`)
    if (variant === undefined || error instanceof DesignError || !(error instanceof InputError)) throw error
    throw new InputError(`--variant ${variant}: ${error.message}`, error.place)
  }
}

function isOutside(folder: string, path: string): boolean {
  const way = relative(real(folder), real(path))
  return way.startsWith('..') || isAbsolute(way)
}

function real(path: string): string {
  try {
    return realpathSync(path)
  } catch {
    return resolve(path)
  }
}

/** With its variant in its name, for what is handed on: that of two variants must not be taken for one another. */
export function namedByVariant(read: DesignFile): DesignFile {
  const name = stationName({ name: read.design.name, variant: read.variant })
  return { ...read, design: { ...read.design, name } }
}

/** @throws InputError where a change is asked for that only the design as written can take. */
export function noVariant({ file, variant }: DesignFile, option: string): void {
  if (variant === undefined) return
  throw new InputError(
    `${option} changes the design as written; expected no --variant beside it, or a change of the variant by hand`,
    { file },
  )
}

/** The text of a design file, unchecked. */
export function readDesignText(file: string): string {
  return textOf(readUpTo(file, LARGEST_BYTES, 'a design file'), file)
}

/** The text of another file that is as short as a design. @param what `a scenario file` */
export function readTextFile(file: string, what: string): string {
  return textOf(readUpTo(file, LARGEST_BYTES, what), file)
}

function textOf(bytes: Uint8Array, file: string): string {
  if (bytes[0] === 0xff && bytes[1] === 0xfe) throw new InputError('is UTF-16; expected UTF-8', { file })
  if (bytes[0] === 0xfe && bytes[1] === 0xff) throw new InputError('is UTF-16; expected UTF-8', { file })
  try {
    return new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes)
  } catch {
    // The decoder does not tell where: the first replacement that the text did not hold itself does.
    const text = new TextDecoder('utf-8', { ignoreBOM: true }).decode(bytes)
    const before = text.slice(0, firstReplacement(bytes, text)).split('\n')
    throw new InputError('is not UTF-8 text', {
      file,
      line: before.length,
      column: before.at(-1)!.length + 1,
    })
  }
}

/** Index of the first letter that stands for bytes which are no UTF-8. */
function firstReplacement(bytes: Uint8Array, text: string): number {
  for (let at = text.indexOf('\ufffd'), byte = 0, from = 0; at >= 0; at = text.indexOf('\ufffd', at + 1)) {
    byte += Buffer.byteLength(text.slice(from, at))
    if (bytes[byte] !== 0xef || bytes[byte + 1] !== 0xbf || bytes[byte + 2] !== 0xbd) return at
    from = at
  }
  return 0
}

/** The files beside a design that it names and that are there, by their paths; none from outside its folder. */
export function filesBeside(design: DesignFile, most: number): Map<string, Uint8Array> {
  const found = new Map<string, Uint8Array>()
  for (const { name } of namedFiles(design)) {
    const path = design.beside(name)
    const info = statSync(path, { throwIfNoEntry: false })
    if (isAbsolute(name) || isOutside(dirname(design.file), path) || !info?.isFile() || info.size > most)
      continue
    found.set(
      relative(dirname(design.file), path).replaceAll('\\', '/'),
      readUpTo(path, most, 'a file that the design names'),
    )
  }
  return found
}

/** The files that a design names, each with its key and the place of that. */
function namedFiles(design: DesignFile): { path: Path; name: string; place: Place }[] {
  const { firmware, captures } = design.design
  const named: { path: Path; name: string | undefined }[] = [
    { path: ['firmware', 'file'], name: firmware?.file },
    { path: ['firmware', 'stimulus'], name: firmware?.stimulus },
    ...(captures ?? []).map((c, i) => ({ path: ['captures', i, 'file'], name: c.file })),
  ]
  return named.flatMap(({ path, name }) =>
    name === undefined ? [] : [{ path, name, place: design.placeOf(path) }],
  )
}

/** Names of files in the design that are not there, each with the line that names it. */
export function missingFiles(
  design: DesignFile,
): { path: Path; name: string; line: number; column: number }[] {
  return namedFiles(design).flatMap(({ path, name, place }) => {
    const info = statSync(design.beside(name), { throwIfNoEntry: false })
    return info?.isFile() ? [] : [{ path, name, ...place }]
  })
}
