/** Reads a capture file through the one reader. */
import { closeSync, createReadStream, openSync, readSync, statSync } from 'node:fs'
import { createGunzip } from 'node:zlib'
import {
  CaptureImporter,
  type CaptureOptions,
  type CaptureSink,
  type CaptureSummary,
} from '../capture/index.js'
import {
  type EdgeBlock,
  type EdgeClock,
  type ReaderOptions,
  SignalReader,
  type SignalReading,
} from '../signal/index.js'
import { InputError } from '../units/index.js'

export interface CaptureRequest {
  path: string
  capture: CaptureOptions
  reader: ReaderOptions
  signal?: AbortSignal
  onProgress?: (bytes: number, of: number) => void
  /** Gets every edge too; told the clock first. */
  copyTo?: CaptureSink
}

export interface CaptureResult {
  reading: SignalReading
  summary: CaptureSummary
  interrupted: boolean
}

const CHUNK = 1 << 20

/**
 * @throws InputError with file, line and column when the file is no such capture.
 */
export async function readCapture(request: CaptureRequest): Promise<CaptureResult> {
  const { path } = request
  let reader: SignalReader | undefined
  const { copyTo } = request
  const sink: CaptureSink = {
    begin(clock: EdgeClock) {
      reader = new SignalReader(clock, request.reader)
      copyTo?.begin(clock)
    },
    push(block: EdgeBlock) {
      reader!.push(block)
      copyTo?.push(block)
    },
  }
  try {
    const importer = new CaptureImporter(request.capture, sink)
    const interrupted = await feed(request, importer)
    const summary = importer.end()
    if (reader === undefined) throw new InputError('no signal in the file')
    const toUs = request.capture.toUs ?? Number.POSITIVE_INFINITY
    const end = Math.min(summary.endUs, toUs) / summary.clock.tickUs
    return { reading: reader.finish(end), summary, interrupted }
  } catch (error) {
    if (error instanceof InputError) error.place.file ??= path
    throw error
  }
}

async function feed(request: CaptureRequest, importer: CaptureImporter): Promise<boolean> {
  const { path, signal, onProgress } = request
  const info = statSync(path)
  if (info.isDirectory()) throw Object.assign(new Error('is a folder'), { code: 'EISDIR', path })
  const handle = openSync(path, 'r')
  const buffer = Buffer.allocUnsafe(CHUNK)
  try {
    let size = readSync(handle, buffer, 0, CHUNK, null)
    if (size >= 2 && buffer[0] === 0x1f && buffer[1] === 0x8b) return await feedGzip(request, importer)
    let total = 0
    let sinceYield = 0
    while (size > 0 && !importer.done) {
      importer.push(buffer.subarray(0, size))
      total += size
      sinceYield += size
      if (sinceYield > 32 * CHUNK) {
        sinceYield = 0
        onProgress?.(total, info.size)
        // Lets Ctrl-C through.
        await new Promise((resolve) => setImmediate(resolve))
        if (signal?.aborted) return true
      }
      size = readSync(handle, buffer, 0, CHUNK, null)
    }
  } finally {
    closeSync(handle)
  }
  return false
}

async function feedGzip(request: CaptureRequest, importer: CaptureImporter): Promise<boolean> {
  const { path, signal } = request
  const stream = createReadStream(path, { highWaterMark: CHUNK }).pipe(createGunzip({ chunkSize: CHUNK }))
  try {
    for await (const chunk of stream as AsyncIterable<Uint8Array>) {
      importer.push(chunk)
      if (importer.done) break
      if (signal?.aborted) return true
    }
  } catch (error) {
    if (String((error as NodeJS.ErrnoException).code).startsWith('Z_')) {
      throw new InputError(`damaged gzip data: ${(error as Error).message}`, { file: path })
    }
    throw error
  } finally {
    stream.destroy()
  }
  return false
}
