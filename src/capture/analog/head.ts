/** What the first samples of an analog record tell: its plateaus, its zero, its noise, how finely it was sampled. */
import type { Reference } from './reading.js'

/** Samples that the plateaus are estimated from. */
const LOOKED_AT = 1 << 14
/** Where the lesser polarity has less than this share of the other, one rail was recorded against the ground. */
const ONE_RAIL = 0.1
/** Share of a plateau beyond zero at which the level has surely changed. */
const HYSTERESIS = 0.4
/** Share of a plateau within which the signal counts as off. */
const WEAK = 0.12
/** A probe may be off zero by this share of a plateau; common practice, no source. */
const OFF_ZERO = 0.03
/** Fewer different values than these do not tell the step of a converter. */
const FEW_VALUES = 16
/** Samples within this many deviations are noise. */
export const NOISE_REACH = 4

export interface Head {
  low: number
  high: number
  /** Changes of side. */
  changes: number
  stepVolt: number
  noiseVolt: number
  /** Spacing of the samples, ticks. */
  sampleTicks: number
  /** Uncertainty of an interpolated crossing as a share of the spacing, and how that is known. */
  share: number
  says: string
  /** What noise may move a crossing, ticks: six deviations. */
  jitterTicks: number
}

/**
 * @param volts held samples. @param ticks their times. @param leastSwing smallest difference of the plateaus.
 * @returns undefined when they show no signal with at least `enough` changes of side.
 */
export function readHead(
  ticks: Float64Array,
  volts: Float64Array,
  settings: { leastSwing: number; enough: number; shortest: number },
): Head | undefined {
  const n = volts.length
  const stride = Math.max(1, Math.floor(n / LOOKED_AT))
  const sorted = volts.filter((_, i) => i % stride === 0).sort()
  if (sorted.length === 0) return undefined
  const lowest = sorted[Math.floor(sorted.length * 0.005)]!
  const highest = sorted[Math.ceil(sorted.length * 0.995) - 1]!
  const range = highest - lowest
  if (!(range >= settings.leastSwing)) return undefined
  const middle = (highest + lowest) / 2
  const up = middle + range / 4
  const down = middle - range / 4
  const runs = runsOf(volts, up, down)
  const changes = runs.length - 1
  // Noise changes sides more often than a track signal can.
  if (changes < settings.enough || ticks[n - 1]! - ticks[0]! < changes * settings.shortest) return undefined
  const highs = sorted.filter((v) => v > up)
  const lows = sorted.filter((v) => v < down)
  const stepVolt = converterStep(sorted, range)
  const noiseVolt = noiseOf(volts, runs)
  const low = lows[lows.length >> 1]!
  const high = highs[highs.length >> 1]!
  const inside = insideOf(volts, low, high)
  const share = inside >= 2 ? 0.1 : inside >= 1 ? 0.5 : 1
  const says = [
    'spacing of the samples: edges are faster, no sample lies inside them',
    'half the spacing of the samples, one of which lies inside an edge',
    'a tenth of the spacing of the samples, by interpolation between those inside an edge',
  ][Math.min(inside, 2)]!
  const { slope, gapTicks } = crossingOf(ticks, volts, runs)
  // Values that stand until they change are told less often than their edges are known.
  const sampleTicks = share === 1 ? Math.min(medianStep(ticks, n), gapTicks) : medianStep(ticks, n)
  const jitterTicks = slope > 0 ? Math.min(sampleTicks * 50, (6 * noiseVolt) / slope) : 0
  return { low, high, changes, stepVolt, noiseVolt, sampleTicks, share, says, jitterTicks }
}

/**
 * Which voltage is zero. The difference of two channels has its own zero, and so has one channel that shows both
 * polarities; one rail against the ground has not, so the middle between its plateaus is taken.
 */
export function referenceOf(low: number, high: number, subtracted: boolean): Reference {
  if (subtracted) return 'zero'
  const lesser = Math.min(high, -low)
  return lesser > ONE_RAIL * Math.max(high, -low) ? 'zero' : 'middle'
}

export interface Thresholds {
  middle: number
  /** Beyond these the level has changed. */
  up: number
  down: number
  /** Between these the signal is off. */
  weakUp: number
  weakDown: number
}

