/** An acknowledgement's detection as the design describes it: the rule, its chances, and the best one. */
import {
  type AckAdvice,
  type AckChances,
  type AckRule,
  type AckSituation,
  adviseAck,
  simulateAck,
  withGain,
  worstChances,
} from './acknowledgement.js'
import type { SenseChain } from './sense.js'
import type { DistrictStage } from './stage.js'

export interface AckReport {
  situation: AckSituation
  rule: AckRule
  /** The design gave no threshold: the advised rule stands in. */
  proposed: boolean
  /** At the worse end of the gain. */
  chances: AckChances
  /** Pulses played with the true frequencies; the chance to miss that chance calculation cannot see. */
  played: { miss: number; runs: number }
  advice: AckAdvice
}

export function ackReport(
  stage: DistrictStage,
  chain: SenseChain,
  seed: number,
  conversions: number,
): AckReport {
  const a = stage.district.acknowledgement!
  const sense = stage.district.sense!
  const blindHalf = sense.sees === 'one'
  const situation: AckSituation = {
    noiseAmp: Math.hypot(sense.noise / chain.voltPerAmp, a.loadNoise),
    countAmp: chain.ampPerCount,
    rate: a.rate ?? sense.rate / a.average,
    average: a.average,
    filterUs: sense.filter,
    windowUs: a.window,
    gainError: chain.gainError,
  }
  if (a.chopRate !== undefined && a.chopDuty < 1) situation.chop = { rate: a.chopRate, duty: a.chopDuty }
  // A sense in one leg that is not filtered meets the other polarity half of the time, at the bit rate.
  if (blindHalf && !situation.chop) situation.chop = { rate: 1e6 / 116, duty: 0.5 }
  const advice = adviseAck(situation, sense.rate)
  const smoothed: AckSituation = { ...situation }
  if (a.smoothing < 1) {
    // An exponential average is an RC filter that also takes the noise of its samples down, by √(a / (2 − a)).
    smoothed.filterUs += 1e6 / situation.rate / -Math.log(1 - a.smoothing)
    smoothed.noiseAmp *= Math.sqrt(a.smoothing / (2 - a.smoothing))
  }
  const proposed = a.threshold === undefined
  const rule: AckRule = proposed
    ? advice.rule
    : { thresholdAmp: a.threshold!, samples: a.samples, of: Math.max(a.samples, a.of ?? a.samples) }
  const used = proposed ? { ...situation, rate: advice.rate, average: advice.average } : smoothed
  // As many pulses as the conversions allow, so that a fast converter does not take minutes.
  const each = Math.max(1, 5000e-6 * used.rate * used.average)
  const runs = Math.max(20, Math.min(2000, Math.floor(conversions / each)))
  // Played where the sense reads least, for that is where pulses are missed.
  const [least, lowered] = withGain(used, rule, -chain.gainError)
  const { miss } = simulateAck(least, lowered, runs, seed, 0)
  return {
    situation: used,
    rule,
    proposed,
    chances: worstChances(used, rule),
    played: { miss, runs },
    advice,
  }
}
