// What drives pins beside timers and instructions, and what steers by voltages. Data sheet ATmega328P DS40001906C.
import { describe, expect, it } from 'vitest'
import {
  firmwareEvidence,
  loadFirmware,
  reportOf,
  SimulatedController,
  withoutUnmodelled,
} from '../../src/controller/index.js'
import { judgeSignal, readSignal, SignalReader } from '../../src/signal/index.js'
import { profileOf } from '../../src/standard/index.js'
import { compile, HAVE_COMPILER, workFolder } from '../firmware/compile.js'
import { gapsOf, HZ, record, start, ticksOf } from './start.js'

const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

/** Levels of one pin at each edge of another that goes to `edge`. */
function sampled(data: ReturnType<typeof record>, clock: ReturnType<typeof record>, edge: 0 | 1): number[] {
  const levelAt = (t: number, before: boolean) => {
    let level = 0
    for (let i = 0; i < data.count; i++) {
      if (before ? data.ticks[i]! < t : data.ticks[i]! <= t) level = data.levels[i]!
    }
    return level
  }
  return ticksOf(clock).flatMap((t, i) => (i > 0 && clock.levels[i] === edge ? [levelAt(t, true)] : []))
}

const bits = (byte: number) => [...byte.toString(2).padStart(8, '0')].map(Number)

describe.skipIf(!HAVE_COMPILER)('SPI', () => {
  // Tables "SPI modes" and "CPOL functionality": mode 0 and 3 are sampled at the rising edge, 1 and 2 at the falling.
  for (const [mode, edge, idle] of [
    [0, 1, 0],
    [1, 0, 0],
    [2, 0, 1],
    [3, 1, 1],
  ] as const) {
    for (const order of ['first', 'last'] as const) {
      it(`mode ${mode}, most significant bit ${order}: the byte is at MOSI when its clock samples it`, () => {
        const control = `1 << SPE | 1 << MSTR | ${mode} << CPHA${order === 'last' ? ' | 1 << DORD' : ''}`
        const { machine } = start(
          `int main(void) { DDRB = 0x2c; SPCR = ${control}; SPDR = 0xb2; for (;;) ; }`,
        )
        const mosi = record(machine, 'PB3')
        const sck = record(machine, 'PB5')
        machine.runTo(2000)
        const seen = sampled(mosi, sck, edge)
        // CPOL = 1 raises the clock to its idle level first.
        const own = idle === 1 && edge === 1 ? seen.slice(1) : seen
        expect(own).toEqual(order === 'first' ? bits(0xb2) : bits(0xb2).reverse())
        expect(sck.levels[sck.count - 1]).toBe(idle)
        // The clock divided by 4: half a period is 2 cycles.
        expect(new Set(gapsOf(sck).slice(idle + 1))).toEqual(new Set([2]))
      })
    }
  }

  it('takes 8 bits at the divided clock, half of it at double speed, then asks for its interrupt', () => {
    const { machine, value } = start(`volatile uint8_t n; ISR(SPI_STC_vect) { if (++n < 3) SPDR = 0x55; }
      int main(void) { DDRB = 0x2c; SPSR = 1; SPCR = 1 << SPIE | 1 << SPE | 1 << MSTR | 2; sei(); SPDR = 0x55; for (;;) ; }`)
    const mosi = record(machine, 'PB3')
    machine.runTo(5000)
    expect(value('n')).toBe(3)
    // 64 / 2 cycles for each bit.
    expect(gapsOf(mosi).filter((g) => g === 32).length).toBeGreaterThan(15)
    expect(Math.min(...gapsOf(mosi).slice(2))).toBe(32)
  })

  it('sets WCOL and sends on when it is written too early', () => {
    const { machine, value } =
      start(`volatile uint8_t status; int main(void) { DDRB = 0x2c; SPCR = 0x51; SPDR = 0xf0; SPDR = 0x0f;
      while (!(SPSR & 0x80)) ; status = SPSR; for (;;) ; }`)
    const mosi = record(machine, 'PB3')
    machine.runTo(4000)
    expect(value('status')).toBe(0xc0)
    expect(gapsOf(mosi).slice(-1)).toEqual([64])
  })
})

