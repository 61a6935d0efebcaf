/**
 * What a driver stands of a current at its very start, before the limit of its supply acts: until then resistances
 * alone hold it back, and output capacitors give what no limit holds.
 */
import { type Verdict, verdictOfCases } from '../standard/index.js'
import { capacitorsBehind, responseOf, type SourceModel } from './source.js'
import { type DistrictStage, isShortProof, limitsAtOnce } from './stage.js'
import { limitOf } from './supply-behaviour.js'

/**
 * @param amp the least and the most that resistances let through, besides `besideAmp` that flows already
 * @returns `met` for a driver that limits its own current and withstands a short until then
 */
export function standsAtFirst(
  stage: DistrictStage,
  { quantities }: SourceModel,
  amp: { low: number; high: number },
  besideAmp: number,
): Verdict {
  if (limitsAtOnce(stage.model) && isShortProof(stage.model)) return 'met'
  const { supply, supplyName, channels } = stage
  const [capacitors, response] = [capacitorsBehind(stage), responseOf(stage)]
  const limit = limitOf(supply, supplyName)
  const actsAtOnce = capacitors.high === 0 && response.high === 0
  const mayActAtOnce = capacitors.low === 0 && response.low === 0
  const most = Math.min(amp.high + besideAmp, actsAtOnce ? limit.high : Number.POSITIVE_INFINITY)
  const least = Math.min(amp.low, mayActAtOnce ? limit.low : Number.POSITIVE_INFINITY)
  const n = channels.length
  return verdictOfCases(most <= n * quantities.peak.low, least <= n * quantities.peak.high)
}
