/** Evidence on the slope of the driver's edges. */
import type { Evidence, Profile } from '../../standard/index.js'
import { formatNumber } from '../../units/index.js'
import type { DriverReport } from '../report.js'
import { leastSlope } from '../skew.js'
import type { DistrictStage } from '../stage.js'
import { limitedInCases } from './limited.js'

const n = formatNumber

export function edgeRateEvidence(
  driver: DriverReport,
  { model, supply, driver: own }: DistrictStage,
  profile: Profile,
): Evidence[] {
  const list: Evidence[] = []
  if (driver.slopeVoltPerUs !== undefined) {
    const high = Math.min(driver.slopeVoltPerUs, 1e4)
    const lowest = supply.voltage * (1 - supply.tolerance)
    const low = Math.min(high, leastSlope(model, lowest, own.matchedLegs) ?? 0)
    list.push(
      limitedInCases(
        'edge-rate',
        driver.name,
        { low, high, unit: 'V/us' },
        { min: profile.clauses['edge-rate'].sender.min },
        `rise, fall and delays of ${model.name} at ${n(supply.voltage)} V, without load or wiring: typical, and with slow ramps (a third longer, common practice) and delays apart ${n(low, 3)} V/us`,
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
