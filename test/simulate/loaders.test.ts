// ELF as the real compiler writes it, and damaged in every way: one clear message, never a crash or a hang.
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import {
  AVR_MODELS,
  type FirmwareImage,
  flashEnd,
  loadFirmware,
  parseStimulus,
  reportOf,
  type SimulatedChip,
  SimulatedController,
  symbolAt,
} from '../../src/controller/index.js'
import { InputError } from '../../src/units/index.js'
import { compile, HAVE_COMPILER, toHex, workFolder } from '../firmware/compile.js'
import { runs } from '../runs.js'

const EXAMPLE = new URL('../../examples/exhibition/firmware/station.elf', import.meta.url)
const EXAMPLE_HEX = new URL('../../examples/exhibition/firmware/station.hex', import.meta.url)

function complaint(bytes: Uint8Array): string {
  try {
    loadFirmware(bytes, 'a.elf')
  } catch (error) {
    if (error instanceof InputError) return error.describe()
    throw error
  }
  return 'accepted'
}

const patched = (change: (view: DataView) => void) => {
  const bytes = Uint8Array.from(readFileSync(EXAMPLE))
  change(new DataView(bytes.buffer))
  return bytes
}

describe('ELF', () => {
  it('holds the same program as the HEX made from it', () => {
    const elf = loadFirmware(readFileSync(EXAMPLE), 'station.elf')
    const hex = loadFirmware(readFileSync(EXAMPLE_HEX), 'station.hex')
    expect(elf.flash).toEqual(hex.flash)
    expect(elf.dataEnd).toBeGreaterThan(0x100)
  })

  it.skipIf(!HAVE_COMPILER)('names functions, and knows EEPROM and the end of the data', () => {
    const text = `#include <avr/eeprom.h>\n#include <avr/interrupt.h>\nuint8_t EEMEM kept[3] = {1, 2, 3};\nstatic volatile char buffer[100];
      ISR(TIMER1_COMPA_vect) { buffer[3]++; } int main(void) { buffer[1] = 2; for (;;) ; }`
    const { path, bytes } = compile(workFolder(), { text }, 'atmega328p')
    const image = loadFirmware(bytes, 'a.elf')
    expect(image.eeprom).toEqual([{ start: 0, bytes: Uint8Array.of(1, 2, 3) }])
    expect(image.dataEnd).toBe(0x100 + 100)
    const isr = image.symbols.find((s) => s.name === '__vector_11')!
    expect(symbolAt(image, isr.address)).toBe('__vector_11')
    expect(symbolAt(image, isr.address + 2)).toBe('__vector_11+0x2')
    expect(loadFirmware(toHex(path), 'a.hex').flash).toEqual(image.flash)
  })

  it.skipIf(!HAVE_COMPILER)(
    'and its HEX agree where the data ends, with .bss, with .data alone, with neither',
    () => {
      const folder = workFolder()
      const bodies = [
        'static volatile char a[777]; volatile int b = 4; int main(void) { a[1] = b; for (;;) ; }',
        'volatile int b = 4; int main(void) { b++; for (;;) ; }',
        'int main(void) { for (;;) ; }',
      ]
      for (const mcu of ['atmega328p', 'atmega2560']) {
        const ends = bodies.map((text) => {
          const { path, bytes } = compile(folder, { text }, mcu)
          return [loadFirmware(bytes, 'a.elf').dataEnd, loadFirmware(toHex(path), 'a.hex').dataEnd]
        })
        expect(ends[0]![1]).toBe(ends[0]![0])
        expect(ends[1]![1]).toBe(ends[1]![0])
        expect(ends[2]![1]).toBeUndefined()
      }
      const hex = loadFirmware(readFileSync(EXAMPLE_HEX), 'station.hex')
      expect(hex.dataEnd).toBe(loadFirmware(readFileSync(EXAMPLE), 'station.elf').dataEnd)
    },
  )

  it('says what is wrong and where', () => {
    expect(complaint(patched((v) => v.setUint16(18, 62, true)))).toBe(
      'a.elf: an ELF file for an x86-64 computer; expected machine 83 (8-bit AVR) (at byte 18)',
    )
    expect(complaint(patched((v) => v.setUint8(5, 2)))).toMatch(
      /big-endian ELF file; expected a little-endian/,
    )
    expect(complaint(patched((v) => v.setUint8(4, 2)))).toMatch(/class 2; expected 1/)
    expect(complaint(patched((v) => v.setUint16(16, 1, true)))).toMatch(
      /type 1; expected 2 \(a linked program\)/,
    )
    expect(complaint(patched((v) => v.setUint16(44, 0, true)))).toMatch(/no loadable program/)
    expect(complaint(Uint8Array.from(readFileSync(EXAMPLE)).slice(0, 300))).toMatch(/is cut off/)
    expect(complaint(Uint8Array.from(readFileSync(EXAMPLE)).slice(0, 20))).toMatch(/ends after 20 bytes/)
    expect(complaint(Uint8Array.of(0x7f, 0x45, 0x4c, 0x46))).toMatch(/ends after 4 bytes/)
  })

  it('is refused by a controller that it does not fit', () => {
    const image: FirmwareImage = {
      name: 'big.hex',
      format: 'hex',
      flash: [{ start: 0x8000, bytes: Uint8Array.of(0, 0) }],
      eeprom: [],
      symbols: [],
    }
    expect(flashEnd(image)).toBe(0x8002)
    expect(() => new SimulatedController('atmega328p', 16e6, image)).toThrow(/ATmega328P ends at 0x7fff/)
    expect(() => new SimulatedController('atmega2560', 16e6, image)).not.toThrow()
  })
})

