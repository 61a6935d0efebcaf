/** Errors that are not faults of our own, in one line each and with the exit status that belongs to them. */
import { InputError } from '../units/index.js'
import type { ExitStatus } from './command.js'
import { harmless } from './terminal.js'

/** What the system says of a file that was named wrongly. */
const UNUSABLE: Readonly<Record<string, string>> = {
  ENOENT: 'no such file',
  EISDIR: 'is a folder; expected a file',
  EACCES: 'may not be read or written',
  EPERM: 'may not be read or written',
  ENOTDIR: 'a part of the path is not a folder',
  EROFS: 'is on a read-only file system',
  EEXIST: 'exists already',
  ELOOP: 'too many symbolic links',
  ENAMETOOLONG: 'the name is too long',
  ENXIO: 'there is no device behind it',
}

/** What went wrong while writing, whatever the input was. */
const BROKE_OFF: Readonly<Record<string, string>> = {
  ENOSPC: 'no space left',
  EDQUOT: 'the disk quota is used up',
  EFBIG: 'the file would be larger than it may be',
  EIO: 'the device reports an error',
  EPIPE: 'its reader has closed it',
}

export interface Fault {
  message: string
  status: ExitStatus
}

/**
 * @param withheld files of which nothing may be shown.
 * @param places where a design names a file, by its path.
 * @returns undefined for a fault of our own.
 */
export function faultOf(
  error: unknown,
  withheld: ReadonlySet<string> = new Set(),
  places: ReadonlyMap<string, string> = new Map(),
): Fault | undefined {
  if (error instanceof InputError) {
    const { file, line } = error.place
    const hidden = file !== undefined && withheld.has(file)
    const place = `${file}${line === undefined ? '' : `:${line}`}`
    const message = hidden
      ? `${place}: cannot be read as what the design says it is; it lies outside the folder of the design, so nothing of it is shown`
      : error.describe()
    return { message, status: 2 }
  }
  const { code = '', path } = (error ?? {}) as NodeJS.ErrnoException
  const unusable = UNUSABLE[code]
  const place = path === undefined ? undefined : places.get(path)
  if (unusable !== undefined && place !== undefined)
    return { message: `${place}, and ${path}: ${unusable}`, status: 2 }
  if (unusable !== undefined) return { message: `${nameOf(path) ?? 'file'}: ${unusable}`, status: 2 }
  const broken = BROKE_OFF[code]
  return broken === undefined
    ? undefined
    : { message: `${nameOf(path) ?? 'standard output'}: ${broken}`, status: 3 }
}

let told = ''

/** Tell a fault on standard error; once, as a stream that broke off reports it to whoever wrote and as an event. */
export function tell({ message, status }: Fault): void {
  if (status === 3 && message === told) return
  told = message
  process.stderr.write(harmless(`halfbit: ${message}\n`))
}

function nameOf(path: string | undefined): string | undefined {
  return path === '-' ? 'standard output' : path
}
