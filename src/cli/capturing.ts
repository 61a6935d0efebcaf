/**
 * Reads a capture file through the one reader. Of a large file one thread finds the edges and another reads them;
 * what is loaded here is what the first bytes need, so that both begin early.
 */
import {
  closeSync,
  constants,
  createReadStream,
  fstatSync,
  open,
  openSync,
  readSync,
  statSync,
} from 'node:fs'
import type { Socket } from 'node:net'
import type { AcknowledgedSink, CurrentTap } from '../capture/current.js'
import { CaptureImporter } from '../capture/import.js'
import type { CaptureOptions, CaptureSink, CaptureSummary, CurrentChannel } from '../capture/importer.js'
import type { EdgeBlock, EdgeClock } from '../signal/edges.js'
import type { ReaderOptions } from '../signal/reader.js'
import type { SignalReading } from '../signal/reading.js'
import type { CurrentReading } from '../signal/service-current.js'
import type { Profile } from '../standard/index.js'
import { InputError } from '../units/index.js'
import { type Reading, type ReadingThread, startReadingThread } from './reading-thread.js'

export interface CaptureRequest {
  path: string
  capture: CaptureOptions
  reader: ReaderOptions
  /** By which the current is watched, where the capture has a channel of it. */
  profile?: Profile | undefined
  signal?: AbortSignal
  onProgress?: (bytes: number, of: number) => void
  /** Started already, while other things load. Without it one is started for a large file. */
  thread?: ReadingThread | undefined
  /** Gets every edge too; told the clock first. */
  copyTo?: CaptureSink
}

export interface CaptureResult {
  reading: SignalReading
  summary: CaptureSummary
  current?: CurrentReading | undefined
  interrupted: boolean
}

const CHUNK = 1 << 20

/**
 * @throws InputError with file, line and column when the file is no such capture.
 */
export async function readCapture(request: CaptureRequest): Promise<CaptureResult> {
  const { path, copyTo } = request
  const info = path === '-' ? fstatSync(0) : statSync(path)
  if (info.isDirectory()) throw Object.assign(new Error('is a folder'), { code: 'EISDIR', path })
  // A function cannot go to another thread.
  const { current } = request.capture
  const here = request.reader.onPacket !== undefined || current !== undefined
  const thread = here ? undefined : (request.thread ?? startReadingThread(path))
  const reading = thread ? thread.with(request.reader) : await inThisThread(request.reader, current)
  let begun = false
  let importer: CaptureImporter | undefined
  const edges: AcknowledgedSink = {
    acknowledge: (us) => reading.acknowledge?.(us),
    begin(clock: EdgeClock) {
      begun = true
      reading.begin(clock)
      copyTo?.begin(clock, importer?.madeBy)
    },
    push(block: EdgeBlock) {
      reading.push(block)
      copyTo?.push(block)
    },
  }
  const tap = await tapOf(request, edges)
  try {
    importer = new CaptureImporter(request.capture, tap ?? edges)
    // A pipe may keep us waiting: only of a file is it sure that reading comes back.
    const interrupted =
      info.isFile() && path !== '-'
        ? await feed(request, importer, info.size)
        : await feedStream(request, importer, 0, info.isFIFO() || path === '-')
    const summary = importer.end()
    const watched = tap?.finish()
    if (!begun) throw new InputError('no signal in the file')
    const toUs = request.capture.toUs ?? Number.POSITIVE_INFINITY
    const { tickUs, resolutionUs, roundingUs = 0 } = summary.clock
    // What is left out at the start is no silence.
    const { skipUs = 0, fromUs = Number.NEGATIVE_INFINITY } = request.capture
    const cut = skipUs > 0 || fromUs > summary.startUs
    const start = cut ? Number.NaN : summary.startUs / tickUs
    const found = await reading.finish(Math.min(summary.endUs, toUs) / tickUs, start)
    // Later rows may have shown that the times are coarser than the first ones told.
    found.resolutionUs = Math.max(found.resolutionUs, resolutionUs)
    found.roundingUs = Math.max(found.roundingUs, roundingUs)
    return { reading: found, summary, current: watched, interrupted }
  } catch (error) {
    if (error instanceof InputError) error.place.file ??= path
    throw error
  } finally {
    reading.close()
  }
}

async function inThisThread(
  options: ReaderOptions,
  current: CurrentChannel | undefined,
): Promise<Reading & AcknowledgedSink> {
  const { SignalReader } = await import('../signal/reader.js')
  let reader: InstanceType<typeof SignalReader> | undefined
  return {
    begin(clock) {
      reader = new SignalReader(clock, { ...options, ...(current ? { acknowledgementsTold: true } : {}) })
    },
    acknowledge: (us) => reader!.acknowledge(us),
    push: (block) => reader!.push(block),
    finish: async (tick, start) => reader!.finish(tick, start),
    close() {},
  }
}