describe.skipIf(!HAVE_COMPILER)('a serial port', () => {
  it('sends start bit, data from the lowest bit, parity and stop bit on TXD, whatever DDR says', () => {
    const { machine } = start(
      `int main(void) { UBRR0 = 0; UCSR0C = 1 << UPM01 | 3 << UCSZ00; UCSR0B = 1 << TXEN0; UDR0 = 0x53; for (;;) ; }`,
    )
    const txd = record(machine, 'PD1')
    machine.runTo(1000)
    // 16 cycles for each bit: 0, then 1100 1010 from the lowest bit, even parity 0, stop 1.
    const line = [0, 1, 1, 0, 0, 1, 0, 1, 0, 0, 1]
    const [first] = ticksOf(txd).slice(2)
    const levelAt = (t: number) => {
      let level = 0
      for (let i = 0; i < txd.count; i++) if (txd.ticks[i]! <= t) level = txd.levels[i]!
      return level
    }
    expect(line.map((_, i) => levelAt(first! + 16 * i + 8))).toEqual(line)
  })

  // Bits of 58 us: UBRR = 58 * 16 / 2 - 1. "The transmitter is double buffered": no gap between bytes.
  const spiMode = (body: string) => `
    #include <avr/pgmspace.h>
    static const uint8_t halves[] PROGMEM = {${halvesOfIdle()}};
    volatile uint8_t n;
    ISR(USART_UDRE_vect) { uint8_t k = n; UDR0 = pgm_read_byte(&halves[k]); n = k + 1 < sizeof halves ? k + 1 : 0; }
    int main(void) { UBRR0 = 0; DDRD = 1 << PD4 | 1 << PD1; UCSR0C = 1 << UMSEL01 | 1 << UMSEL00; UCSR0B = 1 << TXEN0 | 1 << UDRIE0; UBRR0 = 463; ${body} }`

  it('as SPI master makes a signal that is met, half by half from its shift register', () => {
    const { machine } = start(spiMode('sei(); for (;;) ;'))
    const txd = record(machine, 'PD1')
    machine.runTo(0.5 * HZ)
    const { reading } = readSignal(txd, { tickUs: 1 / 16, resolutionUs: 0 })
    expect(reading.packets.total).toBeGreaterThan(40)
    expect(reading.packets.valid).toBe(reading.packets.total)
    // The line rests high before the first byte, whose first half is a one: that is all that differs.
    expect(new Set(gapsOf(txd).slice(4))).toEqual(new Set([928, 1856]))
    const report = reportOf(machine, [{ name: 'main', pin: 'PD1', recorder: machine.record(txd, 'PD1') }])
    expect(report.outputs[0]!.peripheral).toBe('USART0')
  })

  it('as SPI master has its clock on XCK', () => {
    const { machine } = start(spiMode('sei(); for (;;) ;'))
    const xck = record(machine, 'PD4')
    machine.runTo(0.01 * HZ)
    expect(new Set(gapsOf(xck).slice(40))).toEqual(new Set([464]))
  })
})

/** An idle packet as half-bits of 58 us, a one as `10`, a zero as `1100`, packed into bytes. */
function halvesOfIdle(): string {
  const packet = `${'1'.repeat(20)}0111111110000000000111111111`
  const halves = [...packet].map((b) => (b === '1' ? '10' : '1100')).join('')
  const whole = halves + '10'.repeat(((8 - (halves.length % 8)) % 8) / 2)
  return (whole.match(/.{8}/g) ?? []).map((b) => `0b${b}`).join(', ')
}

describe.skipIf(!HAVE_COMPILER)('test firmware', () => {
  const packetsOf = (file: string, pin: string) => {
    const { bytes } = compile(workFolder(), { file }, 'atmega328p')
    const machine = new SimulatedController('atmega328p', HZ, loadFirmware(bytes, file))
    const edges = record(machine, pin)
    machine.runTo(0.5 * HZ)
    return readSignal(edges, { tickUs: 1 / 16, resolutionUs: 0 }).reading.packets
  }

  it('by-spi.c sends valid packets from the shift register', () => {
    const { total, valid } = packetsOf('by-spi.c', 'PD1')
    expect(total).toBeGreaterThan(40)
    expect(valid).toBe(total)
  })

  it('top-rewritten.c sends bits with unequal halves, and no valid packet', () => {
    const { valid } = packetsOf('top-rewritten.c', 'PB1')
    expect(valid).toBe(0)
  })
})

