// Exactness against the data sheets' arithmetic, on firmware made by the real compiler.
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadFirmware, type SimulatedChip, SimulatedController } from '../../src/controller/index.js'
import { EdgeList, readSignal } from '../../src/signal/index.js'
import { compile, HAVE_COMPILER, toHex, workFolder } from '../firmware/compile.js'

const folder = workFolder()

function edgesOf(
  bytes: Uint8Array,
  chip: SimulatedChip,
  pin: string,
  cycles: number,
  options: { skipWaiting?: boolean; slice?: number } = {},
) {
  const machine = new SimulatedController(chip, 16e6, loadFirmware(bytes, 'test.elf'), options)
  const edges = new EdgeList()
  machine.record(edges, pin)
  for (let at = 0; at < cycles; ) {
    at = Math.min(cycles, at + (options.slice ?? cycles))
    machine.runTo(at)
  }
  return { machine, edges, ticks: [...edges.ticks.subarray(0, edges.count)] }
}

const gaps = (ticks: number[]) => ticks.slice(1).map((t, i) => t - ticks[i]!)

describe.skipIf(!HAVE_COMPILER)('hardware-made edges', () => {
  // ATmega328P data sheet (DS40001906C), CTC mode: f = clk / (2 N (1 + OCR)), so one level lasts N (1 + OCR) cycles.
  for (const [chip, pin] of [
    ['atmega328p', 'PB1'],
    ['atmega2560', 'PB5'],
    ['atmega32u4', 'PB5'],
  ] as const) {
    it(`are 928 and 1600 cycles, each one, on the ${chip}`, () => {
      const { bytes } = compile(folder, { file: 'toggle.c' }, chip)
      const { edges, ticks } = edgesOf(bytes, chip, pin, 16e6)
      const seen = new Set(gaps(ticks).slice(1))
      expect([...seen].sort()).toEqual([1600, 928])
      const { reading } = readSignal(edges, { tickUs: 1 / 16, resolutionUs: 0 })
      expect(reading.one.minUs).toBe(58)
      expect(reading.one.maxUs).toBe(58)
      expect(reading.zero.minUs).toBe(100)
      expect(reading.zero.maxUs).toBe(100)
      expect(reading.packets.valid).toBe(reading.packets.total)
      expect(reading.packets.total).toBeGreaterThan(150)
    })
  }

  it('are the same from HEX as from ELF, skipped waiting or not, in slices or at once', () => {
    const { path, bytes } = compile(folder, { file: 'toggle.c' }, 'atmega328p')
    const whole = edgesOf(bytes, 'atmega328p', 'PB1', 2e6)
    const others = [
      edgesOf(toHex(path), 'atmega328p', 'PB1', 2e6),
      edgesOf(bytes, 'atmega328p', 'PB1', 2e6, { skipWaiting: false }),
      edgesOf(bytes, 'atmega328p', 'PB1', 2e6, { slice: 777 }),
    ]
    for (const other of others) {
      expect(other.ticks).toEqual(whole.ticks)
      expect(other.machine.core.waitingCycles).toBe(whole.machine.core.waitingCycles)
      expect(other.machine.core.pc).toBe(whole.machine.core.pc)
    }
    expect(whole.machine.core.waitingCycles / 2e6).toBeGreaterThan(0.85)
  })

  it('of firmware whose main loop calls functions: waiting is found there too, and skipped without a difference', () => {
    const bytes = readFileSync(new URL('../../examples/exhibition/firmware/station.elf', import.meta.url))
    const skipped = edgesOf(bytes, 'atmega328p', 'PB2', 4e6)
    const full = edgesOf(bytes, 'atmega328p', 'PB2', 4e6, { skipWaiting: false, slice: 12345 })
    expect(full.ticks).toEqual(skipped.ticks)
    expect(full.machine.core.waitingCycles).toBe(skipped.machine.core.waitingCycles)
    expect([...full.machine.data]).toEqual([...skipped.machine.data])
    expect(skipped.machine.core.waitingCycles / 4e6).toBeGreaterThan(0.5)
  })
})
