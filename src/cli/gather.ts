/** Gathers the evidence that a run of the firmware gives, and names the files it came from. */
import { createHash } from 'node:crypto'
import { isAbsolute, relative } from 'node:path'
import {
  CHIPS,
  type FirmwareImage,
  isSimulated,
  loadFirmware,
  parseStimulus,
  SIMULATED_CHIPS,
  type Stimulus,
} from '../controller/index.js'
import type { ProofInput } from '../proof/index.js'
import { judgeSignal, type SignalReading } from '../signal/index.js'
import { type Evidence, senderLimits } from '../standard/index.js'
import { refreshSeen, resolveTraffic, trafficInputOf } from '../traffic/index.js'
import { formatTimeUs } from '../units/index.js'
import type { Io } from './command.js'
import { readUpTo } from './files.js'
import { type DesignFile, profileOfDesign } from './read-design.js'
import { runFirmware, type SimulatedOutput } from './simulation.js'
import { simulationNotes } from './simulation-notes.js'

export interface Gathered {
  evidence: Evidence[]
  inputs: ProofInput[]
  notes: string[]
  /** Ctrl-C ended it early. */
  interrupted: boolean
}

/** An ELF file of the largest chip with all its debugging data is far smaller. */
const LARGEST_FIRMWARE_BYTES = 64 << 20
const LARGEST_SCRIPT_BYTES = 4 << 20
const DEFAULT_RUN_US = 5e6

export interface SimulateRequest {
  /** Firmware, script and simulated time in place of the design's. */
  firmware?: string | undefined
  stimulus?: string | undefined
  forUs?: number | undefined
}

/** Runs the firmware that the design names, or another, and judges every output. */
export async function simulated(loaded: DesignFile, request: SimulateRequest, io: Io): Promise<Gathered> {
  const { design } = loaded
  const gathered: Gathered = { evidence: [], inputs: [], notes: [], interrupted: false }
  const path = request.firmware ?? (design.firmware && loaded.beside(design.firmware.file))
  if (path === undefined) {
    gathered.notes.push('nothing is simulated: neither the design nor --firmware names a firmware file')
    return gathered
  }
  const { chip, clock } = design.controller
  if (!isSimulated(chip)) {
    const names = SIMULATED_CHIPS.map((id) => CHIPS[id].name).join(', ')
    gathered.notes.push(`the firmware was not run: ${CHIPS[chip].name} cannot be simulated, only ${names}`)
    return gathered
  }
  const bytes = readUpTo(path, LARGEST_FIRMWARE_BYTES, 'a firmware file')
  const image = loadFirmware(bytes, path)
  gathered.inputs.push({ role: 'firmware', file: shown(path), sha256: sha256(bytes) })
  const script = request.stimulus ?? (design.firmware?.stimulus && loaded.beside(design.firmware.stimulus))
  const stimulus = script === undefined ? undefined : readScript(script, gathered)
  const outputs = designOutputs(loaded)
  const forUs = request.forUs ?? design.firmware?.runFor ?? DEFAULT_RUN_US
  const result = await runFirmware({
    image,
    chip,
    clockHz: clock.frequency,
    outputs,
    stimulus,
    forUs,
    skipUs: design.firmware?.skip ?? 0,
    signal: io.signal,
    onProgress: (us, speed) => io.progress(progressText(us, forUs, speed)),
  })
  io.progress('')
  gathered.interrupted = result.interrupted
  const ran = formatTimeUs(result.report.simulatedUs)
  for (const output of result.outputs) {
    gathered.evidence.push(
      ...judgeSignal(output.reading, profileOfDesign(loaded, output.cutout), {
        origin: 'simulated',
        source: `${ran} of ${shown(path)}`,
        about: output.name,
        probe: 'logic',
        place: { file: shown(path), channel: output.pin },
      }),
    )
    gathered.evidence.push(
      ...refreshOf(loaded, output.name, output.reading, 'simulated', `${ran} of ${shown(path)}`),
    )
    if (output.reading.packets.total === 0)
      gathered.notes.push(`${output.name}: in ${ran} the firmware sent no packet on ${output.pin}`)
  }
  gathered.notes.push(...simulationNotes(result.report))
  return gathered
}

/**
 * How often the fleet's addresses were really refreshed, on the output that the fleet runs on; nothing when the record
 * is shorter than their time-outs.
 */
export function refreshOf(
  loaded: DesignFile,
  output: string,
  reading: SignalReading,
  origin: 'simulated' | 'measured',
  source: string,
): Evidence[] {
  const { fleet } = loaded.design
  if (!fleet) return []
  const { locomotives, input } = resolveTraffic(trafficInputOf({ ...loaded.design, fleet }))
  if (input.traffic.output !== output) return []
  const evidence = refreshSeen(locomotives, reading.addresses, profileOfDesign(loaded).clauses.refresh, {
    origin,
    source,
    ranUs: reading.endUs - reading.startUs,
    about: output,
  })
  return evidence.filter((e) => e.verdict !== 'undecided')
}

/** The outputs of the design, as the simulation reads them. */
export function designOutputs(loaded: DesignFile): SimulatedOutput[] {
  return Object.entries(loaded.design.signal.outputs).map(([name, track]) => {
    const { min } = senderLimits(profileOfDesign(loaded, track.cutout).clauses.preamble, track.mode)
    const { pin, inverted, mode, cutout } = track
    return { name, pin, inverted, mode, cutout, ...(min === undefined ? {} : { preambleMin: min }) }
  })
}

/** @throws InputError with the line that is wrong. */
export function readStimulus(path: string): Stimulus {
  const bytes = readUpTo(path, LARGEST_SCRIPT_BYTES, 'a stimulus script')
  return parseStimulus(new TextDecoder().decode(bytes), path)
}

/** @throws InputError when it is no firmware file. */
export function readFirmware(path: string): FirmwareImage {
  return readFirmwareWithHash(path).image
}

/** The same with the SHA-256 of the file, read once: it may be a pipe. */
export function readFirmwareWithHash(path: string): { image: FirmwareImage; sha256: string } {
  const bytes = readUpTo(path, LARGEST_FIRMWARE_BYTES, 'a firmware file')
  return { image: loadFirmware(bytes, path), sha256: sha256(bytes) }
}

function readScript(path: string, gathered: Gathered) {
  const bytes = readUpTo(path, LARGEST_SCRIPT_BYTES, 'a stimulus script')
  gathered.inputs.push({ role: 'stimulus', file: shown(path), sha256: sha256(bytes) })
  return parseStimulus(new TextDecoder().decode(bytes), path)
}

const BAR = 24

/** Bar, simulated time and speed on one line. */
export function progressText(us: number, forUs: number, speed: number): string {
  const done = Math.round((BAR * us) / forUs)
  const bar = '#'.repeat(done) + '.'.repeat(BAR - done)
  return `[${bar}] ${formatTimeUs(us)} of ${formatTimeUs(forUs)} simulated, ${speed.toFixed(1)} times real time`
}

/** A path as a report shows it: from the folder the command runs in, if it lies in there. */
export function shown(path: string): string {
  const near = relative(process.cwd(), path)
  const inside = near !== '' && !near.startsWith('..') && !isAbsolute(near)
  return (inside ? near : path).replaceAll('\\', '/')
}

export function sha256(bytes: Uint8Array): string {
  return createHash('sha256').update(bytes).digest('hex')
}
