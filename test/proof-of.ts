/** A proof of an invented station in which a few clauses are what a test wants. */
import { type Proof, prove } from '../src/proof/index.js'
import { type ClauseId, profileOf, type Verdict } from '../src/standard/index.js'

const MARGIN: Record<Verdict, number> = { met: 0.5, undecided: 0, broken: -0.5 }

export function proofOf(verdicts: readonly (readonly [ClauseId, Verdict])[]): Proof {
  return prove(
    verdicts.map(([clause, verdict]) => ({
      clause,
      origin: 'calculated',
      verdict,
      value: { low: 1, high: 1, unit: '' },
      margin: MARGIN[verdict],
      because: 'Because of a test',
    })),
    profileOf({ profile: 'nmra', scale: 'H0', cutout: false }),
    {
      name: 'Test station (invented)',
      outputs: [{ name: 'main', mode: 'operations', cutout: false }],
      inputs: [],
      version: '1.2.3',
    },
  )
}
