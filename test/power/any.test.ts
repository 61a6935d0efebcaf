import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { powerLines } from '../../src/cli/power-text.js'
import {
  checkPower,
  DRIVER_PARTS,
  driverLine,
  type PowerDesign,
  powerPlots,
  powerReport,
  powerShape,
  resolveDriver,
} from '../../src/power/index.js'
import type { Shape } from '../../src/shape/index.js'
import { signalShape } from '../../src/signal/index.js'
import { profileOf } from '../../src/standard/index.js'
import { InputError } from '../../src/units/index.js'
import { runs } from '../runs.js'
import { fill } from './fill.js'

const WENT_WRONG = /NaN|undefined|n\/a/

/** Any value a shape allows, in base units, extremes included. */
function anyOf(shape: Shape, key = ''): fc.Arbitrary<unknown> {
  switch (shape.kind) {
    case 'quantity':
    case 'number': {
      const [min, max] = [shape.min ?? 0, shape.max ?? 1e6]
      if (shape.kind === 'number' && shape.integer)
        return fc.oneof(fc.integer({ min, max }), fc.constantFrom(min, max))
      const low = min > 0 ? Math.log(min) : -12
      const log = fc
        .double({ min: low, max: Math.max(low, Math.log(max)), noNaN: true })
        .map((x) => Math.min(max, Math.max(min, Math.exp(x))))
      return fc.oneof({ weight: 8, arbitrary: log }, { weight: 1, arbitrary: fc.constantFrom(min, max) })
    }
    case 'text': {
      const names: Record<string, string[]> = {
        part: [...DRIVER_PARTS.map((p) => p.name), 'custom'],
        driver: ['a', 'b'],
        supply: ['a'],
        output: ['main', 'service'],
      }
      if (names[key]) return fc.constantFrom(...names[key]!)
      if (shape.pattern) return fc.constantFrom('PB1', 'PB2', 'PC0', 'pd3', 'PD3')
      // A name that is said back must not look like a figure that went wrong.
      return fc.string({ maxLength: 8 }).filter((s) => !WENT_WRONG.test(s))
    }
    case 'choice':
      return fc.constantFrom(...Object.keys(shape.choices))
    case 'switch':
      return fc.boolean()
    case 'list':
      return fc.array(anyOf(shape.of, key), {
        minLength: shape.minItems ?? 0,
        maxLength: Math.max(shape.minItems ?? 0, 4),
      })
    case 'named':
      return fc
        .tuple(anyOf(shape.of), anyOf(shape.of), fc.boolean())
        .map(([a, b, both]) => (both && key !== 'supplies' ? { a, b } : { a }))
    case 'record':
      return fc.record(
        Object.fromEntries(
          Object.entries(shape.keys).map(([k, part]) => {
            const value = anyOf(part, k)
            return [k, part.optional ? fc.option(value, { nil: undefined }) : value]
          }),
        ),
      )
    default:
      throw new Error(`no values for ${shape.kind}`)
  }
}

const signal = fill(signalShape, {
  outputs: { main: { pin: 'PB1' }, service: { mode: 'service', pin: 'PD3' } },
})

/** Takes away what a problem points at, until none is left: its path must lead somewhere. */
function repair(design: PowerDesign): boolean {
  for (let round = 0; round < 40; round++) {
    const [problem] = checkPower(design, signal)
    if (!problem) return true
    const [, kind, name, key] = problem.path as [
      string,
      'drivers' | 'districts' | 'supplies' | 'controller',
      string,
      string?,
    ]
    if (kind === 'controller') {
      delete design.controller
      continue
    }
    const entry = design[kind][name] as unknown as Record<string, unknown> | undefined
    expect(entry, problem.path.join('.')).toBeDefined()
    if (key === undefined && kind === 'districts') {
      if (Object.keys(design.districts).length === 1) return false
      delete design.districts[name]
    } else if (key === 'driver' || key === 'supply') {
      entry![key] = Object.keys(key === 'driver' ? design.drivers : design.supplies)[0]
    } else if (key !== undefined) {
      expect(entry![key], problem.path.join('.')).toBeDefined()
      delete entry![key]
    } else return false
  }
  return false
}

describe('any design the shape allows', () => {
  it('is refused with a message or calculated without a NaN, in bounded time', () => {
    let calculated = 0
    let repaired = 0
    fc.assert(
      fc.property(anyOf(powerShape), fc.constantFrom('2020', '2006'), (design, edition) => {
        const profile = profileOf({ profile: 'nmra', edition, scale: 'N', cutout: false })
        try {
          if (repair(design as PowerDesign)) repaired++
          const report = powerReport({
            power: design as PowerDesign,
            profile,
            signal,
            controller: { chip: 'atmega328p' },
            conversions: 2000,
          })
          calculated++
          for (const e of report.evidence) {
            for (const x of [e.value.low, e.value.high, e.margin])
              expect(Number.isFinite(x), `${e.clause} ${e.because} ${x}`).toBe(true)
            expect(e.because).not.toMatch(WENT_WRONG)
            // A verdict follows from the margin's sign, unless it is held back.
            if (e.verdict !== 'undecided')
              expect(e.verdict, `${e.clause} ${e.margin}`).toBe(e.margin >= 0 ? 'met' : 'broken')
          }
          const text =
            powerLines(report, profile, 100, true, []).join('\n') +
            powerPlots(report, profile)
              .map((p) => p.svg)
              .join('')
          expect(text.match(/.{0,120}(?:NaN|undefined|n\/a).{0,40}/)?.[0]).toBeUndefined()
        } catch (error) {
          if (!(error instanceof InputError)) throw error
          expect(error.message).toMatch(/^power\./)
        }
      }),
      { numRuns: runs(200) },
    )
    expect(calculated).toBe(repaired)
    expect(calculated).toBeGreaterThan(runs(200) / 2)
  })

  it.each(DRIVER_PARTS.map((p) => [p.name] as const))('%s resolves to figures in order', (name) => {
    const model = resolveDriver({ part: name.toLowerCase() })
    expect(model.supplyMinVolt!).toBeLessThan(model.supplyMaxVolt!)
    expect(model.part!.remark).toMatch(/\.$/)
    for (const key of Object.keys(model.part!.figures)) expect(model.status[key as 'highOhm']).toBeDefined()
    const line = driverLine(model, 1, 1, 25)
    if (line) expect(line.volt + line.ohm).toBeGreaterThan(0)
  })
})
