/** Second duties of pins, their states in reset and their levels, against figures of the data sheets. */
import { describe, expect, it } from 'vitest'
import {
  CHIPS,
  type ChipId,
  freePins,
  logicLevels,
  pinConcerns,
  pinStateInReset,
  verdictOfConcern,
} from './index.js'
import { RESET_PINS } from './pin-levels.data.js'
import { CHIP_PINS } from './pins.data.js'

const CHIP_IDS = Object.keys(CHIPS) as ChipId[]
const verdicts = (chip: ChipId, pin: string, use: Partial<Parameters<typeof pinConcerns>[2]> = {}) =>
  pinConcerns(chip, pin, { as: 'output', clock: 'crystal', ...use }).map(
    (c) => `${c.duty} ${verdictOfConcern(c)}`,
  )

describe('second duties of pins', () => {
  it.each(CHIP_IDS)('%s: every table names port pins of the chip, and every timer drives one', (chip) => {
    const { pins, timers } = CHIPS[chip]
    expect(new Set(pins).size).toBe(pins.length)
    const named = [
      ...CHIP_PINS[chip].rules.flatMap((r) => r.pins),
      ...Object.values(RESET_PINS[chip].pins ?? {}).flat(),
      ...timers.flatMap((t) => t.outputs.map((o) => o.pin)),
    ]
    // Converter inputs without a port can be named, too.
    expect(named.filter((p) => !pins.includes(p) && !/^ADC[67]$/.test(p))).toEqual([])
    for (const rule of CHIP_PINS[chip].rules) expect(rule.pins.length).toBeGreaterThan(0)
  })

  // Data sheets named in pins.data.ts, alternate functions and pin definitions; from memory but for the ATmega328P.
  it.each([
    ['atmega328p', 'PC6', ['reset broken']],
    ['atmega328p', 'PB6', ['oscillator broken']],
    ['atmega328p', 'PB7', ['oscillator broken']],
    ['atmega328p', 'PB2', []],
    ['atmega328p', 'PB3', ['programming met']],
    ['atmega328p', 'PE0', ['no-such-pin broken']],
    ['atmega328p', 'ADC6', ['input-only broken', 'package undecided']],
    ['attiny85', 'PB5', ['reset broken']],
    ['attiny85', 'PB3', ['oscillator broken']],
    ['atmega2560', 'PF4', ['debug undecided']],
    ['atmega32u4', 'PE2', ['boot-strap broken']],
    ['atmega4809', 'PF6', ['reset broken']],
    ['esp32', 'GPIO6', ['flash broken']],
    ['esp32', 'GPIO11', ['flash broken']],
    ['esp32', 'io34', ['input-only broken']],
    ['esp32', 'GPIO0', ['boot-strap broken']],
    ['esp32', 'GPIO12', ['boot-strap broken']],
    ['esp32', 'GPIO1', ['boot-output undecided']],
    ['esp32', 'GPIO20', ['no-such-pin broken']],
    ['esp32', 'GPIO18', []],
    ['stm32f103', 'PA13', ['debug undecided']],
    ['stm32f103', 'PC13', ['weak-output undecided', 'package undecided']],
    ['stm32f103', 'PA8', []],
    ['samd21', 'PA31', ['debug undecided']],
    ['samd21', 'PA26', ['no-such-pin broken']],
    ['ra4m1', 'P201', ['boot-strap broken']],
    ['ra4m1', 'P200', ['input-only broken']],
    ['rp2040', 'GP2', []],
    ['rp2040', 'GPIO30', ['no-such-pin broken']],
  ] as const)('%s, %s as an output: %j', (chip, pin, expected) => {
    expect(verdicts(chip, pin)).toEqual(expected)
  })

  it('frees the pins of an oscillator that is not used', () => {
    expect(verdicts('atmega328p', 'PB6', { clock: 'trimmed rc' })).toEqual([])
    expect(verdicts('attiny85', 'PB4', { clock: 'rc' })).toEqual([])
    expect(verdicts('atmega328p', 'PC6', { clock: 'rc' })).toEqual(['reset broken'])
  })

  it('takes an input where there is no output stage, and the word of the design for what only the circuit shows', () => {
    expect(verdicts('esp32', 'GPIO34', { as: 'input' })).toEqual([])
    expect(verdicts('esp32', 'GPIO6', { as: 'input' })).toEqual(['flash broken'])
    expect(verdicts('esp32', 'GPIO0', { checked: ['gpio00'] })).toEqual(['boot-strap met'])
    expect(verdicts('atmega2560', 'PF4', { checked: ['PF4'] })).toEqual(['debug met'])
    expect(verdicts('esp32', 'GPIO6', { checked: ['GPIO6'] })).toEqual(['flash broken'])
  })

  it.each(CHIP_IDS)('%s: offers free pins, none of them in doubt', (chip) => {
    const free = freePins(chip, { clock: 'crystal' }, new Set())
    expect(free.length).toBeGreaterThan(2)
    for (const pin of free)
      for (const c of pinConcerns(chip, pin, { as: 'output', clock: 'crystal' })) expect(c.care).toBe('note')
  })
})

