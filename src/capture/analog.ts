/**
 * Analog samples → edges, and what the shape of the signal says: slope, distortion, amplitude.
 *
 * The two plateaus are found from the head of the record; the level changes when the signal has gone a fifth of the
 * swing beyond the middle, and the edge is where it crossed the middle, interpolated between two samples.
 */
import { HIGH, LOW } from '../signal/index.js'
import { type Evidence, marginWithin, type Profile } from '../standard/index.js'
import { formatNumber, formatTimeUs } from '../units/index.js'

/** Region over which the slope is judged: -4 to +4 V (S-9.1:2020 Table 2). */
const SLOPE_VOLT = 4

export interface AnalogReading {
  samples: number
  /** Spacing of the samples, us. */
  sampleUs: number
  /** Plateaus and the middle between them, V. */
  highVolt: number
  lowVolt: number
  middleVolt: number
  /** Extremes of all samples, V. */
  maxVolt: number
  minVolt: number
  rmsVolt: number
  /** The signal has both polarities: a differential record, or two rails subtracted. */
  bipolar: boolean
  /** Slope between -4 and +4 V around the middle, V/us; absent when the swing is too small. */
  slope?: {
    edges: number
    slowest: number
    mean: number
    slowestAtUs: number /** Slope surely reached. */
    sure: number
  }
  /** Farthest that an edge went back beyond the middle after crossing it, V. */
  distortion: { edges: number; worstVolt: number; worstAtUs: number }
}

/** Samples in the head from which the plateaus are found. */
const HEAD = 20_000

export class AnalogTracker {
  readonly #change: (tick: number, level: number) => void
  readonly #tickUs: number
  #head: { ticks: number[]; volts: number[] } | undefined = { ticks: [], volts: [] }
  #high = 0
  #low = 0
  #middle = 0
  #up = 0
  #down = 0
  #level = -1
  #samples = 0
  #firstTick = 0
  #lastTick = 0
  #lastVolt = 0
  #sum = 0
  #max = Number.NEGATIVE_INFINITY
  #min = Number.POSITIVE_INFINITY
  // The passage that is going on.
  #crossed = Number.NaN
  #firstCrossed = Number.NaN
  #back = 0
  #slopeFrom = Number.NaN
  #slopeFromSample = Number.NaN
  #edges = 0
  #worst = 0
  #worstAt = 0
  #slopes = 0
  #slopeSum = 0
  #slowest = Number.POSITIVE_INFINITY
  #slowestAt = 0
  #sure = Number.POSITIVE_INFINITY

  constructor(tickUs: number, change: (tick: number, level: number) => void) {
    this.#tickUs = tickUs
    this.#change = change
  }

