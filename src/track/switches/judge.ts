/** Every clause in every position of the hand switches: the worst of them counts. */
import type { Evidence, Verdict } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'

const RANK: Record<Verdict, number> = { broken: 0, undecided: 1, met: 2 }

/** Take over what is worse in another position. */
export function worstPosition(
  sofar: readonly Evidence[],
  evidence: readonly Evidence[],
  position: string,
): Evidence[] {
  const key = (e: Evidence) => `${e.clause} ${e.about ?? ''}`
  const list = [...sofar]
  for (const e of evidence) {
    const at = list.findIndex((x) => key(x) === key(e))
    const had = list[at]
    if (had && (RANK[e.verdict] - RANK[had.verdict] || (e.margin ?? 0) - (had.margin ?? 0)) >= 0) continue
    const finding = trackFindings.find('in-position', {
      position,
      says: e.because ?? '',
      code: e.finding?.code ?? '',
    })
    const found = { ...e, because: finding.sentence, finding }
    if (at < 0) list.push(found)
    else list[at] = found
  }
  return list
}

/** Nothing is met where not every position was judged, unless those judged bound its clause. */
export function notAllPositions(
  evidence: readonly Evidence[],
  judged: number,
  all: number,
  bounded: (e: Evidence) => boolean,
): Evidence[] {
  return evidence.map((e) => {
    if (e.verdict !== 'met' || bounded(e)) return e
    const finding = trackFindings.find('positions-left-out', { judged, all, says: e.because ?? '' })
    return { ...e, verdict: 'undecided', because: finding.sentence, finding }
  })
}
