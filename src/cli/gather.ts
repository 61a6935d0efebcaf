/** Gathers the three kinds of evidence for a design: calculated, simulated, measured. */
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { dirname, isAbsolute, join, relative } from 'node:path'
import { CHIPS, calculateSignal, loadFirmware, type SimulatedChip } from '../controller/index.js'
import type { LoadedDesign } from '../design/index.js'
import { powerReport } from '../power/index.js'
import type { ProofInput } from '../proof/index.js'
import { judgeSignal } from '../signal/index.js'
import { type Evidence, senderLimits } from '../standard/index.js'
import { formatTimeUs } from '../units/index.js'
import type { Io } from './command.js'
import { profileOfDesign } from './read-design.js'
import { runFirmware, type SimulatedOutput } from './simulation.js'

export interface Gathered {
  evidence: Evidence[]
  inputs: ProofInput[]
  notes: string[]
  /** Ctrl-C ended it early. */
  interrupted: boolean
}

const SIMULATED: readonly string[] = ['atmega328p', 'atmega2560', 'atmega32u4'] satisfies SimulatedChip[]

/** What the design alone tells, each statement with its line. */
export function calculated(loaded: LoadedDesign, file: string): Evidence[] {
  const { design, placeOf } = loaded
  const { controller, signal, power } = design
  const evidence = Object.keys(signal.tracks).flatMap((name) => {
    const track = signal.tracks[name]!
    const profile = profileOfDesign(loaded, track.cutout)
    const parts = { controller, signal }
    return calculateSignal(parts, profile)
      .filter((e) => (e.about ?? name) === name || e.about === undefined)
      .map((e) => withLine(e, file, placeOf(['signal', 'tracks', name]).line))
  })
  const once = evidence.filter(
    (e, i) => evidence.findIndex((o) => JSON.stringify(o) === JSON.stringify(e)) === i,
  )
  if (power) {
    const profile = profileOfDesign(loaded)
    const report = powerReport({ power, profile, signal, controller })
    once.push(...report.evidence.map((e) => withLine(e, file, placeOf(['power']).line)))
  }
  return once
}

function withLine(evidence: Evidence, file: string, line: number): Evidence {
  return { ...evidence, where: { file, line, ...evidence.where } }
}

export interface SimulateRequest {
  /** Firmware to run instead of the design's. */
  firmware?: string | undefined
  forUs?: number | undefined
}

/** Runs the firmware that the design names, or another, and judges every output. */
export async function simulated(
  loaded: LoadedDesign,
  file: string,
  request: SimulateRequest,
  io: Io,
): Promise<Gathered> {
  const { design } = loaded
  const gathered: Gathered = { evidence: [], inputs: [], notes: [], interrupted: false }
  const path = request.firmware ?? (design.firmware && beside(file, design.firmware.file))
  if (path === undefined) return gathered
  const { chip, clock } = design.controller
  if (!SIMULATED.includes(chip)) {
    gathered.notes.push(
      `firmware was not run: ${CHIPS[chip].name} cannot be simulated, only ${SIMULATED.join(', ')}`,
    )
    return gathered
  }
  const image = loadFirmware(readFileSync(path), path)
  gathered.inputs.push({ role: 'firmware', file: path, sha256: hashOf(path) })
  const outputs = Object.entries(design.signal.tracks).map(([name, track]): SimulatedOutput => {
    const profile = profileOfDesign(loaded, track.cutout)
    const preambleMin = senderLimits(profile.clauses.preamble, track.mode).min
    return {
      name,
      pin: track.pin,
      inverted: track.inverted,
      mode: track.mode,
      cutout: track.cutout,
      ...(preambleMin === undefined ? {} : { preambleMin }),
    }
  })
  const forUs = request.forUs ?? design.firmware?.runFor ?? 5e6
  const result = await runFirmware({
    image,
    chip: chip as SimulatedChip,
    clockHz: clock.frequency,
    outputs,
    forUs,
    skipUs: design.firmware?.skip ?? 0,
    signal: io.signal,
    onProgress: (us, speed) =>
      io.progress(
        `simulated ${formatTimeUs(us)} of ${formatTimeUs(forUs)}, ${speed.toFixed(1)} times real time`,
      ),
  })
  io.progress('')
  gathered.interrupted = result.interrupted
  for (const output of result.outputs) {
    const { cutout = false } = output
    gathered.evidence.push(
      ...judgeSignal(output.reading, profileOfDesign(loaded, cutout), {
        origin: 'simulated',
        source: `${formatTimeUs(result.report.simulatedUs)} of ${shown(path)}`,
        about: output.name,
        probe: 'logic',
        place: { file: shown(path), channel: output.pin },
      }),
    )
    if (output.reading.packets.total === 0)
      gathered.notes.push(`${output.name}: no packet was seen on ${output.pin}`)
  }
  return gathered
}

/** A file that the design names, relative to the design. */
export function beside(design: string, file: string): string {
  return isAbsolute(file) ? file : join(dirname(design), file)
}

/** A path as a report shows it: never the machine's own folders. */
export function shown(path: string): string {
  const near = relative(process.cwd(), path)
  return near.startsWith('..') || isAbsolute(near) ? path : near
}

export function hashOf(path: string): string {
  return createHash('sha256').update(readFileSync(path)).digest('hex')
}
