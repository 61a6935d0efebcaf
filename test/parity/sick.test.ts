/** No proof stands over firmware that does not work, and both faces say the same of it, cell by cell. */
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { isShownCell, type Proof } from '../../src/proof/index.js'
import { built, halfbit } from '../contract/halfbit.js'
import { HAVE_COMPILER, workFolder } from '../firmware/compile.js'
import { CLEAN, HEALTHY, MADE_BY_SPI, makeStation, SICK, type Sick } from './sick.js'
import { webProof } from './web-proof.js'

beforeAll(built)
const folder = workFolder()

async function proofs(sick: Sick) {
  const own = join(folder, sick.name.replaceAll(' ', '-'))
  makeStation(own, sick)
  const { status, stdout, stderr } = halfbit(['prove', 'halfbit.yaml', '--json'], { cwd: own })
  expect(stderr).toBe('')
  const proof: Proof = JSON.parse(stdout)
  return { status, proof, web: await webProof(own) }
}

const broken = (proof: Proof) => [
  ...new Set(proof.rows.filter((r) => r.verdict === 'broken').map((r) => r.clause as string)),
]

describe.skipIf(!HAVE_COMPILER)('sick firmware (referee avr-gcc)', () => {
  it('is told from the healthy one, which keeps every clause that is shown', async () => {
    const { status, proof, web } = await proofs(HEALTHY)
    expect(broken(proof)).toEqual([])
    expect(status).toBe(0)
    expect(proof.behaviour).toBe('shown')
    expect(web).toEqual(proof)
  })

  it('is told from a program that only keeps its signal clean', async () => {
    const { status, proof, web } = await proofs(CLEAN)
    expect(broken(proof)).toEqual([])
    expect(status).toBe(0)
    expect(web).toEqual(proof)
  })

  it('does not take a signal made by SPI for a pin that never moved', async () => {
    const { proof, web } = await proofs(MADE_BY_SPI)
    const half = proof.rows.find((r) => r.clause === 'one-half')!.cells.simulated!
    // 7 bits of 8 us; where it were not simulated, the row would have to say so.
    expect(isShownCell(half) && half.evidence[0]!.value).toMatchObject({ low: 56, high: 56 })
    expect(JSON.stringify(proof)).not.toMatch(/never moved/)
    expect(web).toEqual(proof)
  })

  it.each(SICK.map((s) => [s.name, s] as const))('%s', async (_, sick) => {
    const { status, proof, web } = await proofs(sick)
    if (sick.only) expect(broken(proof).sort()).toEqual(sick.broken)
    else expect(broken(proof)).toEqual(expect.arrayContaining(sick.broken))
    expect(status).toBe(1)
    expect(web).toEqual(proof)
  })
})
