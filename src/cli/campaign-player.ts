/** What a thread needs to play the runs of a campaign, as plain data. */
import type { ScenarioDesign } from '../bench/index.js'
import { CampaignPlayer, drawRanges } from '../proof/index.js'
import { type BenchData, benchFrom } from './bench-player.js'

export interface CampaignData extends BenchData {
  scenarios: readonly ScenarioDesign[]
  seed: number
}

/** @throws RangeError when the design has no bench, which is known before a campaign begins. */
export function playerOf(data: CampaignData): CampaignPlayer {
  const { loaded, bench } = benchFrom(data)
  return new CampaignPlayer(bench, drawRanges(loaded, bench), data.scenarios, data)
}
