// Outside truth for the register tables: the device headers of avr-libc, read through the compiler.
import { spawnSync } from 'node:child_process'
import { describe, expect, it } from 'vitest'
import { AVR_MODELS, CHIPS, findPin } from '../../src/controller/index.js'
import { HAVE_COMPILER } from '../firmware/compile.js'

function macros(mcu: string): Map<string, string> {
  const done = spawnSync('avr-gcc', [`-mmcu=${mcu}`, '-E', '-dM', '-'], {
    encoding: 'utf8',
    input: '#include <avr/io.h>\n',
    maxBuffer: 1 << 25,
  })
  if (done.status !== 0) throw new Error(done.stderr)
  return new Map(
    done.stdout.split('\n').flatMap((line) => {
      const match = /^#define (\w+) (.*)$/.exec(line)
      return match ? [[match[1]!, match[2]!] as const] : []
    }),
  )
}

describe.skipIf(!HAVE_COMPILER)('register tables', () => {
  for (const model of Object.values(AVR_MODELS)) {
    describe(model.id, () => {
      const defined = HAVE_COMPILER ? macros(model.id) : new Map<string, string>()
      const address = (name: string): number => {
        const text = defined.get(name) ?? ''
        const match = /^_SFR_(IO|MEM)(?:8|16)\s*\((0[xX][0-9a-fA-F]+)\)$/.exec(text)
        if (match) return Number(match[2]) + (match[1] === 'IO' ? 0x20 : 0)
        throw new Error(`${name} is ${text}`)
      }
      const number = (name: string): number =>
        Number(/\(?(0x[0-9a-fA-F]+|\d+)/.exec(defined.get(name) ?? '')?.[1])
      const vector = (name: string) => Number(/_VECTOR\((\d+)\)/.exec(defined.get(`${name}_vect`) ?? '')?.[1])

      it('memories', () => {
        expect(model.flashBytes).toBe(number('FLASHEND') + 1)
        expect(model.ramStart).toBe(model.id === 'atmega2560' ? 0x200 : number('RAMSTART'))
        const ram = model.id === 'atmega32u4' ? number('RAMSIZE') : number('RAMEND') + 1 - model.ramStart
        expect(model.ramBytes).toBe(ram)
        expect(model.eepromBytes).toBe(number('E2END') + 1)
        expect(model.longProgramCounter).toBe(model.flashBytes > 0x20000)
      })

      it('vectors, each by its name', () => {
        model.vectors.forEach((name, i) => {
          if (i > 0 && name !== '-') expect([name, vector(name)]).toEqual([name, i])
        })
        const end = /\((\d+)/.exec(defined.get('_VECTORS_SIZE') ?? '')?.[1]
        const size = Number(end ?? defined.get('_VECTORS_SIZE'))
        expect([model.vectors.length, model.vectors.length * 4]).toContain(size)
      })

      it('timers', () => {
        for (const t of model.timers) {
          const n = t.number
          expect([t.tccra, t.tccra + 1, t.tcnt, t.tifr, t.timsk]).toEqual(
            [`TCCR${n}A`, `TCCR${n}B`, `TCNT${n}`, `TIFR${n}`, `TIMSK${n}`].map(address),
          )
          expect([...t.ocr]).toEqual([...'ABC'].slice(0, t.ocr.length).map((c) => address(`OCR${n}${c}`)))
          if (t.icr !== undefined)
            expect([t.icr, t.tccrc]).toEqual([address(`ICR${n}`), address(`TCCR${n}C`)])
        }
      })

      it('ports, serial ports, pins', () => {
        for (const p of model.ports) {
          const { letter } = p
          expect([p.pin, p.pin + 1, p.pin + 2]).toEqual(
            [`PIN${letter}`, `DDR${letter}`, `PORT${letter}`].map(address),
          )
        }
        for (const { name, base } of model.usarts) {
          const n = name.slice(-1)
          expect([base, base + 1, base + 2, base + 4, base + 6]).toEqual(
            [`UCSR${n}A`, `UCSR${n}B`, `UCSR${n}C`, `UBRR${n}L`, `UDR${n}`].map(address),
          )
        }
        for (const { mask } of model.pinChange)
          expect(['PCMSK0', 'PCMSK1', 'PCMSK2'].map((m) => defined.has(m) && address(m))).toContain(mask)
        const pins: readonly string[] = CHIPS[model.id].pins
        const used = [
          ...Object.values(model.adc.pins),
          ...model.externalInterrupts.map((e) => e.pin),
          ...model.pinChange.flatMap((g) => g.pins),
          ...model.timers.flatMap((t) => [t.icpPin, t.clockPin]),
          ...model.usarts.flatMap((u) => [u.txdPin, u.xckPin]),
          ...[model.spi.ss, model.spi.sck, model.spi.mosi, model.spi.miso, model.twi.sda, model.twi.scl],
          ...[model.comparator.positive, model.comparator.negative],
          ...CHIPS[model.id].timers.flatMap((t) => t.outputs.map((o) => o.pin)),
        ]
        for (const pin of used) {
          if (pin === undefined) continue
          expect(pins).toContain(pin)
          expect(findPin(model, pin)).toBeDefined()
          expect(defined.has(pin)).toBe(true)
        }
      })

      it('the rest at the places that all three share', () => {
        const shared = {
          PCIFR: 0x3b,
          EIFR: 0x3c,
          EIMSK: 0x3d,
          EECR: 0x3f,
          EEDR: 0x40,
          EEARL: 0x41,
          GTCCR: 0x43,
          SPCR: 0x4c,
          SPSR: 0x4d,
          SPDR: 0x4e,
          SMCR: 0x53,
          MCUSR: 0x54,
          ACSR: 0x50,
          SPMCSR: 0x57,
          WDTCSR: 0x60,
          CLKPR: 0x61,
          PCICR: 0x68,
          EICRA: 0x69,
          ADCL: 0x78,
          ADCH: 0x79,
          ADCSRA: 0x7a,
          ADCSRB: 0x7b,
          ADMUX: 0x7c,
          TWBR: 0xb8,
          TWSR: 0xb9,
          TWDR: 0xbb,
          TWCR: 0xbc,
        }
        expect(model.adc.highMuxBit).toBe(defined.has('MUX5') ? 1 << number('MUX5') : 0)
        expect(model.externalMemory?.control).toBe(defined.has('XMCRA') ? address('XMCRA') : undefined)
        for (const [name, at] of Object.entries(shared)) expect([name, address(name)]).toEqual([name, at])
        if (model.id === 'atmega2560') expect([address('RAMPZ'), address('EIND')]).toEqual([0x5b, 0x5c])
        if (model.id === 'atmega32u4') expect([address('PLLCSR'), address('USBCON')]).toEqual([0x49, 0xd8])
        const { timer4 } = model as { timer4?: (typeof AVR_MODELS)['atmega32u4']['timer4'] }
        if (timer4 === undefined) return
        expect([timer4.tcnt, timer4.tc4h, timer4.tccra, timer4.dt4, timer4.tifr, timer4.timsk]).toEqual(
          ['TCNT4', 'TC4H', 'TCCR4A', 'DT4', 'TIFR4', 'TIMSK4'].map(address),
        )
        expect(Object.entries(timer4.ocr).map(([, at]) => at)).toEqual(
          [...'ABCD'].map((c) => address(`OCR4${c}`)),
        )
      })
    })
  }
})
