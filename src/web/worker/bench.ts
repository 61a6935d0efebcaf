/** The worker for long work: reads captures and runs firmware, through the one reader, with progress. */
import {
  isSimulated,
  loadFirmware,
  parseStimulus,
  type RecordedOutput,
  reportOf,
  SIMULATED_CHIPS,
  SimulatedController,
} from '../../controller/index.js'
import { loadDesign } from '../../design/index.js'
import { type EdgeBlock, judgeSignal, SignalReader } from '../../signal/index.js'
import { formatTimeUs, InputError } from '../../units/index.js'
import type { BenchCalls, Live, ReadSignal, Shown } from './calls.js'
import { breathe, capture, look, stretch, withFile } from './captures.js'
import { answerCalls, type Progress } from './channel.js'
import { sha256Of } from './hash.js'
import { KeptRecord, transfersOf } from './kept-record.js'
import { settingsOf } from './output-settings.js'
import { shownFor } from './shown-for.js'

interface Tools {
  progress: Progress
  cancelled: () => boolean
}

/** Cycles between looks at the clock: about 20 ms of work. */
const SLICE_CYCLES = 1_600_000

async function simulate(
  { firmware, name, stimulus, text, forUs }: BenchCalls['simulate']['takes'],
  { progress, cancelled }: Tools,
): Promise<BenchCalls['simulate']['gives']> {
  const loaded = loadDesign(text)
  const { controller, signal, firmware: planned } = loaded.design
  if (!isSimulated(controller.chip))
    throw new InputError(`${controller.chip} cannot be simulated, only ${SIMULATED_CHIPS.join(', ')}`)
  try {
    const image = loadFirmware(firmware, name)
    const clockHz = controller.clock.frequency
    const machine = new SimulatedController(controller.chip, clockHz, image, {
      stimulus: stimulus === undefined ? undefined : parseStimulus(stimulus.text, stimulus.name),
    })
    const recorded: RecordedOutput[] = []
    const outputs = Object.keys(signal.outputs).map((output) => {
      const settings = settingsOf(loaded, output)
      const kept = new KeptRecord(settings.limits)
      const clock = { tickUs: 1e6 / clockHz, resolutionUs: 0 }
      kept.begin(clock)
      const live = new LiveHalves(clock.tickUs)
      let packets = 0
      const reader = new SignalReader(clock, {
        ...settings.reader,
        fromUs: planned?.skip ?? 0,
        onPacket(p) {
          packets++
          kept.packet(p)
        },
      })
      const { pin, inverted } = settings.output
      const sink = {
        push(block: EdgeBlock) {
          reader.push(block)
          kept.push(block)
          live.push(block)
        },
      }
      const recorder = machine.record(sink, pin, inverted)
      recorded.push({ name: output, pin, inverted, recorder })
      return { output, settings, kept, reader, live, pin, packets: () => packets }
    })
    const cycles = Math.round((forUs * clockHz) / 1e6)
    const started = performance.now()
    let interrupted = false
    let told = started
    for (let done = 0; done < cycles; ) {
      done = Math.min(cycles, done + SLICE_CYCLES)
      machine.runTo(done)
      const now = performance.now()
      if (now - told < 80 && done < cycles) continue
      told = now
      const simulatedUs = (done * 1e6) / clockHz
      const speed = simulatedUs / 1000 / Math.max(0.001, now - started)
      const detail: Live = {
        simulatedUs,
        speed,
        outputs: outputs.map(({ output, live, packets, settings }) => ({
          name: output,
          packets: packets(),
          oneMinUs: settings.limits.one.sender.min ?? 0,
          oneMaxUs: settings.limits.one.sender.max ?? Number.POSITIVE_INFINITY,
          ...live.take(),
        })),
      }
      progress(
        done / cycles,
        `${formatTimeUs(simulatedUs)} of ${formatTimeUs(forUs)}, ${speed.toFixed(1)} times real time`,
        detail,
      )
      await breathe()
      if (cancelled() && done < cycles) {
        interrupted = true
        break
      }
    }
    const report = reportOf(machine, recorded)
    const ran = formatTimeUs(report.simulatedUs)
    const shown: Shown = {
      evidence: [],
      inputs: [{ role: 'firmware', file: name, sha256: await sha256Of(firmware) }],
      notes: [],
      kind: 'run',
      of: shownFor(loaded.design, 'run'),
    }
    if (stimulus)
      shown.inputs.push({ role: 'stimulus', file: stimulus.name, sha256: await sha256Of(stimulus.text) })
    const reads = outputs.map(({ output, settings, kept, reader, pin }): ReadSignal => {
      const reading = reader.finish()
      shown.evidence.push(
        ...judgeSignal(reading, settings.profile, {
          origin: 'simulated',
          source: `${ran} of ${name}`,
          about: output,
          probe: 'logic',
          place: { file: name, channel: pin },
        }),
      )
      if (reading.packets.total === 0)
        shown.notes.push(`${output}: in ${ran} the firmware sent no packet on ${pin}`)
      return { output, reading, record: kept.record(reading.findings) }
    })
    if (interrupted) shown.notes.push(`the run of ${name} was stopped: this shows what was seen until then`)
    shown.notes.push(...report.notes)
    return { reads, shown, report, interrupted }
  } catch (error) {
    throw withFile(error, name)
  }
}

/** Shortest and longest half of ones and zeros since the last look, for the screen only. */
class LiveHalves {
  readonly #tickUs: number
  #last = Number.NaN
  #figures = LiveHalves.none()
  constructor(tickUs: number) {
    this.#tickUs = tickUs
  }
  static none() {
    return { oneLowUs: Infinity, oneHighUs: 0, zeroLowUs: Infinity, zeroHighUs: 0 }
  }
  push({ ticks, count }: EdgeBlock): void {
    const f = this.#figures
    for (let i = 0; i < count; i++) {
      const us = (ticks[i]! - this.#last) * this.#tickUs
      this.#last = ticks[i]!
      if (us < 77) {
        if (us < f.oneLowUs) f.oneLowUs = us
        if (us > f.oneHighUs) f.oneHighUs = us
      } else if (us < 20_000) {
        if (us < f.zeroLowUs) f.zeroLowUs = us
        if (us > f.zeroHighUs) f.zeroHighUs = us
      }
    }
  }
  take() {
    const figures = this.#figures
    this.#figures = LiveHalves.none()
    return figures
  }
}

answerCalls<BenchCalls>(self as unknown as DedicatedWorkerGlobalScope, {
  async capture(takes, tools) {
    const gives = await capture(takes, tools)
    return { gives, transfer: transfers([gives.read]) }
  },
  async look(takes) {
    return { gives: await look(takes) }
  },
  async stretch(takes, tools) {
    const gives = await stretch(takes, tools)
    return { gives, transfer: gives ? transfersOf(gives) : [] }
  },
  async simulate(takes, tools) {
    const gives = await simulate(takes, tools)
    return { gives, transfer: transfers(gives.reads) }
  },
})

function transfers(reads: readonly ReadSignal[]): Transferable[] {
  return reads.flatMap(({ record }) => transfersOf(record))
}
