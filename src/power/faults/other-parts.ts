/**
 * Faults after which it is no short that does harm: a shunt that is open lets the voltage of the rails reach the current
 * sense, and a terminator with its capacitor shorted gets hot from a current that trips nothing.
 */
import type { LogicLevels } from '../../controller/index.js'
import type { DistrictModel } from '../district-model.js'
import type { Terminator } from '../load.js'
import { openShunt, SMALLEST_WATT } from '../sense-stress.js'
import type { StillProtected } from './words.js'

const FOREVER = Number.POSITIVE_INFINITY

export type Outcome = Omit<StillProtected, 'district'>

/** Without the shunt nothing flows, but whatever loads the rails carries their voltage to the sense. */
export function shuntOpens({ stage }: DistrictModel, levels: LogicLevels | undefined): Outcome {
  const { volt, part, share } = openShunt(stage, levels)
  const base = { by: 'open', amp: 0, endsUs: 0, senseVolt: volt } as const
  if (share.high <= 1) return { ...base, holds: 'yes' }
  return { ...base, holds: share.low > 1 ? 'no' : 'undecided', part }
}

/** The resistor of a terminator straight across the rails, whose polarity does not matter to it. */
export function terminatorShorts(
  { source, stage }: DistrictModel,
  { name, ohm, ratedWatt }: Terminator,
): Outcome {
  const { volt } = source?.quantities ?? {
    volt: { low: stage.supply.voltage, high: stage.supply.voltage },
  }
  const [leastWatt, watt] = [volt.low ** 2 / ohm, volt.high ** 2 / ohm]
  const amp = volt.high / ohm
  const trip = source?.trip
  if (trip?.reachable && volt.low / ohm > trip.highAmp)
    return { holds: 'yes', by: 'trip', amp, endsUs: trip.timeUs(volt.low / ohm, 0).worstUs }
  const base = { by: 'nothing', amp, endsUs: FOREVER } as const
  if (watt <= (ratedWatt ?? SMALLEST_WATT)) return { ...base, by: 'limit', holds: 'yes' }
  const isSure = ratedWatt !== undefined && leastWatt > ratedWatt
  return {
    ...base,
    holds: isSure ? 'no' : 'undecided',
    part: `the resistor across the end of bus ${name}`,
    watt,
    ...(ratedWatt === undefined ? {} : { ratedWatt }),
  }
}
