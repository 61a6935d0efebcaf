/**
 * Analog samples → edges, and what the shape of the signal says: slope, distortion, amplitude.
 *
 * Samples are held until both plateaus are seen (a quiet start of any length goes by). The level changes when the
 * signal has gone a fifth of the swing beyond the middle; the edge is where it crossed the middle, interpolated
 * between two samples. The plateaus are followed slowly, so a supply that sags is still read.
 */
import { HIGH, LOW, OFF } from '../signal/edges.js'

/** Region over which the slope is judged: -4 to +4 V (S-9.1:2020 Table 2). */
const SLOPE_VOLT = 4
/** Share of the swing beyond the middle at which the level has changed. */
const HYSTERESIS = 0.2
/** A differential signal this long near zero is off: the slowest edge decoders must read is through in 4 us. */
const OFF_US = 15
/** A plateau shorter than this is no half-bit, us. */
const PLATEAU_US = 20
/** Samples held at most. */
const HELD = 1 << 20
const FIRST_LOOK = 1 << 14
/** Samples that the plateaus are estimated from. */
const LOOKED_AT = 1 << 14
/** Changes of side that show a signal. */
const ENOUGH = 16
/** Weight of a new plateau in the running mean. */
const FOLLOW = 1 / 32

/** Slope of the passages through the judged region, V/us. */
export interface SlopeReading {
  /** Passages with at least two samples inside the region: their slope is measured. */
  edges: number
  slowest: number
  slowestAtUs: number
  mean: number
  /** Passages with fewer samples inside: only a lower bound of their slope is known. */
  coarse: number
  /** The lowest of those bounds; Infinity when there are none. */
  coarseBound: number
  coarseAtUs: number
}

export interface AnalogReading {
  samples: number
  /** Spacing of the samples, us. */
  sampleUs: number
  /** Smallest step between two values, V. */
  stepVolt: number
  /** Plateaus, in the mean, and the level at which edges are timed: stated, or the middle between the plateaus, V. */
  highVolt: number
  lowVolt: number
  middleVolt: number
  /** The level changes when the signal has gone beyond these, V; as they were at the end of the record. */
  upVolt: number
  downVolt: number
  /** Extremes of all samples while there was a signal, V, and when. */
  maxVolt: number
  minVolt: number
  peakAtUs: number
  /** Over the time that the signal was not off, V. */
  rmsVolt: number
  /** The least peak of any half-bit, V from zero, and when. */
  weakestPeakVolt: number
  weakestAtUs: number
  /** The signal has both polarities: a differential record, or two rails subtracted. */
  bipolar: boolean
  /** Absent when the swing does not reach over the judged region. */
  slope?: SlopeReading
  /** Farthest that the signal went back beyond the middle around a crossing, V. */
  distortion: { edges: number; worstVolt: number; worstAtUs: number }
}

export interface AnalogStart {
  /** Spacing of the samples in the head, ticks. */
  sampleTicks: number
  /** Uncertainty of an interpolated crossing as a share of the spacing. */
  share: number
  /** How the share is known. */
  says: string
}

export interface AnalogEvents {
  /** Once, before the first change. */
  begin(start: AnalogStart): void
  change(tick: number, level: number): void
}

export interface AnalogSettings {
  /** Smallest difference of the plateaus that is a signal, in the unit of the samples; default 0.5. */
  leastSwing?: number | undefined
  /** Edges are timed where the signal crosses this, V; found from the plateaus when absent. */
  thresholdVolt?: number | undefined
  /** How far beyond the threshold the level changes, V, > 0; a fifth of the swing when absent. */
  hysteresisVolt?: number | undefined
  /** Told every sample within the window. */
  onSample?: ((tick: number, volt: number) => void) | undefined
}

export class AnalogTracker {
  /** A sample beyond the window was seen. */
  past = false
  readonly #events: AnalogEvents
  readonly #tickUs: number
  readonly #leastSwing: number
  readonly #threshold: number | undefined
  readonly #hysteresis: number | undefined
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
  /** The middle of the region over which the slope is judged: zero, whatever the threshold. */
  #centre = 0
  #up = 0
  #down = 0
  #bipolar = false
  #stepVolt = 0
  #gapTicks = Number.POSITIVE_INFINITY
  readonly #offTicks: number

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