describe('levels of pins', () => {
  it('makes and needs what the data sheets say', () => {
    // ATmega328P, 8271H, DC characteristics at 5 V (from memory): 4.2 V and 0.9 V at 20 mA, 0.3 and 0.6 of the supply.
    const avr = logicLevels('atmega328p', { supplyVolt: 5, loadAmp: 0.02 })!
    expect(avr.output!.highMinVolt).toBeCloseTo(4.2, 9)
    expect(avr.output!.lowMaxVolt).toBeCloseTo(0.9, 9)
    expect(avr.input.lowMaxVolt).toBeCloseTo(1.5, 9)
    expect(avr.input.highMinVolt).toBeCloseTo(3, 9)
    // STM32F103 at 3.3 V (from memory): 0.28 (VDD - 2) + 0.8 = 1.164 V, 0.41 (VDD - 2) + 1.3 = 1.833 V.
    const arm = logicLevels('stm32f103')!
    expect(arm.input.lowMaxVolt).toBeCloseTo(1.164, 9)
    expect(arm.input.highMinVolt).toBeCloseTo(1.833, 9)
    // 8 mA at 3.3 V: the drop of 0.4 V that is guaranteed at 2.7 V.
    expect(logicLevels('stm32f103', { loadAmp: 0.008 })!.output!.highMinVolt).toBeCloseTo(2.9, 9)
  })

  it('drops nothing without a load, and promises nothing beyond the rated one or outside the supply', () => {
    expect(logicLevels('rp2040')!.output).toEqual({ highMinVolt: 3.3, lowMaxVolt: 0, loadAmp: 0 })
    expect(logicLevels('rp2040', { loadAmp: 0.005 })!.output).toBeUndefined()
    expect(logicLevels('esp32', { supplyVolt: 5 })).toBeUndefined()
    expect(logicLevels('samd21', { supplyVolt: 1.8 })!.output).toBeUndefined()
  })

  it.each([
    ['atmega328p', 'PB2', 'floating'],
    ['atmega2560', 'PF4', 'pull-up'],
    ['rp2040', 'GP2', 'pull-down'],
    ['esp32', 'GPIO12', 'pull-down'],
    ['esp32', 'GPIO0', 'pull-up'],
    ['esp32', 'GPIO1', 'driven'],
    ['stm32f103', 'PA14', 'pull-down'],
    ['stm32f103', 'PA8', 'floating'],
  ] as const)('%s, %s is %s in reset', (chip, pin, state) => {
    expect(pinStateInReset(chip, pin)).toMatchObject({ state })
    expect(pinStateInReset(chip, pin)!.pullOhm !== undefined).toBe(state.startsWith('pull'))
  })

  it('knows no state of a pin that is not there', () => {
    expect(pinStateInReset('esp32', 'GPIO20')).toBeUndefined()
  })
})
