/** Runs firmware on the simulated controller, slice by slice, and reads its outputs. */
import {
  type FirmwareImage,
  reportOf,
  type SimulatedChip,
  SimulatedController,
  type SimulationReport,
  type Stimulus,
} from '../controller/index.js'
import type { LoadedDesign } from '../design/index.js'
import {
  type EdgeBlock,
  type EdgeSink,
  type PacketRecord,
  SignalReader,
  type SignalReading,
} from '../signal/index.js'
import { BehaviourWatch } from './behaviour.js'
import { CutoutLevels } from './cutout-levels.js'
import type { PinnedOutput } from './outputs.js'
import { readerOptions } from './reader-options.js'
import { serialLineOf } from './serial-line.js'

export interface FirmwareRequest<O extends PinnedOutput = PinnedOutput> {
  image: FirmwareImage
  chip: SimulatedChip
  clockHz: number
  outputs: readonly O[]
  /** What happens outside the controller; see `parseStimulus`. */
  stimulus?: Stimulus | undefined
  /** Simulated time, us. */
  forUs: number
  /** Time at the start that is not judged, us. */
  skipUs: number
  /** The design whose behaviour is watched too. */
  loaded?: LoadedDesign | undefined
  /** Called for every packet of an output. */
  onPacket?: (output: O, packet: PacketRecord) => void
  /** Gets every output's edges too, in ticks of one cycle of the clock. */
  edgesTo?: (output: O) => EdgeSink | undefined
}

/** How far a run is. All edges before this time have been handed on. */
export interface RunProgress {
  /** Cycles of the oscillator. */
  tick: number
  simulatedUs: number
  share: number
}

export interface FirmwareRun<O extends PinnedOutput = PinnedOutput> {
  /** `lowCutouts` are those made with both pins low. */
  outputs: (O & { reading: SignalReading; lowCutouts?: number })[]
  report: SimulationReport
  /** What the firmware did with commands and shorts; only with a design. */
  behaviour?: BehaviourWatch
  /** It ended before the time asked for. */
  interrupted: boolean
}

/** Cycles between two steps: about 20 ms of work. */
const SLICE_CYCLES = 2_000_000

/**
 * Run firmware for a while and read what its outputs send. Deterministic: the same request gives the same edges, however
 * it is driven. Who drives it shows the progress, lets other work in, and answers `true` to stop: the run then ends
 * with what was seen.
 * @throws InputError when a pin is not the chip's or the image does not fit.
 */
export function* firmwareRun<O extends PinnedOutput>(
  request: FirmwareRequest<O>,
): Generator<RunProgress, FirmwareRun<O>, boolean | undefined> {
  const { chip, clockHz, image, stimulus, outputs, forUs, skipUs, loaded, onPacket, edgesTo } = request
  const machine = new SimulatedController(chip, clockHz, image, {
    stimulus,
    line: loaded && serialLineOf(loaded),
  })
  const behaviour = loaded && new BehaviourWatch(loaded, machine)
  const recorded = outputs.map((output) => {
    const { name, pin, inverted } = output
    const reader = new SignalReader(
      { tickUs: 1e6 / clockHz, resolutionUs: 0, shows: inverted === undefined ? 'one level' : 'rails' },
      {
        ...readerOptions(output, skipUs),
        // Nothing outside the run takes power away; what the firmware switches off itself is known.
        power: { complete: true, ...(behaviour ? { known: behaviour.offPeriods(name) } : {}) },
        powerApplied: skipUs === 0,
        onPacket(packet) {
          behaviour?.onPacket(name, packet)
          onPacket?.(output, packet)
        },
      },
    )
    const recorder = machine.record(both(reader, edgesTo?.(output)), pin, inverted)
    const levels = new CutoutLevels(machine, output)
    return { name, pin, inverted, recorder, output, reader, levels }
  })
  const end = Math.round((forUs * clockHz) / 1e6)
  let tick = 0
  let interrupted = false
  while (tick < end && !interrupted) {
    tick = Math.min(end, tick + SLICE_CYCLES)
    machine.runTo(tick)
    const stop = yield { tick, simulatedUs: (tick * 1e6) / clockHz, share: tick / end }
    interrupted = stop === true && tick < end
  }
  return {
    // Pins that never move, and a signal that stops, are silence up to here.
    outputs: recorded.map(({ output, reader, levels }) => ({
      ...output,
      reading: reader.finish(tick, 0),
      lowCutouts: levels.low,
    })),
    report: reportOf(machine, recorded),
    ...(behaviour ? { behaviour } : {}),
    interrupted,
  }
}

function both(reader: EdgeSink, copy: EdgeSink | undefined): EdgeSink {
  if (copy === undefined) return reader
  return {
    push(block: EdgeBlock) {
      reader.push(block)
      copy.push(block)
    },
  }
}
