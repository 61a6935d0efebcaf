/** CONTRIBUTING's recipes name files that are there, and hold what the recipe says of them. */
import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { CLAUSE_FACTS, CLAUSE_IDS, profileOf } from '../../src/standard/index.js'
import { root } from './halfbit.js'

const page = readFileSync(join(root, 'CONTRIBUTING.md'), 'utf8')
const read = (path: string) => readFileSync(join(root, path), 'utf8')
const paths = [...page.matchAll(/`((?:src|test|docs|scripts|benchmark)\/[\w./-]*|[A-Z]+\.md)`/g)].map(
  (m) => m[1]!,
)

describe('the recipes of CONTRIBUTING.md', () => {
  it('name only files and folders that are there', () => {
    expect(paths.length).toBeGreaterThan(8)
    const missing = paths.filter((path) => !path.includes('NAME') && !existsSync(join(root, path)))
    expect(missing).toEqual([])
  })

  it('a new command: one line in the list', () => {
    expect(read('src/cli/commands.ts')).toMatch(/prove/)
  })

  it('a new part of the design file: one line in the schema, one entry in the evidence of the design', () => {
    expect(read('src/design/schema.ts')).toMatch(/^\s+traffic: \{ \.\.\.trafficShape, optional: true \},$/m)
    expect(read('src/proof/design-evidence.ts')).toMatch(/needs: \['fleet', 'signal'\]/)
  })

  it('a new clause: an id, a demand and facts, and nothing else names the clauses one by one', () => {
    const { clauses } = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
    expect(Object.keys(clauses).sort()).toEqual([...CLAUSE_IDS].sort())
    expect(Object.keys(CLAUSE_FACTS).sort()).toEqual([...CLAUSE_IDS].sort())
    // The four places of the recipe, and the room that shows it: at most five files.
    const recipe = page.slice(page.indexOf('## A new clause'), page.indexOf('## A new finding'))
    const named = new Set([...recipe.matchAll(/`(src\/[\w./-]+)`/g)].map((m) => m[1]))
    expect([...named]).toEqual([
      'src/standard/clause.ts',
      'src/standard/clauses.data.ts',
      'src/standard/clause-facts.data.ts',
      'src/standard/clause-explained.data.ts',
    ])
  })
})
