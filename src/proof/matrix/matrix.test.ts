import { readFileSync } from 'node:fs'
import { parse } from 'parse5'
import { SaxesParser } from 'saxes'
import { beforeAll, describe, expect, it } from 'vitest'
import { AS_WRITTEN, loadDesign } from '../../design/index.js'
import { type Evidence, notShown, profileOf } from '../../standard/index.js'
import {
  evidenceOfDesign,
  type Matrix,
  type MatrixInput,
  matrixHolds,
  matrixHtml,
  matrixJunit,
  matrixMarkdown,
  matrixOf,
  matrixText,
  PROOF_FINDINGS,
  type Proof,
  proofOfDesign,
  prove,
} from '../index.js'

const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const CALCULATED = ['one-half', 'one-difference', 'zero-half', 'zero-total'] as const

function evidence(clause: Evidence['clause'], margin: number, change: Partial<Evidence> = {}): Evidence {
  return {
    clause,
    origin: 'calculated',
    verdict: margin < 0 ? 'broken' : 'met',
    value: { low: 58, high: 58, unit: 'us' },
    margin,
    about: 'main',
    because: 'a test',
    ...change,
  }
}

function proofWith(list: Parameters<typeof prove>[0], require: ('simulated' | 'calculated')[] = []): Proof {
  const outputs = [{ name: 'main', mode: 'operations', cutout: false }] as const
  return prove(
    list,
    PROFILE,
    { name: 'Test station (invented)', outputs, inputs: [], version: '1.2.3' },
    { require },
  )
}

const one = (proof: Proof, variant = 'a', suits?: string): MatrixInput => ({ variant, suits, proof })

describe('a cell', () => {
  const cellOf = (list: Parameters<typeof prove>[0]) =>
    matrixOf([one(proofWith(list))], 'stages').rows[0]!.cells['controller']!

  it('is not shown as long as one of its clauses is not, however good the others are', () => {
    const cell = cellOf([evidence('one-half', 0.9), evidence('zero-half', 0.8)])
    expect(cell).toMatchObject({ verdict: 'not shown', margin: 0.8, worst: 'zero-half' })
    expect(cell.notShown).toEqual(expect.arrayContaining(['one-difference', 'zero-total', 'glitch']))
  })

  it('is broken where one clause is, and undecided where none is broken', () => {
    const met = CALCULATED.map((c) => evidence(c, 0.9))
    expect(cellOf([...met, evidence('one-half', -0.1)])).toMatchObject({ verdict: 'broken', margin: -0.1 })
    expect(cellOf([...met, evidence('one-half', 0.1, { verdict: 'undecided' })]).verdict).toBe('undecided')
  })

  it('has the smallest margin of all origins, farthest below the limit first, and names the clause with its part', () => {
    const simulated = (margin: number) => evidence('one-half', margin, { origin: 'simulated' })
    expect(cellOf([evidence('one-half', 0.6), simulated(0.2), evidence('zero-half', 0.4)])).toMatchObject({
      margin: 0.2,
      worst: 'one-half',
    })
    expect(cellOf([evidence('one-half', -0.6), evidence('zero-half', 0.1)])).toMatchObject({
      margin: -0.6,
      worst: 'one-half',
    })
    const heat = (about: string, margin: number) => evidence('driver-heat', margin, { about })
    const { cells } = matrixOf([one(proofWith([heat('left', 0.5), heat('right', 0.3)]))], 'clauses').rows[0]!
    expect(cells['driver-heat']).toMatchObject({ margin: 0.3, worst: 'driver-heat (right)' })
  })

  it('takes no margin from what the firmware is only declared to do', () => {
    // Calculated alone, the latency of a command is not shown: its margin must not stand for it.
    const { cells } = matrixOf(
      [one(proofWith([evidence('command-latency', 0.9, { about: undefined })]))],
      'clauses',
    ).rows[0]!
    expect(cells['command-latency']).toMatchObject({ verdict: 'not shown' })
    expect(cells['command-latency']!.margin).toBeUndefined()
  })
})

