import fc from 'fast-check'
import { parse } from 'parse5'
import { SaxesParser } from 'saxes'
import { describe, expect, it } from 'vitest'
import { CLAUSE_IDS, type Evidence, type Origin, profileOf, type Verdict } from '../standard/index.js'
import { proofHtml, proofJunit, proofMarkdown, proofText } from './index.js'
import { ORIGINS, type Proof, type ProofAbout, prove } from './proof.js'

const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const ABOUT: ProofAbout = {
  name: 'Test station (invented)',
  outputs: [{ name: 'main', mode: 'operations', cutout: false }],
  inputs: [{ role: 'design', file: 'halfbit.yaml', sha256: 'ab'.repeat(32) }],
  version: '1.2.3',
}

function found(change: Partial<Evidence> = {}): Evidence {
  return {
    clause: 'one-half',
    origin: 'calculated',
    verdict: 'met',
    value: { low: 58, high: 58, unit: 'us' },
    margin: 1,
    about: 'main',
    because: 'a timer makes it',
    ...change,
  }
}

const rowOf = (proof: Proof, clause: string, about?: string) =>
  proof.rows.find((r) => r.clause === clause && r.about === about)!

describe('the proof', () => {
  it('has a row for every clause that the design can be held to, and none is met without evidence', () => {
    const proof = prove([], PROFILE, ABOUT)
    const without = ['cutout-start', 'cutout-end', 'service-sequence']
    expect(proof.rows.map((r) => r.clause)).toEqual(CLAUSE_IDS.filter((id) => !without.includes(id)))
    for (const row of proof.rows) {
      expect(row.verdict).toBe('not shown')
      expect(row.cells).toEqual({})
    }
    expect(proof.verdict).toBe('not shown')
  })

  it('has rows of their own for outputs, with the limits of their mode and cut-out', () => {
    const outputs = [
      { name: 'main', mode: 'operations', cutout: true },
      { name: 'service', mode: 'service', cutout: false },
    ] as const
    const proof = prove([], PROFILE, { ...ABOUT, outputs })
    // S-9.2.3:2012 E: 20 in service mode (confirmed); RCN-211: 17 with the cut-out (from memory).
    expect(rowOf(proof, 'preamble', 'main').limits).toBe('at least 17 bits')
    expect(rowOf(proof, 'preamble', 'service').limits).toBe('at least 20 bits')
    expect(rowOf(proof, 'cutout-start', 'main')).toBeDefined()
    expect(rowOf(proof, 'cutout-start', 'service')).toBeUndefined()
    expect(rowOf(proof, 'service-sequence', 'service')).toBeDefined()
    expect(rowOf(proof, 'same-address-gap', 'service')).toBeUndefined()
  })

  it('takes the worst of several statements', () => {
    const proof = prove(
      [
        found({ margin: 0.2 }),
        found({ verdict: 'undecided', margin: 0.6 }),
        found({ origin: 'simulated', margin: 0.9 }),
      ],
      PROFILE,
      ABOUT,
    )
    const { cells, verdict } = rowOf(proof, 'one-half')
    expect(cells.calculated).toMatchObject({ verdict: 'undecided', margin: 0.2 })
    expect(cells.calculated?.evidence.map((e) => e.verdict)).toEqual(['undecided', 'met'])
    expect(cells.simulated?.verdict).toBe('met')
    expect(cells.measured).toBeUndefined()
    expect(verdict).toBe('undecided')
    expect(proof.verdict).toBe('undecided')
  })

  // S-9.1:2020 Table 1 (confirmed): senders 55 to 61 us, decoders must accept 52 to 64 us.
  it.each([
    [62, 'must accept it', 'decoders should still read it, they must accept 52 to 64 us'],
    [65, 'need not accept it', 'decoders need not read it, they must accept only 52 to 64 us'],
  ] as const)('%d us is broken for the station; decoders %s', (us, decoders, says) => {
    const value = { low: us, high: us, unit: 'us' }
    const proof = prove([found({ verdict: 'broken', value, margin: -0.3 })], PROFILE, ABOUT)
    const cell = rowOf(proof, 'one-half').cells.calculated!
    expect(cell.verdict).toBe('broken')
    expect(cell.decoders).toBe(decoders)
    expect(cell.evidence[0]?.because).toContain(says)
    expect(proof.verdict).toBe('broken')
    for (const text of [
      proofText(proof, { width: 10_000, colour: false }).join('\n'),
      proofHtml(proof),
      proofMarkdown(proof),
      proofJunit(proof),
    ])
      expect(text).toContain(says)
  })

  it.each([
    { margin: Number.NaN },
    { margin: Number.POSITIVE_INFINITY },
    { value: { low: Number.NaN, high: 58, unit: 'us' } },
  ])('never calls figures that are none met: %j', (change) => {
    const proof = prove([found(change)], PROFILE, ABOUT)
    expect(rowOf(proof, 'one-half').verdict).toBe('undecided')
  })

  it('prints margins of any length', () => {
    for (const margin of [-0.0123456, -8.7654321, -1e-9, 0.999999, -123456, 1e-12]) {
      for (const verdict of ['met', 'broken', 'undecided'] as const) {
        const proof = prove([found({ margin, verdict })], PROFILE, ABOUT)
        for (const width of [40, 80, 120, 200]) {
          expect(proofText(proof, { width, colour: false }).join('\n')).toContain('one-half')
        }
      }
    }
  })

  it('refuses evidence for what is no clause', () => {
    expect(() => prove([found({ clause: 'constructor' as never })], PROFILE, ABOUT)).toThrow(/no clause/)
  })
})

