import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import { between, exactly, type Quantities, within } from './quantity.js'
import { type CornerQuestion, searchCorners } from './search.js'
import { tornado, yieldOf } from './spread.js'

/** Ohm's law with a trip: holds when V / R is at least the trip current. */
const circuit: CornerQuestion<'volt' | 'ohm' | 'trip'> = {
  quantities: {
    volt: within('supply voltage', 10, 0.1, 'V', 'its label'),
    ohm: between('loop resistance', { low: 1.5, high: 2.5 }, 'Ohm', 'measured'),
    trip: exactly('trip current', 4, 'A', 'the design'),
  },
  margin: ({ volt, ohm, trip }) => volt / ohm / trip - 1,
}

describe('corners', () => {
  it('are undecided where they differ, and name the quantity that decides alone', () => {
    const found = searchCorners(circuit)
    expect(found.verdict).toBe('undecided')
    expect(found.worst.values).toEqual({ volt: 9, ohm: 2.5, trip: 4 })
    expect(found.worst.margin).toBeCloseTo(9 / 2.5 / 4 - 1, 12)
    expect(found.best.values).toEqual({ volt: 11, ohm: 1.5, trip: 4 })
    // 9 V over 1.5 Ohm holds, and 11 V over 2.5 Ohm too; the resistance gains more.
    expect(found.decider).toBe('ohm')
    expect(found.decidesAlone).toBe(true)
    expect(found.corner).toBe(
      'loop resistance at its highest, 2.5 Ohm; and supply voltage at its lowest, 9 V',
    )
  })

  it('are met when all hold and broken when none does', () => {
    const at = (trip: number) =>
      searchCorners({
        ...circuit,
        quantities: { ...circuit.quantities, trip: exactly('trip', trip, 'A', '') },
      })
    expect(at(3.6).verdict).toBe('met')
    expect(at(7.4).verdict).toBe('broken')
    expect(at(3.6).decider).toBeUndefined()
  })

  it('find the same with the unfavourable ends named', () => {
    const named = searchCorners({ ...circuit, unfavourable: { volt: 'low', ohm: 'high' } })
    expect(named.worst).toEqual(searchCorners(circuit).worst)
    expect(named.best).toEqual(searchCorners(circuit).best)
  })

  it('take what is no number for broken, and an open interval as it is', () => {
    const q: Quantities<'limit'> = {
      limit: between('limit', { low: 2, high: Number.POSITIVE_INFINITY }, 'A', 'not known'),
    }
    expect(searchCorners({ quantities: q, margin: () => Number.NaN }).verdict).toBe('broken')
    const open = searchCorners({ quantities: q, margin: ({ limit }) => Math.min(limit, 10) / 5 - 1 })
    expect(open.verdict).toBe('undecided')
    expect(open.best.values.limit).toBe(Number.POSITIVE_INFINITY)
    expect(yieldOf({ quantities: q, margin: () => 1 }, 10, 1)).toBeUndefined()
  })

  it('try values in between where the margin has its least there', () => {
    const question = {
      quantities: { x: between('x', { low: -1, high: 2 }, 'V', '') },
      margin: ({ x }: { x: number }) => x * x - 0.5,
    }
    expect(searchCorners(question).verdict).toBe('met')
    expect(searchCorners({ ...question, tries: { x: [0] } }).verdict).toBe('undecided')
  })

  it('refuse a clause that leaves too many ends open', () => {
    const quantities = Object.fromEntries(
      Array.from({ length: 17 }, (_, i) => [`q${i}`, between(`q${i}`, { low: 0, high: 1 }, 'V', '')]),
    )
    expect(() => searchCorners({ quantities, margin: () => 1 })).toThrow(RangeError)
  })

  it('are as bad as the worst of all combinations, and no worse', () => {
    // Products of powers, monotone in each quantity with signs that fast-check picks; 6 values each of 5 quantities.
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(
            fc.double({ min: 0.1, max: 5, noNaN: true }),
            fc.double({ min: 0.01, max: 0.5, noNaN: true }),
            fc.integer({ min: -2, max: 2 }),
          ),
          {
            minLength: 5,
            maxLength: 5,
          },
        ),
        fc.double({ min: 0.1, max: 10, noNaN: true }),
        (rows, limit) => {
          const quantities = Object.fromEntries(
            rows.map(([value, share], i) => [`q${i}`, within(`q${i}`, value, share, 'V', '')]),
          )
          const margin = (v: Readonly<Record<string, number>>) =>
            rows.reduce((product, [, , power], i) => product * v[`q${i}`]! ** power, 1) / limit - 1
          const found = searchCorners({ quantities, margin })
          let [worst, best] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY]
          const values: Record<string, number> = {}
          const walk = (at: number) => {
            if (at === 5) {
              worst = Math.min(worst, margin(values))
              best = Math.max(best, margin(values))
              return
            }
            const q = quantities[`q${at}`]!
            for (let i = 0; i <= 5; i++) {
              values[`q${at}`] = i === 5 ? q.high : q.low + ((q.high - q.low) * i) / 5
              walk(at + 1)
            }
          }
          walk(0)
          expect(found.worst.margin).toBe(worst)
          expect(found.best.margin).toBe(best)
        },
      ),
      { numRuns: runs(20) },
    )
  })
})

describe('yield and tornado', () => {
  it('the share of builds is that of the area, counted by hand', () => {
    // V uniform 9 to 11, R uniform 1.5 to 2.5: V / R ≥ 5 where R ≤ V / 5, which is on average (2 − 1.5) / 1 = one half.
    const half = yieldOf(
      { ...circuit, quantities: { ...circuit.quantities, trip: exactly('trip', 5, 'A', '') } },
      20_000,
      3,
    )!
    expect(half.low).toBeLessThan(0.5)
    expect(half.high).toBeGreaterThan(0.5)
    expect(half.high - half.low).toBeLessThan(0.02)
    expect(yieldOf(circuit, 500, 9)).toEqual(yieldOf(circuit, 500, 9))
    expect(yieldOf(circuit, 500, 9)).not.toEqual(yieldOf(circuit, 500, 10))
  })

  it('the quantity with the longest bar moves the margin most', () => {
    const rows = tornado(circuit)
    expect(rows.map((r) => r.quantity)).toEqual(['ohm', 'volt'])
    expect(rows[0]!.atLow).toBeCloseTo(10 / 1.5 / 4 - 1, 12)
    expect(rows[0]!.atHigh).toBeCloseTo(10 / 2.5 / 4 - 1, 12)
  })
})
