/** The evidence of captures: which there are, which output each shows, and what the one reader makes of it. */
import { existsSync } from 'node:fs'
import { resolve } from 'node:path'
import { type CaptureOptions, captureOptions } from '../capture/index.js'
import {
  captureContext,
  evidenceOfCapture,
  outputOf,
  type RunEvidence,
  readerOptions,
} from '../proof/index.js'
import { InputError, nearest } from '../units/index.js'
import { readCapture } from './capturing.js'
import type { Io } from './command.js'
import { displayPath } from './display-path.js'
import { fileSum } from './file-sum.js'
import { readFirmware } from './firmware-evidence.js'
import type { DesignFile } from './read-design.js'

/** A capture and the output it shows. */
export interface CaptureOf {
  path: string
  output: string
  options: CaptureOptions
  probe: 'rails' | 'logic'
  /** The firmware build it was taken with, where somebody says so. */
  build?: string | undefined
}

/**
 * The captures to read: those of the command line in place of the design's, if there are any.
 * @param asked `FILE`, or `OUTPUT=FILE` where the station has several outputs. Of a file that the design lists too, what
 * the design says of it holds.
 * @param build the firmware build that those were taken with.
 * @throws InputError when nobody says which of several outputs a capture shows.
 */
export function capturesOf(loaded: DesignFile, asked: readonly string[], build?: string): CaptureOf[] {
  const outputs = Object.keys(loaded.design.signal.outputs)
  const listed = loaded.design.captures ?? []
  if (asked.length > 0) {
    return asked.map((text) => {
      const at = text.indexOf('=')
      const named = at > 0 && outputs.includes(text.slice(0, at))
      const path = named ? text.slice(at + 1) : text
      if (path === '') throw new InputError(`--capture ${text}; expected a file after "="`)
      const known = listed.find((c) => resolve(loaded.beside(c.file)) === resolve(path))
      const output = named ? text.slice(0, at) : (only(outputs) ?? known?.output)
      if (output === undefined) {
        const close = at > 0 ? nearest(text.slice(0, at), outputs) : undefined
        throw new InputError(
          `--capture ${text} does not say which output it shows; expected OUTPUT=FILE with one of ${outputs.join(', ')}${close ? `; the nearest is "${close}"` : ''}`,
        )
      }
      return {
        path,
        output,
        options: known ? captureOptions(known) : {},
        probe: known?.probe ?? 'rails',
        build: build ?? known?.build,
      }
    })
  }
  return listed.map((capture, i) => {
    const output = capture.output ?? only(outputs)
    if (output === undefined) {
      const place = loaded.placeOf(['captures', i, 'file'])
      const message = `captures.${i} does not say which output it shows; expected "output" with one of ${outputs.join(', ')}`
      throw new InputError(message, { file: loaded.file, ...place })
    }
    return {
      path: loaded.beside(capture.file),
      output,
      options: captureOptions(capture),
      probe: capture.probe,
      build: capture.build,
    }
  })
}

function only(outputs: readonly string[]): string | undefined {
  return outputs.length === 1 ? outputs[0] : undefined
}

/** Reads captures one after the other, until Ctrl-C. */
export async function captureEvidence(
  loaded: DesignFile,
  captures: readonly CaptureOf[],
  io: Io,
): Promise<RunEvidence[]> {
  const found: RunEvidence[] = []
  for (const capture of captures) {
    if (io.signal.aborted) break
    found.push(await one(loaded, capture, io))
  }
  io.progress('')
  return found
}

async function one(
  loaded: DesignFile,
  { path, output: name, options, probe, build }: CaptureOf,
  io: Io,
): Promise<RunEvidence> {
  const file = displayPath(path)
  const output = outputOf(loaded, name)
  const read = await readCapture({
    path,
    capture: options,
    reader: readerOptions(output),
    profile: output.profile,
    signal: io.signal,
    onProgress: (bytes, of) => io.progress(`read ${Math.round((100 * bytes) / of)} % of ${file}`),
  })
  const sum = read.interrupted ? undefined : await fileSum(path, io)
  return evidenceOfCapture(read, {
    file,
    sha256: sum,
    output,
    probe,
    build,
    context: captureContext(loaded, name),
  })
}

/**
 * The firmware build that captures were taken with, as the command line names it.
 * @param text digits of a SHA-256, or a firmware file.
 */
export function buildOf(text: string | undefined): string | undefined {
  if (text === undefined || /^[0-9a-f]{8,64}$/i.test(text)) return text?.toLowerCase()
  if (!existsSync(text))
    throw new InputError(`--build ${text}; expected 8 to 64 digits of a SHA-256, or a firmware file`)
  return readFirmware(text).sha256
}
