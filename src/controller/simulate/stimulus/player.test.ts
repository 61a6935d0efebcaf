import { describe, expect, it } from 'vitest'
import type { FirmwareImage } from '../image/image.js'
import { SimulatedController } from '../machine.js'
import { parseStimulus } from './stimulus.js'

/** `rjmp .-2`: does nothing for ever. */
const IDLE: FirmwareImage = {
  name: 'idle',
  format: 'hex',
  flash: [{ start: 0, bytes: Uint8Array.of(0xff, 0xcf) }],
  eeprom: [],
  symbols: [],
}

function levels(script: string, clockHz: number, us: number, slices = 1): number[] {
  const stimulus = parseStimulus(script, 'test')
  const machine = new SimulatedController('atmega328p', clockHz, IDLE, { stimulus })
  const seen: number[] = []
  machine.listen('PD2', (level, at) => seen.push(level === 1 ? at : -at))
  for (let i = 1; i <= slices; i++) machine.runTo((i * us * clockHz) / 1e6 / slices)
  return seen
}

describe('a stimulus script, played', () => {
  it('acts at its times, whatever they are in cycles', () => {
    // Clocks and times that are no whole cycles.
    for (const clockHz of [1e6, 7372800, 11059200, 16e6, 17734475, 20e6]) {
      const script = `every 333.3333 us from 0.1 us to 20 ms\n at 0.7 us pin PD2 high\n at 111.11 us pin PD2 low\nend`
      const seen = levels(script, clockHz, 21e3)
      // The round that would begin at 20.0001 ms does not.
      expect(seen.length).toBe(2 * 60)
      seen.forEach((at, i) => {
        const us = 0.1 + Math.floor(i / 2) * 333.3333 + (i % 2 === 0 ? 0.7 : 111.11)
        expect(Math.abs(at)).toBe(Math.ceil((us * clockHz) / 1e6))
      })
      expect(levels(script, clockHz, 21e3, 17)).toEqual(seen)
    }
  })

  it('gives the same chance for the same seed, at the rate asked for', () => {
    const bytes = (seed: number) => {
      const stimulus = parseStimulus(`at 0 s serial 0 random 500 /s for 4 s seed ${seed} of "ab"`, 'test')
      const machine = new SimulatedController('atmega328p', 16e6, IDLE, { stimulus })
      machine.runTo(16e6 * 5)
      return machine.usarts[0]!.whileOff
    }
    expect(bytes(3)).toBe(bytes(3))
    expect(bytes(3)).not.toBe(bytes(4))
    // 2000 in the mean, standard deviation 45 (Poisson).
    expect(Math.abs(bytes(3) - 2000)).toBeLessThan(200)
  })

  it('is skipped over in no time where nothing happens', () => {
    const machine = new SimulatedController('atmega328p', 16e6, IDLE, {
      stimulus: parseStimulus('every 1 s pin PD2 high', 'test'),
    })
    machine.runTo(16e6 * 3600)
    expect(machine.core.waitingCycles / machine.now).toBeGreaterThan(0.9999)
  })
})
