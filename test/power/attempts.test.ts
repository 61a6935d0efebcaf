/** A short that lasts: attempts seen in a run against what driver and wires carry, and the fuse that melts meanwhile. All invented. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { powerReport } from '../../src/power/index.js'
import { powerInput } from '../../src/proof/index.js'
import { attemptJudge, attemptsIn, attemptsOf } from '../../src/proof/overloads.js'

const odd = (name: string) => readFileSync(new URL(`./odd/${name}.yaml`, import.meta.url), 'utf8')

describe('attempts into a short that lasts', () => {
  const seenOf = (onUs: number, offUs: number) => ({
    onUs,
    offUs,
    longestOnUs: onUs,
    shortestOffUs: offUs,
  })

  it('are counted from when it is off first, whichever pin switches', () => {
    const switched = [
      { on: false, timeUs: 100 },
      { on: true, timeUs: 300 },
      { on: false, timeUs: 310 },
      { on: true, timeUs: 710 },
      { on: false, timeUs: 740 },
    ]
    expect(attemptsIn(switched, 1000)).toEqual({
      onUs: 20,
      offUs: (200 + 400 + 260) / 2,
      longestOnUs: 30,
      shortestOffUs: 200,
    })
    expect(attemptsIn(switched.slice(0, 1), 1000)).toBeUndefined()
    const pins = [
      {
        pin: 'PB0',
        offLevel: 0,
        changes: [1, 0, 1, 0, 1, 0].map((level, i) => ({ level, timeUs: [0, 100, 300, 310, 710, 740][i]! })),
      },
    ]
    expect(attemptsOf(pins, 100, 1000)).toEqual(attemptsIn(switched, 1000))
  })

  it('are judged by their mean heat, not by how long it is off alone', () => {
    const judge = attemptJudge(loadDesign(odd('closes-again')))
    // Off three times as long as on: like half of 33 A continuously, through a wire that carries 3 A and something.
    expect(judge('main', seenOf(100_000, 300_000))).toMatchObject({ verdict: 'broken' })
    expect(judge('main', seenOf(100_000, 300_000))!.because).toMatch(/heat like 16\.\d A continuously/)
    // One part in a thousand: 1 A.
    expect(judge('main', seenOf(100_000, 100e6))).toMatchObject({ verdict: 'met' })
    expect(judge('elsewhere', seenOf(1, 1))).toBeUndefined()
  })
})

describe('output capacitors of a supply', () => {
  it('drive a converter pin beyond what it stands, though the supply holds its current back', () => {
    const stressOf = (capacitance: string) => {
      const text = odd('capacitor-short')
        .replace('2200 uF', capacitance)
        .replace(
          'fuse: 1.5 A',
          'fuse: 1.5 A\n      sense: { kind: shunt, resistance: 1.8 Ohm, power: 20 W, reference: 5 V }',
        )
      const { evidence } = powerReport(powerInput(loadDesign(text))!.input)
      return evidence.find((e) => e.clause === 'sense-stress')!
    }
    expect(stressOf('0 F, limitResponse: 0 us').verdict).toBe('met')
    expect(stressOf('2200 uF')).toMatchObject({ verdict: 'broken' })
  })
})

describe('what a short in one district takes with it', () => {
  const reach = (after: string, fuse = '') => {
    const text = `
halfbit: 2
name: Two on a fuse (invented)
controller: { chip: atmega328p, clock: { frequency: 16 MHz } }
signal: { outputs: { main: { mode: operations, pin: PB1 } } }
power:
  supplies: { main: { voltage: 15 V, rating: 8 A, limit: none, fuse: 3 A } }
  drivers: { a: { part: BTS7960B }, b: { part: BTS7960B } }
  districts:
    one: { driver: a, ${fuse} trip: { current: 2 A, by: breaker, after: ${after} }, load: { running: 0.5 A, worst: 1 A } }
    two: { driver: b, trip: { current: 2 A, by: breaker, after: 1 ms }, load: { running: 0.5 A, worst: 1 A } }
`
    const { tripReach } = powerReport(powerInput(loadDesign(text))!.input)
    return tripReach.find((r) => r.district === 'one')!.stops.map((s) => s.because.code)
  }

  it('follows the fuse of the supply where a trip is slower than it', () => {
    expect(reach('2 s')).toEqual(['power/shared-fuse'])
    expect(reach('1 ms')).toEqual([])
  })
})