describe('a recommendation', () => {
  it('never rests on what is not shown without saying so', () => {
    const [row] = matrixOf([one(proofWith([evidence('one-half', 0.9)]), 'a', 'clubs')], 'stages').rows
    expect(row!.advice).toBe('as far as shown')
    expect(row!.finding.code).toBe('matrix/recommended-as-far-as-shown')
    expect(row!.finding.sentence).toMatch(/^a \(suits: clubs\): .*but \d+ of \d+ clauses are not shown/)
    expect(row!.behaviourNotShown).toContain('command-latency')
    expect(row!.behaviourNotShown).not.toContain('zero-half')
    const { choice } = matrixOf([one(proofWith([evidence('one-half', 0.9)]))], 'stages')
    expect(choice.sentence).toMatch(/\d+ of its clauses are not shown/)
  })

  it('is none where nothing is shown, where something is broken, or where what was required is missing', () => {
    const nothing = one(proofWith([]))
    const silent = one(
      proofWith([notShown('one-half', 'calculated', PROOF_FINDINGS.find('not-calculated', {}))]),
    )
    const broken = one(proofWith([evidence('one-half', -0.2)]))
    const missing = one(proofWith([evidence('one-half', 0.9)], ['simulated']))
    const matrix = matrixOf([nothing, silent, broken, missing], 'stages')
    expect(matrix.rows.map((r) => r.advice)).toEqual(Array(4).fill('not recommended'))
    expect(matrix.rows.map((r) => r.finding.code)).toEqual([
      'matrix/variant-nothing-shown',
      'matrix/variant-nothing-shown',
      'matrix/variant-broken',
      'matrix/variant-requirement',
    ])
    expect(matrix.choice.code).toBe('matrix/no-choice')
    expect(matrix.rows.map((r) => r.holds)).toEqual([true, true, false, false])
    expect(matrixHolds(matrix)).toBe(false)
  })

  it('waits where something is undecided', () => {
    const proof = proofWith([evidence('one-half', 0.1, { verdict: 'undecided' })])
    expect(matrixOf([one(proof)], 'stages').rows[0]!.advice).toBe('undecided')
  })

  it('goes first to the variant of which most is shown, then to the larger margin', () => {
    const little = one(proofWith([evidence('one-half', 0.9)]), 'little')
    const more = one(proofWith([evidence('one-half', 0.2), evidence('zero-half', 0.9)]), 'more')
    const best = one(proofWith([evidence('one-half', 0.3), evidence('zero-half', 0.9)]), 'best')
    expect(matrixOf([little, more, best], 'stages').choice.params).toMatchObject({
      variant: 'best',
      others: 3,
    })
    // What reads the same is no reason to leave the order of the file.
    const same = one(proofWith([evidence('one-half', 0.3001), evidence('zero-half', 0.9)]), 'same')
    expect(matrixOf([best, same], 'stages').choice.params).toMatchObject({ variant: 'best' })
  })
})