describe.skipIf(!HAVE_COMPILER)('the converter', () => {
  // 13.5 clocks after the trigger's flag (table "ADC conversion time"); here 128 cycles each.
  for (const [name, set] of [
    ['Timer 0 compare A', 'ADCSRB = 3; OCR0A = 99; TCCR0A = 2; TCCR0B = 4;'],
    ['Timer 0 overflow', 'ADCSRB = 4; TCCR0B = 3;'],
    ['Timer 1 compare B', 'ADCSRB = 5; OCR1A = 9999; OCR1B = 5000; TCCR1B = 1 << WGM12 | 1;'],
    ['Timer 1 overflow', 'ADCSRB = 6; TCCR1B = 1;'],
  ] as const) {
    it(`is started by ${name}, with its interrupt off`, () => {
      const clear = name.includes('Timer 0') ? 'TIFR0 = 7' : 'TIFR1 = 7'
      const { machine, value } = start(
        `volatile uint16_t n, last; ISR(ADC_vect) { n++; last = ADC; ${clear}; }
         int main(void) { ADMUX = 1 << REFS0 | 2; ${set} ADCSRA = 1 << ADEN | 1 << ADATE | 1 << ADIE | 7; sei(); for (;;) ; }`,
        'atmega328p',
        'at 0 s volt ADC2 2.5 V',
      )
      machine.runTo(0.1 * HZ)
      expect(value('n', 2)).toBeGreaterThan(15)
      expect(value('last', 2)).toBe(512)
      expect(machine.notModelled).toEqual([])
    })
  }

  it('is started by an external interrupt’s edge', () => {
    const { machine, value } = start(
      `volatile uint8_t n; ISR(ADC_vect) { n++; EIFR = 1; } int main(void) { EICRA = 3; ADCSRB = 2; ADCSRA = 1 << ADEN | 1 << ADATE | 1 << ADIE | 5; sei(); for (;;) ; }`,
      'atmega328p',
      'every 1 ms from 1 ms to 10.5 ms\n at 0 us pin PD2 high\n at 500 us pin PD2 low\nend',
    )
    machine.runTo(0.02 * HZ)
    expect(value('n')).toBe(10)
  })
})

describe.skipIf(!HAVE_COMPILER)('the analog comparator', () => {
  const script =
    'at 1 ms volt AIN0 2 V\nat 2 ms volt AIN0 0.5 V\nat 3 ms volt PD7 0.2 V\nat 0 us volt AIN1 1 V'

  it('tells which of its inputs is higher, and interrupts at the edge that was chosen', () => {
    const { machine, value } = start(
      `volatile uint8_t n, at2; ISR(ANALOG_COMP_vect) { n++; } int main(void) { ACSR = 1 << ACIE | 3; sei(); for (;;) at2 = ACSR & 1 << ACO; }`,
      'atmega328p',
      script,
    )
    machine.runTo(0.0015 * HZ)
    expect([value('n'), value('at2')]).toEqual([1, 0x20])
    machine.runTo(0.0025 * HZ)
    expect([value('n'), value('at2')]).toEqual([1, 0])
    machine.runTo(0.004 * HZ)
    expect([value('n'), value('at2')]).toEqual([2, 0x20])
  })

  it('takes the bandgap, an input of the converter, and captures for Timer 1', () => {
    const { machine, value } = start(
      `volatile uint8_t n; volatile uint16_t when; ISR(TIMER1_CAPT_vect) { n++; when = ICR1; }
       int main(void) { ADCSRB = 1 << ACME; ADMUX = 1; ACSR = 1 << ACBG | 1 << ACIC; TCCR1B = 1 << ICES1 | 1; TIMSK1 = 1 << ICIE1; sei(); for (;;) ; }`,
      'atmega328p',
      'at 0 us volt ADC1 3 V\nat 1 ms volt ADC1 1 V\nat 2 ms volt ADC1 1.2 V',
    )
    machine.runTo(0.003 * HZ)
    expect(value('n')).toBe(1)
    // 1 ms is 16000 cycles, less the set-up before the timer was started.
    expect(value('when', 2)).toBeGreaterThan(15800)
    expect(value('when', 2)).toBeLessThan(16000)
  })
})

