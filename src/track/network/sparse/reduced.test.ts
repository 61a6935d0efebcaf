import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../../test/runs.js'
import { planElimination } from './elimination.js'
import { analyse, Factor } from './ldlt.js'
import { ReducedFactor } from './reduced.js'
import { Update } from './update.js'

interface Net {
  size: number
  from: Int32Array
  to: Int32Array
  /** Conductance is ten to this, S. */
  power: number[]
}

/**
 * Several parts, each with a way to ground, of chains, ladders and whatever else; −1 is ground. Parallel edges and edges from a node
 * to itself are among them.
 */
const nets = (decades: number, most: number) =>
  fc
    .array(
      fc.record({
        shape: fc.constantFrom('chain', 'ladder', 'tree', 'grid'),
        size: fc.integer({ min: 1, max: most }),
        more: fc.array(fc.tuple(fc.nat(), fc.nat()), { maxLength: 12 }),
        grounds: fc.array(fc.nat(), { minLength: 1, maxLength: 3 }),
        powers: fc.array(fc.integer({ min: -decades, max: decades }), { minLength: 7, maxLength: 7 }),
      }),
      { minLength: 1, maxLength: 3 },
    )
    .map((parts): Net => {
      const edges: [number, number, number][] = []
      let base = 0
      for (const { shape, size, more, grounds, powers } of parts) {
        const add = (a: number, b: number) =>
          edges.push([base + a, b < 0 ? -1 : base + b, powers[edges.length % 7]!])
        for (let v = 1; v < size; v++) {
          const before = { chain: v - 1, ladder: v - 2, tree: (v - 1) >> 1, grid: v - 1 }[shape]
          add(v, Math.max(0, before))
          if (shape === 'ladder' && v % 2 === 1) add(v, v - 1)
          if (shape === 'grid' && v >= 5) add(v, v - 5)
        }
        for (const [a, b] of more) add(a % size, b % size)
        for (const a of grounds) add(a % size, -1)
        base += size
      }
      return {
        size: base,
        from: Int32Array.from(edges, (e) => e[0]),
        to: Int32Array.from(edges, (e) => e[1]),
        power: edges.map((e) => e[2]),
      }
    })

const siemensOf = (net: Net) => Float64Array.from(net.power, (p) => 10 ** p)
const reduced = (net: Net) => new ReducedFactor(planElimination(net.size, net.from, net.to), siemensOf(net))
const plain = (net: Net) => new Factor(analyse(net.size, net.from, net.to), siemensOf(net))

function expectNear(got: ArrayLike<number>, want: ArrayLike<number>, most: number) {
  for (let i = 0; i < want.length; i++) expect(Math.abs(got[i]! - want[i]!)).toBeLessThanOrEqual(most)
}
const greatest = (list: Float64Array) => list.reduce((most, x) => Math.max(most, Math.abs(x)), 0)

describe('a reduced network', () => {
  it('has the solutions, resistances and changes of the network itself: to 1e-10 over four decades', () => {
    fc.assert(
      fc.property(nets(2, 60), fc.array(fc.nat(), { minLength: 8, maxLength: 8 }), (net, pick) => {
        const [one, other] = [reduced(net), plain(net)]
        const truth = refined(net)
        // What cancels in a solution cannot be known better than what it would be without signs.
        const most = (ampere: Float64Array) => 1e-10 * greatest(truth(ampere.map(Math.abs)))
        const [p, q] = [pick[0]! % net.size, (pick[1]! % (net.size + 1)) - 1]
        const b = Float64Array.from({ length: net.size }, (_, i) => Math.sin(i + (pick[2]! % 10)))
        expectNear(one.solve(b), truth(b), most(b))
        const through = (p: number, q: number) => {
          const ampere = fromTo(net.size, p, q)
          return { volts: truth(ampere), most: 2 * most(ampere) }
        }
        const unit = through(p, q)
        const ends = (list: ArrayLike<number>, more: number[]) =>
          Int32Array.from([...Array.from(list), ...more.map((x) => (x % (net.size + 1)) - 1)])
        const column = one.unit(p, q)
        expectNear(column, unit.volts, unit.most)
        for (const solver of [one, other]) {
          const four = new Float64Array(4 * net.size).fill(Number.NaN)
          const [from, to] = [ends([], pick.slice(0, 3)), ends([], pick.slice(3, 6))]
          solver.units([...from, p], [...to, q], four)
          for (let k = 0; k < 4; k++)
            expect(four.filter((_, i) => i % 4 === k)).toEqual(solver.unit(from[k] ?? p, to[k] ?? q))
        }
        expectNear([one.between(p, q)], [across(unit.volts, p, q)], unit.most)
        // Every edge, and pairs that have none.
        const [plus, minus] = [ends(net.from, pick.slice(0, 4)), ends(net.to, pick.slice(4))]
        const all = one.betweenAll(plus, minus)
        const plainly = other.betweenAll(plus, minus)
        expectNear(all, plainly, 1e-9 * greatest(plainly))
        // Some of them against the truth, which takes a solution each.
        for (const k of pick.map((x) => x % plus.length)) {
          const { volts, most } = through(plus[k]!, minus[k]!)
          expectNear([all[k]!], [across(volts, plus[k]!, minus[k]!)], most)
        }
        const changes = [{ from: p, to: q, deltaSiemens: 1 }]
        if (p !== q) {
          const [from, to] = [Int32Array.of(...net.from, p), Int32Array.of(...net.to, q)]
          const changed = refined({ ...net, from, to, power: [...net.power, 0] })
          // The change is worked out from the solution before it.
          const volts = new Update(one, changes).correct(one.solve(b))
          expectNear(volts, changed(b), 10 * most(b))
        }
        // A second question does not depend on the first.
        expectNear([one.between(p, q)], [across(unit.volts, p, q)], unit.most)
      }),
      { numRuns: runs(300) },
    )
  })

  it('is right to 1e-12 for tiny beside huge resistances, against fractions without rounding', () => {
    fc.assert(
      fc.property(nets(7, 9), fc.nat(), (net, pick) => {
        const p = pick % net.size
        const exact = exactColumn(net, p)
        const got = reduced(net).unit(p, -1)
        exact.forEach((want, i) => {
          expect(Math.abs(got[i]! - want)).toBeLessThanOrEqual(1e-12 * Math.abs(want))
        })
      }),
      { numRuns: runs(100) },
    )
  })

  it('refuses a part without a way to ground, whether it is eliminated or left over', () => {
    const ring = { size: 3, from: Int32Array.of(0, 1, 2), to: Int32Array.of(1, 2, 0), power: [0, 0, 0] }
    expect(() => reduced(ring)).toThrow(/no way to ground/)
    const complete: Net = { size: 12, from: Int32Array.from([]), to: Int32Array.from([]), power: [] }
    const all = Array.from({ length: 12 }, (_, i) => i)
    const pairs = all.flatMap((a) => all.filter((b) => b > a).map((b) => [a, b]))
    complete.from = Int32Array.from(pairs, (e) => e[0]!)
    complete.to = Int32Array.from(pairs, (e) => e[1]!)
    complete.power = pairs.map(() => 0)
    expect(() => reduced(complete)).toThrow(/no way to ground/)
  })

  it('leaves nothing over of a railroad: a bus with feeders to both sides of a loop', () => {
    const edges: [number, number][] = []
    const n = 400
    for (let i = 0; i < n; i++) {
      // Bus, two rails that meet at both ends, and feeders to each in turn.
      if (i > 0) edges.push([i - 1, i], [n + i - 1, n + i], [2 * n + i - 1, 2 * n + i])
      edges.push([i, (1 + (i % 2)) * n + i])
    }
    edges.push([n, 2 * n], [2 * n - 1, 3 * n - 1])
    const plan = planElimination(
      3 * n,
      Int32Array.from(edges, (e) => e[0]),
      Int32Array.from(edges, (e) => e[1]),
    )
    expect(plan.core.length).toBe(0)
    expect([...plan.node].sort((a, b) => a - b)).toEqual(Array.from({ length: 3 * n }, (_, i) => i))
  })
})