describe('the shelf in seven variants', () => {
  const file = 'examples/shelf/halfbit.yaml'
  const text = readFileSync(new URL(`../../../${file}`, import.meta.url), 'utf8')
  let matrix: Matrix
  let clauses: Matrix

  beforeAll(() => {
    const inputs = [undefined, ...loadDesign(text).variants].map((info): MatrixInput => {
      const loaded = loadDesign(text, file, info?.name)
      const calculated = evidenceOfDesign(loaded, { file })
      return {
        variant: info?.name ?? AS_WRITTEN,
        suits: info?.suits,
        proof: proofOfDesign(loaded, { calculated, runs: [], version: '1.2.3' }),
      }
    })
    matrix = matrixOf(inputs, 'stages')
    clauses = matrixOf(inputs, 'clauses')
  }, 120_000)

  const rowOf = (m: Matrix, name: string) => m.rows.find((r) => r.variant === name)!
  const brokenIn = (m: Matrix) =>
    Object.fromEntries(
      m.rows.map((r) => [
        r.variant,
        Object.entries(r.cells).flatMap(([column, cell]) => (cell.verdict === 'broken' ? [column] : [])),
      ]),
    )

  it('breaks what must not pass in its own cell and in no other', () => {
    expect(brokenIn(matrix)).toEqual({
      [AS_WRITTEN]: [],
      'larger controller': [],
      'internal oscillator': ['controller'],
      'hot corner': ['driver'],
      'thin bus': ['driver'],
      'H0 shelf': [],
      'other edition': [],
    })
    expect(brokenIn(clauses)).toMatchObject({
      'internal oscillator': ['one-half', 'zero-half'],
      'hot corner': ['driver-heat'],
      'thin bus': ['fuse'],
    })
    expect(rowOf(matrix, 'hot corner').finding.sentence).toMatch(/it breaks driver-heat \(bridge\)/)
  })

  it('recommends no variant that breaks, and none without saying what is not shown', () => {
    for (const row of matrix.rows) {
      expect(row.advice).toBe(row.troubles.length > 0 ? 'not recommended' : 'as far as shown')
      if (row.advice === 'as far as shown')
        expect(row.finding.sentence).toMatch(/are not shown, among them what its firmware does/)
    }
  })

  it('says what breaks, with figure, limit and line', () => {
    const text = matrixText(matrix, 100).join('\n')
    expect(text).toMatch(
      /What speaks against hot corner:\n- BROKEN driver-heat \(bridge\), calculated: .* °C/,
    )
    expect(text).toContain('(examples/shelf/halfbit.yaml:')
    expect(text).toMatch(/First choice of the 4 with nothing broken: as written/)
    for (const width of [40, 80, 160])
      for (const line of matrixText(matrix, width))
        expect(line.length).toBeLessThanOrEqual(Math.max(80, width))
  })

  it('is JUnit XML with one case for each cell, of which none passes with a gap in it', () => {
    for (const m of [matrix, clauses]) {
      const cases: Record<string, string> = {}
      let suite = ''
      let name = ''
      const counts: Record<string, number> = {}
      const parser = new SaxesParser()
      parser.on('opentag', ({ name: tag, attributes }) => {
        if (tag === 'testsuites') for (const [k, v] of Object.entries(attributes)) counts[k] = Number(v)
        if (tag === 'testsuite') suite = attributes['name'] as string
        if (tag === 'testcase') {
          name = `${suite}/${attributes['name']}`
          cases[name] = 'passed'
        }
        if (['failure', 'error', 'skipped'].includes(tag)) cases[name] = tag
      })
      parser.on('error', (e) => {
        throw e
      })
      parser.write(matrixJunit(m)).close()
      const wanted = m.rows.flatMap((r) =>
        Object.entries(r.cells).map(([column, cell]) => [
          `${r.variant}/${column}`,
          { broken: 'failure', undecided: 'error', 'not shown': 'skipped', met: 'passed' }[cell.verdict],
        ]),
      )
      expect(cases).toEqual(Object.fromEntries(wanted))
      expect(counts['tests']).toBe(wanted.length)
      expect(counts['failures']).toBe(Object.values(cases).filter((c) => c === 'failure').length)
    }
  })

  it('is a whole page and Markdown, both with every cell', () => {
    const html = matrixHtml(matrix)
    const faults: string[] = []
    parse(html, { onParseError: (e) => faults.push(e.code) })
    expect(faults).toEqual([])
    for (const page of [html, matrixMarkdown(matrix), matrixMarkdown(clauses)]) {
      expect(page).toContain('hot corner')
      expect(page).toMatch(/BROKEN/)
      expect(page).toMatch(/not shown/)
    }
    expect(matrixMarkdown(matrix).match(/^\| (?!variant)/gm)).toHaveLength(7)
  })
})
