/** Every clause and every finding has a page that says something, and the pages know each other. */
import { describe, expect, it } from 'vitest'
import * as book from '../../src/book/index.js'
import * as find from '../../src/find/index.js'
import { FINDING_CLAUSES, ROOM_REASONS } from '../../src/proof/explain/finding-clauses.data.js'
import { explain, explainedNames, knownFindings } from '../../src/proof/index.js'
import { CLAUSE_EXPLAINED, CLAUSE_IDS, ORIGINS } from '../../src/standard/index.js'
import { halfbitHere } from './here.js'

describe('every clause', () => {
  it.each(CLAUSE_IDS)('%s says what it means, why it matters, what helps, and where it is from', (id) => {
    const { means, why, usually, demands, shownBy } = explain(id)
    for (const text of [means, why, usually!]) {
      expect(text.length).toBeGreaterThan(30)
      expect(text).toMatch(/^[A-Z].*[^.]\.$/)
      // Short sentences, no option, no command.
      for (const sentence of text.split(/[.:;] /))
        expect(sentence.split(' ').length, sentence).toBeLessThan(34)
      expect(text).not.toMatch(/(^|\s)--[a-z]|halfbit /)
    }
    expect(demands.length).toBeGreaterThan(0)
    for (const { source } of demands)
      expect(source).toMatch(/\((confirmed|quoted|from memory|derived)\)$|^common practice, no source$/)
    expect(shownBy.every((origin) => ORIGINS.some((o) => o === origin))).toBe(true)
  })

  it('has its name and title on top, once where they are the same', async () => {
    const top = async (id: string) => (await halfbitHere(['explain', id])).stdout.split('\n')[0]
    expect(await top('preamble')).toBe('preamble')
    expect(await top('short-trip')).toBe(`short-trip: ${explain('short-trip').title}`)
  })

  it('has texts of its own', () => {
    const all = CLAUSE_IDS.flatMap((id) => Object.values(CLAUSE_EXPLAINED[id]))
    expect(new Set(all).size).toBe(3 * CLAUSE_IDS.length)
  })
})

describe('every finding', () => {
  const codes = [...knownFindings().keys()]
  it('says why it matters, by its clause or its room', () => {
    const rooms = new Set(codes.map((code) => code.split('/')[0]!))
    expect([...rooms].filter((room) => !(room in ROOM_REASONS))).toEqual([])
    for (const code of codes) expect(explain(code).why, code).toMatch(/^[A-Z].*\.$/)
  })

  it('that names a clause is known, and stands on the page of the clause', () => {
    for (const [code, clauses] of Object.entries(FINDING_CLAUSES)) {
      expect(codes, code).toContain(code)
      for (const clause of clauses) expect(explain(clause).related).toContain(code)
    }
  })

  it.each(['exhibition', 'flawed'])('stands with its clause where a proof has it: %s', async (name) => {
    const { stdout } = await halfbitHere(['prove', `examples/${name}/halfbit.yaml`, '--json'])
    const found: string[] = []
    const walk = (value: unknown, clause?: string) => {
      if (typeof value !== 'object' || value === null) return
      const { clause: own = clause, code, sentence } = value as Record<string, string | undefined>
      // A room that may speak of any clause has no clause of its own.
      if (code && sentence && own && !/^(proof|bench|run|capture)\//.test(code))
        if (!FINDING_CLAUSES[code]?.some((id) => id === own) && code !== 'signal/nothing-of-it')
          found.push(`${code}: ${own}`)
      for (const part of Object.values(value)) walk(part, own)
    }
    walk(JSON.parse(stdout))
    expect(found).toEqual([])
  })
})

describe('halfbit explain', () => {
  it('prints a clause and a finding, and names the nearest for a slip', async () => {
    const clause = await halfbitHere(['explain', 'preamble'])
    expect(clause.stdout).toContain('S-9.2:2004 A (confirmed)')
    expect(clause.stdout).toContain('signal/no-preamble')
    const finding = await halfbitHere(['explain', 'power/short-stays', '--json'])
    expect(JSON.parse(finding.stdout)).toMatchObject({
      halfbit: 1,
      kind: 'finding',
      name: 'power/short-stays',
    })
    const slip = await halfbitHere(['explain', 'sohrt-trip'])
    expect(slip.status).toBe(2)
    expect(slip.stderr).toContain('the nearest is short-trip')
    expect((await halfbitHere(['explain'])).stdout.trim().split('\n')).toEqual(explainedNames([book, find]))
  })
})

describe('findings of rooms after the proof', () => {
  it('are listed and explained on the command line too', async () => {
    const { stdout } = await halfbitHere(['explain'])
    const codes = stdout.split('\n').filter((name) => name.startsWith('starter/'))
    expect(codes.length).toBeGreaterThan(3)
    for (const code of codes) {
      const { status, stdout } = await halfbitHere(['explain', code])
      expect(status).toBe(0)
      expect(stdout).toContain('What it means')
      expect(stdout).toContain('What the starter firmware leaves to the builder')
    }
  })
})
