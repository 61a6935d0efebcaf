import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import { type Evidence, type Origin, profileOf } from '../../standard/index.js'
import { InputError } from '../../units/index.js'
import {
  type Proof,
  proofHolds,
  proofHtml,
  proofJunit,
  proofMarkdown,
  proofText,
  prove,
  readBaseline,
  type ShownCell,
  sinceBaseline,
} from '../index.js'

const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const OUTPUTS = [{ name: 'main', mode: 'operations', cutout: false }] as const

function half(origin: Origin, margin: number, change: Partial<Evidence> = {}): Evidence {
  return {
    clause: 'one-half',
    origin,
    verdict: margin < 0 ? 'broken' : 'met',
    value: { low: 58, high: 58, unit: 'us' },
    margin,
    about: 'main',
    because: 'a test',
    ...change,
  }
}

const proofWith = (list: Evidence[], change: Partial<Proof['about']> = {}): Proof =>
  prove(list, PROFILE, {
    name: 'Test station (invented)',
    outputs: OUTPUTS,
    inputs: [],
    version: '1.2.3',
    ...change,
  })

const source = { file: 'accepted.json' }
/** As the command has it: both sides went through JSON. */
function since(before: Evidence[], now: Evidence[]) {
  const proof = proofWith(now)
  const read = (p: Proof) => readBaseline(JSON.stringify(p), source, proof)
  return sinceBaseline(read(proofWith(before)), read(proof), source)
}

