/**
 * Parts of the chip that stand still while the program believes that they work: by the power reduction register, by the
 * lock of the converter's result, or at another pace because the system clock is divided. Source: ATmega328P data sheet
 * (DS40001906C), "Power Reduction Register", "ADCL and ADCH", "Watchdog Timer", "Clock Prescaler".
 */
import { describe, expect, it } from 'vitest'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { HZ, start } from './start.js'

const seconds = (s: number) => s * HZ

describe.skipIf(!HAVE_COMPILER)('the power reduction register', () => {
  /** 0.55 V of the 1.1 V reference is 512. */
  const SENSED = 'at 0 s volt ADC0 0.55 V\n'
  const FREE_RUNNING =
    'ADMUX = 0xC0; ADCSRA = 1 << ADEN | 1 << ADSC | 1 << ADATE | 1 << ADIE | 7; sei(); for (;;) ;'
  const counting = (first: string) =>
    start(
      `volatile uint16_t v; volatile uint8_t n; ISR(ADC_vect) { v = ADC; n++; } int main(void) { ${first} ${FREE_RUNNING} }`,
      'atmega328p',
      SENSED,
    )

  it('stops the converter: nothing is converted, and a note says that its registers take nothing', () => {
    const off = counting('PRR = 1 << PRADC;')
    off.machine.runTo(seconds(0.01))
    expect([off.value('v', 2), off.value('n')]).toEqual([0, 0])
    expect(off.machine.notes.map((n) => n.code)).toContain('simulate/stopped-peripheral')
    const on = counting('')
    on.machine.runTo(seconds(0.01))
    expect(on.value('v', 2)).toBe(512)
    expect(on.value('n')).toBeGreaterThan(90)
  })

  it('stops a conversion under way, which goes on when the clock comes back', () => {
    const { machine, value } = start(
      `volatile uint16_t v; volatile uint8_t busy; int main(void) { ADMUX = 0xC0; ADCSRA = 1 << ADEN | 1 << ADSC | 7; PRR = 1;
        for (volatile uint16_t i = 0; i < 2000; i++) ; busy = ADCSRA >> ADSC & 1; PRR = 0;
        while (ADCSRA & 1 << ADSC) ; v = ADC; for (;;) ; }`,
      'atmega328p',
      SENSED,
    )
    machine.runTo(seconds(0.02))
    expect([value('busy'), value('v', 2)]).toEqual([1, 512])
  })

  it('leaves a serial port deaf', () => {
    const code = (prr: string) =>
      `volatile uint8_t n; ISR(USART_RX_vect) { UDR0; n++; }
       int main(void) { UBRR0 = 25; UCSR0B = 1 << RXEN0 | 1 << RXCIE0; ${prr} sei(); for (;;) ; }`
    const script = 'at 1 ms serial 0 "abc"\n'
    const off = start(code('PRR = 1 << PRUSART0;'), 'atmega328p', script)
    off.machine.runTo(seconds(0.01))
    expect(off.value('n')).toBe(0)
    expect(off.machine.serial(0)!.whileOff).toBe(3)
    const on = start(code('PRR = 1 << PRSPI | 1 << PRTWI;'), 'atmega328p', script)
    on.machine.runTo(seconds(0.01))
    expect(on.value('n')).toBe(3)
  })

  it('is cleared by a reset', () => {
    const { machine, value } = start(
      `volatile uint8_t again __attribute__((section(".noinit"))); volatile uint16_t v;
       int main(void) { if (MCUSR & 1 << PORF) { MCUSR = 0; again = 0; PRR = 0xff; wdt_enable(WDTO_15MS); for (;;) ; }
         MCUSR = 0; wdt_disable(); again++; ADMUX = 0xC0; ADCSRA = 1 << ADEN | 1 << ADSC | 7;
         while (ADCSRA & 1 << ADSC) ; v = ADC; for (;;) ; }`,
      'atmega328p',
      SENSED,
    )
    machine.runTo(seconds(0.03))
    expect([value('again'), value('v', 2)]).toEqual([1, 512])
  })
})

describe.skipIf(!HAVE_COMPILER)('a result of the converter', () => {
  const SCRIPT = 'at 0 s volt ADC0 0.1 V\nat 5 ms volt ADC0 1 V\n'
  const read = (how: string) => {
    const run = start(
      `volatile uint16_t v; ISR(ADC_vect) { ${how} }
       int main(void) { ADMUX = 0xC0; ADCSRA = 1 << ADEN | 1 << ADSC | 1 << ADATE | 1 << ADIE | 7; sei(); for (;;) ; }`,
      'atmega328p',
      SCRIPT,
    )
    run.machine.runTo(seconds(0.02))
    return { v: run.value('v', 2), notes: run.machine.notes.map((n) => n.code) }
  }

  it('is read low byte first', () => {
    expect(read('v = ADC;')).toEqual({ v: 930, notes: [] })
    expect(read('uint8_t l = ADCL; v = ADCH << 8 | l;').v).toBe(930)
  })

  it('read high byte first is the first one for ever: ADCL locks the registers until ADCH is read', () => {
    const { v, notes } = read('uint8_t h = ADCH; v = h << 8 | ADCL;')
    // The high byte is read before ADCL locks, once: what is read later is what the first conversion gave.
    expect(v).toBe(93)
    expect(notes).toContain('simulate/adc-locked')
  })

  it('of which only ADCL is read never changes again; of which only ADCH is read does', () => {
    expect(read('v = ADCL;').v).toBe(93)
    expect(read('v = ADCH;').v).toBe(930 >> 8)
  })
})