  /** The last plateau: HIGH, LOW, or OFF. */
  #level: number = OFF
  /** When the signal entered the band around the middle; NaN outside it. */
  #bandSince = Number.NaN
  /** Last crossing of the middle since the plateau; NaN when there was none. */
  #crossed = Number.NaN
  #firstCrossed = Number.NaN
  /** Farthest back to the old side after the first crossing, and farthest over without arriving, V. */
  #back = 0
  #over = 0

  // The half-bit that is going on.
  #halfSince = Number.NaN
  #beyondSum = 0
  #beyondCount = 0
  #plateauSum = 0
  #plateauCount = 0
  #peak = 0
  #weakest = Number.POSITIVE_INFINITY
  #weakestAt = 0
  readonly #plateauMean = [0, 0]
  readonly #plateaus = [0, 0]

  // The passage through the judged region.
  #leftAt = Number.NaN
  #leftSample = 0
  #falling = false
  #inside = 0
  #slopes = 0
  #slopeSum = 0
  #slowest = Number.POSITIVE_INFINITY
  #slowestAt = 0
  #coarse = 0
  #coarseBound = Number.POSITIVE_INFINITY
  #coarseAt = 0

  #edges = 0
  #worst = 0
  #worstAt = 0

  constructor(tickUs: number, events: AnalogEvents, settings: AnalogSettings = {}) {
    this.#tickUs = tickUs
    this.#events = events
    this.#leastSwing = settings.leastSwing ?? 0.5
    this.#threshold = settings.thresholdVolt
    this.#hysteresis = settings.hysteresisVolt
    this.#onSample = settings.onSample
    this.#offTicks = OFF_US / tickUs
  }

  /** Samples outside are not looked at. */
  setWindow(from: number, to: number): void {
    this.#from = from
    this.#to = to
  }

