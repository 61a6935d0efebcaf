/** Gathers the evidence that captures give: each is read by the one reader and judged for the output it shows. */
import { createHash } from 'node:crypto'
import { closeSync, fstatSync, openSync, readSync } from 'node:fs'
import { setImmediate } from 'node:timers/promises'
import { type CaptureOptions, captureOptions, judgeAnalog } from '../capture/index.js'
import type { Design } from '../design/index.js'
import { judgeSignal } from '../signal/index.js'
import { senderLimits } from '../standard/index.js'
import { InputError, nearest } from '../units/index.js'
import { readCapture } from './capturing.js'
import type { Io } from './command.js'
import { type Gathered, refreshOf, shown } from './gather.js'
import { type DesignFile, profileOfDesign } from './read-design.js'

type CaptureDesign = NonNullable<Design['captures']>[number]

/** A capture and the output it shows. */
export interface CaptureOf {
  path: string
  output: string
  options: CaptureOptions
  probe: 'rails' | 'logic'
}

/**
 * The captures to read: those of the command line in place of the design's, if there are any.
 * @param asked `FILE`, or `OUTPUT=FILE` where the station has several outputs.
 * @throws InputError when nobody says which of several outputs a capture shows.
 */
export function capturesOf(loaded: DesignFile, asked: readonly string[]): CaptureOf[] {
  const outputs = Object.keys(loaded.design.signal.outputs)
  if (asked.length > 0) {
    return asked.map((text) => {
      const at = text.indexOf('=')
      const named = at > 0 && outputs.includes(text.slice(0, at))
      const path = named ? text.slice(at + 1) : text
      if (path === '') throw new InputError(`--capture ${text}; expected a file after "="`)
      const output = named ? text.slice(0, at) : only(outputs)
      if (output === undefined) {
        const close = at > 0 ? nearest(text.slice(0, at), outputs) : undefined
        throw new InputError(
          `--capture ${text} does not tell which output it shows; expected OUTPUT=FILE with one of ${outputs.join(', ')}${close ? `; the nearest is "${close}"` : ''}`,
        )
      }
      return { path, output, options: {}, probe: 'rails' }
    })
  }
  return (loaded.design.captures ?? []).map((capture, i) => {
    const output = capture.output ?? only(outputs)
    if (output === undefined) {
      const place = loaded.placeOf(['captures', i, 'file'])
      const message = `captures.${i} does not tell which output it shows; expected "track" with one of ${outputs.join(', ')}`
      throw new InputError(message, { file: loaded.file, ...place })
    }
    return {
      path: loaded.beside(capture.file),
      output,
      options: captureOptions(capture),
      probe: capture.probe,
    }
  })
}

function only(outputs: readonly string[]): string | undefined {
  return outputs.length === 1 ? outputs[0] : undefined
}

/** Reads captures one after the other. */
export async function measured(
  loaded: DesignFile,
  captures: readonly CaptureOf[],
  io: Io,
): Promise<Gathered> {
  const gathered: Gathered = { evidence: [], inputs: [], notes: [], interrupted: false }
  if (captures.length === 0) {
    gathered.notes.push('nothing is measured: neither the design nor --capture names a capture')
  }
  for (const capture of captures) {
    if (gathered.interrupted) break
    await one(loaded, capture, gathered, io)
  }
  io.progress('')
  return gathered
}

async function one(loaded: DesignFile, capture: CaptureOf, gathered: Gathered, io: Io): Promise<void> {
  const { path, output: name, options, probe } = capture
  const file = shown(path)
  const output = loaded.design.signal.outputs[name]!
  const profile = profileOfDesign(loaded, output.cutout)
  const { min: preambleMin } = senderLimits(profile.clauses.preamble, output.mode)
  const { reading, summary, interrupted } = await readCapture({
    path,
    capture: options,
    reader: {
      mode: output.mode,
      cutout: output.cutout,
      ...(preambleMin === undefined ? {} : { preambleMin }),
    },
    signal: io.signal,
    onProgress: (bytes, of) => io.progress(`read ${Math.round((100 * bytes) / of)} % of ${file}`),
  })
  gathered.interrupted ||= interrupted
  const sum = interrupted ? undefined : await sumOf(path, io)
  gathered.inputs.push({ role: 'capture', file, ...(sum === undefined ? {} : { sha256: sum }) })
  const channel = summary.channels.join('-')
  if (reading.edges < 2) {
    const there = summary.available.slice(0, 12).join(', ')
    throw new InputError(
      `${reading.edges} edges on ${summary.channels.join(' and ')}; expected a signal (the file has ${there})`,
      { file },
    )
  }
  const origin = { source: `capture ${file}`, probe, about: name }
  gathered.evidence.push(
    ...judgeSignal(reading, profile, { ...origin, origin: 'measured', place: { file, channel } }),
  )
  gathered.evidence.push(...refreshOf(loaded, name, reading, 'measured', origin.source))
  if (summary.analog) gathered.evidence.push(...judgeAnalog(summary.analog, profile, { ...origin, file }))
  if (reading.packets.total === 0) gathered.notes.push(`${file}: no packet in it`)
  for (const note of summary.notes) gathered.notes.push(`${file}: ${note}`)
}

/** SHA-256 of a file of any size; undefined for what cannot be read twice, or after Ctrl-C. */
async function sumOf(path: string, io: Io): Promise<string | undefined> {
  const handle = openSync(path, 'r')
  try {
    if (!fstatSync(handle).isFile()) return undefined
    const hash = createHash('sha256')
    const part = Buffer.allocUnsafe(1 << 20)
    for (let n = 1; ; n++) {
      const read = readSync(handle, part)
      if (read === 0) return hash.digest('hex')
      hash.update(part.subarray(0, read))
      // Lets Ctrl-C through.
      if (n % 64 === 0) await setImmediate()
      if (io.signal.aborted) return undefined
    }
  } finally {
    closeSync(handle)
  }
}
