import { describe, expect, it } from 'vitest'
import type { Output, SignalDesign } from '../../signal/index.js'
import { profileOf } from '../../standard/index.js'
import type { ControllerDesign } from '../design.js'
import { timerEvidence } from './evidence.js'

const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const output = (more: Partial<Output> = {}): Output => ({
  mode: 'operations',
  pin: 'PB2',
  method: 'buffered',
  timer: 1,
  prescaler: 8,
  oneHalf: 58,
  zeroHalf: 100,
  preamble: 16,
  cutout: false,
  ...more,
})
function evidence(outputs: Record<string, Output>, controller: Partial<ControllerDesign> = {}) {
  const signal = { outputs, accessoryOffset: 4 } as SignalDesign
  return timerEvidence(
    {
      controller: { chip: 'atmega328p', clock: { frequency: 16e6, source: 'resonator' }, ...controller },
      signal,
    },
    profile,
  )
}
const of = (list: ReturnType<typeof evidence>, clause: string) => list.find((e) => e.clause === clause)!

describe('calculated evidence', () => {
  it('has the exact counts, with the tolerance of the clock', () => {
    const list = evidence({ main: output() })
    const one = of(list, 'one-half')
    // 58 us / (1 ± 0.011), limits 55 and 61 us (S-9.1:2020 Table 1): the nearer limit is 61.
    expect(one.value.low).toBeCloseTo(58 / 1.011, 9)
    expect(one.value.high).toBeCloseTo(58 / 0.989, 9)
    expect(one.margin).toBeCloseTo((61 - 58 / 0.989) / 3, 9)
    expect(one.verdict).toBe('met')
    expect(one.about).toBe('main')
    expect(one.because).toContain('116 ticks of 500 ns')
    expect(of(list, 'zero-total').value.high).toBeCloseTo(200 / 0.989, 9)
    expect(list.map((e) => [e.clause, e.verdict])).toEqual([
      ['one-half', 'met'],
      ['one-difference', 'met'],
      ['zero-half', 'met'],
      ['zero-total', 'met'],
      ['preamble', 'met'],
      ['pin-conflict', 'met'],
    ])
  })

  it('breaks with an untrimmed internal oscillator', () => {
    const list = evidence({ main: output() }, { clock: { frequency: 8e6, source: 'rc' } })
    expect(of(list, 'one-half').verdict).toBe('broken')
    expect(of(list, 'zero-half').verdict).toBe('broken')
  })

  it('breaks with a prescaler that is too coarse', () => {
    const list = evidence({ main: output({ prescaler: 256 }) })
    expect(of(list, 'one-half').verdict).toBe('broken')
    expect(of(list, 'one-half').value.low).toBeCloseTo(64 / 1.011, 9)
  })

  it('does not decide for a pin that an interrupt writes', () => {
    const list = evidence({ main: output({ method: 'interrupt', pin: 'PD7' }) })
    expect(of(list, 'one-half').verdict).toBe('undecided')
    expect(of(list, 'one-difference').verdict).toBe('undecided')
    expect(of(list, 'one-half').because).toContain('at most')
  })

  it('wants more preamble in service mode', () => {
    const list = evidence({ prog: output({ mode: 'service', preamble: 19 }) })
    // S-9.2.3:2012 E: 20 or more.
    expect(of(list, 'preamble')).toMatchObject({ verdict: 'broken', margin: -0.05 })
    expect(evidence({ prog: output({ preamble: undefined }) }).some((e) => e.clause === 'preamble')).toBe(
      false,
    )
  })

  it.each([
    ['a pin that the timer does not drive', { a: output({ pin: 'PB5' }) }, {}, 'PB5'],
    ['a pin that the chip does not have', { a: output({ pin: 'PE7' }) }, {}, 'no output pin PE7'],
    ['one pin twice', { a: output(), b: output() }, {}, 'PB2 is used twice'],
    [
      'a timer twice',
      { a: output(), b: output({ method: 'toggle', pin: 'PB1' }) },
      {},
      'timer 1 is used twice',
    ],
    ['a reserved pin', { a: output() }, { reservedPins: ['pb2'] }, 'PB2 is used twice (reserved; output a)'],
    ['a reserved timer', { a: output() }, { reservedTimers: [1] }, 'Timer 1 is reserved'],
    [
      'a pair that no mode makes',
      { a: output({ inverted: 'PB1' }), b: output({ pin: 'PB3', inverted: 'PD6', timer: 2 }) },
      {},
      'PB3 with PD6',
    ],
  ] as const)('finds %s', (_, outputs, controller, says) => {
    const e = of(evidence(outputs as never, controller as never), 'pin-conflict')
    expect(e.verdict).toBe('broken')
    expect(e.because).toContain(says)
    expect(e.value.low).toBeGreaterThan(0)
  })

  it('does not call a pin wrong that its table may have left out', () => {
    const list = evidence(
      { main: output({ pin: 'PB30', timer: 0, prescaler: 1 }) },
      { chip: 'samd21', clock: { frequency: 48e6, source: 'crystal' } },
    )
    expect(of(list, 'pin-conflict').verdict).toBe('undecided')
    expect(of(list, 'one-half')).toBeUndefined()
  })
})