/** Stands before the reader where the capture has a channel of the current. */
async function tapOf(
  { capture, profile }: CaptureRequest,
  next: AcknowledgedSink,
): Promise<CurrentTap | undefined> {
  if (!capture.current || !profile) return undefined
  const [{ CurrentTap }, { currentLimitsOf }] = await Promise.all([
    import('../capture/current.js'),
    import('../signal/service-current.js'),
  ])
  return new CurrentTap(currentLimitsOf(profile), next)
}

/** @returns whether it was interrupted. */
async function feed(request: CaptureRequest, importer: CaptureImporter, size: number): Promise<boolean> {
  const { path, signal, onProgress } = request
  const handle = openSync(path, 'r')
  const buffer = Buffer.allocUnsafe(CHUNK)
  try {
    let filled = readSync(handle, buffer, 0, CHUNK, null)
    if (filled >= 2 && buffer[0] === 0x1f && buffer[1] === 0x8b)
      return await feedStream(request, importer, size)
    let total = 0
    let sinceYield = 0
    while (filled > 0 && !importer.done) {
      importer.push(buffer.subarray(0, filled))
      total += filled
      sinceYield += filled
      if (sinceYield > 32 * CHUNK) {
        sinceYield = 0
        onProgress?.(total, size)
        // Lets Ctrl-C through.
        await new Promise((resolve) => setImmediate(resolve))
        if (signal?.aborted) return true
      }
      filled = readSync(handle, buffer, 0, CHUNK, null)
    }
  } finally {
    closeSync(handle)
  }
  return false
}

/** Of what is packed or comes through a pipe. @returns whether it was interrupted. */
async function feedStream(
  request: CaptureRequest,
  importer: CaptureImporter,
  size: number,
  isPipe = false,
): Promise<boolean> {
  const { path, signal, onProgress } = request
  const file = isPipe ? await openPipe(path, signal) : createReadStream(path, { highWaterMark: CHUNK })
  const stop = () => void file.destroy()
  signal?.addEventListener('abort', stop)
  if (signal?.aborted) stop()
  try {
    for await (const chunk of await unpacked(file)) {
      importer.push(chunk)
      if (importer.done) break
      if (size > 0) onProgress?.(file.bytesRead, size)
      if (signal?.aborted) return true
    }
  } catch (error) {
    if (signal?.aborted) return true
    if (String((error as NodeJS.ErrnoException).code).startsWith('Z_')) {
      throw new InputError(`damaged or cut gzip data: ${(error as Error).message}`, { file: path })
    }
    throw error
  } finally {
    signal?.removeEventListener('abort', stop)
    file.destroy()
  }
  return signal?.aborted === true
}

/** A file stream would not let go of a pipe before something comes through it; a socket does. */
async function openPipe(path: string, signal: AbortSignal | undefined): Promise<Socket> {
  if (path === '-') return process.stdin
  const [{ Socket }, { promisify }] = await Promise.all([import('node:net'), import('node:util')])
  // A named pipe opens once somebody writes into it; to end the waiting we do so ourselves, for a moment.
  const release = () => closeSync(openSync(path, constants.O_RDWR | constants.O_NONBLOCK))
  signal?.addEventListener('abort', release)
  const quiet = setTimeout(() => {
    process.stderr.write(`halfbit: ${path}: nothing writes into it yet; waiting, Ctrl-C ends it\n`)
  }, 1000)
  try {
    return new Socket({ fd: await promisify(open)(path, 'r'), readable: true, writable: false })
  } finally {
    clearTimeout(quiet)
    signal?.removeEventListener('abort', release)
  }
}

/** What is in the file, through gzip if it begins so. */
async function unpacked(file: AsyncIterable<Uint8Array>): Promise<AsyncIterable<Uint8Array>> {
  const parts = file[Symbol.asyncIterator]()
  const first = await parts.next()
  const all = {
    async *[Symbol.asyncIterator]() {
      if (!first.done) yield first.value
      for (let part = await parts.next(); !part.done; part = await parts.next()) yield part.value
    },
  }
  if (first.done || first.value[0] !== 0x1f || first.value[1] !== 0x8b) return all
  const [{ Readable }, { createGunzip }] = await Promise.all([import('node:stream'), import('node:zlib')])
  const source = Readable.from(all)
  const gunzip = createGunzip({ chunkSize: CHUNK })
  // Otherwise a fault of the disk would leave the reader waiting.
  source.on('error', (error) => gunzip.destroy(error))
  return source.pipe(gunzip)
}
