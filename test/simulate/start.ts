/** Firmware from a few lines of C on a simulated controller. */
import {
  loadFirmware,
  parseStimulus,
  type SimulatedChip,
  SimulatedController,
} from '../../src/controller/index.js'
import { EdgeList } from '../../src/signal/index.js'
import { compile, workFolder } from '../firmware/compile.js'

const folder = workFolder()
/** Clock of the firmware compiled here, Hz. */
export const HZ = 16e6

/** Compile a program and put it on a controller. `value` reads one of its variables. */
export function start(code: string, chip: SimulatedChip = 'atmega328p', script = '') {
  const text = `#include <avr/interrupt.h>\n#include <avr/io.h>\n#include <avr/sleep.h>\n#include <avr/wdt.h>\n#include <avr/eeprom.h>\n#include <stdint.h>\n${code}\n`
  const { bytes } = compile(folder, { text }, chip, ['-Wno-return-type'])
  const image = loadFirmware(bytes, 'test.elf')
  const stimulus = script === '' ? undefined : parseStimulus(script, 'test.stimulus')
  const machine = new SimulatedController(chip, HZ, image, { stimulus })
  const value = (name: string, size = 1) => {
    const symbol = image.symbols.find((s) => s.name === name && s.kind === 'data')
    if (!symbol) throw new Error(`no ${name}`)
    let v = 0
    for (let i = 0; i < size; i++) v |= machine.data[symbol.address + i]! << (8 * i)
    return v
  }
  return { machine, value, image }
}

export function record(machine: SimulatedController, pin: string): EdgeList {
  const edges = new EdgeList()
  machine.record(edges, pin)
  return edges
}

export const ticksOf = (edges: EdgeList) => [...edges.ticks.subarray(0, edges.count)]
export const gapsOf = (edges: EdgeList) =>
  ticksOf(edges)
    .slice(1)
    .map((t, i) => t - edges.ticks[i]!)

/** Lengths of high and low levels, the first and last few left out. */
export function levelsOf(edges: EdgeList) {
  const high = new Set<number>()
  const low = new Set<number>()
  for (let i = 4; i < edges.count - 1; i++) {
    const length = edges.ticks[i + 1]! - edges.ticks[i]!
    ;(edges.levels[i] === 1 ? high : low).add(length)
  }
  return { high: [...high], low: [...low] }
}
