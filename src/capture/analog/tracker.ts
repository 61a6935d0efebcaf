/**
 * Analog samples → edges, and what the shape of the signal says.
 *
 * Samples are held until both plateaus are seen (a quiet start of any length goes by). The level changes when the
 * signal has gone well beyond zero, or has stayed beyond it for a while: a half-bit that is far too low is still one.
 * The edge is where it crossed zero, interpolated between two samples. The plateaus are followed slowly, so a supply
 * that sags is still read.
 */
import { GAP, HIGH, LOW, OFF } from '../../signal/edges.js'
import { CrossingMeter } from './crossing.js'
import { medianStep, NOISE_REACH, readHead, referenceOf, thresholds } from './head.js'
import { PlateauMeter, SHORTEST_US } from './plateau.js'
import type { AnalogReading, Reference } from './reading.js'
import { SLOPE_VOLT, SlopeMeter } from './slope.js'

/** A differential signal this long near zero is off: the slowest edge decoders must read is through in 4 us. */
const OFF_US = 15
/** A signal this long on the other side has changed its level, however low it is: no edge takes so long. */
const WEAK_US = 8
/** Samples held at most. */
const HELD = 1 << 20
const FIRST_LOOK = 1 << 14
/** Changes of side that show a signal. */
const ENOUGH = 16
/** Weight of a new plateau in the running mean. */
const FOLLOW = 1 / 32

export interface AnalogStart {
  /** Spacing of the samples in the head, ticks. */
  sampleTicks: number
  /** Uncertainty of an interpolated crossing as a share of the spacing. */
  share: number
  /** What noise adds to it, ticks. */
  jitterTicks: number
  /** How the share is known. */
  says: string
  /** The record holds the voltage between both rails, so that no voltage is seen as such. */
  isBetweenRails: boolean
}

export interface AnalogEvents {
  /** Once, before the first change. */
  begin(start: AnalogStart): void
  change(tick: number, level: number): void
}

export interface AnalogSettings {
  /** Smallest difference of the plateaus that is a signal, in the unit of the samples; default 0.5. */
  leastSwing?: number | undefined
  /** Edges are timed where the signal crosses this, V; zero or the middle of the plateaus when absent. */
  thresholdVolt?: number | undefined
  /** How far beyond the threshold the level changes, V, > 0; two fifths of each plateau when absent. */
  hysteresisVolt?: number | undefined
  /** The samples are the difference of two channels. */
  subtracted?: boolean | undefined
  /** Only changes are recorded: a value stands until the next one, and a long pause is no gap. */
  changesOnly?: boolean | undefined
  /** Which voltage is zero; found when absent. */
  reference?: Reference | undefined
  /** Told every sample within the window. */
  onSample?: ((tick: number, volt: number) => void) | undefined
}

export class AnalogTracker {
  /** A sample beyond the window was seen. */
  past = false
  readonly #events: AnalogEvents
  readonly #tickUs: number
  readonly #settings: AnalogSettings
  readonly #onSample: ((tick: number, volt: number) => void) | undefined
  #from = Number.NEGATIVE_INFINITY
  #to = Number.POSITIVE_INFINITY
  #begun = false

  #heldTicks = new Float64Array(FIRST_LOOK)
  #heldVolts = new Float64Array(FIRST_LOOK)
  #held = 0
  #nextLook = FIRST_LOOK

  #high = 0
  #low = 0
  #middle = 0
  #up = 0
  #down = 0
  #weakUp = 0
  #weakDown = 0
  #reference: Reference = 'zero'
  #stepVolt = 0
  #noiseVolt = 0
  #gapTicks = Number.POSITIVE_INFINITY
  readonly #offTicks: number
  readonly #weakTicks: number

  #samples = 0
  #firstTick = 0
  #lastTick = 0
  #lastVolt = 0
  #squares = 0
  #driven = 0
  #max = Number.NEGATIVE_INFINITY
  #min = Number.POSITIVE_INFINITY
  #maxAt = 0
  #minAt = 0

