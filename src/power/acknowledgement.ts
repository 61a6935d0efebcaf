/**
 * Is an acknowledgement told from noise? The decoder adds at least 60 mA for 5 to 7 ms (S-9.2.3:2012 D, confirmed);
 * the firmware takes the current before as zero and counts samples above a threshold. For a threshold, a rate and
 * a rule k of m: the chance to miss the weakest and shortest pulse, and to see one in a window that has none.
 */

import { seededRandom } from '../corner/index.js'
import { atLeast, LONGEST_WINDOW, normalTail, windowChance } from './chance.js'

/** Least rise of current, A, and shortest pulse, us. S-9.2.3:2012 D (confirmed). */
export const ACK_AMP = 0.06
export const ACK_SHORTEST_US = 5000

/** What chance to miss, and of a false one, is still sound in one operation; common practice, no source. */
export const ACK_CHANCE_LIMIT = 1e-3

export interface AckSituation {
  /** Noise of one conversion without quantisation, A RMS: converter, amplifier and load together. */
  noiseAmp: number
  /** One count, A. */
  countAmp: number
  /** Samples per second that the rule sees. */
  rate: number
  /** Conversions averaged into one sample, spread over its period. */
  average: number
  /** Time constant of the RC filter, us: it eats from the pulse and from the noise. */
  filterUs: number
  /** Chopping of the pulse by the decoder; steady when absent. */
  chop?: { rate: number; duty: number }
  /** Time in which a false one could be seen, us. */
  windowUs: number
  /** The sense may read so much more or less than it should, as a share either way; exact when absent. */
  gainError?: number
}

export interface AckRule {
  thresholdAmp: number
  samples: number
  of: number
}

export interface AckChances {
  miss: number
  false: number
  /** Samples inside the shortest pulse, at least. */
  inPulse: number
  method: 'closed form' | 'bound'
}

/** Noise of one sample of the rule, A, and how far quantisation may shift the threshold, A. */
function sampleNoise(s: AckSituation): { sigma: number; shift: number } {
  // Enough noise spreads a conversion over counts, and quantisation adds 1/12 count² (Widrow 1956); with less it
  // does not average out and may shift the threshold by up to half a count. The zero that the firmware took
  // before is itself in whole steps of count/average: up to half of one more.
  const dithered = s.noiseAmp > s.countAmp / 3
  const conversion = dithered ? Math.hypot(s.noiseAmp, s.countAmp / Math.sqrt(12)) : s.noiseAmp
  const zero = s.countAmp / s.average / 2
  return {
    sigma: Math.max(1e-12, conversion / Math.sqrt(s.average)),
    shift: zero + (dithered ? 0 : s.countAmp / 2),
  }
}

/** Samples certainly inside the shortest pulse once the filter has reached nine tenths. */
function samplesInPulse(s: AckSituation): number {
  return Math.max(0, Math.floor(((ACK_SHORTEST_US - 2.3 * s.filterUs) * s.rate) / 1e6 + 1e-9))
}

/** Chance that one sample inside the pulse counts: over how many of its conversions met the pulse switched on. */
function hitChance(s: AckSituation, thresholdAmp: number): number {
  const { sigma, shift } = sampleNoise(s)
  const level = s.filterUs > 0 ? 0.9 * ACK_AMP : ACK_AMP
  const above = (amp: number) => normalTail((thresholdAmp + shift - amp) / sigma)
  if (!s.chop || s.chop.duty >= 1) return above(level)
  // A filter slower than the chopping shows its mean; else each conversion meets it on or off by chance.
  if (s.filterUs * 1e-6 * s.chop.rate > 1) return above(level * s.chop.duty)
  const { duty } = s.chop
  if (s.average > 64) {
    // Many conversions: the share that met it on is normal (de Moivre and Laplace).
    const spread = level * Math.sqrt((duty * (1 - duty)) / s.average)
    return normalTail((thresholdAmp + shift - level * duty) / Math.hypot(sigma, spread))
  }
  let sum = 0
  let weight = (1 - duty) ** s.average
  for (let on = 0; on <= s.average; on++) {
    sum += weight * above((level * on) / s.average)
    weight *= ((s.average - on) / (on + 1)) * (duty / (1 - duty))
  }
  return sum
}

