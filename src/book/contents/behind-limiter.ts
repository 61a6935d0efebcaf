/** Capacitors behind a current limit empty into a short at once: what a driver that holds nothing back relies on. */
import type { DistrictStage } from '../../power/index.js'
import { formatSi } from '../../units/index.js'

/** Too little to count. */
const RIGHT_AT_THE_DRIVER = '100 nF'

/** The most that may be behind the limit of a driver's supply, in words; undefined where the driver itself limits a short. */
export function mostBehindLimiter({ model, supply }: DistrictStage): string | undefined {
  if (model.limitAmp !== undefined || model.peakAmp === undefined || supply.capacitance === undefined)
    return undefined
  return supply.capacitance > 0 ? formatSi(supply.capacitance, 'F', 3) : RIGHT_AT_THE_DRIVER
}

/** What a builder has to know of the capacitors at a driver. */
export function capacitorsAt(stage: DistrictStage | undefined): string {
  const most = stage && mostBehindLimiter(stage)
  if (most === undefined) return 'Its bypass capacitors are those of its data sheet.'
  return `This driver does not limit its own current: behind the current limit of supply ${stage!.supplyName} there may be at most ${most}, counting the output of a ready-made limiter and what is on a driver board. More than that discharges into a short at once and can destroy the driver. If its data sheet asks for more, enter that as the capacitance of the supply, and prove the design again before you build it.`
}
