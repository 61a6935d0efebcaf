/** The desk's answers: always of the newest text, and a proof of another text is marked as that, whoever exports it. */
import { readFileSync } from 'node:fs'
import { describe, expect, it, vi } from 'vitest'
import { setInDesign } from '../../design/index.js'
import { railroadOf } from '../../proof/index.js'
import type { ExportForm } from './calls.js'
import { exported } from './exported.js'
import { Judge, markedFor } from './judge.js'
import { loadOnce } from './loaded.js'

const shelf = readFileSync(new URL('../../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')
const file = 'halfbit.yaml'
const none = () => {}
const FORMS: ExportForm[] = ['html', 'md', 'json', 'junit']

describe('the desk', () => {
  it('gives the last proof for a text with problems, marked as that of the text before', async () => {
    const judge = new Judge('1.2.3')
    const before = await judge.judge({ text: shelf, file, runs: [] }, none)
    expect(before.proof?.stale).toBeUndefined()
    const text = shelf.replace(/scale: .*/, 'scale: nonsense')
    const after = await judge.judge({ text, file, runs: [] }, none)
    expect(after.problems.length).toBeGreaterThan(0)
    expect(after.proof?.stale?.since.map((f) => f.code)).toEqual(['proof/text-has-problems'])
    expect(after.proof?.rows).toEqual(before.proof?.rows)
    // The design is mended again: the proof is of it, and says nothing more.
    expect((await judge.judge({ text: shelf, file, runs: [] }, none)).proof?.stale).toBeUndefined()
  })

  it('has no proof for a text that never was a design', async () => {
    const { proof, problems } = await new Judge('1').judge({ text: 'no: design', file, runs: [] }, none)
    expect(proof).toBeUndefined()
    expect(problems.length).toBeGreaterThan(0)
  })

  it.each(FORMS)('exports as %s what is of another text only with the mark', async (form) => {
    const { proof } = await new Judge('1').judge({ text: shelf, file, runs: [] }, none)
    const says = /design has been changed since/
    expect(await exported({ proof: proof!, text: shelf, form })).not.toMatch(says)
    expect(await exported({ proof: proof!, text: `${shelf}\n# later`, form })).toMatch(says)
  })

  it('marks the early answers, in which longer calculations are missing', async () => {
    const early: boolean[] = []
    const exhibition = readFileSync(
      new URL('../../../examples/exhibition/halfbit.yaml', import.meta.url),
      'utf8',
    )
    const { proof } = await new Judge('1').judge({ text: exhibition, file, runs: [] }, (first) => {
      early.push(first.proof?.stale?.since[0]?.code === 'proof/calculation-pending')
      const latency = first.proof?.rows.find((r) => r.clause === 'command-latency')
      expect(latency?.cells.calculated).toMatchObject({ finding: { code: 'proof/calculation-pending' } })
    })
    expect(early.length).toBeGreaterThan(0)
    expect(early).not.toContain(false)
    expect(proof?.stale).toBeUndefined()
  })

  it('goes on as soon as the page has drawn an early answer', async () => {
    vi.useFakeTimers({ toFake: ['setTimeout'] })
    try {
      const judge = new Judge('1')
      let early = 0
      const last = await judge.judge({ text: shelf, file, runs: [] }, () => {
        early++
        setImmediate(() => judge.drawn())
      })
      expect([early > 0, last.complete]).toEqual([true, true])
    } finally {
      vi.useRealTimers()
    }
  })

  it('leaves out a run of a design that has been changed since, and says so in its rows', async () => {
    const judge = new Judge('1')
    const run = {
      kind: 'run' as const,
      outputs: ['main'],
      source: '1 s of old.elf',
      dependsOn: 'something else',
      statements: [
        {
          clause: 'one-half' as const,
          origin: 'simulated' as const,
          verdict: 'met' as const,
          value: { low: 58, high: 58, unit: 'us' },
          margin: 1,
          about: 'main',
          because: 'seen',
        },
      ],
      notes: [],
      inputs: [{ role: 'firmware' as const, file: 'old.elf' }],
    }
    const { proof } = await judge.judge({ text: shelf, file, runs: [run] }, none)
    const row = proof!.rows.find((r) => r.clause === 'one-half')
    expect(row?.cells.simulated).toMatchObject({
      verdict: 'not shown',
      finding: { code: 'proof/run-outdated' },
    })
    expect(proof!.about.notes?.map((n) => n.code)).toContain('proof/run-outdated')
    expect(proof!.about.inputs.map((i) => i.file)).not.toContain('old.elf')
  })

  it('does not take the same proof for that of another text', async () => {
    const { proof } = await new Judge('1').judge({ text: shelf, file, runs: [] }, none)
    expect((await markedFor(proof!, shelf)).stale).toBeUndefined()
    expect((await markedFor(proof!, '')).stale).toBeDefined()
  })

  it('calculates after an edit only the districts that it changes', async () => {
    const name = new URL('../../../examples/exhibition/halfbit.yaml', import.meta.url)
    const text = readFileSync(name, 'utf8')
    const edited = setInDesign(text, ['power', 'districts', 'yard', 'trip', 'current'], '2.1 A')
    const judge = new Judge('1')
    for (const of of [text, edited]) await judge.judge({ text: of, file: 'exhibition.yaml', runs: [] }, none)
    const [before, after] = [text, edited].map((of) => railroadOf(loadOnce(of))!.input.sources)
    // The very same objects, with all that was found of them.
    expect(after!.get('main')).toBe(before!.get('main'))
    expect(after!.get('yard')).not.toBe(before!.get('yard'))
  })
})
