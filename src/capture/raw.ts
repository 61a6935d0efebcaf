/** Raw sample dumps: one sample after another, nothing else. */
import { HIGH, LOW } from '../signal/edges.js'
import { InputError } from '../units/index.js'
import { AnalogTracker } from './analog/index.js'
import { EdgeBatch } from './batch.js'
import {
  analogSettings,
  type CaptureOptions,
  type CaptureSink,
  type CaptureSummary,
  CURRENT_IN_CSV,
  type Importer,
  openWindow,
} from './importer.js'

/** Bits that a raw sample may have. */
export const RAW_BITS: readonly number[] = [1, 2, 4, 8, 16]

export class RawImporter implements Importer {
  done = false
  readonly #options: CaptureOptions
  readonly #batch: EdgeBatch
  readonly #tickUs: number
  readonly #bits: number
  /** Bit of each sample that is the channel; -1 for analog samples. */
  readonly #bit: number
  readonly #tracker: AnalogTracker | undefined
  #resolutionUs: number
  #resolutionFrom = 'sampling rate'
  readonly available: readonly string[]
  readonly #firstSample: number
  /** The count that stands for 0 V, and the volts of a count at the rails. */
  readonly #zero: number
  readonly #volts: number
  /** Number of the next sample. */
  #samples: number
  /** Lowest and highest count of analog samples. */
  #low = Number.POSITIVE_INFINITY
  #high = Number.NEGATIVE_INFINITY
  #odd = -1

