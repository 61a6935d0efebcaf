/** Evidence on the voltage at the station's output. */
import { type Evidence, type Profile, rmsCeilingVolt } from '../../standard/index.js'
import { formatNumber, formatSi } from '../../units/index.js'
import type { DistrictReport } from '../district-report.js'
import type { DistrictStage } from '../stage.js'
import { limitedInCases } from './limited.js'

const n = formatNumber
const amp = (value: number) => formatSi(value, 'A', 3)

export function voltageEvidence(d: DistrictReport, rules: Profile, stage: DistrictStage): Evidence[] {
  const v = d.voltage
  if (!v) return []
  const { clauses, profile, edition, scale } = rules
  const supply = stage.supply
  const supplyText = `supply ${n(supply.voltage)} V ± ${n(supply.tolerance * 100)} %`
  const list = [
    limitedInCases(
      'track-voltage-max',
      d.name,
      { low: v.rmsVolt, high: v.highestVolt, unit: 'V' },
      { max: clauses['track-voltage-max'].sender.max },
      `${supplyText} without load, nothing lost in the driver`,
    ),
  ]
  const ceiling = rmsCeilingVolt({ profile, edition, scale })
  if (ceiling !== undefined) {
    const limits = { max: ceiling }
    list.push({
      ...limitedInCases(
        'track-voltage-max',
        `${d.name}, RMS`,
        { low: v.rmsVolt, high: v.highestVolt, unit: 'V' },
        limits,
        `the RMS of a symmetric square wave is its peak; this edition allows ${ceiling} V RMS at ${scale} scale`,
      ),
      limits,
    })
  }
  const at = v.atWorst
  if (at && d.load) {
    const { sender, receiver } = clauses['track-voltage-min']
    const low = Math.min(at.weakVolt, at.otherVolt)
    let because = `${supplyText} less ${n(supply.resistance * 1000)} mOhm, sense and ${stage.model.name} at ${amp(at.amp)}, hot, weaker polarity`
    if (sender.min !== undefined && receiver?.min !== undefined && low < sender.min && low >= receiver.min) {
      because += `; decoders should still work from ${receiver.min} V`
    }
    list.push(
      limitedInCases(
        'track-voltage-min',
        d.name,
        { low, high: at.typicalVolt, unit: 'V' },
        { min: sender.min },
        because,
      ),
    )
  }
  return list
}