let seed = Number(process.env['HALFBIT_FUZZ_SEED'] ?? 12345)
function random(below: number): number {
  seed ^= seed << 13
  seed ^= seed >>> 17
  seed ^= seed << 5
  return (seed >>> 0) % below
}

function mutate(source: Uint8Array): Uint8Array {
  let bytes = Uint8Array.from(source)
  for (let n = 1 + random(8); n > 0; n--) {
    const at = random(bytes.length)
    switch (random(6)) {
      case 0:
        bytes[at] = random(256)
        break
      case 1:
        bytes[at] = bytes[at]! ^ (1 << random(8))
        break
      case 2:
        bytes = bytes.slice(0, at + 1)
        break
      case 3:
        bytes.copyWithin(at, random(bytes.length), random(bytes.length))
        break
      case 4:
        bytes.fill([0, 255, 10, 58][random(4)]!, at, at + random(64))
        break
      default:
        bytes[random(Math.min(bytes.length, 64))] = random(256)
    }
  }
  return bytes
}

function times(count: number, once: () => void): void {
  for (let n = 0; n < runs(count); n++) once()
}

const CHIPS = Object.keys(AVR_MODELS) as SimulatedChip[]

describe('damaged input', () => {
  it('never breaks the loaders or the controller', () => {
    const files = [readFileSync(EXAMPLE), readFileSync(EXAMPLE_HEX)].map((b) => Uint8Array.from(b))
    let refused = 0
    times(100, () => {
      const bytes = mutate(files[random(2)]!)
      try {
        const image = loadFirmware(bytes, 'x')
        const machine = new SimulatedController(CHIPS[random(3)]!, 16e6, image)
        machine.runTo(20_000)
        reportOf(machine)
      } catch (error) {
        if (!(error instanceof InputError)) throw error
        refused++
      }
    })
    if (runs(100) >= 100) expect(refused).toBeGreaterThan(0)
  })

  it('never hangs the controller: random program memory', () => {
    times(40, () => {
      const chip = CHIPS[random(3)]!
      const bytes = Uint8Array.from({ length: 4096 }, () => random(256))
      const image: FirmwareImage = {
        name: 'x',
        format: 'hex',
        flash: [{ start: 0, bytes }],
        eeprom: [],
        symbols: [],
      }
      const machine = new SimulatedController(chip, 16e6, image)
      machine.runTo(100_000)
      expect(machine.now).toBeGreaterThanOrEqual(100_000)
      expect(machine.now).toBeLessThan(100_050)
      reportOf(machine)
    })
  })

  it('never breaks the reader of stimulus scripts', () => {
    const script = `# x\nat 1 s serial 0 with 9600 baud "go\\n\\x41" 0x0D\nat 2 s serial 0 random 200 /s for 3 s seed 7 of "ab"\nevery 100 ms from 1 s to 2 s\n at 5 ms pin PD3 high\nend\nat 0 s volt ADC3 0.5 V\n`
    const source = new TextEncoder().encode(script)
    times(5000, () => {
      try {
        parseStimulus(new TextDecoder().decode(mutate(source)), 'x')
      } catch (error) {
        if (!(error instanceof InputError)) throw error
        expect(error.place.file).toBe('x')
      }
    })
  })
})
