/** What else is worth knowing of the power stage: no clause is broken by it. Changes are proposed only where they were judged. */
import type { Finding } from '../finding/index.js'
import type { PowerDesign } from './design/index.js'
import type { FaultReport } from './faults/still-protected.js'
import { POWER_FINDINGS } from './findings.data.js'
import { FUSE_KINDS } from './fuse-kinds.data.js'
import type { PowerReport } from './report.js'

export function powerNotices({ districts, supplies }: PowerReport, power: PowerDesign): Finding[] {
  return districts.flatMap(({ name, supply, trip, load }) => {
    const found: Finding[] = []
    const { fuse, fuseKind } = power.districts[name]!
    const { opensAt } = FUSE_KINDS[fuseKind]
    const { capableAmp } = supplies.find((s) => s.name === supply)!
    if (fuse !== undefined && capableAmp < opensAt * fuse)
      found.push(POWER_FINDINGS.find('fuse-stays', { district: name, fuseAmp: fuse, capableAmp, opensAt }))
    if (trip && load && load.worstAmp >= trip.lowAmp)
      found.push(
        POWER_FINDINGS.find('load-trips', { district: name, worstAmp: load.worstAmp, lowAmp: trip.lowAmp }),
      )
    return found
  })
}

/** How many single faults leave a short without sure protection, and the worst of them. */
export function faultNotices(faults: readonly FaultReport[]): Finding[] {
  const failing = faults.filter((f) => f.holds === 'no' && !f.alsoWithout)
  const unsure = faults.filter((f) => f.holds === 'undecided' && !f.alsoWithout)
  const listed = failing.length > 0 ? failing : unsure
  // What a short burns before what gets hot slowly.
  const survives = (f: FaultReport) =>
    f.survivesUs ?? ((f.watt ?? f.senseVolt) === undefined ? 0 : Number.POSITIVE_INFINITY)
  const [worst] = [...listed].sort((a, b) => survives(a) - survives(b))
  if (!worst) return []
  return [
    POWER_FINDINGS.find('faults-unprotected', {
      faults: failing.length,
      unsure: unsure.length,
      of: faults.length,
      worst: worst.finding.sentence,
    }),
  ]
}
