// The event-driven timer against itself looked at in every cycle: skipping what does not matter must change nothing.
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../../test/runs.js'
import { AVR_MODELS } from '../../chips/avr-registers.data.js'
import type { Peripheral, PeripheralHost } from './peripheral.js'
import { Timer } from './timer.js'

interface Step {
  wait: number
  register: number
  value: number
}

/** Runs one timer alone; `everyCycle` looks at it in each cycle. */
function play(number: number, steps: readonly Step[], everyCycle: boolean): unknown[] {
  const model = AVR_MODELS.atmega2560.timers.find((t) => t.number === number)!
  const log: unknown[] = []
  let device: Peripheral | undefined
  let due = Number.POSITIVE_INFINITY
  const host: PeripheralHost = {
    data: new Uint8Array(0x200),
    cpuHz: 16e6,
    hook: () => {},
    slot: (d) => {
      device = d
      return 0
    },
    schedule: (_slot, at) => {
      due = at
    },
    own: () => {},
    request: (vector, on, at) => {
      const key = `${vector}`
      if (asked.get(key) === on) return
      asked.set(key, on)
      if (on) log.push(['request', vector, at])
    },
    overrun: (vector, at) => log.push(['overrun', vector, at]),
    handler: () => undefined,
    raised: () => {},
    wantFlag: () => {},
    touch: () => {},
    note: () => {},
    lacks: () => {},
    stall: () => {},
  }
  const asked = new Map<string, boolean>()
  const outputs = model.ocr.map((_, channel) => ({
    drive: (level: 0 | 1, at: number) => log.push(['drive', channel, level, at]),
    force: () => {},
    release: (at: number) => log.push(['release', channel, at]),
  }))
  const timer = new Timer(model, host, { origin: 0, held: false }, outputs)
  timer.reset(0)
  const is16Bit = model.bits === 16
  let now = 0
  for (const { wait, register, value } of steps) {
    const target = now + wait
    if (everyCycle) {
      for (; now < target; now++) timer.sync(now)
    } else {
      while (due <= target) device!.event(due)
    }
    now = target
    const registers = [
      model.tccra,
      model.tccra + 1,
      model.timsk,
      model.tcnt,
      ...model.ocr,
      model.icr ?? model.tcnt,
    ]
    const address = registers[register % registers.length]!
    const word = is16Bit && register % registers.length >= 3
    if (word) timer.write(address + 1, value >> 8, 255, now)
    timer.write(address, value & 255, 255, now)
    const count = timer.read(model.tcnt, now) | (is16Bit ? timer.read(model.tcnt + 1, now) << 8 : 0)
    log.push(['count', count, now])
  }
  if (!everyCycle) while (due <= now) device!.event(due)
  else timer.sync(now)
  log.push(['flags', timer.read(model.tifr, now)])
  // At one cycle the order of pin and request is free.
  return log.map((entry) => JSON.stringify(entry)).sort()
}

describe('an event-driven timer', () => {
  for (const number of [0, 1, 2]) {
    it(`Timer ${number} does the same as one looked at in every cycle`, () => {
      const small = fc.integer({ min: 0, max: 300 })
      const value = fc.oneof(small, fc.integer({ min: 0, max: 0xffff }))
      const step = fc.record({
        wait: fc.oneof(fc.integer({ min: 1, max: 40 }), fc.integer({ min: 1, max: 5000 })),
        register: fc.integer({ min: 0, max: 30 }),
        value,
      })
      fc.assert(
        fc.property(fc.array(step, { minLength: 1, maxLength: 25 }), (steps) => {
          // Started with a clock, so that most programs count.
          const all = [{ wait: 1, register: 1, value: 1 }, ...steps]
          expect(play(number, all, false)).toEqual(play(number, all, true))
        }),
        { numRuns: runs(300), seed: 7 + number },
      )
    })
  }
})
