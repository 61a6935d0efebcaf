/**
 * How long an overload lasts until it trips: RC filter, sampling at an unknown moment, averaging, the rule
 * n of m samples, and the time to switch off. Worked out sample by sample, so that any current over time will do.
 */

export interface TripSettings {
  /** A filtered sample at or above it counts, A. */
  thresholdAmp: number
  /** Time constant of the RC filter before the converter, us; 0: none. */
  filterUs: number
  samplePeriodUs: number
  /** Moving average over so many samples. */
  average: number
  /** Share of a new sample in an exponential average; 1: none. */
  smoothing: number
  /** `samples` of the last `of` must count. */
  samples: number
  of: number
  /** From the decision to the driver being off, us. */
  afterUs: number
  /** Nothing trips before this time after switching on, us. */
  blankingUs?: number
}

/** Current in the track over time after the overload began, A. */
export type Wave = (us: number) => number

const MOST_SAMPLES = 400_000

/**
 * Time from 0 to switched off, us, when the first sample is taken at `phaseUs` (0…samplePeriodUs).
 * @param beforeAmp current that flowed before; filters and averages are full of it
 * @returns Infinity when it does not trip until `untilUs`
 */
export function tripAtUs(
  wave: Wave | number,
  beforeAmp: number,
  s: TripSettings,
  phaseUs: number,
  untilUs: number,
): number {
  const window = Math.max(1, Math.round(s.average))
  const ring = new Float64Array(window).fill(beforeAmp)
  const hits = new Uint8Array(Math.max(s.of, s.samples))
  let sum = beforeAmp * window
  let smooth = beforeAmp
  let filtered = beforeAmp
  let count = 0
  let t = 0
  const most = Math.min(MOST_SAMPLES, Math.ceil(untilUs / s.samplePeriodUs) + 1)
  for (let k = 0; k < most; k++) {
    const next = phaseUs + k * s.samplePeriodUs
    filtered = filterTo(wave, filtered, t, next, s.filterUs)
    t = next
    sum += filtered - ring[k % window]!
    ring[k % window] = filtered
    smooth += s.smoothing * (sum / window - smooth)
    const hit = smooth >= s.thresholdAmp - 1e-12 && t >= (s.blankingUs ?? 0) ? 1 : 0
    count += hit - hits[k % hits.length]!
    hits[k % hits.length] = hit
    if (count >= s.samples) return t + s.afterUs
    if (t > untilUs) break
  }
  return Number.POSITIVE_INFINITY
}

/** Output of the RC filter at `to`; exact for a constant, else the wave is held at its middle over short pieces. */
function filterTo(wave: Wave | number, from: number, start: number, to: number, tauUs: number): number {
  if (typeof wave === 'number')
    return tauUs <= 0 ? wave : wave + (from - wave) * Math.exp((start - to) / tauUs)
  if (tauUs <= 0) return wave(to)
  const pieces = Math.min(16, Math.max(1, Math.ceil((to - start) / (tauUs / 4))))
  const step = (to - start) / pieces
  const keep = Math.exp(-step / tauUs)
  let y = from
  for (let i = 0; i < pieces; i++) {
    const target = wave(start + (i + 0.5) * step)
    y = target + (y - target) * keep
  }
  return y
}

export interface TripTime {
  /** Soonest: the overload begins just before a sample. */
  bestUs: number
  /** Latest: just after one. */
  worstUs: number
}

/**
 * Trip time of a sudden, lasting current.
 * @returns Infinity in both when the current is below the threshold
 */
export function tripTime(amp: number, beforeAmp: number, s: TripSettings): TripTime {
  if (amp < s.thresholdAmp) return { bestUs: Number.POSITIVE_INFINITY, worstUs: Number.POSITIVE_INFINITY }
  if (Math.round(s.average) <= 1 && s.smoothing === 1) return filteredTripTime(amp, beforeAmp, s)
  // A current right at the threshold is never quite reached by a filter: give up after 25 time constants of everything.
  const until =
    (s.blankingUs ?? 0) +
    25 * (s.filterUs + (s.samplePeriodUs * s.average + s.samplePeriodUs / s.smoothing)) +
    s.samplePeriodUs * (Math.max(s.of, s.samples) + 2)
  const period = s.samplePeriodUs
  const at = (phase: number) => tripAtUs(amp, beforeAmp, s, phase, until)
  const steps = (phase: number) => Math.round((at(phase) - s.afterUs - phase) / period)
  const [first, last] = [steps(0), steps(period)]
  if (!Number.isFinite(first) || first === last) return { bestUs: at(0), worstUs: at(period) }
  // The later in its period the first sample comes, the more the filter has risen: somewhere one sample fewer does.
  // Just before that the trip is latest, there it is soonest.
  let [low, high] = [0, period]
  for (let i = 0; i < 12; i++) {
    const middle = (low + high) / 2
    if (steps(middle) >= first) low = middle
    else high = middle
  }
  return { bestUs: at(high), worstUs: high + first * period + s.afterUs }
}

/**
 * Without averages every sample counts from the moment the filter passes the threshold on, in closed form: the first
 * of them comes at once or a period later.
 */
function filteredTripTime(amp: number, beforeAmp: number, s: TripSettings): TripTime {
  const { thresholdAmp: threshold, filterUs, samplePeriodUs, samples, afterUs } = s
  const rises = filterUs > 0 && beforeAmp < threshold
  const passesUs = rises ? filterUs * Math.log((amp - beforeAmp) / (amp - threshold)) : 0
  const fromUs = Math.max(passesUs, s.blankingUs ?? 0)
  return {
    bestUs: fromUs + (samples - 1) * samplePeriodUs + afterUs,
    worstUs: fromUs + samples * samplePeriodUs + afterUs,
  }
}
