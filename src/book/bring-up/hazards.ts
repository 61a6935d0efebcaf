/** Whether a station may be switched on at all, and whether a train may be put on its rails, as far as its proof goes. */

import type { PowerReport } from '../../power/index.js'
import type { Proof, Row } from '../../proof/index.js'
import { type Unmet, unmet } from '../contents/unmet.js'
import { HAZARD_OF, type Hazard } from './hazards.data.js'

export interface Hazards {
  /** While there is one of these, no driver gets power. */
  power: Unmet[]
  /** While there is one of these, no locomotive is put on the rails. */
  train: Unmet[]
  /** Clauses of the first kind that nobody has shown, neither met nor broken. */
  unknown: string[]
  /** Districts that nothing in the design switches off when they are shorted. */
  untripped: string[]
}

/** `fuse (yard, branch)`: each clause once. */
function byClause(rows: readonly Row[]): string[] {
  const parts = new Map<Row['clause'], string[]>()
  for (const { clause, about } of rows)
    parts.set(clause, [...(parts.get(clause) ?? []), ...(about === undefined ? [] : [about])])
  return [...parts].map(([clause, about]) =>
    about.length === 0 ? clause : `${clause} (${about.join(', ')})`,
  )
}

export function hazardsOf(proof: Proof, power: PowerReport | undefined): Hazards {
  const of = (hazard: Hazard) =>
    proof.rows
      .filter((r) => HAZARD_OF[r.clause] === hazard && (r.verdict === 'broken' || r.verdict === 'undecided'))
      .map(unmet)
  return {
    power: of('power'),
    train: of('train'),
    unknown: byClause(proof.rows.filter((r) => HAZARD_OF[r.clause] === 'power' && r.verdict === 'not shown')),
    untripped: (power?.districts ?? []).flatMap((d) => (d.trip ? [] : [d.name])),
  }
}
