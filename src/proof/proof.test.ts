import fc from 'fast-check'
import { parse } from 'parse5'
import { SaxesParser } from 'saxes'
import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import {
  CLAUSE_FACTS,
  CLAUSE_IDS,
  type Evidence,
  notShown,
  type Origin,
  profileOf,
  type Verdict,
} from '../standard/index.js'
import { PROOF_FINDINGS } from './findings.data.js'
import { proofHolds, proofHtml, proofJunit, proofMarkdown, proofText, verdictText } from './index.js'
import {
  isShownCell,
  ORIGINS,
  type Proof,
  type ProofAbout,
  prove,
  type Requirement,
  type ShownCell,
} from './proof.js'

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

const remark = (text: string) => PROOF_FINDINGS.find('remark', { text })

const shownCell = (proof: Proof, clause: string, origin: Origin): ShownCell => {
  const cell = rowOf(proof, clause).cells[origin]
  if (!isShownCell(cell)) throw new Error(`${clause} is not shown`)
  return cell
}

const rowOf = (proof: Proof, clause: string, about?: string) =>
  proof.rows.find((r) => r.clause === clause && r.about === about)!

describe('the proof', () => {
  it('has a row for every clause that the design can be held to, and none is met without evidence', () => {
    const proof = prove([], PROFILE, ABOUT)
    const owed = CLAUSE_IDS.filter((id) => {
      const { concerns, owedBy } = CLAUSE_FACTS[id]
      return concerns !== 'firmware' && !owedBy?.cutout && owedBy?.mode !== 'service'
    })
    expect(proof.rows.map((r) => r.clause)).toEqual(owed)
    for (const row of proof.rows) {
      expect(row.verdict).toBe('not shown')
      // Each origin that could show it says why it does not; the others have no cell.
      expect(Object.keys(row.cells)).toEqual([...CLAUSE_FACTS[row.clause].shownBy])
      for (const cell of Object.values(row.cells)) {
        expect(cell.verdict).toBe('not shown')
        expect((cell as { because: string }).because).not.toBe('')
      }
    }
    expect(proof.verdict).toBe('not shown')
    expect(proof.counts).toEqual({ met: 0, broken: 0, undecided: 0, 'not shown': owed.length })
  })

  it('owes the clauses about firmware only where there is firmware', () => {
    const clauses = (firmware: boolean) =>
      prove([], PROFILE, ABOUT, { parts: { firmware } })
        .rows.map((r) => r.clause)
        .filter((id) => CLAUSE_FACTS[id].concerns === 'firmware')
    expect(clauses(false)).toEqual([])
    expect(clauses(true)).toEqual([
      'stack',
      'restart',
      'instruction-set',
      'interrupts',
      'deadline',
      'shared-data',
    ])
  })

  it('has a row for each district, driver and supply, also for those that nothing is said of', () => {
    const districts = [
      { name: 'left', mode: 'operations' },
      { name: 'bench', mode: 'service' },
    ] as const
    const list = [found({ clause: 'voltage-drop', about: 'left' })]
    const proof = prove(list, PROFILE, ABOUT, { parts: { districts, drivers: [{ name: 'one' }] } })
    const abouts = (clause: string) =>
      proof.rows.filter((r) => r.clause === clause).map((r) => `${r.about}: ${r.verdict}`)
    expect(abouts('voltage-drop')).toEqual(['left: met', 'bench: not shown'])
    expect(abouts('driver-heat')).toEqual(['one: not shown'])
    // Acknowledgements are for service mode (S-9.2.3:2012).
    expect(abouts('ack-detect')).toEqual(['bench: not shown'])
  })

  it('is never met while a clause that the design owes is not shown, and says both counts side by side', () => {
    const some = prove([found()], PROFILE, ABOUT)
    const all = some.rows.length
    expect(some.verdict).toBe('not shown')
    expect(verdictText(some)).toBe(
      `NOT ALL SHOWN: 1 met and ${all - 1} not shown, 0 broken, 0 undecided, of ${all} clauses`,
    )
    const green = `\u001b[32m`
    const last = proofText(some, { width: 200, colour: true }).at(-1)!
    expect(last).not.toContain(green)
    const everything = some.rows.map(({ clause }) => {
      const { shownBy } = CLAUSE_FACTS[clause]
      return found({
        clause,
        origin: shownBy.find((o) => o !== 'calculated') ?? 'calculated',
        about: undefined,
      })
    })
    const full = prove(everything, PROFILE, ABOUT)
    expect(full.verdict).toBe('met')
    expect(verdictText(full)).toBe(`All ${all} clauses are met`)
    expect(proofText(full, { width: 200, colour: true }).at(-1)).toContain(green)
    // One clause less is enough.
    for (const left of everything)
      expect(
        prove(
          everything.filter((e) => e !== left),
          PROFILE,
          ABOUT,
        ).verdict,
      ).toBe('not shown')
  })

  it('takes what a design declares of behaviour for calculated only, never for met', () => {
    const declared = found({ clause: 'command-latency' })
    const only = prove([declared], PROFILE, ABOUT, { parts: { firmware: true } })
    const row = rowOf(only, 'command-latency')
    expect(row.cells.calculated?.verdict).toBe('met')
    expect(row.verdict).toBe('not shown')
    expect(row.finding?.code).toBe('proof/calculated-only')
    expect(only.counts.met).toBe(0)
    expect(only.behaviour).toBe('not shown')
    expect(verdictText(only)).toContain('the firmware’s behaviour is not shown')
    for (const text of [
      proofText(only, { width: 10_000, colour: false }).join('\n'),
      proofHtml(only),
      proofMarkdown(only).replaceAll('\\', ''),
      proofJunit(only),
    ])
      expect(text.toLowerCase()).toContain('calculated only')
    const ran = prove([declared, { ...declared, origin: 'simulated' }], PROFILE, ABOUT, {
      parts: { firmware: true },
    })
    expect(rowOf(ran, 'command-latency').verdict).toBe('met')
    expect(ran.behaviour).toBe('shown')
    // What the design declares and the run contradicts is broken.
    const against = prove([declared, { ...declared, origin: 'simulated', verdict: 'broken' }], PROFILE, ABOUT)
    expect(rowOf(against, 'command-latency').verdict).toBe('broken')
    // A declaration that breaks its own limit is broken as it is.
    const broken = prove([{ ...declared, verdict: 'broken', margin: -1 }], PROFILE, ABOUT)
    expect(rowOf(broken, 'command-latency').verdict).toBe('broken')
  })

  it('keeps the reason of an origin that shows nothing, in the JSON too', () => {
    const finding = remark('the run was too short')
    const silent = notShown('packet-interval', 'simulated', finding, { about: 'main' })
    const proof = prove([silent], PROFILE, ABOUT)
    const { simulated } = rowOf(JSON.parse(JSON.stringify(proof)), 'packet-interval').cells
    expect(simulated).toEqual({ verdict: 'not shown', because: 'the run was too short', finding })
    expect(proofText(proof, { width: 200, colour: false }).join('\n')).toContain('the run was too short')
  })

  it('fails for whatever a required origin can show and does not', () => {
    const shown = found({ origin: 'simulated' })
    const proof = prove([shown], PROFILE, ABOUT, { require: ['simulated'], parts: { firmware: true } })
    expect(proofHolds(proof)).toBe(false)
    const wanted = proof.rows.filter((r) => CLAUSE_FACTS[r.clause].shownBy.includes('simulated'))
    expect(proof.required?.missing.map((m) => m.clause)).toEqual(
      wanted.map((r) => r.clause).filter((id) => id !== 'one-half'),
    )
    expect(verdictText(proof)).toMatch(/^NOT ALL THAT WAS REQUIRED IS SHOWN.*required and not shown/)
    const failures = proofJunit(proof).match(/<failure /g) ?? []
    expect(failures).toHaveLength(proof.required!.missing.length)
    const all = wanted.map(({ clause }) => found({ clause, origin: 'simulated', about: undefined }))
    const held = prove(all, PROFILE, ABOUT, { require: ['simulated'], parts: { firmware: true } })
    expect(held.required?.missing).toEqual([])
    expect(proofHolds(held)).toBe(true)
    expect(proofHolds(prove([shown], PROFILE, ABOUT))).toBe(true)
  })

  it('fails for a clause that is required by name and that nothing in the design owes', () => {
    const shown = found({ origin: 'simulated' })
    const required = (require: Requirement[]) => prove([shown], PROFILE, ABOUT, { require })
    // ABOUT has no service track.
    const proof = required(['simulated:one-half', 'simulated:service-sequence'])
    expect(proof.rows.some((r) => r.clause === 'service-sequence')).toBe(false)
    expect(proof.required?.missing).toMatchObject([{ clause: 'service-sequence', origin: 'simulated' }])
    expect(proofHolds(proof)).toBe(false)
    expect(proofJunit(proof)).toMatch(/failures="1"[\s\S]*name="service-sequence"/)
    expect(proofHolds(required(['simulated:one-half']))).toBe(true)
  })

  it('says in every report when it is out of date', () => {
    const since = [PROOF_FINDINGS.find('text-changed', {})]
    const proof: Proof = { ...prove([found()], PROFILE, ABOUT), stale: { since } }
    for (const text of [
      proofText(proof, { width: 10_000, colour: false }).join('\n'),
      proofHtml(proof),
      proofMarkdown(proof),
      proofJunit(proof),
      JSON.stringify(proof),
    ])
      expect(text).toContain('the design has been changed since')
    for (const text of [proofHtml, proofMarkdown, proofJunit])
      expect(text({ ...proof, stale: undefined } as unknown as Proof).toUpperCase()).not.toContain(
        'OUT OF DATE',
      )
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
    expect(shownCell(proof, 'one-half', 'calculated').evidence.map((e) => e.verdict)).toEqual([
      'undecided',
      'met',
    ])
    expect(cells.simulated?.verdict).toBe('met')
    expect(cells.measured?.verdict).toBe('not shown')
    expect(verdict).toBe('undecided')
    expect(proof.verdict).toBe('undecided')
  })

  // S-9.1:2020 Table 1 (confirmed): senders 55 to 61 us, decoders must accept 52 to 64 us.
  it.each([
    [62, 'must accept it', 'decoders should still read it, as they must accept 52 to 64 us'],
    [65, 'need not accept it', 'decoders need not read it, as they must accept only 52 to 64 us'],
  ] as const)('%d us is broken for the station; decoders %s', (us, decoders, says) => {
    const value = { low: us, high: us, unit: 'us' }
    const proof = prove([found({ verdict: 'broken', value, margin: -0.3 })], PROFILE, ABOUT)
    const cell = shownCell(proof, 'one-half', 'calculated')
    expect(cell.verdict).toBe('broken')
    expect(cell.decoders).toBe(decoders)
    expect(cell.evidence[0]?.because).toContain(says)
    expect(proof.verdict).toBe('broken')
    for (const text of [
      proofText(proof, { width: 10_000, colour: false }).join('\n'),
      proofMarkdown(proof),
      proofJunit(proof),
    ])
      expect(text).toContain(says)
    // A page has the signs of the units.
    expect(proofHtml(proof)).toContain(says.replace('64 us', '64 µs'))
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
      notes: notes.map(remark),
      cautions: notes.map(remark),
      inputs: [{ role: 'capture', file }],
    }),
  )

describe('whatever the evidence', () => {
  it('a cell is met only if all its statements are, and the whole only if every cell is', () => {
    fc.assert(
      fc.property(fc.array(evidence, { maxLength: 20 }), (list) => {
        const proof = prove(list, PROFILE, ABOUT)
        const shown = proof.rows.flatMap((r) => Object.values(r.cells)).filter(isShownCell)
        expect(shown.flatMap((c) => c.evidence)).toHaveLength(list.length)
        for (const cell of shown) {
          if (cell.verdict === 'met') expect(cell.evidence.every((e) => e.verdict === 'met')).toBe(true)
          if (cell.evidence.some((e) => e.verdict === 'broken')) expect(cell.verdict).toBe('broken')
        }
        const isMet = proof.rows.every((r) => r.verdict === 'met')
        expect(proof.verdict === 'met').toBe(isMet)
        for (const row of proof.rows.filter((r) => r.verdict === 'met')) {
          const some = Object.values(row.cells).filter(isShownCell)
          expect(some.length).toBeGreaterThan(0)
          expect(some.every((c) => c.verdict === 'met')).toBe(true)
          if (CLAUSE_FACTS[row.clause].behaviour)
            expect(isShownCell(row.cells.simulated) || isShownCell(row.cells.measured)).toBe(true)
        }
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
        expect(seen['testcase']).toBe(proof.rows.flatMap((r) => Object.values(r.cells)).length)
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
      { numRuns: runs(100) },
    )
  })

  it('the page parses without an error and holds no element of a name', () => {
    const own = new Set(
      'html head meta title style body main h1 h2 p a dl dt dd ol ul li strong small div table caption thead tbody tr th td svg rect details summary'.split(
        ' ',
      ),
    )
    fc.assert(
      fc.property(proofs, (proof) => {
        const errors: string[] = []
        const page = parse(proofHtml(proof), { onParseError: (e) => errors.push(e.code) })
        expect(errors).toEqual([])
        const walk = (node: {
          childNodes?: unknown[]
          tagName?: string
          attrs?: { name: string; value: string }[]
        }) => {
          if (node.tagName !== undefined) expect(own).toContain(node.tagName)
          for (const a of node.attrs ?? []) {
            expect(a.name).not.toMatch(/^on|^src$/)
            // The only links lead to a clause on the same page.
            if (a.name === 'href') expect(a.value).toMatch(/^#about-[a-z-]+$/)
          }
          for (const child of node.childNodes ?? []) walk(child as never)
        }
        walk(page as never)
      }),
      { numRuns: runs(100) },
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
      { numRuns: runs(100) },
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
      { numRuns: runs(100) },
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
    expect(text.replace(/\s+/g, ' ')).toMatch(/BROKEN: 0 met and \d+ not shown, 1 broken/)
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
