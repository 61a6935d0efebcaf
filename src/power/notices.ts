/** What else is worth knowing of the power stage: no clause is broken by it. Changes are proposed only where they were judged. */
import type { Finding } from '../finding/index.js'
import type { PowerDesign } from './design/index.js'
import { POWER_FINDINGS } from './findings.data.js'
import type { PowerReport } from './report.js'
import { FUSE_MELTS } from './supply.js'

export function powerNotices({ districts, supplies }: PowerReport, power: PowerDesign): Finding[] {
  return districts.flatMap(({ name, supply, trip, load }) => {
    const found: Finding[] = []
    const { fuse } = power.districts[name]!
    const { capableAmp } = supplies.find((s) => s.name === supply)!
    if (fuse !== undefined && capableAmp < FUSE_MELTS * fuse)
      found.push(POWER_FINDINGS.find('fuse-stays', { district: name, fuseAmp: fuse, capableAmp }))
    if (trip && load && load.worstAmp >= trip.lowAmp)
      found.push(
        POWER_FINDINGS.find('load-trips', { district: name, worstAmp: load.worstAmp, lowAmp: trip.lowAmp }),
      )
    return found
  })
}
