/** The evidence of a run of the firmware: reads the files that the design or the command line names, and runs it. */
import {
  type FirmwareImage,
  isSimulated,
  loadFirmware,
  parseStimulus,
  type Stimulus,
} from '../controller/index.js'
import type { LoadedDesign } from '../design/index.js'
import {
  evidenceOfRun,
  type FirmwareRequest,
  outputsOf,
  type RunEvidence,
  type SourceFile,
} from '../proof/index.js'
import type { Io } from './command.js'
import { displayPath } from './display-path.js'
import { sha256 } from './file-sum.js'
import { readUpTo } from './files/index.js'
import type { DesignFile } from './read-design.js'
import { runFirmware } from './run-firmware.js'

/** An ELF file of the largest chip with all its debugging data is far smaller. */
const LARGEST_FIRMWARE_BYTES = 64 << 20
const LARGEST_SCRIPT_BYTES = 4 << 20
export const DEFAULT_RUN_US = 5e6

export interface SimulateRequest {
  /** Firmware, script and simulated time in place of the design's. */
  firmware?: string | undefined
  stimulus?: string | undefined
  forUs?: number | undefined
  /** Run what the firmware runs often as WebAssembly. */
  translate?: boolean
}

export interface FirmwareEvidence {
  /** SHA-256 of the firmware, where there is any. */
  sum?: string
  /** Absent where nothing was run. */
  run?: RunEvidence
}

/** Runs the firmware that the design names, or another, and judges every output. */
export async function firmwareEvidence(
  loaded: DesignFile,
  request: SimulateRequest,
  io: Io,
): Promise<FirmwareEvidence> {
  const { sum, run } = firmwareOf(loaded, request)
  return { ...(sum === undefined ? {} : { sum }), ...(run ? { run: await judgedRun(loaded, run, io) } : {}) }
}

/** A run as it is asked for: plain data, so that it can be sent to a thread. */
export interface AskedRun extends Omit<FirmwareRequest, 'loaded' | 'onPacket' | 'edgesTo'> {
  firmware: SourceFile
  script: SourceFile | undefined
}

/**
 * The firmware that the design names, or another; `run` is absent where there is none, or none that can be run.
 * @throws InputError when a file is not what it should be.
 */
export function firmwareOf(loaded: DesignFile, request: SimulateRequest): { sum?: string; run?: AskedRun } {
  const { design } = loaded
  const { firmware: named } = design
  const path = request.firmware ?? (named && loaded.beside(named.file))
  if (path === undefined) return {}
  const { image, source, sha256: sum } = readFirmware(path, request.translate)
  const { chip, clock } = design.controller
  if (!isSimulated(chip)) return { sum }
  const script = request.stimulus ?? (named?.stimulus && loaded.beside(named.stimulus))
  const stimulus = script === undefined ? undefined : readStimulus(script)
  const run = {
    image,
    chip,
    clockHz: clock.frequency,
    outputs: outputsOf(loaded),
    stimulus: stimulus?.stimulus,
    forUs: request.forUs ?? named?.runFor ?? DEFAULT_RUN_US,
    skipUs: named?.skip ?? 0,
    firmware: source,
    script: stimulus?.source,
  }
  return { sum, run }
}

/** Runs it, and judges every output. */
export async function judgedRun(
  loaded: LoadedDesign,
  { firmware, script, ...request }: AskedRun,
  io: Pick<Io, 'progress'> & { signal: { readonly aborted: boolean } },
): Promise<RunEvidence> {
  const run = await runFirmware({ ...request, loaded }, io)
  return evidenceOfRun(run, { firmware, stimulus: script, loaded })
}

/**
 * A firmware file with the SHA-256 of its bytes, read once: it may be a pipe.
 * @param translate what it runs often is to run as WebAssembly.
 * @throws InputError when it is no firmware file.
 */
export function readFirmware(
  path: string,
  translate = false,
): {
  image: FirmwareImage
  bytes: Uint8Array
  sha256: string
  source: SourceFile
} {
  const bytes = readUpTo(path, LARGEST_FIRMWARE_BYTES, 'a firmware file')
  const sum = sha256(bytes)
  return {
    image: { ...loadFirmware(bytes, path), ...(translate ? { translated: true } : {}) },
    bytes,
    sha256: sum,
    source: { file: displayPath(path), sha256: sum },
  }
}

/** @throws InputError with the line that is wrong. */
export function readStimulus(path: string): { stimulus: Stimulus; source: SourceFile } {
  const bytes = readUpTo(path, LARGEST_SCRIPT_BYTES, 'a stimulus script')
  return {
    stimulus: parseStimulus(new TextDecoder().decode(bytes), path),
    source: { file: displayPath(path), sha256: sha256(bytes) },
  }
}
