import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import type { Arguments, Io } from '../../src/cli/command.js'
import { command } from '../../src/cli/commands/power.js'

const examples = new URL('../../examples/', import.meta.url).pathname
const folder = mkdtempSync(join(tmpdir(), 'halfbit-power-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

async function run(file: string, options: Record<string, string | boolean> = {}) {
  let out = ''
  const args: Arguments = {
    positionals: [file],
    text: (name) => (typeof options[name] === 'string' ? (options[name] as string) : undefined),
    texts: () => [],
    on: (name) => options[name] === true,
  }
  const io: Io = {
    out: (text) => void (out += `${text}\n`),
    note: () => {},
    progress: () => {},
    signal: new AbortController().signal,
    colour: false,
    width: 100,
  }
  return { status: await command.run(args, io), out }
}

describe('halfbit power', () => {
  it('shows the healthy example met, with loads from its railroad and the cautions', async () => {
    const { status, out } = await run(`${examples}exhibition/halfbit.yaml`, { compare: true })
    expect(status).toBe(0)
    expect(out).not.toContain('BROKEN')
    // Express 1 A, freight 0.7 A and railcar 0.35 A stand in the main district.
    expect(out).toMatch(/main {2,}2\.05 A/)
    expect(out).toMatch(/main +rcn 2013 +NEM 670:2013 +8 to 22 V +14 V .*broken: RMS too high/)
    expect(out).toContain('Fuse each district')
  })

  it('names each planted fault of the flawed example and what to change', async () => {
    const { status, out } = await run(`${examples}flawed/halfbit.yaml`)
    expect(status).toBe(1)
    for (const clause of [
      'short-trip',
      'driver-current',
      'driver-heat',
      'supply-current',
      'pin-conflict',
      'regulator-heat',
    ])
      expect(out).toMatch(new RegExp(`BROKEN +${clause}`))
    expect(out).toContain('What to change')
  })

  it('gives one JSON object and writes drawings', async () => {
    const file = `${examples}two-tracks/halfbit.yaml`
    const svg = join(folder, 'drawings')
    const { status, out } = await run(file, { json: true, compare: true, svg, seed: '7' })
    expect(status).toBe(0)
    const json = JSON.parse(out)
    expect(json).toMatchObject({ halfbit: 1, profile: 'nmra', edition: '2020', scale: 'H0', seed: 7 })
    expect(json.districts.map((d: { name: string }) => d.name)).toEqual(['trial', 'programming'])
    expect(json.editions.length).toBe(8)
    expect(json.cautions.length).toBeGreaterThan(4)
    expect(json.evidence[0].where.line).toBeGreaterThan(1)
    const names = readdirSync(svg).sort()
    expect(names).toContain('budget-workshop.svg')
    expect(names).toContain('trip-programming.svg')
    for (const n of names)
      expect(readFileSync(join(svg, n), 'utf8')).toMatch(/^<svg [^>]*role="img".*<\/svg>\n$/s)
    // The same seed, the same figures.
    expect((await run(file, { json: true, compare: true, seed: '7' })).out).toBe(out)
  })

  it('names line and column of what cannot be', async () => {
    const text = readFileSync(`${examples}two-tracks/halfbit.yaml`, 'utf8').replace(
      'part: DRV8871',
      'part: DRV8817',
    )
    const path = join(folder, 'wrong.yaml')
    writeFileSync(path, text)
    const line = text.split('\n').findIndex((l) => l.includes('DRV8817')) + 1
    await expect(run(path)).rejects.toMatchObject({ place: { line }, message: /nearest is "DRV8871"/ })
    const plain = text.slice(0, text.indexOf('\npower:'))
    writeFileSync(path, plain)
    await expect(run(path)).rejects.toThrow(/no "power"/)
    await expect(run(`${examples}two-tracks/halfbit.yaml`, { seed: 'x' })).rejects.toThrow(/whole number/)
  })
})