describe('since the accepted proof', () => {
  it('worse is: another verdict, less margin beyond rounding, or no longer shown', () => {
    const { worse, better } = since([half('calculated', 0.9)], [half('calculated', -0.2)])
    expect(worse).toEqual([
      { clause: 'one-half', origin: 'calculated', kind: 'verdict', before: 'met 0.9', now: 'BROKEN -0.2' },
    ])
    expect(better).toEqual([])
    expect(since([half('calculated', 0.9)], [half('calculated', 0.88)]).worse).toMatchObject([
      { kind: 'margin', before: 'met 0.9', now: 'met 0.88' },
    ])
    expect(since([half('calculated', 0.88)], [half('calculated', 0.9)])).toMatchObject({
      worse: [],
      better: [{ kind: 'margin', before: 'met 0.88', now: 'met 0.9' }],
    })
    expect(since([half('calculated', 0.9)], []).worse).toMatchObject([
      { kind: 'no longer shown', now: 'not shown' },
    ])
  })

  it('a broken clause that is no longer shown is worse, not mended', () => {
    expect(since([half('calculated', -0.9)], []).worse).toHaveLength(1)
  })

  it('a clause that was broken and is no longer shown as a whole is worse, though its calculation got better', () => {
    // Calculated alone, what the firmware does is not shown.
    const latency = (margin: number) => half('calculated', margin, { clause: 'command-latency' })
    expect(since([latency(-0.2)], [latency(0.5)]).worse).toMatchObject([
      { clause: 'command-latency', kind: 'no longer shown', now: 'not shown' },
    ])
  })

  it('a simulation that got worse is not hidden by a calculation that was worse all along', () => {
    const { worse } = since(
      [half('calculated', 0.3), half('simulated', 0.9)],
      [half('calculated', 0.3), half('simulated', 0.5)],
    )
    expect(worse).toMatchObject([{ origin: 'simulated', kind: 'margin' }])
  })

  it('an origin that shows nothing any more is worse, though another still does', () => {
    const { worse } = since([half('calculated', 0.3), half('simulated', 0.9)], [half('calculated', 0.3)])
    expect(worse).toMatchObject([{ origin: 'simulated', kind: 'no longer shown' }])
  })

  it('what is newly seen to be broken is worse, newly met better', () => {
    expect(since([], [half('measured', -0.1)]).worse).toMatchObject([{ kind: 'newly shown' }])
    expect(since([], [half('measured', 0.1)]).better).toMatchObject([{ kind: 'newly shown' }])
    expect(
      since([half('calculated', 0.5)], [half('calculated', 0.5), half('measured', -0.1)]).worse,
    ).toMatchObject([{ origin: 'measured' }])
  })

  it('a clause that was met and is now undecided is worse, whoever says so', () => {
    const now = [half('calculated', 0.5), half('measured', 0.1, { verdict: 'undecided' })]
    expect(since([half('calculated', 0.5)], now).worse).toMatchObject([
      { clause: 'one-half', kind: 'verdict', before: 'met', now: 'UNDECIDED' },
    ])
  })

  it('a clause that only one of them owes is counted, and worse where it is undecided', () => {
    const short = (change: Partial<Evidence> = {}) =>
      half('calculated', 0.4, { clause: 'short-trip', about: 'yard', ...change })
    const undecided = [short({ verdict: 'undecided', margin: 0 })]
    expect(since([], undecided).worse).toEqual([
      { clause: 'short-trip (yard)', kind: 'newly owed', before: 'not owed', now: 'UNDECIDED' },
    ])
    const unshown = [{ ...short(), verdict: 'not shown' }] as unknown as Evidence[]
    const owed = since([], unshown)
    expect(owed).toMatchObject({ worse: [], better: [] })
    expect(owed.others).toContainEqual({
      clause: 'short-trip (yard)',
      kind: 'newly owed',
      before: 'not owed',
      now: 'not shown',
    })
    const gone = since(unshown, [])
    expect(gone).toMatchObject({
      worse: [],
      others: expect.arrayContaining([
        expect.objectContaining({ kind: 'no longer owed', before: 'not shown', now: 'not owed' }),
      ]),
    })
    const proof = proofWith([])
    proof.since = gone
    expect(proofHolds(proof)).toBe(true)
    for (const report of [
      proofText(proof, { width: 300, colour: false }).join('\n'),
      proofHtml(proof),
      proofMarkdown(proof).replaceAll('\\', ''),
    ]) {
      expect(report).toContain('2 owed by only one of the two and not shown')
      expect(report).toContain('neither: short-trip (yard): not shown before, not owed now')
    }
    expect(proofJunit(proof)).toContain(
      '<skipped message="short-trip (yard): not shown before, not owed now"/>',
    )
  })

  it('a clause as a whole gets worse from met to not shown to undecided to broken', () => {
    // Calculated alone, what the firmware does is not shown; what a capture then says is.
    const latency = (origin: Origin, margin: number, verdict: Evidence['verdict']) =>
      half(origin, margin, { clause: 'command-latency', verdict })
    const declared = [latency('calculated', 0.5, 'met')]
    const undecided = [...declared, latency('simulated', 0, 'undecided')]
    expect(since(declared, undecided).worse).toContainEqual(
      expect.objectContaining({ clause: 'command-latency', before: 'not shown', now: 'UNDECIDED' }),
    )
  })

  it('the last printed digit is no change', () => {
    for (const by of [0, 0.004, -0.004, 0.0099, -0.0099])
      expect(since([half('calculated', 0.5)], [half('calculated', 0.5 + by)])).toMatchObject({
        worse: [],
        better: [],
      })
  })

  it('is the same of a proof and itself, infinities and all', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.record({
            origin: fc.constantFrom<Origin>('calculated', 'simulated', 'measured'),
            margin: fc.double({ min: -50, max: 1, noNaN: true }),
            high: fc.constantFrom(58, Number.POSITIVE_INFINITY),
          }),
          { maxLength: 6 },
        ),
        (list) => {
          const e = list.map(({ origin, margin, high }) =>
            half(origin, margin, { value: { low: 58, high, unit: 'us' } }),
          )
          expect(since(e, e)).toMatchObject({ worse: [], better: [] })
        },
      ),
      { numRuns: runs(50) },
    )
  })

  it('makes the proof fail when something is worse, and every report says what', () => {
    const proof = proofWith([half('calculated', 0.5)])
    expect(proofHolds(proof)).toBe(true)
    proof.since = since([half('calculated', 0.9)], [half('calculated', 0.5)])
    expect(proofHolds(proof)).toBe(false)
    for (const report of [
      proofText(proof, { width: 200, colour: false }).join('\n'),
      proofHtml(proof),
      proofMarkdown(proof).replaceAll('\\', ''),
      proofJunit(proof),
    ])
      expect(report).toContain('one-half, calculated: met 0.9 before, met 0.5 now')
    expect(proofJunit(proof)).toContain('<failure type="worse"')
  })
})

