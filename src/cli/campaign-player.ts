/** What a thread needs to play the runs of a campaign, as plain data. */
import type { ScenarioDesign } from '../bench/index.js'
import { isSimulated, loadFirmware } from '../controller/index.js'
import { loadDesign } from '../design/index.js'
import { benchOf, CampaignPlayer, drawRanges } from '../proof/index.js'

export interface CampaignData {
  /** Text of the design, and its name. */
  design: string
  file: string
  variant?: string
  firmware: Uint8Array
  firmwareFile: string
  /** Run what the firmware runs often as WebAssembly. */
  translate?: boolean
  scenarios: readonly ScenarioDesign[]
  seed: number
}

/** @throws RangeError when the design has no bench, which is known before a campaign begins. */
export function playerOf(data: CampaignData): CampaignPlayer {
  const loaded = loadDesign(data.design, data.file, data.variant)
  const { chip } = loaded.design.controller
  const image = loadFirmware(data.firmware, data.firmwareFile)
  if (data.translate) image.translated = true
  const bench = isSimulated(chip) ? benchOf(loaded, image, chip, data.firmwareFile) : undefined
  if (!bench) throw new RangeError('no bench')
  return new CampaignPlayer(bench, drawRanges(loaded, bench), data.scenarios, data)
}
