import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import { profileOf } from '../../standard/index.js'
import { CHIPS, type ChipId } from '../chips/index.js'
import type { ControllerDesign } from '../design.js'
import { searchTimers } from './search.js'

const truth = JSON.parse(
  readFileSync(new URL('../../../test/published/controller/timers.json', import.meta.url), 'utf8'),
)
const { clauses } = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const track = { oneHalf: truth.practice.oneHalfUs, zeroHalf: truth.practice.zeroHalfUs }

type Source = ControllerDesign['clock']['source']
function design(chip: ChipId, mhz: number, source: Source = 'crystal', more: Partial<ControllerDesign> = {}) {
  return { chip, clock: { frequency: mhz * 1e6, source }, ...more } satisfies ControllerDesign
}
const search = (controller: ControllerDesign) => searchTimers({ controller, track, clauses })

describe('data sheet arithmetic', () => {
  it.each(
    truth.halfBits as {
      chip: ChipId
      mhz: number
      prescaler: number
      wantedUs: number
      register: number
      cycles: number
      us: number
    }[],
  )('$chip at $mhz MHz, prescaler $prescaler: $wantedUs us is OCR $register, $cycles cycles', (v) => {
    const { options } = searchTimers({
      controller: design(v.chip, v.mhz),
      track: { oneHalf: v.wantedUs, zeroHalf: 100 },
      clauses: { ...clauses, 'one-half': { ...clauses['one-half'], sender: { min: 1, max: 200 } } },
    })
    for (const modeId of ['ctc-toggle', 'fast-toggle']) {
      const o = options.find(
        (x) => x.modeId === modeId && x.timer.number === 1 && x.divider === v.prescaler && x.pin === 'PB1',
      )!
      expect(o.one.us).toBe(v.us)
      expect(o.one.ticks * o.divider).toBe(v.cycles)
      expect(o.loads.find((l) => l.register === 'OCR1A')!.one).toBe(v.register)
    }
  })

  it('an unbuffered compare that is missed makes one pulse of a whole counter period', () => {
    const o = search(design('atmega328p', 16)).options.find((x) => x.id === 'avr16-1/ctc-toggle/1/PB1')!
    expect(o.deadline.pulseUs).toBe(truth.missedCompare.us)
    // The write must come before the counter reaches the old top, 928 cycles after the edge, less the tick of the match.
    expect(o.deadline.writeUs).toBe(927 / 16)
    expect(o.deadline.miss.sentence).toContain('4.154 ms')
  })

  it('16 bits at 125 MHz are enough for the bits and not for stretched zeros', () => {
    const { options } = search(design('rp2040', truth.reach.mhz))
    const o = options.find((x) => x.modeId === 'slice' && x.divider === 1)!
    // One run holds both halves.
    expect(2 * o.longestZeroUs).toBeCloseTo(truth.reach.fullScaleUs, 2)
    expect(o.one.us).toBe(58)
    expect(o.zero.us).toBe(100)
    expect(options[0]!.longestZeroUs).toBeGreaterThan(5000)
  })

  it.each(truth.interruptEntryCycles as { chip: ChipId; cycles: number }[])(
    '$chip enters an interrupt in $cycles cycles',
    (v) => {
      expect(CHIPS[v.chip].interruptEntryCycles).toBe(v.cycles)
    },
  )

  it.each(truth.pins as { chip: ChipId; pin: string; timer: number; channel: string }[])(
    '$chip: $pin is channel $channel of timer $timer',
    (v) => {
      const timer = CHIPS[v.chip].timers.find((t) => t.number === v.timer)!
      expect(timer.outputs).toContainEqual({ channel: v.channel, pin: v.pin })
    },
  )
})

describe('clock tolerance', () => {
  it.each(truth.clockTolerance as { clock: Source; share: number; fits: boolean }[])(
    '$clock: fits $fits',
    (v) => {
      const { options, refused } = search(design('atmega328p', 8, v.clock))
      expect(options.length > 0).toBe(v.fits)
      const some = [...options, ...refused][0]!
      expect(some.tolerance.share).toBe(v.share)
      expect(some.one.highUs).toBeCloseTo(some.one.us / (1 - v.share), 9)
      if (!v.fits) expect(refused.every((o) => o.because.startsWith('Refused: '))).toBe(true)
    },
  )

  it('the PLL of the ATtiny85 is as good as its internal oscillator, whatever crystal is fitted', () => {
    const { options, refused } = search(design('attiny85', 8, 'crystal'))
    expect(options.every((o) => !o.clock.includes('PLL'))).toBe(true)
    expect(refused.find((o) => o.clock.includes('PLL'))!.tolerance.share).toBe(0.1)
  })
})