const name = fc.oneof(
  fc.string({ maxLength: 30 }),
  fc.string({ unit: 'binary', maxLength: 30 }),
  fc.constantFrom(
    '<script>alert(1)</script>',
    ']]>',
    '&amp;',
    '"\'><b>',
    '\u001b[2J',
    'a|b\n# c',
    '-->',
    '\ud800',
    '\ufffe',
  ),
)
const evidence: fc.Arbitrary<Evidence> = fc.record({
  clause: fc.constantFrom(...CLAUSE_IDS),
  origin: fc.constantFrom<Origin>(...ORIGINS),
  verdict: fc.constantFrom<Verdict>('met', 'broken', 'undecided'),
  value: fc.record({ low: fc.double(), high: fc.double(), unit: fc.constantFrom('us', 'V', 'bits') }),
  margin: fc.double(),
  about: fc.oneof(fc.constant('main'), name),
  where: fc.record({ file: name, line: fc.nat(), channel: name, timeUs: fc.nat(), packet: name }),
  because: name,
})
const proofs = fc
  .record({
    list: fc.array(evidence, { maxLength: 12 }),
    title: name,
    file: name,
    notes: fc.array(name, { maxLength: 3 }),
  })
  .map(({ list, title, file, notes }) =>
    prove(list, PROFILE, {
      ...ABOUT,
      name: title,
      notes,
      cautions: notes,
      inputs: [{ role: 'capture', file }],
    }),
  )