/** The situation as a sense sees it that reads `gain` too much (0.1: a tenth): in true amperes its threshold and counts shrink. */
export function withGain(s: AckSituation, rule: AckRule, gain: number): [AckSituation, AckRule] {
  const scale = Math.max(1e-3, 1 + gain)
  return [
    { ...s, countAmp: s.countAmp / scale },
    { ...rule, thresholdAmp: rule.thresholdAmp / scale },
  ]
}

/** The greater of both chances at the worse end of the gain: too small a gain misses, too great a one sees noise. */
export function worstChances(s: AckSituation, rule: AckRule): AckChances {
  const error = s.gainError ?? 0
  const low = ackChances(...withGain(s, rule, -error))
  if (error === 0) return low
  const high = ackChances(...withGain(s, rule, error))
  return { ...low, miss: Math.max(low.miss, high.miss), false: Math.max(low.false, high.false) }
}

/** The chances of a rule; exact for independent samples, which a filter much faster than the samples leaves them. */
export function ackChances(s: AckSituation, rule: AckRule): AckChances {
  const { sigma, shift } = sampleNoise(s)
  const inPulse = samplesInPulse(s)
  const inWindow = Math.max(1, Math.round((s.windowUs * s.rate) / 1e6))
  const of = Math.max(rule.samples, rule.of)
  const hit = hitChance(s, rule.thresholdAmp)
  const wrong = normalTail((rule.thresholdAmp - shift) / sigma)
  if (rule.samples !== of && of > LONGEST_WINDOW && of < Math.max(inPulse, inWindow)) {
    // Too long a window to follow: one window only for the pulse, and the sum over all windows for a false one.
    return {
      miss: 1 - atLeast(rule.samples, Math.min(of, inPulse), hit),
      false: Math.min(1, inWindow * atLeast(rule.samples, of, wrong)),
      inPulse,
      method: 'bound',
    }
  }
  return {
    miss: 1 - windowChance(rule.samples, of, inPulse, hit),
    false: windowChance(rule.samples, of, inWindow, wrong),
    inPulse,
    method: 'closed form',
  }
}

/**
 * The same by playing it: every conversion with its own noise, true quantisation at a random place between counts,
 * the RC filter on noise and pulse, and the chopping with its true frequency, so that sampling in step with it shows.
 * @param runs how many pulses; @param falseRuns how many windows without one; @param seed same seed, same result
 */
export function simulateAck(
  s: AckSituation,
  rule: AckRule,
  runs: number,
  seed: number,
  falseRuns = runs,
): { miss: number; false: number; runs: number; falseRuns: number } {
  const random = seededRandom(seed)
  const period = 1e6 / s.rate
  const spacing = period / s.average
  const keep = s.filterUs > 0 ? Math.exp(-spacing / s.filterUs) : 0
  // Noise that the filter correlates keeps its RMS.
  const fresh = Math.sqrt(1 - keep * keep)
  const of = Math.max(rule.samples, rule.of)
  const operation = (pulse: boolean, lengthUs: number): boolean => {
    const place = random.uniform()
    const zero = Math.round(place * s.average) / s.average
    const phase = random.uniform() * period
    const chopPhase = random.uniform()
    let noise = random.normal()
    let level = 0
    const hits = new Uint8Array(of)
    let count = 0
    const total = Math.ceil(lengthUs / period)
    for (let k = 0; k < total; k++) {
      let sum = 0
      for (let j = 0; j < s.average; j++) {
        const t = phase + k * period + j * spacing
        let now = 0
        if (pulse && t < ACK_SHORTEST_US) {
          const on = !s.chop || (t * 1e-6 * s.chop.rate + chopPhase) % 1 < s.chop.duty
          now = on ? ACK_AMP : 0
          if (s.chop && s.filterUs * 1e-6 * s.chop.rate > 1) now = ACK_AMP * s.chop.duty
        }
        level = now + (level - now) * keep
        noise = noise * keep + random.normal() * fresh
        const amp = level + noise * s.noiseAmp
        sum += (Math.round(amp / s.countAmp + place) - zero) * s.countAmp
      }
      const hit = sum / s.average >= rule.thresholdAmp ? 1 : 0
      count += hit - hits[k % of]!
      hits[k % of] = hit
      if (count >= rule.samples) return true
    }
    return false
  }
  let missed = 0
  let wrong = 0
  for (let i = 0; i < runs; i++) if (!operation(true, ACK_SHORTEST_US)) missed++
  for (let i = 0; i < falseRuns; i++) if (operation(false, s.windowUs)) wrong++
  return { miss: missed / runs, false: falseRuns > 0 ? wrong / falseRuns : 0, runs, falseRuns }
}

