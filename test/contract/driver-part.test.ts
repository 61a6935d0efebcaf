/** A new driver is one row of one file: everything that lists, offers, calculates or describes drivers reads it there. */
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { DRIVER_PARTS, type DriverPart, powerCandidates, powerReport } from '../../src/power/index.js'
import { powerInput } from '../../src/proof/index.js'
import { startDesign, usableDrivers } from '../../src/start/index.js'
import { bookOf } from '../book/made.js'
import { changed, one } from '../track/station.js'
import { root } from './halfbit.js'

/** Like one that is there, under another name and with two bridges. Invented. */
const row: DriverPart = {
  ...DRIVER_PARTS.find((p) => p.name === 'DRV8874')!,
  name: 'MADEUP2',
  about: 'dual bridge that nobody sells',
  bridgesPerPackage: 2,
  inputs: 'pair',
  terminals: { package: 'box of 3 pins', pins: ['LEFT', 'MIDDLE', 'RIGHT'] },
}
const parts = DRIVER_PARTS as DriverPart[]

beforeAll(() => {
  parts.push(row)
})
afterAll(() => {
  parts.pop()
})

describe('a driver that is one row more', () => {
  const design = (change: object = {}) =>
    loadDesign(
      JSON.stringify(changed(one({}, { power: { drivers: { west: { part: 'madeup2' } } } }), { ...change })),
    )

  it('is calculated with', () => {
    const { districts, evidence } = powerReport(powerInput(design())!.input)
    expect(districts).toHaveLength(1)
    expect(evidence.find((e) => e.clause === 'driver-heat')).toMatchObject({ verdict: 'met' })
    expect(evidence.find((e) => e.clause === 'driver-heat')!.because).toMatch(/^MADEUP2/)
  })

  it('is offered to a new design, and makes one', () => {
    expect(usableDrivers().map((p) => p.name)).toContain('MADEUP2')
    const made = startDesign({ shape: 'oval', driver: 'MADEUP2' })
    expect('started' in made && made.started.text).toMatch(
      /part: MADEUP2\n[\s\S]*name: input 2, role: inverted/,
    )
  })

  it('is proposed in place of one that is too weak, with the packages that it takes', () => {
    const weak = loadDesign(
      JSON.stringify(
        one({}, { power: { drivers: { west: { part: 'A4953', cooling: null } }, ambient: '60 C' } }),
      ),
    )
    const { input } = powerInput(weak)!
    const says = powerCandidates(powerReport(input), input.power)
      .filter((c) => c.value === 'MADEUP2')
      .map((c) => c.finding.sentence)
    expect(says.join('\n')).toMatch(
      /use one MADEUP2 \(dual bridge that nobody sells\).*; 1 of the 2 bridges in it is used/,
    )
  })

  it('has its terminals in the book', () => {
    expect(JSON.stringify(bookOf(design()).book)).toMatch(/box of 3 pins.*1 LEFT, 2 MIDDLE, 3 RIGHT/)
  })
})

describe('the table of drivers', () => {
  it('is the only table that names them', () => {
    const files = readdirSync(join(root, 'src'), { recursive: true, encoding: 'utf8' })
    const tables = files.filter((f) => f.endsWith('.data.ts') && f !== join('power', 'parts.data.ts'))
    expect(tables.length).toBeGreaterThan(20)
    const names = parts.map((p) => p.name)
    const also = tables.filter((f) => {
      const text = readFileSync(join(root, 'src', f), 'utf8')
      return names.some((name) => new RegExp(`\\b${name}\\b`).test(text))
    })
    expect(also).toEqual([])
  })
})