describe('ranking', () => {
  it.each(Object.keys(CHIPS) as ChipId[])(
    '%s makes the signal, and what the hardware times comes first',
    (chip) => {
      const { options } = search(design(chip, Math.min(16, CHIPS[chip].maxHz / 1e6)))
      expect(options[0]!.behaviour).not.toBe('pin')
      expect(options[0]!.headroom).toBeGreaterThan(0.95)
      const harmless = options.findIndex((o) => o.behaviour === 'pin')
      if (harmless >= 0)
        expect(options.slice(harmless).filter((o) => o.behaviour !== 'pin' && o.headroom > 0.95)).toEqual([])
    },
  )

  it('takes the buffered bit on Timer 1 of an ATmega328P', () => {
    const { options, best } = search(design('atmega328p', 16, 'resonator'))
    expect(options[0]!.id).toBe('avr16-1/fast-bit/8/PB2')
    expect(options[0]!.loads.map((l) => [l.register, l.one, l.zero])).toEqual([
      ['OCR1B', 115, 199],
      ['OCR1A', 231, 399],
    ])
    expect(options[0]!.settings.map((s) => [s.register, s.number])).toEqual([
      // COM1B1, WGM11, WGM10; WGM13, WGM12, CS11; TOIE1 (data sheet 8271H, register descriptions of Timer 1).
      ['TCCR1A', 0x23],
      ['TCCR1B', 0x1a],
      ['TIMSK1', 0x01],
    ])
    expect(best).toEqual({ oneHalfUs: 58, zeroHalfUs: 100, option: 'avr16-1/fast-bit/8/PB2' })
  })

  it('a pin written by software may be late by half of what the halves may differ', () => {
    const o = search(design('atmega328p', 16)).options.find((x) => x.behaviour === 'pin')!
    expect(o.deadline.lateUs).toBe(1.5)
  })

  it('refuses what is reserved, and says so', () => {
    const { options, refused } = search(
      design('atmega328p', 16, 'crystal', { reservedTimers: [1], reservedPins: ['pb3'] }),
    )
    expect(options.some((o) => o.timer.number === 1 || o.pin === 'PB3')).toBe(false)
    expect(refused.find((o) => o.timer.number === 1)!.refused).toContain('Timer 1 is reserved')
    expect(refused.find((o) => o.pin === 'PB3')!.refused).toContain('pin PB3 is reserved')
  })

  it('finds a complementary pair where one is wanted', () => {
    const { options } = searchTimers({
      controller: design('atmega2560', 16),
      track: { ...track, pin: 'PB6', inverted: 'PB7' },
      clauses,
      keepTo: { pin: true },
    })
    expect(options[0]!.modeId).toBe('fast-bit')
    expect(options[0]!.loads.map((l) => l.register)).toEqual(['OCR1B', 'OCR1C', 'OCR1A'])
    // COM1B = 10, COM1C = 11, WGM = 15 (from memory: register TCCR1A of the ATmega2560).
    expect(options[0]!.settings[0]!.number).toBe(0x2f)
  })

  it('holds what it says for any clock and any half-bits', () => {
    fc.assert(
      fc.property(
        fc.constantFrom(...(Object.keys(CHIPS) as ChipId[])),
        fc.integer({ min: 1, max: 240 }),
        fc.integer({ min: 20, max: 200 }),
        fc.integer({ min: 20, max: 9900 }),
        (chip, mhz, oneHalf, zeroHalf) => {
          const { options, refused } = searchTimers({
            controller: design(chip, mhz),
            track: { oneHalf, zeroHalf },
            clauses,
          })
          for (const o of [...options, ...refused]) {
            expect(o.one.lowUs).toBeLessThanOrEqual(o.one.us)
            expect(o.one.highUs).toBeGreaterThanOrEqual(o.one.us)
            expect(o.because.length).toBeGreaterThan(20)
            for (const l of o.loads) expect(Math.min(l.one, l.zero)).toBeGreaterThanOrEqual(0)
          }
          for (const o of options) {
            expect(o.margins.oneHalf).toBeGreaterThanOrEqual(0)
            expect(o.margins.zeroHalf).toBeGreaterThanOrEqual(0)
            expect(o.deadline.lateUs).toBeGreaterThan(0)
            // Half a tick, unless what is asked for is shorter than one.
            const worst = Math.max(o.tickUs / 2, o.tickUs - oneHalf)
            expect(Math.abs(o.one.errorUs)).toBeLessThanOrEqual(worst + 1e-9)
            expect(mhz * 1e6).toBeLessThanOrEqual(CHIPS[chip].maxHz)
            // What the registers hold fits the counter.
            for (const l of o.loads)
              expect(Math.max(l.one, l.zero)).toBeLessThan(2 ** Math.max(16, o.timer.bits))
          }
        },
      ),
      { numRuns: runs(60), examples: [['atmega328p', 17, 20, 91]] },
    )
  })
})