  /** @param tick time, not falling; @param volt finite. */
  add(tick: number, volt: number): void {
    if (tick < this.#from) return
    if (tick > this.#to) {
      this.past = true
      return
    }
    this.#onSample?.(tick, volt)
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
    const n = this.#held
    const volts = this.#heldVolts.subarray(0, n)
    const stride = Math.max(1, Math.floor(n / LOOKED_AT))
    const sorted = volts.filter((_, i) => i % stride === 0).sort()
    if (sorted.length === 0) return
    const lowest = sorted[Math.floor(sorted.length * 0.005)]!
    const highest = sorted[Math.ceil(sorted.length * 0.995) - 1]!
    const range = highest - lowest
    if (!(range >= this.#leastSwing)) return
    const middle = (highest + lowest) / 2
    const up = middle + range / 4
    const down = middle - range / 4
    let changes = 0
    let side = 0
    for (let i = 0; i < n; i++) {
      const v = volts[i]!
      const now = v > up ? 1 : v < down ? -1 : side
      if (now !== side && side !== 0) changes++
      side = now
    }
    const spanUs = (this.#heldTicks[n - 1]! - this.#heldTicks[0]!) * this.#tickUs
    // Noise changes sides more often than a track signal can.
    if (changes < enough || spanUs < changes * PLATEAU_US) return
    const highs = sorted.filter((v) => v > up)
    const lows = sorted.filter((v) => v < down)
    // Few values only, as in a computed record, do not tell the step of a converter.
    this.#stepVolt = Math.min(smallestStep(sorted), range / 100)
    this.#setLevels(lows[lows.length >> 1]!, highs[highs.length >> 1]!)
    this.#start()
  }

  #setLevels(low: number, high: number): void {
    this.#high = high
    this.#low = low
    const swing = high - low
    const centre = (high + low) / 2
    // A track signal is symmetric about zero; a probe on one rail or a logic pin is not.
    this.#bipolar = Math.abs(centre) < swing / 10
    this.#centre = this.#bipolar ? 0 : centre
    this.#middle = this.#threshold ?? this.#centre
    const beyond = this.#hysteresis ?? swing * HYSTERESIS
    this.#up = this.#middle + beyond
    this.#down = this.#middle - beyond
  }

  #start(): void {
    const n = this.#held
    const ticks = this.#heldTicks
    const volts = this.#heldVolts
    const sampleTicks = medianStep(ticks, n)
    // A pause of many samples is a gap in the record.
    this.#gapTicks = Math.max(8 * sampleTicks, PLATEAU_US / 2 / this.#tickUs)
    const inside = insideOf(volts, n, this.#low, this.#high)
    const share = inside >= 2 ? 0.1 : inside >= 1 ? 0.5 : 1
    this.#begun = true
    this.#events.begin({
      sampleTicks,
      share,
      says: [
        'spacing of the samples: edges are faster, no sample lies inside them',
        'half the spacing of the samples, one of which lies inside an edge',
        'a tenth of the spacing of the samples, by interpolation between those inside an edge',
      ][Math.min(inside, 2)]!,
    })
    this.#held = 0
    for (let i = 0; i < n; i++) this.#sample(ticks[i]!, volts[i]!)
    this.#heldTicks = new Float64Array(0)
    this.#heldVolts = new Float64Array(0)
  }

  #sample(tick: number, volt: number): void {
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
    if (this.#level !== OFF) {
      this.#squares += volt * volt
      this.#driven++
    }
    if (first || tick - beforeTick > this.#gapTicks) {
      if (!first) this.#leave(beforeTick)
      this.#arrive(tick, volt, tick, volt)
      return
    }
    this.#slope(beforeTick, before, tick, volt)
    const middle = this.#middle
    if (before < middle !== volt < middle) {
      this.#crossed = beforeTick + ((middle - before) / (volt - before)) * (tick - beforeTick)
      if (Number.isNaN(this.#firstCrossed)) this.#firstCrossed = this.#crossed
    }
    if (volt < this.#up && volt > this.#down) this.#inBand(beforeTick, before, tick, volt)
    else this.#arrive(beforeTick, before, tick, volt)
  }

  #inBand(beforeTick: number, before: number, tick: number, volt: number): void {
    if (this.#level === OFF) return
    if (Number.isNaN(this.#bandSince)) {
      const edge = before >= this.#up ? this.#up : this.#down
      this.#bandSince =
        before === volt ? tick : beforeTick + ((edge - before) / (volt - before)) * (tick - beforeTick)
    }
    if (!Number.isNaN(this.#firstCrossed)) {
      const old = this.#level === HIGH ? volt - this.#middle : this.#middle - volt
      if (old > this.#back) this.#back = old
      if (-old > this.#over) this.#over = -old
    }
    if (this.#bipolar && tick - this.#bandSince > this.#offTicks) this.#leave(this.#bandSince)
  }

  /** Beyond the band: on a plateau, the old one or the other. */
  #arrive(beforeTick: number, before: number, tick: number, volt: number): void {
    const level = volt >= this.#up ? HIGH : volt <= this.#down ? LOW : OFF
    if (level === OFF) return
    if (this.#level === OFF) {
      const edge = level === HIGH ? this.#up : this.#down
      const inside = before > this.#down && before < this.#up && tick > beforeTick
      this.#change(
        inside ? beforeTick + ((edge - before) / (volt - before)) * (tick - beforeTick) : tick,
        level,
      )
      this.#halfSince = Number.NaN
    } else if (level !== this.#level) {
      // The last crossing is where the signal stayed on the new side.
      const crossed = this.#crossed
      this.#endHalf(crossed)
      this.#edges++
      if (this.#crossed !== this.#firstCrossed) this.#distorted(this.#back, crossed)
      this.#change(crossed, level)
      this.#halfSince = crossed
    } else if (!Number.isNaN(this.#firstCrossed)) {
      // Back on the old plateau without having arrived at the other: a dip, no edge.
      this.#distorted(this.#over, this.#firstCrossed)
    }
    this.#bandSince = Number.NaN
    this.#crossed = Number.NaN
    this.#firstCrossed = Number.NaN
    this.#back = 0
    this.#over = 0
    const size = Math.abs(volt)
    if (size > this.#peak) this.#peak = size
    this.#beyondSum += volt
    this.#beyondCount++
    // Samples on the way do not belong to the plateau.
    if (Math.abs(volt - (level === HIGH ? this.#high : this.#low)) > (this.#high - this.#low) / 20) return
    this.#plateauSum += volt
    this.#plateauCount++
  }

  /** Off from `tick` on. */
  #leave(tick: number): void {
    if (this.#level !== OFF) {
      if (!Number.isNaN(this.#halfSince)) this.#endHalf(tick)
      this.#change(tick, OFF)
    }
    this.#bandSince = Number.NaN
    this.#crossed = Number.NaN
    this.#firstCrossed = Number.NaN
    this.#leftAt = Number.NaN
    this.#halfSince = Number.NaN
    this.#back = 0
    this.#over = 0
  }

  #change(tick: number, level: number): void {
    this.#level = level
    this.#peak = 0
    this.#beyondSum = 0
    this.#beyondCount = 0
    this.#plateauSum = 0
    this.#plateauCount = 0
    this.#events.change(tick, level)
  }

  #endHalf(tick: number): void {
    const since = this.#halfSince
    if (Number.isNaN(since) || (tick - since) * this.#tickUs < PLATEAU_US || this.#beyondCount === 0) return
    if (this.#peak < this.#weakest) {
      this.#weakest = this.#peak
      this.#weakestAt = since
    }
    const level = this.#level
    const mean =
      this.#plateauCount > 0 ? this.#plateauSum / this.#plateauCount : this.#beyondSum / this.#beyondCount
    this.#plateauMean[level]! += mean
    this.#plateaus[level]!++
    if (level === HIGH) this.#setLevels(this.#low, this.#high + (mean - this.#high) * FOLLOW)
    else this.#setLevels(this.#low + (mean - this.#low) * FOLLOW, this.#high)
  }

  #distorted(volt: number, tick: number): void {
    if (volt <= this.#worst) return
    this.#worst = volt
    this.#worstAt = tick
  }

  /** From leaving the judged region's one side for the last time to arriving at its other side. */
  #slope(t0: number, v0: number, t1: number, v1: number): void {
    const high = this.#centre + SLOPE_VOLT
    const low = this.#centre - SLOPE_VOLT
    if (v1 < high && v1 > low) this.#inside++
    const at = (v: number) => t0 + ((v - v0) / (v1 - v0)) * (t1 - t0)
    if (v1 < v0) {
      if (v0 >= high && v1 < high) this.#leaveSide(at(high), t0, true, v1 > low ? 1 : 0)
      if (v0 > low && v1 <= low && this.#falling) this.#passed(at(low), t1)
    } else if (v1 > v0) {
      if (v0 <= low && v1 > low) this.#leaveSide(at(low), t0, false, v1 < high ? 1 : 0)
      if (v0 < high && v1 >= high && !this.#falling) this.#passed(at(high), t1)
    }
  }

  #leaveSide(at: number, sample: number, falling: boolean, inside: number): void {
    this.#leftAt = at
    this.#leftSample = sample
    this.#falling = falling
    this.#inside = inside
  }

  #passed(at: number, sample: number): void {
    if (Number.isNaN(this.#leftAt)) return
    const us = (at - this.#leftAt) * this.#tickUs
    const atMostUs = (sample - this.#leftSample) * this.#tickUs
    if (this.#inside >= 2) {
      const slope = (2 * SLOPE_VOLT) / us
      this.#slopes++
      this.#slopeSum += slope
      if (slope < this.#slowest) {
        this.#slowest = slope
        this.#slowestAt = this.#leftAt
      }
    } else {
      const bound = (2 * SLOPE_VOLT) / atMostUs
      this.#coarse++
      if (bound < this.#coarseBound) {
        this.#coarseBound = bound
        this.#coarseAt = this.#leftAt
      }
    }
    this.#leftAt = Number.NaN
  }

  /** End of the record. Begins, if it has not, with whatever signal the held samples show. */
  finish(): AnalogReading {
    if (!this.#begun) this.#look(1)
    if (!this.#begun) {
      const n = this.#held
      this.#events.begin({
        sampleTicks: medianStep(this.#heldTicks, n),
        share: 1,
        says: 'spacing of the samples',
      })
      if (n > 0) this.#letGo(n)
    }
    const n = this.#samples
    const us = (tick: number) => tick * this.#tickUs
    const mean = (level: number, otherwise: number) =>
      this.#plateaus[level]! > 0 ? this.#plateauMean[level]! / this.#plateaus[level]! : otherwise
    const seen = this.#begun
    const reading: AnalogReading = {
      samples: n,
      sampleUs: n > 1 && seen ? us(this.#lastTick - this.#firstTick) / (n - 1) : 0,
      stepVolt: this.#stepVolt,
      highVolt: mean(HIGH, this.#high),
      lowVolt: mean(LOW, this.#low),
      middleVolt: this.#middle,
      upVolt: this.#up,
      downVolt: this.#down,
      maxVolt: seen ? this.#max : 0,
      minVolt: seen ? this.#min : 0,
      peakAtUs: us(this.#max > -this.#min ? this.#maxAt : this.#minAt),
      rmsVolt: this.#driven > 0 ? Math.sqrt(this.#squares / this.#driven) : 0,
      weakestPeakVolt: Number.isFinite(this.#weakest) ? this.#weakest : 0,
      weakestAtUs: us(this.#weakestAt),
      bipolar: seen && this.#bipolar,
      distortion: { edges: this.#edges, worstVolt: this.#worst, worstAtUs: us(this.#worstAt) },
    }
    if (this.#slopes + this.#coarse > 0) {
      reading.slope = {
        edges: this.#slopes,
        slowest: this.#slowest,
        slowestAtUs: us(this.#slowestAt),
        mean: this.#slopes > 0 ? this.#slopeSum / this.#slopes : 0,
        coarse: this.#coarse,
        coarseBound: this.#coarseBound,
        coarseAtUs: us(this.#coarseAt),
      }
    }
    return reading
  }
}

function grown(list: Float64Array<ArrayBuffer>): Float64Array<ArrayBuffer> {
  const longer = new Float64Array(list.length * 2)
  longer.set(list)
  return longer
}

function medianStep(ticks: Float64Array, count: number): number {
  const steps = new Float64Array(Math.max(0, Math.min(count - 1, LOOKED_AT)))
  if (!(steps.length > 0)) return 0
  for (let i = 0; i < steps.length; i++) steps[i] = ticks[i + 1]! - ticks[i]!
  return steps.sort()[steps.length >> 1]!
}

function smallestStep(sorted: Float64Array): number {
  let least = Number.POSITIVE_INFINITY
  for (let i = 1; i < sorted.length; i++) {
    const step = sorted[i]! - sorted[i - 1]!
    if (step > 1e-9 && step < least) least = step
  }
  return Number.isFinite(least) ? least : 0
}

/** Samples strictly between a tenth and nine tenths of the swing that nine in ten edges have at least. */
function insideOf(volts: Float64Array, count: number, low: number, high: number): number {
  const top = high - (high - low) / 10
  const bottom = low + (high - low) / 10
  const counts: number[] = []
  let side = 0
  let inside = 0
  for (let i = 0; i < count; i++) {
    const v = volts[i]!
    if (v > bottom && v < top) {
      inside++
      continue
    }
    const now = v >= top ? 1 : -1
    if (side !== 0 && now !== side) counts.push(inside)
    side = now
    inside = 0
  }
  if (counts.length === 0) return 0
  return counts.sort((a, b) => a - b)[Math.floor(counts.length / 10)]!
}