export function thresholds(
  { low, high, noise }: { low: number; high: number; noise: number },
  centre: number,
  stated: { threshold?: number | undefined; hysteresis?: number | undefined },
): Thresholds {
  const middle = stated.threshold ?? centre
  // One polarity may be far weaker than the other; its share must still be more than noise.
  const larger = Math.max(high - centre, centre - low)
  const above = Math.max(high - centre, ONE_RAIL * larger)
  const below = Math.max(centre - low, ONE_RAIL * larger)
  const least = NOISE_REACH * noise
  const weakOf = (size: number) => Math.min(size * HYSTERESIS * 0.9, Math.max(size * WEAK, least))
  // Rails that are joined show what the probe is off zero by, as the middle of unequal plateaus does.
  const offset = Math.max(-OFF_ZERO * larger, Math.min(OFF_ZERO * larger, (high + low) / 2 - centre))
  return {
    middle,
    up: middle + (stated.hysteresis ?? above * HYSTERESIS),
    down: middle - (stated.hysteresis ?? below * HYSTERESIS),
    weakUp: middle + Math.min(stated.hysteresis ?? above, weakOf(above) + Math.max(0, offset)),
    weakDown: middle - Math.min(stated.hysteresis ?? below, weakOf(below) - Math.min(0, offset)),
  }
}

interface Run {
  side: number
  /** First and last sample on this side. */
  from: number
  to: number
}

/** Stretches on one side; what lies between belongs to none. */
function runsOf(volts: Float64Array, up: number, down: number): Run[] {
  const runs: Run[] = []
  for (let i = 0; i < volts.length; i++) {
    const v = volts[i]!
    const side = v > up ? 1 : v < down ? -1 : 0
    if (side === 0) continue
    const last = runs.at(-1)
    if (last?.side === side) last.to = i
    else runs.push({ side, from: i, to: i })
  }
  return runs
}

/** Deviation in the middle half of the plateaus, V rms: in half of the half-bits it is no larger. */
function noiseOf(volts: Float64Array, runs: readonly Run[]): number {
  const variances: number[] = []
  for (const { from, to } of runs) {
    const quarter = (to - from) >> 2
    const count = to - from - 2 * quarter + 1
    if (count < 4) continue
    let sum = 0
    let squares = 0
    for (let i = from + quarter; i <= to - quarter; i++) {
      sum += volts[i]!
      squares += volts[i]! * volts[i]!
    }
    variances.push(Math.max(0, squares - (sum * sum) / count) / (count - 1))
  }
  if (variances.length === 0) return 0
  return Math.sqrt(variances.sort((a, b) => a - b)[variances.length >> 1]!)
}

/** Slope between the sides, V per tick (at least, where samples are far apart), and the time between them; medians. */
function crossingOf(
  ticks: Float64Array,
  volts: Float64Array,
  runs: readonly Run[],
): { slope: number; gapTicks: number } {
  const slopes: number[] = []
  const gaps: number[] = []
  for (let i = 1; i < runs.length; i++) {
    const before = runs[i - 1]!.to
    const after = runs[i]!.from
    gaps.push(ticks[after]! - ticks[before]!)
    slopes.push(Math.abs(volts[after]! - volts[before]!) / gaps.at(-1)!)
  }
  const median = (list: number[]) => list.sort((a, b) => a - b)[list.length >> 1]
  return { slope: median(slopes) ?? 0, gapTicks: median(gaps) ?? Number.POSITIVE_INFINITY }
}

export function medianStep(ticks: Float64Array, count: number): number {
  const steps = new Float64Array(Math.max(0, Math.min(count - 1, LOOKED_AT)))
  if (!(steps.length > 0)) return 0
  for (let i = 0; i < steps.length; i++) steps[i] = ticks[i + 1]! - ticks[i]!
  return steps.sort()[steps.length >> 1]!
}

/**
 * Step of the converter: the smallest difference of values, if all others are multiples of it. Values on no such grid are
 * computed, or have more digits than matter; few values lie on many grids and do not tell.
 */
function converterStep(sorted: Float64Array, range: number): number {
  const steps: number[] = []
  for (let i = 1; i < sorted.length; i++) {
    const step = sorted[i]! - sorted[i - 1]!
    if (step > 1e-9) steps.push(step)
  }
  const least = steps.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY)
  if (!Number.isFinite(least)) return 0
  const isGrid = steps.every((s) => Math.abs(s / least - Math.round(s / least)) < 0.05 + 5e-4 * (s / least))
  if (!isGrid) return 0
  return Math.min(least, steps.length < FEW_VALUES ? range / 100 : range / 10)
}

/** Samples strictly between a tenth and nine tenths of the swing that nine in ten edges have at least. */
function insideOf(volts: Float64Array, low: number, high: number): number {
  const top = high - (high - low) / 10
  const bottom = low + (high - low) / 10
  const counts: number[] = []
  let side = 0
  let inside = 0
  for (let i = 0; i < volts.length; i++) {
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