export interface AckAdvice {
  rule: AckRule
  /** Decisions per second and conversions averaged into each. */
  rate: number
  average: number
  chances: AckChances
}

/**
 * The threshold and rule with the smallest greater chance of a miss and a false one, that span at least 1.5 ms
 * (a spark is shorter; common practice, no source).
 * @param conversionRate conversions per second the converter can make of this channel
 */
export function adviseAck(s: AckSituation, conversionRate: number): AckAdvice {
  let best: AckAdvice | undefined
  let bestScore = Number.POSITIVE_INFINITY
  const averages = new Set(
    [1, Math.floor(conversionRate / 2000), Math.floor(conversionRate / 1000)].filter((a) => a >= 1),
  )
  for (const average of averages) {
    const rate = conversionRate / average
    // More decisions than that gain nothing that averaging does not.
    if (rate > 5000) continue
    const situation = { ...s, rate, average }
    const inPulse = samplesInPulse(situation)
    for (let of = 1; of <= Math.min(inPulse, 8); of++) {
      for (let samples = Math.max(1, of - 2); samples <= of; samples++) {
        if (((samples - 1) * 1e6) / rate < 1500 && samples < inPulse - 1) continue
        const rule = { thresholdAmp: balancedThreshold(situation, samples, of, inPulse), samples, of }
        const chances = worstChances(situation, rule)
        // Where both are far below anything that matters, fewer samples are better.
        const score = Math.max(chances.miss, chances.false, 1e-12) * (1 + 0.001 * (of + (of - samples)))
        if (score < bestScore) {
          bestScore = score
          best = { rule, rate, average, chances }
        }
      }
    }
  }
  // Too slow a converter to have two samples in a pulse: one sample, half the pulse.
  return (
    best ?? {
      rule: { thresholdAmp: ACK_AMP / 2, samples: 1, of: 1 },
      rate: s.rate,
      average: s.average,
      chances: worstChances(s, { thresholdAmp: ACK_AMP / 2, samples: 1, of: 1 }),
    }
  )
}

/** The threshold, whole mA, at which miss and false are about equal; by cheap bounds, as only the place is wanted. */
function balancedThreshold(s: AckSituation, samples: number, of: number, inPulse: number): number {
  const { sigma, shift } = sampleNoise(s)
  const windows = Math.max(1, (s.windowUs * s.rate) / 1e6)
  const error = Math.min(0.9, s.gainError ?? 0)
  let [low, high] = [0.005, 0.055]
  for (let i = 0; i < 12; i++) {
    const middle = (low + high) / 2
    const miss = atLeast(inPulse - samples + 1, inPulse, 1 - hitChance(s, middle / (1 - error)))
    const wrong = windows * atLeast(samples, of, normalTail((middle / (1 + error) - shift) / sigma))
    // Both nothing: half of the pulse is as good as any.
    if (miss < 1e-15 && wrong < 1e-15) {
      if (middle < ACK_AMP / 2) low = middle
      else high = middle
    } else if (miss > wrong) high = middle
    else low = middle
  }
  return Math.round((low + high) * 500) / 1000
}
