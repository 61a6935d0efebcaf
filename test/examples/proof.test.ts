/** The examples, proved as a builder proves them: the healthy ones hold, the flawed one names each planted fault. */
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { evidenceOf, isShownCell, type Proof, type Row } from '../../src/proof/index.js'
import { CLAUSE_FACTS, ORIGINS } from '../../src/standard/index.js'
import { halfbitHere } from '../contract/here.js'

const root = new URL('../../', import.meta.url).pathname
const examples = readdirSync(join(root, 'examples'), { withFileTypes: true })
  .filter((e) => e.isDirectory() && existsSync(join(root, 'examples', e.name, 'halfbit.yaml')))
  .map((e) => e.name)

async function proofOf(name: string): Promise<{ proof: Proof; status: number }> {
  const { status, stdout, stderr } = await halfbitHere(['prove', `examples/${name}/halfbit.yaml`, '--json'])
  expect(stderr).toBe('')
  return { proof: JSON.parse(stdout), status }
}

describe('the examples', () => {
  it.each(examples.filter((name) => name !== 'flawed'))('%s: nothing is broken', async (name) => {
    const { proof, status } = await proofOf(name)
    const troubled = proof.rows.filter((r) => r.verdict === 'broken' || r.verdict === 'undecided')
    expect(troubled.map((r) => `${r.clause} ${r.about ?? ''} ${r.verdict}`)).toEqual([])
    expect(status).toBe(0)
  })

  it('exhibition: half-bits, preamble and times are shown by all three origins, and agree', async () => {
    const { proof } = await proofOf('exhibition')
    expect(proof.about.inputs.map((i) => i.role)).toEqual(['design', 'firmware', 'stimulus', 'capture'])
    const cells = (r: Row) => Object.entries(r.cells).filter(([, c]) => isShownCell(c))
    const shown = (r: Row) =>
      cells(r)
        .map(([origin]) => origin)
        .sort()
        .join()
    for (const clause of ['one-half', 'zero-half', 'zero-total', 'one-difference', 'preamble']) {
      const row = proof.rows.find((r) => r.clause === clause)!
      expect(shown(row), clause).toBe('calculated,measured,simulated')
      const middle = Object.values(row.cells).map((cell) => {
        const [e] = evidenceOf(cell)
        return (e!.value.low + e!.value.high) / 2
      })
      const [first] = middle
      // The capture was sampled at 4 MHz and the clock has 1.1 % of tolerance: the origins agree to that.
      if (clause.endsWith('-half'))
        for (const m of middle) expect(Math.abs(m / first! - 1)).toBeLessThan(0.011)
    }
  })

  it('flawed: every planted fault of its README is broken', async () => {
    const { proof, status } = await proofOf('flawed')
    expect(status).toBe(1)
    const readme = readFileSync(join(root, 'examples/flawed/README.md'), 'utf8')
    const planted = readme
      .split('\n')
      .filter((line) => /^\| .* \|$/.test(line) && line.includes('FAULT'))
      .flatMap((line) =>
        [
          ...line
            .split('|')
            .at(-2)!
            .matchAll(/`([a-z-]+)`/g),
        ].map((m) => m[1]!),
      )
    expect(planted.length).toBeGreaterThan(5)
    const broken = new Set(proof.rows.filter((r) => r.verdict === 'broken').map((r) => r.clause as string))
    expect(planted.filter((clause) => !broken.has(clause))).toEqual([])
    const deadline = proof.rows.find((r) => r.clause === 'deadline')!
    expect(JSON.stringify(deadline)).toMatch(/a compare value of TIMER1_COMPA came too late \d+ times/)
  })

  it.each(examples)('%s: each statement is of an origin that the facts of its clause name', async (name) => {
    const { proof } = await proofOf(name)
    const wrong = proof.rows.flatMap(({ clause, cells }) =>
      ORIGINS.filter((o) => cells[o] && !CLAUSE_FACTS[clause].shownBy.includes(o)).map(
        (o) => `${clause} ${o}`,
      ),
    )
    expect(wrong).toEqual([])
    // Counted are all rows, and none that is not shown hides behind a met one.
    const { met, broken, undecided } = proof.counts
    expect(met + broken + undecided + proof.counts['not shown']).toBe(proof.rows.length)
    if (proof.counts['not shown'] > 0) expect(proof.verdict).not.toBe('met')
  })

  it('shelf: what a simulation could show and does not fails where it is required', async () => {
    const required = await halfbitHere([
      'prove',
      'examples/shelf/halfbit.yaml',
      '--require',
      'simulated',
      '--json',
    ])
    expect(required.status).toBe(1)
    const proof: Proof = JSON.parse(required.stdout)
    const wanted = proof.rows.filter((r) => CLAUSE_FACTS[r.clause].shownBy.includes('simulated'))
    expect(proof.required!.missing).toHaveLength(wanted.length)
    expect(proof.counts.broken).toBe(0)
    const said = await halfbitHere([
      'prove',
      'examples/shelf/halfbit.yaml',
      '--require',
      'simulated,measured',
    ])
    expect(said.status).toBe(1)
    expect(said.stdout).toMatch(/NOT ALL THAT WAS REQUIRED IS SHOWN/)
    const wrong = await halfbitHere(['prove', 'examples/shelf/halfbit.yaml', '--require', 'simulatd'])
    expect([wrong.status, wrong.stderr]).toEqual([
      2,
      expect.stringMatching(/--require simulatd.*nearest is simulated/),
    ])
  })

  it('a design can require it too, and the command line can require something else', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'halfbit-require-'))
    const design = join(folder, 'halfbit.yaml')
    const text = readFileSync(join(root, 'examples/shelf/halfbit.yaml'), 'utf8')
    writeFileSync(design, `${text}\nrequire: [simulated]\n`)
    const missing = async (...args: string[]) => {
      const { status, stdout } = await halfbitHere(['prove', design, '--json', ...args])
      return [status, JSON.parse(stdout).required.origins]
    }
    expect(await missing()).toEqual([1, ['simulated']])
    expect(await missing('--require', 'measured')).toEqual([1, ['measured']])
    rmSync(folder, { recursive: true })
  })
})