describe('an accepted proof', () => {
  const proof = proofWith([half('calculated', 0.9), half('simulated', 0.5)])
  const changed = (change: (p: { profile: object; about: object; rows: Proof['rows'] }) => void): string => {
    const copy = JSON.parse(JSON.stringify(proof))
    change(copy)
    return JSON.stringify(copy)
  }

  it.each<[string, string, RegExp]>([
    [
      'text',
      'proof',
      /^accepted\.json:1:1: is not JSON: "p" is out of place; expected a value, as in the JSON of an accepted proof$/,
    ],
    ['nothing', '', /is not JSON/],
    ['another object', '{"halfbit":1,"kind":"matrix"}', /is no proof/],
    ['a list', '[]', /is no proof/],
    ['another format', changed((p) => Object.assign(p, { halfbit: 2 })), /is no proof/],
    [
      'another design',
      JSON.stringify(proofWith([], { name: 'Another' })),
      /is the proof of Another; expected one of Test station/,
    ],
    [
      'another variant',
      JSON.stringify(proofWith([], { variant: 'small' })),
      /is the proof of Test station \(invented\), variant small; expected one of Test station/,
    ],
    [
      'another version',
      JSON.stringify(proofWith([], { version: '1.2.2' })),
      /was made by halfbit 1\.2\.2; expected one of halfbit 1\.2\.3/,
    ],
    [
      'another scale',
      changed((p) => Object.assign(p.profile, { scale: 'N' })),
      /was judged by .*scale N; expected one judged by .*scale H0/,
    ],
    ['no rows', changed((p) => Object.assign(p, { rows: [] })), /damaged proof: it has no clauses/],
    [
      'a row of no clause',
      changed((p) => Object.assign(p.rows[0]!, { clause: 'toString' })),
      /damaged proof: a row has no known clause/,
    ],
    [
      'a margin that is none',
      changed((p) =>
        Object.assign(p.rows[0]!.cells.calculated!, {
          margin: null,
        }),
      ),
      /damaged proof: the row of one-half has a cell without margin/,
    ],
    [
      'one with a row twice',
      JSON.stringify({ ...proof, rows: [...proof.rows, proof.rows[0]] }, null, 2),
      /^accepted\.json:\d+:5: is a damaged proof: the row of one-half is there twice; expected the JSON/,
    ],
    [
      'one with a row less',
      changed((p) =>
        p.rows.splice(
          p.rows.findIndex((r) => r.clause === 'one-half'),
          1,
        ),
      ),
      /damaged proof: it counts 1 met, and has 0 such rows/,
    ],
    [
      'cut off',
      JSON.stringify(proof, null, 2).slice(0, 60),
      /^accepted\.json:\d+:\d+: is not JSON: it ends here; expected/,
    ],
    [
      'one with a key twice',
      JSON.stringify(proof).replace('"verdict":"met"', '"verdict":"broken","verdict":"met"'),
      /^accepted\.json:1:\d+: the key "verdict" is written twice; expected each key once/,
    ],
    ['deeply nested', '['.repeat(1e5), /^accepted\.json:1:202: is not JSON: .*expected at most 200 lists/],
    [
      'one whose cell says more than its statements',
      changed((p) => Object.assign(p.rows[0]!.cells.calculated!, { margin: 0.95 })),
      /the row of one-half has a cell with another margin than its statements/,
    ],
    [
      'one whose cell has another verdict than its statements',
      changed((p) => Object.assign(p.rows[0]!.cells.calculated!, { verdict: 'undecided' })),
      /the row of one-half has a cell with another verdict than its statements/,
    ],
    [
      'one whose row has another verdict than its cells',
      changed((p) => Object.assign(p.rows[0]!, { verdict: 'broken' })),
      /the row of one-half has another verdict than its cells/,
    ],
    [
      'one whose verdict is not that of its rows',
      changed((p) => Object.assign(p, { verdict: 'met' })),
      /its verdict is not that of its rows/,
    ],
    [
      'one with a text for a figure',
      changed((p) =>
        Object.assign((p.rows[0]!.cells.calculated as ShownCell).evidence[0]!, { margin: '0.9' }),
      ),
      /the row of one-half has a cell without statement/,
    ],
    [
      'an interrupted run',
      changed((p) => Object.assign(p.about, { notes: [{ code: 'proof/interrupted', sentence: '' }] })),
      /interrupted or out of date/,
    ],
  ])('is refused when it is %s', (_, text, says) => {
    let error: unknown
    try {
      readBaseline(text, source, proof)
    } catch (e) {
      error = e
    }
    expect(error).toBeInstanceOf(InputError)
    expect((error as InputError).describe()).toMatch(says)
  })

  it('is refused at the line and column of what is wrong', () => {
    const text = JSON.stringify(proof, null, 2)
    const at = text.split('\n').findIndex((line) => line.includes('"version"'))
    const other = text.replace('"version": "1.2.3"', '"version": "1.2.2"')
    expect(() => readBaseline(other, source, proof)).toThrow(
      expect.objectContaining({ place: { file: 'accepted.json', line: at + 1, column: 16 } }),
    )
  })

  it('is read, or refused in words, whatever part of it is damaged', () => {
    const text = JSON.stringify(proof)
    fc.assert(
      fc.property(fc.nat(text.length - 1), fc.string({ maxLength: 6 }), fc.nat(40), (at, put, cut) => {
        const damaged = text.slice(0, at) + put + text.slice(at + cut)
        try {
          const read = readBaseline(damaged, source, proof)
          sinceBaseline(read, readBaseline(text, source, proof), source)
        } catch (error) {
          expect(error).toBeInstanceOf(InputError)
        }
      }),
      { numRuns: runs(500) },
    )
  })
})
