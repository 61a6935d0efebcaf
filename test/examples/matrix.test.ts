/** Variants of the examples: the table of proofs finds the sick ones sick, for the planted reason, and the others sound. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { AS_WRITTEN } from '../../src/design/index.js'
import type { Matrix } from '../../src/proof/index.js'
import { built, halfbit } from '../contract/halfbit.js'
import { halfbitHere } from '../contract/here.js'

/** Seven proofs, of which most run firmware, ms. */
const LONG = 240_000

/** What must be broken in each variant that must not pass, and must be sound in the design as written. */
const PLANTED: Readonly<Record<string, Readonly<Record<string, readonly string[]>>>> = {
  shelf: {
    'internal oscillator': ['one-half'],
    'hot corner': ['driver-heat'],
    'thin bus': ['fuse'],
  },
  'two-tracks': {
    'debug build': ['short-trip'],
    'bipolar driver': ['driver-heat', 'short-trip', 'inrush'],
    'laptop supply': ['track-voltage-max'],
  },
  exhibition: {
    'bare driver': ['driver-heat'],
    'small supplies': ['supply-current', 'short-current'],
    'thin branch bus': ['voltage-drop', 'fuse'],
  },
  automation: {
    'weak supply': ['supply-current', 'short-current'],
    'closed case': ['driver-heat'],
  },
}

describe.each(Object.entries(PLANTED))('the variants of %s', (example, planted) => {
  it(
    'are six or more; what must not pass does not, and the rest is recommended as far as it is shown',
    async () => {
      const path = `examples/${example}/halfbit.yaml`
      const { status, stdout, stderr } = await halfbitHere(['matrix', path, '--json'])
      expect(stderr).toBe('')
      expect(status).toBe(1)
      const { rows } = JSON.parse(stdout) as Matrix
      expect(rows.length).toBeGreaterThanOrEqual(7)
      for (const row of rows) {
        const broken = new Set(
          row.troubles.filter((t) => t.verdict === 'broken').map((t) => t.clause.split(' ')[0]),
        )
        const wanted = planted[row.variant]
        if (wanted) {
          expect(row.advice, row.variant).toBe('not recommended')
          for (const clause of wanted) expect(broken, row.variant).toContain(clause)
        } else {
          expect(row.troubles, row.variant).toEqual([])
          expect(['recommended', 'as far as shown'], row.variant).toContain(row.advice)
          // Something spoke for it: a variant of which little is shown is no good one.
          expect(row.counts.met, row.variant).toBeGreaterThan(row.counts.broken + 20)
        }
      }
      // The file says of each variant what the table finds.
      const text = readFileSync(new URL(`../../${path}`, import.meta.url), 'utf8')
      const said = [...text.matchAll(/^ {2}(\w[^:]*): # must not pass/gm)].map(([, name]) => name)
      expect(said.sort()).toEqual(Object.keys(planted).sort())
      expect(rows[0]!.variant).toBe(AS_WRITTEN)
    },
    LONG,
  )
})

describe('variants that are proved one after the other', () => {
  it(
    'are each proved by their own run of the firmware',
    () => {
      built()
      const rowsOf = (...names: string[]) => {
        const variants = names.flatMap((name) => ['--variant', name])
        // The built command runs the firmware of all of them in one thread.
        const { stdout } = halfbit(['matrix', 'examples/two-tracks/halfbit.yaml', ...variants, '--json'])
        return (JSON.parse(stdout) as Matrix).rows.map(({ variant, counts, troubles }) => ({
          variant,
          counts,
          troubles,
        }))
      }
      const names = ['debug build', AS_WRITTEN]
      const [debug, asWritten] = rowsOf(...names)
      expect([debug]).toEqual(rowsOf('debug build'))
      expect([asWritten]).toEqual(rowsOf(AS_WRITTEN))
      // Only a run tells them apart.
      expect(debug!.troubles).not.toEqual(asWritten!.troubles)
    },
    LONG,
  )
})
