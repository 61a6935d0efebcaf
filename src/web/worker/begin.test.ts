import { expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import { evidenceOfDesign, proofOfDesign } from '../../proof/index.js'
import { begun } from './begin.js'

it('counts as met what the proof of the written file counts as met, and nothing more', () => {
  const started = begun({}).started!
  const loaded = loadDesign(started.text)
  const calculated = evidenceOfDesign(loaded, { file: 'halfbit.yaml' })
  const { rows } = proofOfDesign(loaded, { calculated, runs: [], version: '' })
  const met = rows.filter((row) => row.verdict === 'met')
  expect(started.rows.length).toBe(rows.length)
  expect(started.rows.flatMap((r) => (r.margin === undefined ? [] : [r.clause]))).toEqual(
    met.map((row) => row.clause),
  )
  // What only a declaration speaks of is calculated, but not shown.
  for (const clause of ['short-trip', 'refresh', 'command-latency'] as const) {
    const row = started.rows.find((r) => r.clause === clause)!
    expect(row).toMatchObject({ clause, needs: 'firmware or record' })
    expect(row.margin).toBeUndefined()
  }
  expect(started.figures.find((f) => f.label === 'switched off after')!.margin).toBeUndefined()
})
