/** Runs firmware on the simulated controller and reads its outputs; for `halfbit simulate` and `halfbit prove`. */
import {
  type FirmwareImage,
  type RecordedOutput,
  reportOf,
  type SimulatedChip,
  SimulatedController,
  type SimulationReport,
  type Stimulus,
} from '../controller/index.js'
import {
  type EdgeBlock,
  type EdgeSink,
  type PacketRecord,
  SignalReader,
  type SignalReading,
} from '../signal/index.js'
import type { OutputMode } from '../standard/index.js'

/** An output of the station to be read. */
export interface SimulatedOutput {
  name: string
  /** Port pin, `PB1`. */
  pin: string
  /** Port pin with the opposite level: both together are then read as the two rails. */
  inverted?: string | undefined
  mode: OutputMode
  cutout?: boolean
  preambleMin?: number
}

export interface SimulationRequest {
  image: FirmwareImage
  chip: SimulatedChip
  clockHz: number
  outputs: readonly SimulatedOutput[]
  /** What happens outside the controller; see `parseStimulus`. */
  stimulus?: Stimulus | undefined
  /** Simulated time, us. */
  forUs: number
  /** Time at the start that is not judged, us. Default 0. */
  skipUs?: number
  /** Aborted: end with what was seen so far. */
  signal?: AbortSignal
  /** Simulated time, us, and how many times faster than real time it runs. */
  onProgress?: (simulatedUs: number, speed: number) => void
  /** Called for every packet of an output. */
  onPacket?: (output: SimulatedOutput, packet: PacketRecord) => void
  /** Gets every output's edges too, in ticks of one cycle of the clock. */
  edgesTo?: (output: SimulatedOutput) => EdgeSink | undefined
  /** All edges before this tick have been handed on. */
  onSettled?: (tick: number) => void
}

export interface SimulationResult {
  outputs: (SimulatedOutput & { reading: SignalReading })[]
  report: SimulationReport
  /** It ended before the time asked for. */
  interrupted: boolean
}

/** Cycles between looks at the clock and at Ctrl-C: about 20 ms of work. */
const SLICE_CYCLES = 2_000_000

/**
 * Run firmware for a while and read what its outputs send. Deterministic: the same request gives the same edges.
 * @throws InputError when a pin is not the chip's or the image does not fit.
 */
export async function runFirmware(request: SimulationRequest): Promise<SimulationResult> {
  const { clockHz, forUs, skipUs = 0 } = request
  const machine = new SimulatedController(request.chip, clockHz, request.image, {
    stimulus: request.stimulus,
  })
  const recorded: RecordedOutput[] = []
  const readers = request.outputs.map((output) => {
    const { onPacket, edgesTo } = request
    const reader = new SignalReader(
      { tickUs: 1e6 / clockHz, resolutionUs: 0 },
      {
        mode: output.mode,
        fromUs: skipUs,
        ...(output.cutout === undefined ? {} : { cutout: output.cutout }),
        ...(output.preambleMin === undefined ? {} : { preambleMin: output.preambleMin }),
        ...(onPacket ? { onPacket: (packet: PacketRecord) => onPacket(output, packet) } : {}),
      },
    )
    const copy = edgesTo?.(output)
    const sink: EdgeSink = copy
      ? {
          push(block: EdgeBlock) {
            reader.push(block)
            copy.push(block)
          },
        }
      : reader
    const recorder = machine.record(sink, output.pin, output.inverted)
    recorded.push({ name: output.name, pin: output.pin, inverted: output.inverted, recorder })
    return { output, reader }
  })
  const cycles = Math.round((forUs * clockHz) / 1e6)
  const started = performance.now()
  let interrupted = false
  for (let done = 0; done < cycles; ) {
    done = Math.min(cycles, done + SLICE_CYCLES)
    machine.runTo(done)
    request.onSettled?.(done)
    const seconds = (performance.now() - started) / 1000
    request.onProgress?.((done * 1e6) / clockHz, done / clockHz / Math.max(seconds, 1e-6))
    // Lets Ctrl-C through.
    await new Promise((resolve) => setImmediate(resolve))
    if (request.signal?.aborted && done < cycles) {
      interrupted = true
      break
    }
  }
  // Pins that never move are silence up to here.
  const reached = interrupted ? undefined : cycles
  return {
    outputs: readers.map(({ output, reader }) => ({ ...output, reading: reader.finish(reached) })),
    report: reportOf(machine, recorded),
    interrupted,
  }
}
