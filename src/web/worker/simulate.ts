/** Runs firmware for the screen: the run itself is that of the command line, here with its record and live figures. */
import { isSimulated, loadFirmware, parseStimulus } from '../../controller/index.js'
import { loadDesign } from '../../design/index.js'
import {
  bitLimits,
  chipNotSimulated,
  evidenceOfRun,
  firmwareRun,
  outputsOf,
  type PinnedOutput,
} from '../../proof/index.js'
import type { BitLimits, EdgeBlock } from '../../signal/index.js'
import { formatTimeUs, InputError } from '../../units/index.js'
import type { BenchCalls, Live } from './calls.js'
import { breathe, withFile } from './captures.js'
import type { Tools } from './channel.js'
import { sha256Of } from './hash.js'
import { KeptRecord } from './kept-record.js'

/** An output with what the screen keeps of it. */
interface WatchedOutput extends PinnedOutput {
  limits: BitLimits
  kept: KeptRecord
  live: LiveHalves
  packets: number
}

/** Between two looks at the live figures, ms. */
const LOOK_MS = 80

export async function simulate(
  { firmware, name, stimulus, text, forUs }: BenchCalls['simulate']['takes'],
  { progress, cancelled }: Tools,
): Promise<BenchCalls['simulate']['gives']> {
  const loaded = loadDesign(text)
  const { controller, firmware: planned } = loaded.design
  const { chip } = controller
  if (!isSimulated(chip)) throw new InputError(chipNotSimulated(chip).sentence)
  try {
    const clockHz = controller.clock.frequency
    const tickUs = 1e6 / clockHz
    const outputs = outputsOf(loaded).map((output): WatchedOutput => {
      const limits = bitLimits(output)
      const kept = new KeptRecord(limits)
      kept.begin({ tickUs, resolutionUs: 0 })
      return { ...output, limits, kept, live: new LiveHalves(tickUs, limits), packets: 0 }
    })
    const steps = firmwareRun({
      image: loadFirmware(firmware, name),
      chip,
      clockHz,
      outputs,
      stimulus: stimulus === undefined ? undefined : parseStimulus(stimulus.text, stimulus.name),
      forUs,
      skipUs: planned?.skip ?? 0,
      loaded,
      onPacket(output, packet) {
        output.packets++
        output.kept.packet(packet)
      },
      edgesTo: ({ kept, live }) => ({
        push(block: EdgeBlock) {
          kept.push(block)
          live.push(block)
        },
      }),
    })
    const started = performance.now()
    let told = started
    let step = steps.next()
    while (!step.done) {
      const { simulatedUs, share } = step.value
      const now = performance.now()
      if (now - told >= LOOK_MS || share === 1) {
        told = now
        const speed = simulatedUs / 1000 / Math.max(0.001, now - started)
        const detail: Live = { simulatedUs, speed, outputs: outputs.map(liveOf) }
        const says = `${formatTimeUs(simulatedUs)} of ${formatTimeUs(forUs)}, ${speed.toFixed(1)} times real time`
        progress(share, says, detail)
        await breathe()
      }
      step = steps.next(cancelled())
    }
    const run = step.value
    const evidence = evidenceOfRun(run, {
      firmware: { file: name, sha256: await sha256Of(firmware) },
      stimulus: stimulus && { file: stimulus.name, sha256: await sha256Of(stimulus.text) },
      loaded,
    })
    const reads = run.outputs.map(({ name: output, reading, kept }) => {
      return { output, reading, record: kept.record(reading.findings) }
    })
    return { reads, evidence, report: run.report, interrupted: run.interrupted }
  } catch (error) {
    throw withFile(error, name)
  }
}

function liveOf({ name, packets, limits, live }: WatchedOutput): Live['outputs'][number] {
  const { min = 0, max = Number.POSITIVE_INFINITY } = limits.one.sender
  return { name, packets, oneMinUs: min, oneMaxUs: max, ...live.take() }
}

/** Shortest and longest half of ones and zeros since the last look, for the screen only. */
class LiveHalves {
  readonly #tickUs: number
  /** Halfway between what decoders must take for a one and what for a zero. */
  readonly #boundaryUs: number
  readonly #longestUs: number
  #last = Number.NaN
  #figures = noHalves()
  constructor(tickUs: number, { one, zero }: BitLimits) {
    this.#tickUs = tickUs
    const longestOne = one.receiver?.max ?? one.sender.max ?? 0
    const shortestZero = zero.receiver?.min ?? zero.sender.min ?? longestOne
    this.#boundaryUs = (longestOne + shortestZero) / 2
    this.#longestUs = zero.receiver?.max ?? zero.sender.max ?? Number.POSITIVE_INFINITY
  }
  push({ ticks, count }: EdgeBlock): void {
    const f = this.#figures
    for (let i = 0; i < count; i++) {
      const us = (ticks[i]! - this.#last) * this.#tickUs
      this.#last = ticks[i]!
      if (us < this.#boundaryUs) {
        if (us < f.oneLowUs) f.oneLowUs = us
        if (us > f.oneHighUs) f.oneHighUs = us
      } else if (us <= this.#longestUs) {
        if (us < f.zeroLowUs) f.zeroLowUs = us
        if (us > f.zeroHighUs) f.zeroHighUs = us
      }
    }
  }
  take() {
    const figures = this.#figures
    this.#figures = noHalves()
    return figures
  }
}

function noHalves() {
  const none = Number.POSITIVE_INFINITY
  return { oneLowUs: none, oneHighUs: 0, zeroLowUs: none, zeroHighUs: 0 }
}