describe('whatever the evidence', () => {
  it('a cell is met only if all its statements are, and the whole only if every cell is', () => {
    fc.assert(
      fc.property(fc.array(evidence, { maxLength: 20 }), (list) => {
        const proof = prove(list, PROFILE, ABOUT)
        const shown = proof.rows.flatMap((r) => Object.values(r.cells))
        expect(shown.flatMap((c) => c.evidence)).toHaveLength(list.length)
        for (const cell of shown) {
          if (cell.verdict === 'met') expect(cell.evidence.every((e) => e.verdict === 'met')).toBe(true)
          if (cell.evidence.some((e) => e.verdict === 'broken')) expect(cell.verdict).toBe('broken')
        }
        const isMet = shown.length > 0 && shown.every((c) => c.verdict === 'met')
        expect(proof.verdict === 'met').toBe(isMet)
        expect(proof.verdict === 'broken').toBe(list.some((e) => e.verdict === 'broken'))
      }),
    )
  })

  it('the XML is well formed, its counts are right, and it says no more than the proof', () => {
    fc.assert(
      fc.property(proofs, (proof) => {
        const parser = new SaxesParser({ fragment: false })
        const seen = { testcase: 0, failure: 0, error: 0, skipped: 0 } as Record<string, number>
        let totals: Record<string, string> = {}
        parser.on('error', (error) => {
          throw error
        })
        parser.on('opentag', (tag) => {
          seen[tag.name] = (seen[tag.name] ?? 0) + 1
          if (tag.name === 'testsuites') totals = tag.attributes as Record<string, string>
        })
        parser.write(proofJunit(proof)).close()
        expect(seen['testcase']).toBe(proof.rows.length * ORIGINS.length)
        expect(totals).toMatchObject({
          tests: String(seen['testcase']),
          failures: String(seen['failure']),
          errors: String(seen['error']),
          skipped: String(seen['skipped']),
        })
        const cells = proof.rows.flatMap((r) => Object.values(r.cells))
        expect(seen['failure']).toBe(cells.filter((c) => c.verdict === 'broken').length)
        expect(seen['error']).toBe(cells.filter((c) => c.verdict === 'undecided').length)
      }),
      { numRuns: 100 },
    )
  })

  it('the page parses without an error and holds no element of a name', () => {
    const own = new Set(
      'html head meta title style body main h1 h2 p dl dt dd ol ul li strong small div table caption thead tbody tr th td svg rect details summary'.split(
        ' ',
      ),
    )
    fc.assert(
      fc.property(proofs, (proof) => {
        const errors: string[] = []
        const page = parse(proofHtml(proof), { onParseError: (e) => errors.push(e.code) })
        expect(errors).toEqual([])
        const walk = (node: { childNodes?: unknown[]; tagName?: string; attrs?: { name: string }[] }) => {
          if (node.tagName !== undefined) expect(own).toContain(node.tagName)
          for (const a of node.attrs ?? []) expect(a.name).not.toMatch(/^on|^href$|^src$/)
          for (const child of node.childNodes ?? []) walk(child as never)
        }
        walk(page as never)
      }),
      { numRuns: 100 },
    )
  })

  it('the terminal gets nothing that it would obey, and no longer lines than it has', () => {
    fc.assert(
      fc.property(proofs, fc.integer({ min: 40, max: 200 }), fc.boolean(), (proof, width, colour) => {
        for (const line of proofText(proof, { width, colour, reasons: true })) {
          const plain = line.replace(/\u001b\[(\d+(;\d+)*)?m/g, '')
          if (!colour) expect(plain).toBe(line)
          expect(plain).not.toMatch(/[\u0000-\u001f\u007f-\u009f]/)
        }
      }),
      { numRuns: 100 },
    )
  })

  it('the Markdown table keeps its columns, and nothing in it is HTML', () => {
    fc.assert(
      fc.property(proofs, (proof) => {
        const lines = proofMarkdown(proof).split('\n')
        const head = lines.findIndex((line) => line.startsWith('| clause'))
        for (const line of lines.slice(head, head + 2 + proof.rows.length)) {
          expect(line.replace(/\\./g, '').match(/\|/g)).toHaveLength(7)
        }
        for (const line of lines) expect(line.replace(/\\./g, '')).not.toMatch(/[<>`]/)
      }),
      { numRuns: 100 },
    )
  })
})

describe('the terminal table', () => {
  const proof = prove(
    [
      found(),
      found({ origin: 'simulated', verdict: 'broken', margin: -0.5 }),
      found({ origin: 'measured', verdict: 'undecided', margin: 0.05 }),
    ],
    PROFILE,
    ABOUT,
  )
  it.each([40, 60, 80, 100, 132])('fits into %d columns', (width) => {
    const lines = proofText(proof, { width, colour: false })
    for (const line of lines) expect(line.length, line).toBeLessThanOrEqual(width)
    const text = lines.join('\n')
    expect(text).toMatch(/met 1.*BROKEN -0\.5.*UNDECIDED 0\.05/s)
    expect(text).toContain('BROKEN: 0 met, 1 broken')
    // A table where it fits: head and cells in one line each.
    if (width >= 60)
      expect(lines.some((line) => /^one-half +.*met 1[█ ]+BROKEN -0\.5 /.test(line))).toBe(true)
    if (width >= 60)
      expect(lines.some((line) => /^clause +.*calculated +simulated +measured/.test(line))).toBe(true)
  })
  it('is the same without colour', () => {
    const plain = proofText(proof, { width: 100, colour: false })
    const colour = proofText(proof, { width: 100, colour: true })
    expect(colour.map((line) => line.replace(/\u001b\[[\d;]*m/g, '').trimEnd())).toEqual(plain)
  })
  it('is the same bytes for the same inputs, with a date only if one is given', () => {
    expect(proofHtml(proof)).toBe(proofHtml(structuredClone(proof)))
    for (const render of [proofHtml, proofJunit, proofMarkdown]) {
      expect(render(proof)).not.toMatch(/20\d\d-\d\d-\d\d/)
      expect(render({ ...proof, about: { ...proof.about, date: '2031-02-03' } })).toContain('2031-02-03')
    }
  })
})
