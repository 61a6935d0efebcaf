/** Evidence on the slope of the driver's edges. */
import type { Evidence, Profile } from '../../standard/index.js'
import { formatNumber } from '../../units/index.js'
import type { DriverReport } from '../report.js'
import type { DistrictStage } from '../stage.js'
import { limited } from './limited.js'

const n = formatNumber

export function edgeRateEvidence(
  driver: DriverReport,
  { model, supply }: DistrictStage,
  profile: Profile,
): Evidence[] {
  const list: Evidence[] = []
  if (driver.slopeVoltPerUs !== undefined) {
    const slope = Math.min(driver.slopeVoltPerUs, 1e4)
    list.push(
      limited(
        'edge-rate',
        driver.name,
        { low: slope, high: slope, unit: 'V/us' },
        { min: profile.clauses['edge-rate'].sender.min },
        `typical rise, fall and delays of ${model.name} at ${n(supply.voltage)} V, without load or wiring`,
      ),
    )
  }
  if (driver.slopeVoltPerUs === undefined && supply.voltage > 4) {
    list.push({
      clause: 'edge-rate',
      origin: 'calculated',
      verdict: 'undecided',
      value: { low: 0, high: 1e4, unit: 'V/us' },
      margin: 0,
      about: driver.name,
      because: `the rise, fall and delay times of ${model.name} are not all known; measure its edges`,
    })
  }
  return list
}
