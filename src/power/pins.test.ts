/** Pins of driver boards that end on controller pins with a second duty (facts from the data sheets, from memory). */
import { describe, expect, it } from 'vitest'
import type { PowerDesign } from './design/index.js'
import { type PinUsers, pinPlan } from './pins.js'

function plan(role: string, wired: string, controller: PinUsers) {
  const power = {
    drivers: { main: { part: 'custom', figures: {}, pins: [{ name: 'EN', role, wired }] } },
    districts: { all: { driver: 'main' } },
  } as unknown as PowerDesign
  const { conflicts, doubts } = pinPlan(power, undefined, controller)
  return conflicts.length > 0
    ? `broken: ${conflicts[0]}`
    : doubts.length > 0
      ? `undecided: ${doubts[0]}`
      : 'met'
}

describe('pins of driver boards', () => {
  it.each([
    ['enable', 'GPIO34', 'broken', 'can only be an input'],
    ['fault', 'GPIO34', 'met', ''],
    ['sense', 'GPIO34', 'met', ''],
    ['enable', 'GPIO0', 'broken', 'boot strap'],
    ['fault', 'GPIO12', 'broken', 'boot strap'],
    ['enable', 'GPIO7', 'broken', 'flash memory'],
    ['enable', 'GPIO1', 'undecided', 'drives GPIO1 by itself'],
    ['enable', 'GPIO23', 'met', ''],
    ['enable', 'GPIO41', 'broken', 'no port pin GPIO41'],
    ['sense', 'GPIO18', 'broken', 'no analog input'],
  ])('%s on %s of an ESP32: %s', (role, pin, verdict, why) => {
    const said = plan(role, pin, { chip: 'esp32', clock: { source: 'crystal' } })
    expect(said.split(':')[0]).toBe(verdict)
    expect(said).toContain(why)
  })

  it('takes the word of the design for what only the circuit shows', () => {
    expect(plan('enable', 'gp0', { chip: 'esp32', checkedPins: ['GPIO0'] })).toBe('met')
    expect(plan('enable', 'GPIO7', { chip: 'esp32', checkedPins: ['GPIO7'] })).toContain('broken')
  })

  it('knows the pins of the oscillator and of the converter', () => {
    const crystal: PinUsers = { chip: 'atmega328p', clock: { source: 'crystal' } }
    expect(plan('enable', 'PB6', crystal)).toContain('broken')
    expect(plan('enable', 'PB6', { ...crystal, clock: { source: 'trimmed rc' } })).toBe('met')
    // On the 32-pin packages only.
    expect(plan('sense', 'ADC6', crystal)).toContain('undecided')
    expect(plan('sense', 'ADC6', { ...crystal, checkedPins: ['ADC6'] })).toBe('met')
    expect(plan('enable', 'PC6', crystal)).toContain('broken')
  })
})
