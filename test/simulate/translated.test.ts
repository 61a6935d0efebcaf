// Referee: the interpreter, which core.test.ts holds to avr8js. Both execute the same program between the same events;
// state, cycles and everything the bus sees have to be the same every few cycles.
import { readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { loadFirmware, parseStimulus, SimulatedController } from '../../src/controller/index.js'
import { RandomProgram, runBoth } from './random-program.js'

/** Cycles to be executed, for a longer run when the machine is left alone. */
const CYCLES = Number(process.env['HALFBIT_FUZZ_CYCLES'] ?? 14e6)
/** Far more than it takes. */
const TIMEOUT_MS = 60_000 + CYCLES / 100

const HZ = 16e6

interface Station {
  machine: SimulatedController
  edges: number[]
}

function stateOf({
  now,
  core,
  deepestAt,
  deepestPc,
  sleepingCycles,
  notes,
  sharedData,
}: SimulatedController) {
  const { pc, sreg, sp, lowestSp, waitingCycles, outside, illegal } = core
  const races = [...sharedData.races]
  return {
    now,
    pc,
    sreg,
    sp,
    lowestSp,
    waitingCycles,
    outside,
    illegal,
    deepestAt,
    deepestPc,
    sleepingCycles,
    notes,
    races,
  }
}

describe('translated code', () => {
  for (const bits of [16, 22]) {
    it(
      `does what the interpreter does with random programs, program counter of ${bits} bits`,
      () => {
        let cycles = 0
        let translated = 0
        for (let seed = 1; cycles < CYCLES / 2; seed++) {
          const run = runBoth(new RandomProgram(seed, bits === 22))
          if (run.difference !== undefined) expect.fail(`program ${seed}: ${run.difference}`)
          cycles += run.cycles
          translated += run.translatedCycles
        }
        // Most of it has to have been translated, or nothing was shown.
        expect(translated / cycles).toBeGreaterThan(0.5)
      },
      TIMEOUT_MS,
    )
  }

  for (const [name, chip, pin] of [
    ['exhibition', 'atmega328p', 'PB2'],
    ['two-tracks', 'atmega2560', 'PB6'],
  ] as const) {
    for (const skipWaiting of [true, false]) {
      it(`does what the interpreter does with the station of ${name}, ${skipWaiting ? 'waiting skipped' : 'all executed'}`, () => {
        const file = fileURLToPath(new URL(`../../examples/${name}/firmware/station.elf`, import.meta.url))
        const image = loadFirmware(readFileSync(file), file)
        const stimulus = parseStimulus('every 1 ms from 1 ms serial 0 0x41', 'bytes')
        const [plain, translated] = [false, true].map((translate) => {
          const machine = new SimulatedController(chip, HZ, image, { stimulus, skipWaiting, translate })
          const edges: number[] = []
          machine.listen(pin, (level, at) => edges.push(level, at))
          return { machine, edges }
        }) as [Station, Station]
        // A step that falls on no period of the program.
        for (let tick = 9973; tick < 1.4 * HZ; tick += 9973) {
          plain.machine.runTo(tick)
          translated.machine.runTo(tick)
          expect(stateOf(translated.machine)).toEqual(stateOf(plain.machine))
          expect(Buffer.compare(translated.machine.data, plain.machine.data)).toBe(0)
        }
        expect(translated.edges.length).toBeGreaterThan(1000)
        expect(translated.edges).toEqual(plain.edges)
        expect(translated.machine.interrupts.stats).toEqual(plain.machine.interrupts.stats)
        expect(translated.machine.masked).toEqual(plain.machine.masked)
        expect(translated.machine.core.translatedCycles).toBeGreaterThan(0.2 * HZ)
      })
    }
  }

  it('is made only where it is asked for, by the machine or for the image', () => {
    const file = fileURLToPath(new URL('../../examples/exhibition/firmware/station.elf', import.meta.url))
    const image = loadFirmware(readFileSync(file), file)
    const cyclesOf = (...given: ConstructorParameters<typeof SimulatedController>) => {
      const machine = new SimulatedController(...given)
      machine.runTo(1.3 * HZ)
      return machine.core.translatedCycles
    }
    expect(cyclesOf('atmega328p', HZ, image)).toBe(0)
    expect(cyclesOf('atmega328p', HZ, { ...image, translated: true })).toBeGreaterThan(0)
    expect(cyclesOf('atmega328p', HZ, { ...image, translated: true }, { translate: false })).toBe(0)
  })
})
