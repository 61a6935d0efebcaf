/** The worker for long work: reads captures and runs firmware, through the one reader, with progress. */
import { CaptureImporter, type CaptureOptions, type CaptureSink, judgeAnalog } from '../../capture/index.js'
import {
  AVR_MODELS,
  loadFirmware,
  parseStimulus,
  type RecordedOutput,
  reportOf,
  type SimulatedChip,
  SimulatedController,
} from '../../controller/index.js'
import { type Design, type LoadedDesign, loadDesign, profileOfDesign } from '../../design/index.js'
import { type EdgeBlock, type EdgeClock, judgeSignal, SignalReader } from '../../signal/index.js'
import { senderLimits } from '../../standard/index.js'
import { formatNumber, formatTimeUs, InputError } from '../../units/index.js'
import type { BenchCalls, Live, ReadSignal, Shown } from './calls.js'
import { answerCalls, type Progress } from './channel.js'
import { KeptRecord } from './kept-record.js'
import { shownFor } from './shown-for.js'

interface Tools {
  progress: Progress
  cancelled: () => boolean
}

/** Lets messages in: a cancel, the next question. */
const breathe = () => new Promise<void>((done) => setTimeout(done, 0))

type CaptureDesign = NonNullable<Design['captures']>[number]

async function capture(
  { file, name, text, track, listed }: BenchCalls['capture']['takes'],
  { progress, cancelled }: Tools,
): Promise<BenchCalls['capture']['gives']> {
  const loaded = loadDesign(text)
  const { design } = loaded
  const outputs = Object.keys(design.signal.tracks)
  const named = listed === undefined ? undefined : design.captures?.[listed]
  const output = track ?? named?.track ?? outputs[0]!
  const settings = settingsOf(loaded, output)
  const kept = new KeptRecord(settings.output.mode)
  let reader: SignalReader | undefined
  const sink: CaptureSink = {
    begin(clock: EdgeClock) {
      kept.begin(clock)
      reader = new SignalReader(clock, { ...settings.reader, onPacket: (p) => kept.packet(p) })
    },
    push(block: EdgeBlock) {
      reader!.push(block)
      kept.push(block)
    },
  }
  let interrupted = false
  try {
    const importer = new CaptureImporter(optionsOf(named), sink)
    interrupted = await feed(file, importer, { progress, cancelled })
    const summary = importer.end()
    if (!reader) throw new InputError('no signal in the file')
    const end = Math.min(summary.endUs, named?.to ?? Number.POSITIVE_INFINITY) / summary.clock.tickUs
    const reading = reader.finish(end)
    if (reading.edges < 2) {
      throw new InputError(
        `${reading.edges} edges on ${summary.channels.join(' and ')}; expected a signal (the file has ${summary.available.slice(0, 12).join(', ')})`,
      )
    }
    const channel = summary.channels.join('-')
    const origin = { source: `capture ${name}`, probe: named?.probe ?? 'rails', about: output } as const
    const evidence = judgeSignal(reading, settings.profile, {
      ...origin,
      origin: 'measured',
      place: { file: name, channel },
    })
    if (summary.analog)
      evidence.push(...judgeAnalog(summary.analog, settings.profile, { ...origin, file: name }))
    const notes = summary.notes.map((note) => `${name}: ${note}`)
    if (interrupted) notes.push(`${name}: it was stopped; this shows what was seen until then`)
    const read: ReadSignal = { output, reading, record: kept.record(reading.findings), leftOut: kept.leftOut }
    return {
      read,
      shown: {
        evidence,
        inputs: [{ role: 'capture', file: name }],
        notes,
        kind: 'capture',
        of: shownFor(design, 'capture'),
      },
      dialect: summary.dialect,
      channels: summary.channels,
      interrupted,
    }
  } catch (error) {
    throw withFile(error, name)
  }
}

function withFile(error: unknown, file: string): unknown {
  if (!(error instanceof InputError)) return error
  error.place.file ??= file
  return Object.assign(new Error(error.describe()), { place: error.place })
}