describe.skipIf(!HAVE_COMPILER)('with the system clock divided', () => {
  it('the watchdog keeps its time, which is that of an oscillator of its own', () => {
    for (const [n, before] of [
      [0, ''],
      [3, ''],
      [3, 'wdt_enable(WDTO_15MS);'],
    ] as const) {
      const { machine } = start(
        `int main(void) { MCUSR = 0; wdt_disable(); ${before} CLKPR = 0x80; CLKPR = ${n}; wdt_enable(WDTO_15MS); for (;;) ; }`,
      )
      machine.runTo(seconds(0.05))
      // 2048 cycles of 128 kHz: 16 ms, then again and again by WDRF.
      const { at } = machine.restarts[0]!
      expect(machine.usAtCycle(at) / 16e3).toBeCloseTo(1, 1)
    }
  })

  it('an EEPROM byte takes 3.4 ms', () => {
    const { machine, value } = start(
      `volatile uint8_t done; int main(void) { eeprom_write_byte((uint8_t *)5, 7); CLKPR = 0x80; CLKPR = 2; eeprom_busy_wait(); done = 1; for (;;) ; }`,
    )
    machine.runTo(seconds(0.0033))
    expect(value('done')).toBe(0)
    machine.runTo(seconds(0.0036))
    expect(value('done')).toBe(1)
  })

  it('a sender with its own rate is heard by who divides for it, and the rate is told right', () => {
    const { machine, value } = start(
      `volatile uint8_t c; int main(void) { CLKPR = 0x80; CLKPR = 1; UBRR0 = 51; UCSR0B = 1 << RXEN0;
        for (;;) if (UCSR0A & 1 << RXC0) c = UDR0; }`,
      'atmega328p',
      'at 2 ms serial 0 with 9600 baud 0x55\n',
    )
    machine.runTo(seconds(0.01))
    expect(value('c')).toBe(0x55)
    expect(machine.serial(0)!.baud).toBeCloseTo(9615, 0)
  })
})

describe.skipIf(!HAVE_COMPILER)('the clock of the converter', () => {
  const at = (code: string) => {
    const { machine } = start(`int main(void) { ${code} for (;;) ; }`)
    machine.runTo(seconds(0.001))
    return machine
  }

  it('above 1 MHz reads what is not known at that pin, and says nothing against others', () => {
    const machine = at('ADMUX = 0x42; ADCSRA = 1 << ADEN | 1 << ADSC | 3;')
    expect(machine.unmodelledAt(['PC2'])?.code).toBe('simulate/adc-clock')
    expect(machine.unmodelledAt(['PC0', 'PB1'])).toBeUndefined()
  })

  it('is what the divided system clock makes of it', () => {
    const convert = 'ADMUX = 0x42; ADCSRA = 1 << ADEN | 1 << ADSC |'
    expect(at(`${convert} 4;`).unmodelledAt(['PC2'])).toBeUndefined()
    expect(at(`CLKPR = 0x80; CLKPR = 1; ${convert} 3;`).unmodelledAt(['PC2'])).toBeUndefined()
  })
})

describe.skipIf(!HAVE_COMPILER)('RAM and working registers', () => {
  const KEPT =
    'volatile uint16_t kept __attribute__((section(".noinit"))); volatile uint8_t runs __attribute__((section(".noinit")));'

  it('are not zero at power-up, the same in each run', () => {
    const found = () => {
      const { machine, value } = start(`${KEPT} int main(void) { kept++; for (;;) ; }`)
      machine.runTo(seconds(0.001))
      return value('kept', 2)
    }
    expect(found()).not.toBe(1)
    expect(found()).toBe(found())
  })

  it('keep what they hold through a reset, and lose it with the supply', () => {
    const after = (cause: string) => {
      const { machine, value } = start(
        `${KEPT} int main(void) { if (kept != 4711) { kept = 4711; runs = 0; } runs++; for (;;) ; }`,
        'atmega328p',
        `at 1 ms reset ${cause}\n`,
      )
      machine.runTo(seconds(0.002))
      return value('runs')
    }
    expect([after('pin'), after('brown-out'), after('power')]).toEqual([2, 2, 1])
  })
})
