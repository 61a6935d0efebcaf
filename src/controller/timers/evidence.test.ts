import { describe, expect, it } from 'vitest'
import type { Output, SignalDesign } from '../../signal/index.js'
import { profileOf } from '../../standard/index.js'
import type { ControllerDesign } from '../design.js'
import { timerEvidence } from './evidence.js'

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
    (cutout) => profileOf({ profile: 'nmra', scale: 'H0', cutout }),
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
    [
      'a pin that the chip does not have',
      { a: output({ pin: 'PE7' }) },
      {},
      'ATmega328P has no port pin PE7',
    ],
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

  it('needs one more preamble bit where the station makes cut-outs', () => {
    // RCN-211:2019, preamble with cut-out, from memory: 17. S-9.2:2004: 14 without.
    const at = (preamble: number, cutout: boolean) =>
      of(evidence({ main: output({ preamble, cutout }) }), 'preamble').verdict
    expect([at(14, false), at(13, false)]).toEqual(['met', 'broken'])
    expect([at(17, true), at(16, true)]).toEqual(['met', 'broken'])
    expect(of(evidence({ main: output({ cutout: true }) }), 'preamble').because).toContain('at least 17')
  })

  it('takes the best way that fits where the design leaves the method open, and says so', () => {
    for (const [chip, pin, frequency] of [
      ['esp32', 'GPIO4', 240e6],
      ['rp2040', 'GPIO2', 125e6],
      ['samd21', 'PA4', 48e6],
      ['stm32f103', 'PA8', 72e6],
      ['ra4m1', 'P104', 48e6],
      ['atmega328p', 'PB2', 16e6],
    ] as const) {
      const list = evidence(
        { main: output({ pin, method: undefined, timer: undefined, prescaler: undefined }) },
        { chip, clock: { frequency, source: 'crystal' } },
      )
      expect(list.map((e) => e.verdict)).toEqual(list.map(() => 'met'))
      expect(of(list, 'one-half').because).toContain(
        'leaves the method, timer and prescaler open, so the best one that fits is used',
      )
    }
  })

  it('gives each output a timer of its own where the design leaves it open', () => {
    const open = { method: undefined, timer: undefined, prescaler: undefined }
    const list = evidence(
      { a: output({ pin: 'GPIO4', ...open }), b: output({ pin: 'GPIO18', ...open }) },
      { chip: 'esp32', clock: { frequency: 240e6, source: 'crystal' } },
    )
    expect(of(list, 'pin-conflict').verdict).toBe('met')
    // One that names its timer keeps it, in whatever order they come.
    const mixed = evidence(
      { a: output({ pin: 'GPIO4', ...open }), b: output({ pin: 'GPIO18', ...open, timer: 0 }) },
      { chip: 'esp32', clock: { frequency: 240e6, source: 'crystal' } },
    )
    expect(of(mixed, 'pin-conflict').verdict).toBe('met')
  })

  it.each([
    ['esp32', 'GPIO6', 'broken', 'pins/flash'],
    ['esp32', 'GPIO34', 'broken', 'pins/input-only'],
    ['esp32', 'GPIO12', 'broken', 'pins/boot-strap'],
    ['esp32', 'GPIO1', 'undecided', 'pins/boot-output'],
    ['rp2040', 'GPIO40', 'broken', 'pins/no-such-pin'],
    ['stm32f103', 'PA15', 'undecided', 'pins/debug'],
  ] as const)('calls an output of %s on %s %s', (chip, pin, verdict, code) => {
    const controller = { chip, clock: { frequency: 48e6, source: 'crystal' } } as const
    const outputs = { main: output({ pin, method: 'interrupt', timer: undefined, prescaler: undefined }) }
    const e = of(evidence(outputs, controller), 'pin-conflict')
    expect(e.verdict).toBe(verdict)
    expect(e.finding!.params['codes']).toContain(code)
    const settled = of(evidence(outputs, { ...controller, checkedPins: [pin] }), 'pin-conflict')
    const curable = ['pins/boot-strap', 'pins/boot-output', 'pins/debug'].includes(code)
    expect(settled.verdict).toBe(curable ? 'met' : 'broken')
  })

  it.each([
    ['the oscillator', 'atmega328p', 'PB6', 'crystal', 'broken'],
    ['a port, with the internal oscillator', 'atmega328p', 'PB6', 'trimmed rc', 'met'],
    ['the reset', 'atmega328p', 'PC6', 'crystal', 'broken'],
    ['the reset', 'attiny85', 'PB5', 'trimmed rc', 'broken'],
  ] as const)('knows %s of %s on %s (clock: %s): %s', (_, chip, pin, source, verdict) => {
    const list = evidence(
      { main: output({ pin, method: 'interrupt', timer: 0, prescaler: undefined }) },
      { chip, clock: { frequency: 8e6, source } },
    )
    expect(of(list, 'pin-conflict').verdict).toBe(verdict)
  })

  it('promises no half-bit beyond the rated clock, and none that its interrupt has no time for', () => {
    // DS40001906C: 20 MHz at most.
    const fast = evidence({ main: output() }, { clock: { frequency: 32e6, source: 'crystal' } })
    expect(of(fast, 'one-half').verdict).toBe('undecided')
    expect(of(fast, 'one-half').because).toContain('rated for 20 MHz')
    const slow = evidence(
      { main: output({ method: 'toggle', pin: 'PB1', prescaler: 1 }) },
      { clock: { frequency: 1e6, source: 'crystal' } },
    )
    expect(of(slow, 'one-half').verdict).toBe('undecided')
    expect(of(slow, 'one-half').because).toContain('longer than the deadline')
  })

  it.each([
    ['a timer that the chip has not', { timer: 9 }],
    ['a method that no timer of the chip has', { method: 'fed', timer: undefined }],
  ] as const)('calls %s broken, also where its table of pins is not complete', (_, more) => {
    const list = evidence(
      { main: output({ pin: 'P104', prescaler: undefined, ...more }) },
      { chip: 'ra4m1', clock: { frequency: 48e6, source: 'crystal' } },
    )
    expect(of(list, 'pin-conflict').verdict).toBe('broken')
  })

  // Data sheet 8161D Table 28-1: the internal oscillator of the classic 8-bit chips is within 10 % as delivered. The ring
  // oscillator of the RP2040 has no specified frequency (data sheet, from memory).
  it.each([
    ['atmega328p', 'PB2', 8e6, 'broken'],
    ['rp2040', 'GPIO2', 48e6, 'broken'],
    ['esp32', 'GPIO4', 80e6, 'broken'],
    ['stm32f103', 'PA8', 64e6, 'met'],
    ['ra4m1', 'P104', 48e6, 'met'],
  ] as const)(
    'gives the internal oscillator of %s no better tolerance than its own',
    (chip, pin, frequency, verdict) => {
      const list = evidence(
        { main: output({ pin, method: undefined, timer: undefined, prescaler: undefined }) },
        { chip, clock: { frequency, source: 'internal' } },
      )
      expect(of(list, 'one-half').verdict).toBe(verdict)
    },
  )
})
