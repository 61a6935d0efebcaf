/** Findings are data: each code stands once in the one list, says what it means, and is told in plain words. */
import { readdirSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import * as book from '../../src/book/index.js'
import * as find from '../../src/find/index.js'
import { findingTables, knownFindings, type Proof } from '../../src/proof/index.js'
import { halfbitHere } from './here.js'

const FINDINGS = knownFindings([book, find])
const TABLES = findingTables([book, find])
const root = new URL('../../', import.meta.url).pathname
const files = readdirSync(join(root, 'src'), { recursive: true, encoding: 'utf8' })
  .filter((file) => file.endsWith('findings.data.ts'))
  .map((file) => join(root, 'src', file))

describe('findings', () => {
  it.each(files.map((t) => t.slice(root.length)))('of %s stand in the list', async (path) => {
    const module: Record<string, unknown> = await import(join(root, path))
    const own = Object.values(module).filter((v) => typeof v === 'object' && v !== null && 'meanings' in v)
    expect(own.length).toBeGreaterThan(0)
    for (const table of own) expect(TABLES).toContain(table)
  })

  it('have codes of their own', () => {
    const count = TABLES.reduce((n, t) => n + Object.keys(t.meanings).length, 0)
    expect(FINDINGS.size).toBe(count)
  })

  it('say in one sentence what they mean and what to do, without naming an option or a screen', () => {
    for (const { code, means, remedy } of FINDINGS.values()) {
      for (const text of [means, ...(remedy === undefined ? [] : [remedy])]) {
        expect(text, code).toMatch(/^\S.*[.]$/)
        expect(text, code).not.toMatch(/(^|\s)--[a-z]|\bclick\b|\bbutton\b/)
      }
    }
  })
})

describe('every code in the proof of an example', () => {
  it.each(['exhibition', 'flawed', 'shelf', 'two-tracks'])('is in the list: %s', async (name) => {
    const { stdout } = await halfbitHere(['prove', `examples/${name}/halfbit.yaml`, '--json'])
    const codes = codesIn(JSON.parse(stdout) as Proof)
    expect(codes.size).toBeGreaterThan(2)
    expect([...codes].filter((code) => !FINDINGS.has(code))).toEqual([])
  })
})

/** Whatever looks like a finding, anywhere. */
function codesIn(value: unknown, found = new Set<string>()): Set<string> {
  if (typeof value !== 'object' || value === null) return found
  const { code, sentence } = value as { code?: unknown; sentence?: unknown }
  if (typeof code === 'string' && typeof sentence === 'string') found.add(code)
  for (const part of Object.values(value)) codesIn(part, found)
  return found
}