async function feed(file: Blob, importer: CaptureImporter, { progress, cancelled }: Tools): Promise<boolean> {
  const head = new Uint8Array(await file.slice(0, 2).arrayBuffer())
  const packed = head[0] === 0x1f && head[1] === 0x8b
  let read = 0
  const counted = new TransformStream<Uint8Array, Uint8Array>({
    transform(part, control) {
      read += part.length
      control.enqueue(part)
    },
  })
  let stream: ReadableStream<Uint8Array> = file.stream().pipeThrough(counted)
  if (packed) {
    const unpack = new DecompressionStream('gzip') as unknown as ReadableWritablePair<Uint8Array, Uint8Array>
    stream = stream.pipeThrough(unpack)
  }
  const reader = stream.getReader()
  let told = performance.now()
  try {
    for (let part = await reader.read(); !part.done && !importer.done; part = await reader.read()) {
      importer.push(part.value)
      if (performance.now() - told < 60) continue
      progress(
        read / Math.max(1, file.size),
        `${formatNumber(read / 1e6, 3)} of ${formatNumber(file.size / 1e6, 3)} MB read`,
      )
      await breathe()
      told = performance.now()
      if (cancelled()) return true
    }
  } catch (error) {
    if (packed && error instanceof TypeError) throw new InputError('damaged gzip data')
    throw error
  } finally {
    void reader.cancel().catch(() => {})
  }
  return false
}

function optionsOf(named: CaptureDesign | undefined): CaptureOptions {
  if (!named) return {}
  const { channel, invert, rate, bits, skip, from, to } = named
  return {
    format: bits === undefined ? undefined : 'raw',
    channel,
    invert,
    rateHz: rate,
    bits,
    skipUs: skip,
    fromUs: from,
    toUs: to,
  }
}

function settingsOf(loaded: LoadedDesign, name: string) {
  const output = loaded.design.signal.tracks[name]
  if (!output) throw new InputError(`the design has no output ${name}`)
  const profile = profileOfDesign(loaded, output.cutout)
  const { min } = senderLimits(profile.clauses.preamble, output.mode)
  const reader = {
    mode: output.mode,
    cutout: output.cutout,
    ...(min === undefined ? {} : { preambleMin: min }),
  }
  return { output, profile, reader }
}

/** Cycles between looks at the clock: about 20 ms of work. */
const SLICE_CYCLES = 1_600_000

async function simulate(
  { firmware, name, stimulus, text, forUs }: BenchCalls['simulate']['takes'],
  { progress, cancelled }: Tools,
): Promise<BenchCalls['simulate']['gives']> {
  const loaded = loadDesign(text)
  const { controller, signal, firmware: planned } = loaded.design
  if (!Object.hasOwn(AVR_MODELS, controller.chip))
    throw new InputError(`${controller.chip} cannot be simulated, only ${Object.keys(AVR_MODELS).join(', ')}`)
  try {
    const image = loadFirmware(firmware, name)
    const clockHz = controller.clock.frequency
    const machine = new SimulatedController(controller.chip as SimulatedChip, clockHz, image, {
      stimulus: stimulus === undefined ? undefined : parseStimulus(stimulus.text, stimulus.name),
    })
    const recorded: RecordedOutput[] = []
    const outputs = Object.keys(signal.tracks).map((output) => {
      const settings = settingsOf(loaded, output)
      const kept = new KeptRecord(settings.output.mode)
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
        outputs: outputs.map(({ output, live, packets }) => ({
          name: output,
          packets: packets(),
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
      inputs: [{ role: 'firmware', file: name }],
      notes: [],
      kind: 'run',
      of: shownFor(loaded.design, 'run'),
    }
    if (stimulus) shown.inputs.push({ role: 'stimulus', file: stimulus.name })
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
      return { output, reading, record: kept.record(reading.findings), leftOut: kept.leftOut }
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
  async simulate(takes, tools) {
    const gives = await simulate(takes, tools)
    return { gives, transfer: transfers(gives.reads) }
  },
})

function transfers(reads: readonly ReadSignal[]): Transferable[] {
  return reads.flatMap(({ record: r }) => [
    r.timesUs.buffer,
    r.levels.buffer,
    r.packetStartUs.buffer,
    r.packetEndUs.buffer,
    r.packetValid.buffer,
  ]) as Transferable[]
}