describe.skipIf(!HAVE_COMPILER)('what is not simulated', () => {
  const judged = (code: string, pin: string) => {
    const { machine } = start(code)
    const reader = new SignalReader({ tickUs: 1 / 16, resolutionUs: 0 }, { mode: 'operations' })
    const recorder = machine.record(reader, pin)
    machine.runTo(0.1 * HZ)
    const report = reportOf(machine, [{ name: 'main', pin, recorder }])
    const reading = reader.finish(0.1 * HZ)
    const about = { origin: 'simulated', source: 'test', about: 'main', probe: 'logic' } as const
    const statements = withoutUnmodelled(judgeSignal(reading, profile, about), report)
    return { report, statements, health: firmwareEvidence(report, { profile }) }
  }

  for (const [name, code, pin, says] of [
    [
      'the two-wire bus',
      'TWBR = 10; TWCR = 1 << TWINT | 1 << TWSTA | 1 << TWEN; for (;;) ;',
      'PC4',
      /two-wire bus on PC4/,
    ],
    [
      'deep sleep',
      'DDRB = 2; set_sleep_mode(SLEEP_MODE_PWR_DOWN); sleep_mode(); for (;;) PINB = 2;',
      'PB1',
      /deeper than idle/,
    ],
    ['a serial port that is switched off', 'PRR = 1 << PRUSART0; for (;;) ;', 'PD1', /PRR0 = 0x02/],
  ] as const) {
    it(`${name}: every clause of the output is not shown, with the reason`, () => {
      const { statements, report } = judged(`int main(void) { ${code} }`, pin)
      expect(statements.length).toBeGreaterThan(0)
      for (const s of statements) expect([s.clause, s.verdict]).toEqual([s.clause, 'not shown'])
      expect(statements[0]!.because).toMatch(says)
      expect(report.notModelled.length).toBeGreaterThan(0)
    })
  }

  it('but a timer that the power reduction register stops does stop', () => {
    const { machine } = start(
      `int main(void) { DDRB = 2; OCR1A = 99; TCCR1A = 1 << COM1A0; TCCR1B = 1 << WGM12 | 1; for (uint16_t i = 0; i < 1000; i++) __asm__("nop"); PRR = 1 << PRTIM1; for (;;) ; }`,
    )
    const edges = record(machine, 'PB1')
    machine.runTo(0.1 * HZ)
    expect(edges.count).toBeGreaterThan(10)
    expect(edges.ticks[edges.count - 1]).toBeLessThan(20_000)
    expect(machine.notModelled).toEqual([])
  })
})

describe.skipIf(!HAVE_COMPILER)('resets', () => {
  it('by the watchdog come after its whole time when it was off before: WDR resets it then too', () => {
    // 2048 cycles of 128 kHz: 16 ms.
    const { machine } = start(
      `#include <util/delay.h>\nint main(void) { MCUSR = 0; wdt_disable(); _delay_ms(500); wdt_enable(WDTO_15MS); for (;;) ; }`,
    )
    machine.runTo(0.53 * HZ)
    const { restarts } = reportOf(machine)
    expect([restarts.count, restarts.list[0]?.cause]).toEqual([1, 'watchdog'])
    expect(restarts.list[0]!.atUs).toBeGreaterThan(516_000)
    expect(restarts.list[0]!.atUs).toBeLessThan(516_100)
  })

  it('by the watchdog follow its interrupt: once served it resets, never served it resets too', () => {
    // "If the interrupt is not executed before the next time-out, a System Reset will be applied."
    for (const sei of ['sei();', '']) {
      const { machine, value } = start(
        `volatile uint8_t n __attribute__((section(".noinit"))); volatile uint8_t flags __attribute__((section(".noinit")));
         ISR(WDT_vect) { n++; }
         int main(void) { flags = MCUSR; if (!(MCUSR & 8)) n = 0; MCUSR = 0; wdt_disable(); if (flags & 8) for (;;) ;
           WDTCSR = 1 << WDCE | 1 << WDE; WDTCSR = 1 << WDIE | 1 << WDE; ${sei} for (;;) ; }`,
      )
      machine.runTo(0.1 * HZ)
      expect(value('n')).toBe(sei === '' ? 0 : 1)
      expect(value('flags') & 8).toBe(8)
      const { restarts } = reportOf(machine)
      expect(restarts.count).toBe(1)
      expect(restarts.list[0]!.atUs).toBeGreaterThan(31_900)
      expect(restarts.list[0]!.atUs).toBeLessThan(32_100)
    }
  })

  it('that the stimulus asks for set their flag and are no fault; a jump to 0 is one', () => {
    for (const [how, flag] of [
      ['pin', 2],
      ['brown-out', 4],
      ['power', 1],
    ] as const) {
      const { machine, value } = start(
        'volatile uint8_t flags; int main(void) { flags = MCUSR; MCUSR = 0; for (;;) ; }',
        'atmega328p',
        `at 10 ms reset ${how}`,
      )
      machine.runTo(0.02 * HZ)
      expect(value('flags')).toBe(flag)
      const report = reportOf(machine)
      expect([report.restarts.count, report.restarts.asked]).toEqual([1, 1])
      expect(firmwareEvidence(report, { profile }).find((e) => e.clause === 'restart')?.verdict).toBe('met')
    }
    const { machine } = start(
      `#include <util/delay.h>\nvoid (*volatile nowhere)(void); void lose(void) __attribute__((noinline)); void lose(void) { nowhere(); }
       int main(void) { _delay_ms(5); lose(); for (;;) ; }`,
    )
    machine.runTo(0.012 * HZ)
    const restart = firmwareEvidence(reportOf(machine), { profile }).find((e) => e.clause === 'restart')!
    expect(restart.verdict).toBe('broken')
    expect(restart.because).toMatch(
      /restarted 2 times by itself \(jump: 2\), first at 5\.\d+ ms in (lose|main).*jumped to address 0/,
    )
  })
})