const fromTo = (size: number, p: number, q: number) =>
  Float64Array.from({ length: size }, (_, i) => Number(i === p) - Number(i === q))
const across = (volts: ArrayLike<number>, p: number, q: number) =>
  (p < 0 ? 0 : volts[p]!) - (q < 0 ? 0 : volts[q]!)

/**
 * The solution to the last digits: the plain factor's, which loses some six of them on long chains of unlike resistances, refined by
 * what it leaves over, in whole numbers without rounding (Wilkinson, Rounding Errors in Algebraic Processes, 1963, from memory).
 */
function refined(net: Net): (ampere: Float64Array) => Float64Array {
  const factor = plain(net)
  // Conductances are whole numbers of 10 mS; volts and amperes, of these parts.
  const siemens = net.power.map((power) => 10n ** BigInt(power + 2))
  const PART = 2 ** 100
  return (ampere) => {
    const volts = new Array<bigint>(net.size).fill(0n)
    const given = Array.from(ampere, (a) => 100n * BigInt(a * PART))
    for (let round = 0; round < 4; round++) {
      const left = [...given]
      siemens.forEach((g, e) => {
        const [i, j] = [net.from[e]!, net.to[e]!]
        const current = g * ((i < 0 ? 0n : volts[i]!) - (j < 0 ? 0n : volts[j]!))
        if (i >= 0) left[i]! -= current
        if (j >= 0) left[j]! += current
      })
      const more = factor.solve(Float64Array.from(left, (l) => Number(l) / PART / 100))
      more.forEach((v, i) => {
        volts[i]! += BigInt(Math.round(v * PART))
      })
    }
    return Float64Array.from(volts, (v) => Number(v) / PART)
  }
}

/** A column of the inverse by Bareiss' elimination over whole numbers: conductances times 10⁷. */
function exactColumn(net: Net, p: number): number[] {
  const n = net.size
  const a = Array.from({ length: n }, (_, i) =>
    Array.from({ length: n + 1 }, (_, j) => BigInt(j === n && i === p)),
  )
  net.power.forEach((power, e) => {
    const g = 10n ** BigInt(power + 7)
    const [i, j] = [net.from[e]!, net.to[e]!]
    if (i === j) return
    for (const k of [i, j]) if (k >= 0) a[k]![k]! += g
    if (i >= 0 && j >= 0) {
      a[i]![j]! -= g
      a[j]![i]! -= g
    }
  })
  let before = 1n
  for (let k = 0; k < n; k++) {
    for (let i = 0; i < n; i++) {
      if (i === k) continue
      for (let j = 0; j <= n; j++)
        if (j !== k) a[i]![j] = (a[k]![k]! * a[i]![j]! - a[i]![k]! * a[k]![j]!) / before
      a[i]![k] = 0n
    }
    before = a[k]![k]!
  }
  // Twenty digits of the quotient are more than a double holds.
  return a.map((line, i) => {
    const [top, bottom] = [line[n]!, a[i]![i]!]
    if (top === 0n) return 0
    const digits = top.toString().length - bottom.toString().length
    const scale = 20 - digits
    const scaled = scale >= 0 ? (top * 10n ** BigInt(scale)) / bottom : top / (bottom * 10n ** BigInt(-scale))
    return Number(`${scaled}e${-scale}`) * 1e7
  })
}
