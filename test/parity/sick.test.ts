/** No proof stands over firmware that does not work, and both faces say the same of it, cell by cell. */
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import type { Proof } from '../../src/proof/index.js'
import { built, halfbit } from '../contract/halfbit.js'
import { HAVE_COMPILER, workFolder } from '../firmware/compile.js'
import { HEALTHY, makeStation, SICK, type Sick } from './sick.js'
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

  it.each(SICK.map((s) => [s.name, s] as const))('%s', async (_, sick) => {
    const { status, proof, web } = await proofs(sick)
    expect(broken(proof)).toEqual(expect.arrayContaining(sick.broken))
    expect(status).toBe(1)
    expect(web).toEqual(proof)
  })
})