  /** @param tick time, not falling; @param volt finite. */
  add(tick: number, volt: number): void {
    if (this.#head) {
      this.#head.ticks.push(tick)
      this.#head.volts.push(volt)
      if (this.#head.ticks.length >= HEAD) this.#begin()
      return
    }
    this.#sample(tick, volt)
  }

  /** Plateaus are the medians of the upper and the lower half of the swing. */
  #begin(): void {
    const head = this.#head!
    this.#head = undefined
    const sorted = Float64Array.from(head.volts).sort()
    const n = sorted.length
    if (n > 0) {
      const middle = (sorted[Math.floor(n * 0.02)]! + sorted[Math.ceil(n * 0.98) - 1]!) / 2
      const upper = sorted.filter((v) => v > middle)
      const lower = sorted.filter((v) => v <= middle)
      this.#high = upper.length > 0 ? upper[upper.length >> 1]! : middle
      this.#low = lower.length > 0 ? lower[lower.length >> 1]! : middle
      // A track signal is symmetric about zero; a probe on one rail or a logic pin is not.
      const swing = this.#high - this.#low
      const centre = (this.#high + this.#low) / 2
      this.#middle = this.#low < 0 && this.#high > 0 && Math.abs(centre) < swing / 10 ? 0 : centre
      this.#up = this.#middle + swing / 5
      this.#down = this.#middle - swing / 5
    }
    for (let i = 0; i < n; i++) this.#sample(head.ticks[i]!, head.volts[i]!)
  }

  #sample(tick: number, volt: number): void {
    const before = this.#lastVolt
    const beforeTick = this.#lastTick
    this.#lastVolt = volt
    this.#lastTick = tick
    this.#sum += volt * volt
    if (volt > this.#max) this.#max = volt
    if (volt < this.#min) this.#min = volt
    if (this.#samples++ === 0) {
      this.#firstTick = tick
      return
    }
    const middle = this.#middle
    if (before < middle !== volt < middle) {
      this.#crossed = beforeTick + ((middle - before) / (volt - before)) * (tick - beforeTick)
      if (Number.isNaN(this.#firstCrossed)) this.#firstCrossed = this.#crossed
    }
    this.#slope(beforeTick, before, tick, volt)
    // After the first crossing every return beyond the middle is distortion.
    if (!Number.isNaN(this.#firstCrossed) && this.#level >= 0) {
      const beyond = this.#level === HIGH ? volt - middle : middle - volt
      if (beyond > this.#back) this.#back = beyond
    }
    if (this.#level !== HIGH && volt > this.#up) this.#flip(HIGH, tick)
    else if (this.#level !== LOW && volt < this.#down) this.#flip(LOW, tick)
    else if (this.#level === HIGH ? volt > this.#up : this.#level === LOW && volt < this.#down) {
      // Back on the old plateau without having changed: a dip, no edge.
      if (!Number.isNaN(this.#firstCrossed)) this.#endPassage(false)
    }
  }

  #flip(level: number, tick: number): void {
    const known = this.#level >= 0
    this.#level = level
    if (!known) {
      this.#change(tick, level)
      this.#firstCrossed = Number.NaN
      return
    }
    // The last crossing is where the signal stayed on the new side.
    this.#change(this.#crossed, level)
    this.#endPassage(true)
  }

  #endPassage(counts: boolean): void {
    if (counts) {
      this.#edges++
      if (this.#back > this.#worst && this.#crossed !== this.#firstCrossed) {
        this.#worst = this.#back
        this.#worstAt = this.#crossed
      }
    } else if (this.#back > this.#worst) {
      this.#worst = this.#back
      this.#worstAt = this.#lastTick
    }
    this.#firstCrossed = Number.NaN
    this.#back = 0
  }

  /** Time from one side of the judged region to the other. */
  #slope(t0: number, v0: number, t1: number, v1: number): void {
    const low = this.#middle - SLOPE_VOLT
    const high = this.#middle + SLOPE_VOLT
    const at = (v: number) => t0 + ((v - v0) / (v1 - v0)) * (t1 - t0)
    const rising = v1 > v0
    const [enter, leave] = rising ? [low, high] : [high, low]
    const passes = (v: number) => (rising ? v0 <= v && v1 > v : v0 >= v && v1 < v)
    if (passes(enter)) {
      this.#slopeFrom = at(enter)
      this.#slopeFromSample = t0
    }
    if (passes(leave) && !Number.isNaN(this.#slopeFrom)) {
      const us = (at(leave) - this.#slopeFrom) * this.#tickUs
      const surelyUs = (t1 - this.#slopeFromSample) * this.#tickUs
      const slope = (2 * SLOPE_VOLT) / us
      this.#slopes++
      this.#slopeSum += slope
      if (slope < this.#slowest) {
        this.#slowest = slope
        this.#slowestAt = t1
      }
      this.#sure = Math.min(this.#sure, (2 * SLOPE_VOLT) / surelyUs)
      this.#slopeFrom = Number.NaN
    }
  }

  finish(): AnalogReading {
    if (this.#head) this.#begin()
    const n = this.#samples
    const reading: AnalogReading = {
      samples: n,
      sampleUs: n > 1 ? ((this.#lastTick - this.#firstTick) * this.#tickUs) / (n - 1) : 0,
      highVolt: this.#high,
      lowVolt: this.#low,
      middleVolt: this.#middle,
      maxVolt: n > 0 ? this.#max : 0,
      minVolt: n > 0 ? this.#min : 0,
      rmsVolt: n > 0 ? Math.sqrt(this.#sum / n) : 0,
      bipolar: this.#low < -1 && this.#high > 1,
      distortion: { edges: this.#edges, worstVolt: this.#worst, worstAtUs: this.#worstAt * this.#tickUs },
    }
    if (this.#slopes > 0) {
      reading.slope = {
        edges: this.#slopes,
        slowest: this.#slowest,
        mean: this.#slopeSum / this.#slopes,
        slowestAtUs: this.#slowestAt * this.#tickUs,
        sure: this.#sure,
      }
    }
    return reading
  }
}

export interface AnalogAbout {
  source: string
  about?: string
  file?: string
  probe: 'rails' | 'logic'
}

/** Evidence on slope, distortion and amplitude. Only a record with both polarities, at the rails, shows them. */
export function judgeAnalog(reading: AnalogReading, profile: Profile, about: AnalogAbout): Evidence[] {
  if (about.probe === 'logic' || !reading.bipolar || reading.samples < 100) return []
  const evidence: Evidence[] = []
  const { clauses } = profile
  const { slope, distortion, sampleUs } = reading
  const add = (
    clause: 'edge-rate' | 'crossing-distortion' | 'track-voltage-max' | 'track-voltage-min',
    low: number,
    high: number,
    verdict: Evidence['verdict'],
    because: string,
    timeUs?: number,
  ) => {
    const one: Evidence = {
      clause,
      origin: 'measured',
      verdict,
      value: { low, high, unit: clauses[clause].unit },
      margin: marginWithin(low, high, clauses[clause].sender),
      where: {
        ...(about.file === undefined ? {} : { file: about.file }),
        ...(timeUs === undefined ? {} : { timeUs }),
      },
      because: `${about.source}: ${because}`,
    }
    if (about.about !== undefined) one.about = about.about
    evidence.push(one)
  }
  if (slope) {
    const min = clauses['edge-rate'].sender.min ?? 0
    const receiver = clauses['edge-rate'].receiver?.min ?? min
    const says = `the slowest of ${slope.edges} passages from -4 to +4 V or back goes ${formatNumber(slope.slowest, 3)} V/us`
    const neededUs = (2 * SLOPE_VOLT) / min
    if (slope.sure >= min)
      add('edge-rate', slope.slowest, Math.max(slope.mean, slope.slowest), 'met', says, slope.slowestAtUs)
    else if (sampleUs * 3 <= neededUs) {
      const verdict = slope.slowest >= min ? 'met' : 'broken'
      const tail =
        verdict === 'met'
          ? ''
          : slope.slowest >= receiver
            ? '; decoders should still read it'
            : '; decoders need not read it'
      add(
        'edge-rate',
        slope.slowest,
        Math.max(slope.mean, slope.slowest),
        verdict,
        says + tail,
        slope.slowestAtUs,
      )
    } else {
      const rate = formatNumber(3e3 / neededUs, 2)
      add(
        'edge-rate',
        slope.slowest,
        Math.max(slope.mean, slope.slowest),
        'undecided',
        `${says}; sampled every ${formatTimeUs(sampleUs)} this cannot be told, ${rate} kS/s would do`,
        slope.slowestAtUs,
      )
    }
  }
  if (distortion.edges > 0) {
    const max = clauses['crossing-distortion'].sender.max ?? 2
    const verdict = distortion.worstVolt > max ? 'broken' : 'met'
    add(
      'crossing-distortion',
      0,
      distortion.worstVolt,
      verdict,
      `after crossing zero an edge goes back by up to ${formatNumber(distortion.worstVolt, 3)} V`,
      distortion.worstVolt > 0 ? distortion.worstAtUs : undefined,
    )
  }
  const peak = Math.max(reading.maxVolt, -reading.minVolt)
  const plateau = Math.min(reading.highVolt, -reading.lowVolt)
  const max = clauses['track-voltage-max'].sender.max ?? Number.POSITIVE_INFINITY
  const min = clauses['track-voltage-min'].sender.min ?? 0
  add(
    'track-voltage-max',
    plateau,
    peak,
    peak > max ? 'broken' : 'met',
    `peaks reach ${formatNumber(peak, 4)} V, plateaus ${formatNumber(reading.highVolt, 4)} and ${formatNumber(reading.lowVolt, 4)} V, RMS ${formatNumber(reading.rmsVolt, 4)} V`,
  )
  add(
    'track-voltage-min',
    plateau,
    plateau,
    plateau < min ? 'broken' : 'met',
    `the lower plateau has ${formatNumber(plateau, 4)} V`,
  )
  return evidence
}