  /** @throws InputError when rate, bits or channel are missing or impossible. */
  constructor(options: CaptureOptions, sink: CaptureSink) {
    this.#options = options
    const { rateHz, bits = 1 } = options
    if (rateHz === undefined)
      throw new InputError('raw samples carry no times; state the sampling rate, such as --rate "4 MHz"')
    if (!RAW_BITS.includes(bits))
      throw new InputError(`--bits ${bits}; expected one of ${RAW_BITS.join(', ')}`)
    this.#bits = bits
    this.#zero = options.zeroCount ?? 0
    this.#volts = (options.stepVolt ?? 1) * (options.probeFactor ?? 1)
    this.#firstSample = options.firstSample ?? 0
    this.#samples = this.#firstSample
    this.#tickUs = 1e6 / rateHz
    if (options.current) throw new InputError(CURRENT_IN_CSV)
    const [wanted] = options.channel ?? []
    if ((options.channel?.length ?? 0) > 1)
      throw new InputError('two channels of raw samples cannot be subtracted; expected one bit')
    if (wanted !== undefined && !(/^\d{1,2}$/.test(wanted) && Number(wanted) < bits)) {
      throw new InputError(`channel ${JSON.stringify(wanted)}; expected a bit from 0 to ${bits - 1}`)
    }
    const isAnalog = wanted === undefined && bits >= 8 && options.as !== 'digital'
    this.#bit = isAnalog ? -1 : Number(wanted ?? 0)
    this.available = this.#bit < 0 ? ['samples'] : Array.from({ length: bits }, (_, i) => `bit ${i}`)
    this.#batch = new EdgeBatch(sink, options)
    const [from, to] = openWindow(options, 0, this.#tickUs)
    this.#batch.setWindow(from, to)
    this.#resolutionUs = this.#tickUs
    if (this.#bit >= 0) {
      sink.begin({ tickUs: this.#tickUs, resolutionUs: this.#resolutionUs, shows: 'one level' })
      return
    }
    this.#tracker = new AnalogTracker(
      this.#tickUs,
      {
        begin: (start) => {
          this.#resolutionUs = this.#tickUs * (start.share + start.jitterTicks)
          this.#resolutionFrom = start.says
          const shows = start.isBetweenRails ? 'rails' : 'one level'
          sink.begin({ tickUs: this.#tickUs, resolutionUs: this.#resolutionUs, shows })
        },
        change: (tick, level) => this.#batch.change(tick, level),
      },
      {
        ...analogSettings(options, sink, false),
        // Counts of unknown size: noise of a few is no signal.
        leastSwing: options.stepVolt === undefined ? 8 : 0.5,
      },
    )
    this.#tracker.setWindow(from, to)
  }

  get reachedUs(): number {
    return (this.#samples - 1) * this.#tickUs
  }

  /** Raw samples have no head to say it. */
  readonly madeBy = undefined

  get isAnalog(): boolean {
    return this.#tracker !== undefined
  }

  push(chunk: Uint8Array): void {
    if (this.done) return
    if (this.#bits === 16) this.#words(chunk)
    else if (this.#bits === 8) {
      for (let i = 0; i < chunk.length; i++) this.#sample(chunk[i]!)
    } else {
      const bits = this.#bits
      const mask = (1 << bits) - 1
      // The bits of a byte that are the channel.
      let wanted = 0
      for (let k = 0; k < 8; k += bits) wanted |= 1 << (k + this.#bit)
      for (let i = 0; i < chunk.length; i++) {
        const byte = chunk[i]!
        // Nothing but the level that is: gigabytes of an idle line take no time.
        if (
          this.#samples > this.#firstSample &&
          (byte & wanted) === (this.#batch.level === HIGH ? wanted : 0)
        ) {
          this.#samples += 8 / bits
          continue
        }
        // The first sample is in the lowest bits, or in the highest when said so.
        for (let k = 0; k < 8; k += bits)
          this.#sample((byte >> (this.#options.bigEndian ? 8 - bits - k : k)) & mask)
      }
    }
    if (this.#batch.past || this.#tracker?.past) this.done = true
  }

  #words(chunk: Uint8Array): void {
    const { bigEndian = false, signed = false } = this.#options
    let i = 0
    const word = (a: number, b: number) => {
      const value = bigEndian ? (a << 8) | b : (b << 8) | a
      this.#sample(signed && value > 32_767 ? value - 65_536 : value)
    }
    if (this.#odd >= 0 && chunk.length > 0) {
      word(this.#odd, chunk[i++]!)
      this.#odd = -1
    }
    for (; i + 1 < chunk.length; i += 2) word(chunk[i]!, chunk[i + 1]!)
    if (i < chunk.length) this.#odd = chunk[i]!
  }

  #sample(value: number): void {
    const tick = this.#samples++
    if (this.#tracker) {
      const signed = this.#bits === 8 && this.#options.signed && value > 127 ? value - 256 : value
      if (signed < this.#low) this.#low = signed
      if (signed > this.#high) this.#high = signed
      this.#tracker.add(tick, (signed - this.#zero) * this.#volts)
    } else {
      const level = (value >> this.#bit) & 1 ? HIGH : LOW
      if (level !== this.#batch.level) this.#batch.change(tick, level)
    }
  }

  end(): CaptureSummary {
    if (this.#samples === this.#firstSample) throw new InputError('the file is empty; expected samples')
    const analog = this.#tracker?.finish()
    this.#batch.flush()
    // A byte of a logic analyzer has a channel in each bit: read as a number it is no signal, or that of all of them.
    if (analog && this.#batch.total < 2)
      throw new InputError(
        `the samples, read as analog counts, lie between ${this.#low} and ${this.#high} and show no signal; if their bits are logic channels, name one, such as --channel 0`,
      )
    const summary: CaptureSummary = {
      format: 'raw',
      dialect: `raw samples of ${this.#bits} bits`,
      isAnalog: this.isAnalog,
      channels: [this.#bit < 0 ? 'samples' : `bit ${this.#bit}`],
      available: [...this.available],
      clock: { tickUs: this.#tickUs, resolutionUs: this.#resolutionUs },
      resolutionFrom: this.#resolutionFrom,
      startUs: this.#firstSample * this.#tickUs,
      endUs: (this.#samples - 1) * this.#tickUs,
      edges: this.#batch.total,
      notes: this.#odd >= 0 ? ['half a sample at the end was left out'] : [],
    }
    // Without the volts of a count the amplitudes mean nothing.
    if (analog && this.#options.stepVolt !== undefined) summary.analog = analog
    return summary
  }
}
