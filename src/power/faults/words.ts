/** What a single fault of the power stage leaves of its protection, in words. */
import { formatSi, formatTimeUs } from '../../units/index.js'

const amp = (value: number) => (Number.isFinite(value) ? formatSi(value, 'A', 3) : 'an unlimited current')
const volt = (value: number) => formatSi(value, 'V', 3)
const watt = (value: number) => formatSi(value, 'W', 3)
const time = (us: number) => formatTimeUs(us, 3)

export type StillHolds = 'yes' | 'no' | 'undecided'

/** What ends a short; `nothing`: nothing does; `limit`: nothing need, as every part carries what the source gives; `open`: nothing flows. */
export type EndedBy = 'trip' | 'fuse' | 'supply' | 'nothing' | 'limit' | 'open'

/** What a fault leaves of the protection of a district. */
export type StillProtected = {
  holds: StillHolds
  district: string
  by: EndedBy
  /** The most that a short draws there, A. */
  amp: number
  /** When that is off at the latest, us; Infinity for never. */
  endsUs: number
  /** The part that does not survive, or may not, and the currents that nothing ends in time, A. */
  part?: string
  fromAmp?: number
  toAmp?: number
  /** When those are off at the latest, us; Infinity for never. */
  gapEndsUs?: number
  /** How long the part survives them, us. */
  survivesUs?: number
  /** It is no better protected without the fault. */
  alsoWithout?: boolean
  /** Where nothing flows any more: what reaches the current sense, V. */
  senseVolt?: number
  /** Heat of a part from a current that nothing ends, W, and its rating where that is known. */
  watt?: number
  ratedWatt?: number
  /** What it takes to decide. */
  unknown?: string
}

/** Whether protection holds with a fault, and by what. */
export function stillHolds(p: StillProtected): string {
  const off = `a short of up to ${amp(p.amp)} is off after ${time(p.endsUs)} at the latest`
  if (p.holds === 'yes') {
    const by = {
      trip:
        p.amp === 0
          ? 'by the trip: it acts without any current, and the district stays off'
          : `by the trip: ${off}`,
      fuse: `by the fuse: ${off}`,
      supply: `by the supply: ${off}`,
      limit: `by the current limit: no more than ${amp(p.amp)} can flow, which every part carries continuously`,
      nothing: '',
      open: `as nothing flows any more: the current sense withstands the ${volt(p.senseVolt ?? 0)} that reach it`,
    }[p.by]
    return `protection still holds in ${p.district}, ${by}`
  }
  const head =
    p.holds === 'no'
      ? `protection does not hold in ${p.district}`
      : `protection may not hold in ${p.district}`
  if (p.senseVolt !== undefined)
    return `${head}: nothing flows any more, but ${volt(p.senseVolt)} reach ${p.part}, which ${p.holds === 'no' ? 'does not withstand that' : 'is not known to withstand that'}`
  if (p.watt !== undefined)
    return `${head}: ${amp(p.amp)} flow continuously, which trip nothing and make up to ${watt(p.watt)} in ${p.part}, ${p.ratedWatt === undefined ? 'whose rating is not given' : `rated ${watt(p.ratedWatt)}`}`
  if (p.part === undefined || p.fromAmp === undefined || p.toAmp === undefined)
    return `${head}: what is not known is ${p.unknown}`
  const [from, to] = [amp(p.fromAmp), amp(p.toAmp)]
  const range = from === to ? to : `${from} to ${to}`
  const ends = Number.isFinite(p.gapEndsUs ?? Number.POSITIVE_INFINITY)
    ? `a current of ${range} ends only after ${time(p.gapEndsUs!)}`
    : p.by === 'nothing'
      ? `nothing ends a current of ${range}`
      : `a current of ${range} may never end`
  const survives =
    (p.survivesUs ?? 0) > 0 ? `survives it for ${time(p.survivesUs!)}` : 'does not survive it at all'
  return `${head}: ${ends}, and ${p.part} ${survives}${p.alsoWithout ? '; that is so without the fault, too' : ''}`
}
