import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { analyse, Factor } from './ldlt.js'
import { minimumDegree, patternOf } from './order.js'
import { solveDense, Update } from './update.js'

interface Net {
  size: number
  from: Int32Array
  to: Int32Array
  siemens: Float64Array
}

/** A connected network: a random tree to ground with extra edges. */
const nets = fc
  .record({
    size: fc.integer({ min: 1, max: 40 }),
    seed: fc.array(fc.double({ min: 0, max: 1, noNaN: true, maxExcluded: true }), {
      minLength: 200,
      maxLength: 200,
    }),
    extra: fc.integer({ min: 0, max: 30 }),
  })
  .map(({ size, seed, extra }): Net => {
    let at = 0
    const next = () => seed[at++ % seed.length]!
    const from: number[] = []
    const to: number[] = []
    const siemens: number[] = []
    for (let n = 0; n < size; n++) {
      from.push(n)
      to.push(n === 0 ? -1 : Math.floor(next() * (n + 1)) - 1)
      siemens.push(0.1 + 10 * next())
    }
    for (let e = 0; e < extra; e++) {
      from.push(Math.floor(next() * size))
      to.push(Math.floor(next() * (size + 1)) - 1)
      siemens.push(0.1 + 10 * next())
    }
    return {
      size,
      from: Int32Array.from(from),
      to: Int32Array.from(to),
      siemens: Float64Array.from(siemens),
    }
  })

function dense(net: Net, extra: { from: number; to: number; deltaSiemens: number }[] = []): Float64Array[] {
  const a = Array.from({ length: net.size }, () => new Float64Array(net.size))
  const add = (i: number, j: number, g: number) => {
    if (i === j) return
    if (i >= 0) a[i]![i]! += g
    if (j >= 0) a[j]![j]! += g
    if (i >= 0 && j >= 0) {
      a[i]![j]! -= g
      a[j]![i]! -= g
    }
  }
  net.siemens.forEach((g, e) => {
    add(net.from[e]!, net.to[e]!, g)
  })
  for (const x of extra) add(x.from, x.to, x.deltaSiemens)
  return a
}

function expectNear(got: ArrayLike<number>, want: ArrayLike<number>) {
  for (let i = 0; i < want.length; i++)
    expect(Math.abs(got[i]! - want[i]!)).toBeLessThanOrEqual(1e-9 * (1 + Math.abs(want[i]!)))
}

describe('minimum degree', () => {
  it('orders every node once', () => {
    fc.assert(
      fc.property(nets, (net) => {
        const inner = [...net.from.keys()].filter((e) => net.to[e]! >= 0)
        const order = minimumDegree(
          patternOf(
            net.size,
            inner.map((e) => net.from[e]!),
            inner.map((e) => net.to[e]!),
          ),
        )
        expect([...order].sort((a, b) => a - b)).toEqual(Array.from({ length: net.size }, (_, i) => i))
      }),
    )
  })

  it('makes no fill in a chain or a star', () => {
    const n = 500
    const chain = analyse(
      n,
      Int32Array.from({ length: n }, (_, i) => i),
      Int32Array.from({ length: n }, (_, i) => i - 1),
    )
    expect(chain.start[n]).toBe(n - 1)
    const star = analyse(
      n,
      Int32Array.from({ length: n }, (_, i) => i),
      Int32Array.from({ length: n }, (_, i) => (i === 0 ? -1 : 0)),
    )
    expect(star.start[n]).toBe(n - 1)
  })
})

describe('factor', () => {
  it('solves what a dense solver solves', () => {
    fc.assert(
      fc.property(
        nets,
        fc.array(fc.double({ min: -5, max: 5, noNaN: true }), { minLength: 40, maxLength: 40 }),
        (net, b) => {
          const right = Float64Array.from(b.slice(0, net.size))
          const factor = new Factor(analyse(net.size, net.from, net.to), net.siemens)
          expectNear(factor.solve(right), solveDense(dense(net), right.slice())!)
        },
      ),
    )
  })

  it('gives columns and single entries of the inverse, again and again', () => {
    fc.assert(
      fc.property(nets, fc.nat(), fc.nat(), (net, p, q) => {
        const [plus, minus] = [p % net.size, (q % (net.size + 1)) - 1]
        const factor = new Factor(analyse(net.size, net.from, net.to), net.siemens)
        const b = new Float64Array(net.size)
        b[plus]! += 1
        if (minus >= 0) b[minus]! -= 1
        const want = solveDense(dense(net), b.slice())!
        for (let again = 0; again < 2; again++) {
          expectNear(factor.unit(plus, minus), want)
          expectNear([factor.between(plus, minus)], [want[plus]! - (minus < 0 ? 0 : want[minus]!)])
        }
      }),
    )
  })

  it('refuses a part without a way to ground', () => {
    const symbolic = analyse(3, Int32Array.of(0, 1), Int32Array.of(-1, 2))
    expect(() => new Factor(symbolic, Float64Array.of(1, 1))).toThrow(/no way to ground/)
  })
})

describe('update', () => {
  it('gives the network with changed edges', () => {
    const change = fc.record({ a: fc.nat(), b: fc.nat(), g: fc.double({ min: 0.1, max: 5, noNaN: true }) })
    fc.assert(
      fc.property(nets, fc.array(change, { minLength: 1, maxLength: 4 }), (net, list) => {
        const changes = list.map((c) => ({
          from: c.a % net.size,
          to: (c.b % (net.size + 1)) - 1,
          deltaSiemens: c.g,
        }))
        const factor = new Factor(analyse(net.size, net.from, net.to), net.siemens)
        const b = Float64Array.from({ length: net.size }, (_, i) => i % 3)
        const update = new Update(factor, changes)
        expectNear(update.correct(factor.solve(b)), solveDense(dense(net, changes), b.slice())!)
        const e = new Float64Array(net.size)
        e[0] = 1
        expectNear(
          [update.between(update.seen(0, -1, new Float64Array(update.rank)), factor.between(0, -1))],
          [solveDense(dense(net, changes), e)![0]!],
        )
      }),
    )
  })
})
