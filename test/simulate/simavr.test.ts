// Referee: simavr 1.6, an independent AVR simulator in C. Within 8 cycles on every edge on healthy firmware, which is
// how exact it is (its interrupt entry costs nothing and its compare edges wander); the data sheets decide the rest.
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import {
  loadFirmware,
  parseStimulus,
  type SimulatedChip,
  SimulatedController,
} from '../../src/controller/index.js'
import { EdgeList } from '../../src/signal/index.js'
import { compile, HAVE_COMPILER, workFolder } from '../firmware/compile.js'
import { buildReferee, HAVE_SIMAVR, type RefereeRun, refereeEdges } from '../referee/simavr.js'

const WITHIN_CYCLES = 8
const HZ = 16e6

const example = (name: string) =>
  new URL(`../../examples/${name}/firmware/station.elf`, import.meta.url).pathname

describe.skipIf(!HAVE_COMPILER || !HAVE_SIMAVR)('healthy firmware', () => {
  const folder = workFolder()
  let program: string | undefined

  function compare(chip: SimulatedChip, pin: string, elf: string, serial?: RefereeRun['serial']) {
    program ??= buildReferee(folder)
    const us = 1e6
    const theirs = refereeEdges(program, folder, {
      elf,
      mcu: chip,
      hz: HZ,
      pin,
      us,
      ...(serial ? { serial } : {}),
    })
    const stimulus = serial && parseStimulus(`every 1 ms from 1 ms serial ${serial.port} 0x41`, 'test')
    const machine = new SimulatedController(chip, HZ, loadFirmware(readFileSync(elf), elf), { stimulus })
    const edges = new EdgeList()
    machine.record(edges, pin)
    machine.runTo((us * HZ) / 1e6)
    expect(edges.count).toBeGreaterThan(10_000)
    // simavr starts its prescaler with the timer, the chip's runs freely, and its first match after a write to the
    // counter may come twice: leave out the first 10 ms and take out one constant for the rest.
    const settled = 0.01 * HZ
    const ours = [...edges.ticks.subarray(0, edges.count)].map((cycle, i) => ({
      cycle,
      level: edges.levels[i]!,
    }))
    const a = ours.filter((e) => e.cycle > settled)
    const from = theirs.findIndex((e) => Math.abs(e.cycle - a[0]!.cycle) < 100)
    const b = theirs.slice(from)
    const count = Math.min(a.length, b.length)
    expect(Math.abs(a.length - b.length)).toBeLessThanOrEqual(1)
    const differences = Float64Array.from({ length: count }, (_, i) => a[i]!.cycle - b[i]!.cycle)
    const constant = Float64Array.from(differences).sort()[count >> 1]!
    expect(Math.abs(constant)).toBeLessThan(32)
    let worst = 0
    for (let i = 0; i < count; i++) {
      expect(a[i]!.level).toBe(b[i]!.level)
      worst = Math.max(worst, Math.abs(differences[i]! - constant))
    }
    expect(worst).toBeLessThanOrEqual(WITHIN_CYCLES)
  }

  for (const [chip, pin] of [
    ['atmega328p', 'PB1'],
    ['atmega2560', 'PB5'],
    ['atmega32u4', 'PB5'],
  ] as const) {
    it(`toggled by Timer 1 of the ${chip}`, () =>
      compare(chip, pin, compile(folder, { file: 'toggle.c' }, chip).path))
  }

  it('toggled by Timer 1 with 1000 bytes a second on the serial port', () => {
    compare('atmega328p', 'PB1', compile(folder, { file: 'toggle.c' }, 'atmega328p').path, {
      port: 0,
      perSecond: 1000,
    })
  })

  it('of the exhibition example, with a buffered period', () =>
    compare('atmega328p', 'PB2', example('exhibition')))

  it('of the two-tracks example', () => compare('atmega2560', 'PB6', example('two-tracks')))
})