  /** The last plateau: HIGH, LOW, or OFF; and what the sink was told last. */
  #level: number = OFF
  #told = -1
  #isUnknown = false
  /** When the signal came near zero; NaN away from it. */
  #bandSince = Number.NaN
  /** Since when the signal has been on the other side, without having gone far; NaN when it is not. */
  #weakSince = Number.NaN
  /** Last crossing of the middle since the plateau; NaN when there was none. */
  #crossed = Number.NaN

  readonly #plateaus: PlateauMeter
  #slopes: SlopeMeter
  #crossings: CrossingMeter

  constructor(tickUs: number, events: AnalogEvents, settings: AnalogSettings = {}) {
    this.#tickUs = tickUs
    this.#events = events
    this.#settings = settings
    this.#onSample = settings.onSample
    this.#offTicks = OFF_US / tickUs
    this.#weakTicks = WEAK_US / tickUs
    this.#plateaus = new PlateauMeter(tickUs)
    this.#slopes = new SlopeMeter(tickUs, 0, 0)
    this.#crossings = new CrossingMeter(tickUs, 0, 0)
  }

  /** Samples outside are not looked at. */
  setWindow(from: number, to: number): void {
    this.#from = from
    this.#to = to
  }

  /** @param tick time, not falling; @param volt NaN where the voltage is not known from here on. */
  add(tick: number, volt: number): void {
    if (tick < this.#from) return
    if (tick > this.#to) {
      this.past = true
      return
    }
    if (!Number.isNaN(volt)) this.#onSample?.(tick, volt)
    if (this.#begun) this.#sample(tick, volt)
    else this.#hold(tick, volt)
  }

  #hold(tick: number, volt: number): void {
    if (this.#held === this.#heldTicks.length) {
      if (this.#held === HELD) this.#letGo(HELD / 2)
      else {
        this.#heldTicks = grown(this.#heldTicks)
        this.#heldVolts = grown(this.#heldVolts)
      }
    }
    this.#heldTicks[this.#held] = tick
    this.#heldVolts[this.#held] = volt
    this.#held++
    if (this.#held < this.#nextLook) return
    this.#look(ENOUGH)
    this.#nextLook = Math.min(this.#nextLook * 2, HELD)
  }

  /** The oldest held samples show no signal. */
  #letGo(count: number): void {
    if (this.#samples === 0) this.#firstTick = this.#heldTicks[0]!
    this.#samples += count
    this.#heldTicks.copyWithin(0, count)
    this.#heldVolts.copyWithin(0, count)
    this.#held -= count
  }

  /** Begin if the held samples show a signal that changes sides often enough. */
  #look(enough: number): void {
    const ticks = this.#heldTicks.subarray(0, this.#held)
    const volts = this.#heldVolts.subarray(0, this.#held)
    const { leastSwing = 0.5, subtracted = false, reference } = this.#settings
    const known = volts.some(Number.isNaN) ? (_: number, i: number) => !Number.isNaN(volts[i]!) : undefined
    const head = readHead(known ? ticks.filter(known) : ticks, known ? volts.filter(known) : volts, {
      leastSwing,
      enough,
      shortest: SHORTEST_US / this.#tickUs,
    })
    if (head === undefined) return
    const { low, high, sampleTicks, noiseVolt, stepVolt } = head
    this.#stepVolt = stepVolt
    this.#noiseVolt = noiseVolt
    this.#reference = reference ?? referenceOf(low, high, subtracted)
    this.#setLevels(low, high)
    const centre = this.#centre
    // A sample that lies farther off is no noise.
    const guard = NOISE_REACH * noiseVolt + stepVolt
    const nearer = Math.min(high - centre, centre - low) - SLOPE_VOLT
    this.#slopes = new SlopeMeter(this.#tickUs, centre, Math.min(guard, Math.max(0, nearer / 2)))
    this.#crossings = new CrossingMeter(this.#tickUs, centre, guard)
    // A pause of many samples is a gap in the record.
    if (!this.#settings.changesOnly)
      this.#gapTicks = Math.max(8 * sampleTicks, SHORTEST_US / 2 / this.#tickUs)
    const { share, says, jitterTicks } = head
    this.#begun = true
    const isBetweenRails = this.#reference === 'zero'
    this.#events.begin({ sampleTicks, share, says, jitterTicks, isBetweenRails })
    this.#held = 0
    for (let i = 0; i < ticks.length; i++) this.#sample(ticks[i]!, volts[i]!)
    this.#heldTicks = new Float64Array(0)
    this.#heldVolts = new Float64Array(0)
  }

  /** Zero, for the shape of the signal: whatever the threshold is. */
  get #centre(): number {
    return this.#reference === 'zero' ? 0 : (this.#high + this.#low) / 2
  }

  #setLevels(low: number, high: number): void {
    this.#high = high
    this.#low = low
    const { thresholdVolt: threshold, hysteresisVolt: hysteresis } = this.#settings
    const at = thresholds({ low, high, noise: this.#noiseVolt }, this.#centre, { threshold, hysteresis })
    this.#middle = at.middle
    this.#up = at.up
    this.#down = at.down
    this.#weakUp = at.weakUp
    this.#weakDown = at.weakDown
  }

  #sample(tick: number, volt: number): void {
    if (Number.isNaN(volt)) {
      if (this.#samples > 0 && !this.#isUnknown) this.#leave(tick, GAP)
      this.#isUnknown = true
      return
    }
    const before = this.#lastVolt
    const beforeTick = this.#lastTick
    this.#lastVolt = volt
    this.#lastTick = tick
    if (volt > this.#max) {
      this.#max = volt
      this.#maxAt = tick
    }
    if (volt < this.#min) {
      this.#min = volt
      this.#minAt = tick
    }
    const first = this.#samples === 0
    if (first) this.#firstTick = tick
    this.#samples++
    const isAfterGap = tick - beforeTick > this.#gapTicks
    if (first || isAfterGap || this.#isUnknown) {
      if (!first && !this.#isUnknown) this.#leave(beforeTick, GAP)
      this.#isUnknown = false
      if (volt >= this.#up || volt <= this.#down) this.#arrive(tick, volt, tick, volt)
      return
    }
    this.#slopes.add(beforeTick, before, tick, volt)
    this.#crossings.add(tick, volt)
    if (this.#level !== OFF) {
      this.#squares += volt * volt
      this.#driven++
      this.#plateaus.add(tick, volt)
    }
    const middle = this.#middle
    if (before < middle !== volt < middle)
      this.#crossed = beforeTick + ((middle - before) / (volt - before)) * (tick - beforeTick)
    if (volt >= this.#up || volt <= this.#down) this.#arrive(beforeTick, before, tick, volt)
    else this.#between(beforeTick, before, tick, volt)
  }

  /** Not far beyond zero: on the way, off, or on a plateau that is far too low. */
  #between(beforeTick: number, before: number, tick: number, volt: number): void {
    const isNear = volt < this.#weakUp && volt > this.#weakDown
    if (isNear) {
      this.#weakSince = Number.NaN
      if (this.#level === OFF || this.#reference !== 'zero') return
      if (Number.isNaN(this.#bandSince)) {
        const border =
          before >= this.#weakUp ? this.#weakUp : before <= this.#weakDown ? this.#weakDown : Number.NaN
        this.#bandSince =
          Number.isNaN(border) || before === volt
            ? tick
            : beforeTick + ((border - before) / (volt - before)) * (tick - beforeTick)
      }
      if (tick - this.#bandSince > this.#offTicks) this.#leave(this.#bandSince, OFF)
      return
    }
    this.#bandSince = Number.NaN
    const side = volt > this.#middle ? HIGH : LOW
    if (side === this.#level) {
      this.#weakSince = Number.NaN
      return
    }
    if (Number.isNaN(this.#weakSince) || before > this.#middle !== volt > this.#middle)
      this.#weakSince = beforeTick
    if (tick - this.#weakSince >= this.#weakTicks) this.#turn(side, this.#weakSince)
  }

  /** Beyond the thresholds: on a plateau, the old one or the other. */
  #arrive(beforeTick: number, before: number, tick: number, volt: number): void {
    const level = volt >= this.#up ? HIGH : LOW
    if (level !== this.#level) {
      const edge = level === HIGH ? this.#up : this.#down
      const isInside = before > this.#down && before < this.#up && tick > beforeTick
      this.#turn(
        level,
        isInside ? beforeTick + ((edge - before) / (volt - before)) * (tick - beforeTick) : tick,
      )
    }
    this.#bandSince = Number.NaN
    this.#weakSince = Number.NaN
    this.#crossed = Number.NaN
  }

  /** @param appeared when the signal came, where it was off before. */
  #turn(level: number, appeared: number): void {
    // The last crossing is where the signal stayed on the new side.
    const isCrossing = this.#level !== OFF && !Number.isNaN(this.#crossed)
    const at = isCrossing ? this.#crossed : appeared
    if (isCrossing) this.#endHalf(at)
    this.#level = level
    this.#plateaus.begin(at, level, isCrossing)
    this.#crossed = Number.NaN
    this.#tell(at, level)
  }

  /** Off, or not recorded, from `tick` on. */
  #leave(tick: number, level: typeof OFF | typeof GAP): void {
    // What follows the beginning of a record without a signal is no change either.
    if (this.#level !== OFF || level === GAP) this.#tell(tick, level)
    this.#level = OFF
    this.#bandSince = Number.NaN
    this.#weakSince = Number.NaN
    this.#crossed = Number.NaN
    this.#slopes.reset()
    this.#crossings.reset()
  }

  #tell(tick: number, level: number): void {
    if (level === this.#told) return
    this.#told = level
    this.#events.change(tick, level)
  }

  #endHalf(tick: number): void {
    const level = this.#level
    const mean = this.#plateaus.end(tick)
    if (mean === undefined) return
    if (level === HIGH) this.#setLevels(this.#low, this.#high + (mean - this.#high) * FOLLOW)
    else this.#setLevels(this.#low + (mean - this.#low) * FOLLOW, this.#high)
  }

  /** End of the record. Begins, if it has not, with whatever signal the held samples show. */
  finish(): AnalogReading {
    if (!this.#begun) this.#look(1)
    if (!this.#begun) {
      const n = this.#held
      this.#events.begin({
        sampleTicks: medianStep(this.#heldTicks, n),
        share: 1,
        jitterTicks: 0,
        says: 'spacing of the samples',
        isBetweenRails: false,
      })
      if (n > 0) this.#letGo(n)
    }
    const n = this.#samples
    const us = (tick: number) => tick * this.#tickUs
    const { sums, counts, weakest, weakestAt, weakestSamples, noiseVolt, deviationVolt } = this.#plateaus
    const mean = (level: number, otherwise: number) =>
      counts[level]! > 0 ? sums[level]! / counts[level]! : otherwise
    const seen = this.#begun
    const slope = this.#slopes.reading()
    return {
      samples: n,
      sampleUs: n > 1 && seen ? us(this.#lastTick - this.#firstTick) / (n - 1) : 0,
      stepVolt: this.#stepVolt,
      noiseVolt: noiseVolt ?? this.#noiseVolt,
      highVolt: mean(HIGH, this.#high),
      lowVolt: mean(LOW, this.#low),
      plateaus: counts[HIGH]! + counts[LOW]!,
      plateauDeviationVolt: deviationVolt,
      middleVolt: this.#middle,
      upVolt: this.#up,
      downVolt: this.#down,
      maxVolt: seen ? this.#max : 0,
      minVolt: seen ? this.#min : 0,
      peakAtUs: us(this.#max > -this.#min ? this.#maxAt : this.#minAt),
      rmsVolt: this.#driven > 0 ? Math.sqrt(this.#squares / this.#driven) : 0,
      weakestVolt: Number.isFinite(weakest) ? weakest : 0,
      weakestSamples,
      weakestAtUs: us(weakestAt),
      bipolar: seen && this.#reference === 'zero',
      subtracted: this.#settings.subtracted === true,
      reference: this.#reference,
      crossing: this.#crossings.reading(),
      ...(slope ? { slope } : {}),
    }
  }
}

function grown(list: Float64Array<ArrayBuffer>): Float64Array<ArrayBuffer> {
  const longer = new Float64Array(list.length * 2)
  longer.set(list)
  return longer
}
