// What the data sheets say, on firmware made by the real compiler. Sheets: ATmega328P DS40001906C, ATmega2560 2549Q,
// ATmega32U4 7766J; where two are named the sentence is the same in both.
import { describe, expect, it } from 'vitest'
import { reportOf, type SimulatedChip } from '../../src/controller/index.js'
import { EdgeList } from '../../src/signal/index.js'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { gapsOf, HZ, levelsOf, record, start, ticksOf } from './start.js'

describe.skipIf(!HAVE_COMPILER)('interrupts', () => {
  // "Interrupt Response Time": four clock cycles minimum (ATmega2560: five), then the vector's jump of three; an
  // interrupt during an instruction of several cycles waits for its end; four more when it ends a sleep.
  const code = (wait: string) => `
    ISR(TIMER1_COMPA_vect, ISR_NAKED) { __asm__ __volatile__("sbi %0, 0\\n reti" :: "I"(_SFR_IO_ADDR(PIND))); }
    int main(void) {
      DDRB = 0xff; DDRD = 1; OCR1A = 4999; TCCR1A = 1 << COM1A0; TIMSK1 = 1 << OCIE1A; TCCR1B = 1 << WGM12 | 1 << CS10;
      set_sleep_mode(SLEEP_MODE_IDLE); sleep_enable(); sei();
      ${wait}
    }`
  const NOPS =
    'for (;;) { __asm__ __volatile__("nop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop"); }'

  // The toggle by SBI comes two cycles after the handler's first instruction began.
  for (const [chip, pin, wait, low, high] of [
    ['atmega328p', 'PB1', NOPS, 4 + 3 + 2, 4 + 3 + 2 + 1],
    ['atmega2560', 'PB5', NOPS, 5 + 3 + 2, 5 + 3 + 2 + 1],
    ['atmega328p', 'PB1', 'for (;;) sleep_cpu();', 4 + 4 + 3 + 2, 4 + 4 + 3 + 2],
  ] as const) {
    it(`begin in time on the ${chip}${wait === NOPS ? '' : ' asleep'}`, () => {
      const { machine } = start(code(wait), chip)
      const hardware = record(machine, pin)
      const software = record(machine, 'PD0')
      machine.runTo(5e6)
      const a = ticksOf(hardware).slice(1)
      const b = ticksOf(software).slice(1)
      expect(b.length).toBeGreaterThan(900)
      const late = b.map((t, i) => t - a[i]!)
      expect(Math.min(...late)).toBe(low)
      expect(Math.max(...late)).toBe(high)
      const report = reportOf(machine).interrupts[0]!
      expect(report.name).toBe('TIMER1_COMPA')
      expect(report.count).toBe(b.length)
      expect(report.worstLatencyUs).toBeCloseTo((high - 2) / 16, 9)
      if (wait !== NOPS) expect(reportOf(machine).sleepingShare).toBeGreaterThan(0.95)
    })
  }

  it('wait for one more instruction after SEI and after RETI', () => {
    // "The instruction following SEI will be executed before any pending interrupts"; "When the AVR exits from an
    // interrupt, it will always return to the main program and execute one more instruction" (both sheets).
    const { machine, value } = start(`
      volatile uint8_t order[8], next, before;
      ISR(TIMER0_COMPA_vect, ISR_NAKED) {
        __asm__ __volatile__("lds r24, next\\n inc r24\\n sts next, r24\\n cpi r24, 4\\n brne 1f\\n sts 0x6e, r1\\n 1: reti" ::: "r24");
      }
      int main(void) {
        OCR0A = 1; TIMSK0 = 1 << OCIE0A; TCCR0A = 1 << WGM01; TCCR0B = 1 << CS00;
        for (uint8_t i = 0; i < 20; i++) __asm__ __volatile__("nop");
        register uint8_t count __asm__("r20") = 0;
        __asm__ __volatile__("sei\\n inc %0\\n sts before, %0\\n inc %0\\n inc %0\\n sts order, %0" : "+r"(count));
        cli();
        for (;;) ;
      }`)
    machine.runTo(2000)
    // One INC ran before the first interrupt and one instruction between each two.
    expect(value('before')).toBe(1)
    expect(value('order')).toBe(3)
    expect(value('next')).toBe(4)
    expect(machine.interrupts.stats[14]!.count).toBe(4)
  })
})

describe.skipIf(!HAVE_COMPILER)('a compare value below the running count', () => {
  it('makes one pulse of a whole count: 66464 cycles, 4154 us at 16 MHz', () => {
    // "If the new value written to OCR1A or ICR1 is lower than the current value of TCNT1, the counter will miss the
    // compare match. The counter will then have to count to its maximum value (0xFFFF) and wrap around" (CTC mode).
    // ATmega328P, "16-bit Timer/Counter1": 65536 counts and then 928 more to the next match.
    const { machine } = start(`
      volatile uint8_t n;
      ISR(TIMER1_COMPA_vect) {
        n++;
        if (n == 100) while (TCNT1 < 1000) ;
        OCR1A = n & 1 ? 1599 : 927;
      }
      int main(void) {
        DDRB = 2; OCR1A = 1599; TCCR1A = 1 << COM1A0; TIMSK1 = 1 << OCIE1A; TCCR1B = 1 << WGM12 | 1 << CS10;
        sei(); for (;;) ;
      }`)
    const edges = record(machine, 'PB1')
    machine.runTo(220e3)
    const [timer] = machine.timers.filter((t) => t.model.number === 1)
    expect(timer!.reloads[0]!.missed).toBe(1)
    const gaps = gapsOf(edges)
    expect(new Set(gaps.slice(1))).toEqual(new Set([928, 1600, 65536 + 928]))
    expect(gaps.slice(1).filter((g) => g > 1600)).toEqual([66464])
    expect(66464 / 16).toBe(4154)
    const output = reportOf(machine, [
      { name: 'main', pin: 'PB1', recorder: machine.record(new EdgeList(), 'PB1') },
    ])
    expect(output.outputs[0]!.missedCompares).toBe(1)
    expect(output.outputs[0]!.leastSlackUs).toBeLessThan(0)
  })

  it('is met when it equals the running count, and is loaded at BOTTOM where it is double-buffered', () => {
    // Table "Waveform Generation Mode": mode 15 updates OCR1A at BOTTOM.
    const { machine } = start(`
      volatile uint8_t n;
      ISR(TIMER1_OVF_vect) { n++; if (n == 100) while (TCNT1 < 1500) ; OCR1A = n & 1 ? 1599 : 927; }
      int main(void) {
        DDRB = 2; OCR1A = 1599; TCCR1A = 1 << COM1A0 | 3; TIMSK1 = 1 << TOIE1; TCCR1B = 3 << WGM12 | 1 << CS10;
        sei(); for (;;) ;
      }`)
    const edges = record(machine, 'PB1')
    machine.runTo(400e3)
    expect(new Set(gapsOf(edges).slice(2))).toEqual(new Set([928, 1600]))
  })
})

describe.skipIf(!HAVE_COMPILER)('waveforms', () => {
  /** Registers → high and low level of one pin, cycles. Non-inverting: set at BOTTOM or when counting down. */
  const cases: [string, SimulatedChip, string, string, number, number][] = [
    // Fast PWM, f = clk / (N (1 + TOP)): high for OCR + 1 ticks of TOP + 1.
    [
      '8-bit fast PWM',
      'atmega328p',
      'DDRD = 0x60; OCR0A = 99; TCCR0A = 2 << 6 | 3; TCCR0B = 2;',
      'PD6',
      800,
      1248,
    ],
    [
      '8-bit fast PWM inverted',
      'atmega328p',
      'DDRD = 0x20; OCR0B = 99; TCCR0A = 3 << 4 | 3; TCCR0B = 1;',
      'PD5',
      156,
      100,
    ],
    [
      '8-bit fast PWM to OCRA',
      'atmega328p',
      'DDRD = 0x28; OCR2A = 199; OCR2B = 49; TCCR2A = 2 << 4 | 3; TCCR2B = 8 | 3;',
      'PD3',
      1600,
      4800,
    ],
    [
      '16-bit fast PWM to 0x1FF',
      'atmega328p',
      'DDRB = 2; OCR1A = 127; TCCR1A = 2 << 6 | 2; TCCR1B = 8 | 1;',
      'PB1',
      128,
      384,
    ],
    [
      '16-bit fast PWM to ICR',
      'atmega328p',
      'DDRB = 4; TCCR1A = 2 << 4 | 2; TCCR1B = 0x18; ICR1 = 2527; OCR1B = 927; TCCR1B = 0x18 | 1;',
      'PB2',
      928,
      1600,
    ],
    // Phase correct, f = clk / (2 N TOP): high for 2 OCR ticks of 2 TOP.
    [
      '8-bit phase correct',
      'atmega328p',
      'DDRB = 8; OCR2A = 100; TCCR2A = 2 << 6 | 1; TCCR2B = 1;',
      'PB3',
      200,
      310,
    ],
    [
      '16-bit phase correct to ICR',
      'atmega328p',
      'DDRB = 2; TCCR1A = 2 << 6 | 2; TCCR1B = 0x10; ICR1 = 1000; OCR1A = 300; TCCR1B = 0x10 | 2;',
      'PB1',
      4800,
      11200,
    ],
    [
      '16-bit phase and frequency correct',
      'atmega328p',
      'DDRB = 4; OCR1A = 1000; OCR1B = 300; TCCR1A = 3 << 4 | 1; TCCR1B = 0x10 | 1;',
      'PB2',
      1400,
      600,
    ],
    // Toggle, f = clk / (2 N (1 + OCR)) in CTC; 50 % with OCRA as top in PWM modes.
    [
      '8-bit CTC toggle',
      'atmega328p',
      'DDRD = 0x40; OCR0A = 115; TCCR0A = 1 << 6 | 2; TCCR0B = 2;',
      'PD6',
      928,
      928,
    ],
    [
      '16-bit CTC toggle to ICR',
      'atmega328p',
      'DDRB = 4; TCCR1A = 1 << 4; TCCR1B = 0x18; ICR1 = 927; OCR1B = 500; TCCR1B = 0x18 | 1;',
      'PB2',
      928,
      928,
    ],
    ['normal mode toggle', 'atmega328p', 'DDRB = 2; TCCR1A = 1 << 6; TCCR1B = 1;', 'PB1', 65536, 65536],
    [
      'phase correct toggle of A',
      'atmega328p',
      'DDRB = 2; OCR1A = 464; TCCR1A = 1 << 6 | 3; TCCR1B = 0x10 | 1;',
      'PB1',
      928,
      928,
    ],
    [
      'Timer 3 C',
      'atmega2560',
      'DDRE = 0x20; TCCR3A = 2 << 2 | 2; TCCR3B = 0x18; ICR3 = 2527; OCR3C = 927; TCCR3B = 0x18 | 1;',
      'PE5',
      928,
      1600,
    ],
    [
      'Timer 4 B',
      'atmega2560',
      'DDRH = 0x10; OCR4A = 231; OCR4B = 115; TCCR4A = 2 << 4 | 3; TCCR4B = 0x18 | 2;',
      'PH4',
      928,
      928,
    ],
    ['Timer 5 A', 'atmega2560', 'DDRL = 8; OCR5A = 115; TCCR5A = 1 << 6; TCCR5B = 8 | 2;', 'PL3', 928, 928],
    [
      'Timer 1 C on the pin of Timer 0 A',
      'atmega2560',
      'DDRB = 0x80; OCR1A = 927; TCCR1A = 1 << 2; TCCR1B = 8 | 1;',
      'PB7',
      928,
      928,
    ],
    [
      'Timer 3 A',
      'atmega32u4',
      'DDRC = 0x40; OCR3A = 927; TCCR3A = 1 << 6; TCCR3B = 8 | 1;',
      'PC6',
      928,
      928,
    ],
  ]
  it.each(cases)('%s (%s)', (_name, chip, setUp, pin, high, low) => {
    const { machine } = start(`int main(void) { ${setUp} for (;;) ; }`, chip)
    const edges = record(machine, pin)
    machine.runTo(1e6)
    expect(edges.count).toBeGreaterThan(8)
    expect(levelsOf(edges)).toEqual({ high: [high], low: [low] })
  })

  it('of Timer 4 of the ATmega32U4, from the system clock and from the PLL at 64 MHz', () => {
    // Data sheet 7766J: top in OCR4C; PLL at 96 MHz divided by 1.5 gives 64 MHz, a quarter of a cycle per tick.
    const slow = start(
      `int main(void) { DDRC = 0xc0; TC4H = 1; OCR4C = 243; TC4H = 0; OCR4A = 199;
        TCCR4A = 1 << COM4A0 | 1 << PWM4A; TCCR4B = 4; for (;;) ; }`,
      'atmega32u4',
    ).machine
    const [straight, inverse] = [record(slow, 'PC7'), record(slow, 'PC6')]
    slow.runTo(100e3)
    expect(levelsOf(straight!)).toEqual({ high: [200 * 8], low: [300 * 8] })
    expect(levelsOf(inverse!)).toEqual({ high: [300 * 8], low: [200 * 8] })
    const fast = start(
      `int main(void) { DDRC = 0x80; PLLFRQ = 1 << PLLTM1 | 10; PLLCSR = 1 << PINDIV | 1 << PLLE; while (!(PLLCSR & 1)) ;
        TC4H = 3; OCR4C = 159; TC4H = 0; OCR4A = 1; TCCR4A = 1 << COM4A0; TCCR4B = 3; for (;;) ; }`,
      'atmega32u4',
    ).machine
    const toggled = record(fast, 'PC7')
    fast.runTo(100e3)
    // 928 ticks of 4 / 64 MHz: 58 us.
    expect(levelsOf(toggled)).toEqual({ high: [928], low: [928] })
    expect(
      reportOf(fast, [{ name: 'x', pin: 'PC7', recorder: fast.record(new EdgeList(), 'PC7') }]).outputs[0]!
        .peripheral,
    ).toBe('Timer 4 A')
  })

  it('with a compare value at the ends: steady high, steady low, and a spike of one tick', () => {
    // "If the OCR0A is set equal to BOTTOM, the output will be a narrow spike for each MAX+1 timer clock cycle.
    // Setting the OCR0A equal to MAX will result in a constantly high or low output."
    const { machine } = start(`int main(void) { DDRD = 0x60; DDRB = 8; OCR0A = 0; OCR0B = 255;
      TCCR0A = 2 << 6 | 2 << 4 | 3; OCR2A = 0; TCCR2A = 2 << 6 | 1; TCCR2B = 1; TCCR0B = 1; for (;;) ; }`)
    const [spike, high, low] = ['PD6', 'PD5', 'PB3'].map((pin) => record(machine, pin))
    machine.runTo(100e3)
    expect(levelsOf(spike!)).toEqual({ high: [1], low: [255] })
    expect(high!.count).toBe(2)
    expect(high!.levels[1]).toBe(1)
    expect(low!.count).toBe(1)
  })

  it('with a write to the counter: the next match is blocked; reads are exact', () => {
    // "All CPU write operations to the TCNT0 register will block any compare match that occur in the next timer clock
    // cycle, even when the timer is stopped."
    const { machine, value } = start(`
      volatile uint8_t first, second, blocked, later;
      int main(void) {
        OCR0A = 50; TCCR0B = 1;
        __asm__ __volatile__("out 0x26, %2\\n nop\\n in %0, 0x26\\n lds %1, 0x46" : "=r"(first), "=r"(second) : "r"((uint8_t)30));
        TCCR0B = 0; TCNT0 = 50; TIFR0 = 0xff; TCCR0B = 1;
        __asm__ __volatile__("nop\\n nop\\n nop");
        blocked = TIFR0;
        for (uint8_t i = 0; i < 100; i++) __asm__ __volatile__("nop");
        later = TIFR0;
        for (;;) ;
      }`)
    machine.runTo(3000)
    // OUT, NOP, IN reads one more than was written (avr8js' suite has the same case, checked on a chip).
    expect(value('first')).toBe(31)
    expect(value('second')).toBe(33)
    expect(value('blocked') & 2).toBe(0)
    expect(value('later') & 2).toBe(2)
  })

  it('with a prescaler that runs freely and can be reset', () => {
    // "The prescaler is free running, i.e., operates independently of the Clock Select logic"; PSRSYNC resets it.
    const { machine, value } = start(`
      volatile uint8_t a, b;
      int main(void) {
        TCCR0B = 3;
        __asm__ __volatile__("out 0x23, %0\\n out 0x26, __zero_reg__" :: "r"((uint8_t)1));
        for (uint8_t i = 0; i < 40; i++) __asm__ __volatile__("nop\\n nop\\n nop\\n nop\\n nop");
        a = TCNT0;
        GTCCR = 1 << TSM | 1 << PSRSYNC; b = TCNT0;
        for (uint8_t i = 0; i < 200; i++) __asm__ __volatile__("nop");
        b = TCNT0 - b;
        for (;;) ;
      }`)
    machine.runTo(5000)
    expect(value('a')).toBe(5)
    expect(value('b')).toBe(0)
  })
})

describe.skipIf(!HAVE_COMPILER)('ports', () => {
  it('toggle by a one written to PINx, by SBI one bit only', () => {
    const { machine } = start(
      `int main(void) { DDRB = 3; for (;;) { PINB = 3; __asm__ __volatile__("sbi 0x03, 0"); } }`,
    )
    const a = record(machine, 'PB0')
    const b = record(machine, 'PB1')
    machine.runTo(1000)
    expect(levelsOf(a)).toEqual({ high: [2], low: [3] })
    expect(levelsOf(b)).toEqual({ high: [5], low: [5] })
  })

  it('read levels from outside, and their pull-ups', () => {
    const { machine, value } = start(
      `volatile uint8_t seen[3]; int main(void) { PORTD = 4; for (uint8_t i = 0; i < 3; i++) {
        for (uint16_t k = 0; k < 1000; k++) __asm__ __volatile__("nop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop");
        seen[i] = PIND; } for (;;) ; }`,
      'atmega328p',
      'at 1 ms pin PD2 low\nat 1 ms pin PD3 high\nat 2 ms pin PD2 free',
    )
    machine.runTo(60e3)
    expect(value('seen', 3).toString(16)).toBe('c0804'.padStart(5, '0'))
  })
})

describe.skipIf(!HAVE_COMPILER)('serial ports', () => {
  it('send at the rate of the sheet, double-buffered', () => {
    // "Baud rate = clk / (16 (UBRR + 1))": a frame of ten bits takes 160 (UBRR + 1) cycles.
    const { machine } = start(`int main(void) { UBRR0 = 25; UCSR0B = 1 << TXEN0;
      for (const char *t = "halfbit\\n"; *t; t++) { while (!(UCSR0A & 1 << UDRE0)) ; UDR0 = *t; } for (;;) ; }`)
    const times: number[] = []
    machine.usarts[0]!.onSent = (_value, at) => times.push(at)
    machine.runTo(100e3)
    expect(reportOf(machine).serial[0]!.text).toBe('halfbit\\n')
    expect(new Set(times.slice(1).map((t, i) => t - times[i]!))).toEqual(new Set([160 * 26]))
    expect(reportOf(machine).serial[0]!.baud).toBeCloseTo(38461.5, 1)
  })

  it('receive, hold two bytes and one in the shift register, and then lose one with DOR set', () => {
    const { machine, value } = start(
      `volatile uint8_t got[4], status[4]; int main(void) { UBRR0 = 25; UCSR0B = 1 << RXEN0;
        for (uint16_t k = 0; k < 40000; k++) __asm__ __volatile__("nop");
        for (uint8_t i = 0; i < 4; i++) { status[i] = UCSR0A; got[i] = UDR0; } for (;;) ; }`,
      'atmega328p',
      'at 1 ms serial 0 1 2 3 4 5',
    )
    machine.runTo(400e3)
    const got = value('got', 4)
    expect([got & 255, (got >> 8) & 255, (got >> 16) & 255]).toEqual([1, 2, 5])
    expect(value('status', 4) & 0xff888888 & 0x00888888).toBe(0x00888080 | 0x00080000)
    expect(reportOf(machine).serial[0]!.overrun).toBe(2)
  })

  it('misread what is sent at a rate that is 15 % off', () => {
    const { machine } = start(
      `int main(void) { UBRR0 = 25; UCSR0B = 1 << RXEN0; for (;;) if (UCSR0A & 0x80) UDR0; }`,
      'atmega328p',
      'every 2 ms serial 0 with 44000 baud 0x00',
    )
    machine.runTo(1e6)
    const fast = reportOf(machine).serial[0]!
    const slow = start(
      `int main(void) { UBRR0 = 25; UCSR0B = 1 << RXEN0; for (;;) if (UCSR0A & 0x80) UDR0; }`,
      'atmega328p',
      'every 2 ms serial 0 with 33000 baud 0x00',
    )
    slow.machine.runTo(1e6)
    expect(fast.frameErrors).toBe(0)
    expect(reportOf(slow.machine).serial[0]!.frameErrors).toBe(reportOf(slow.machine).serial[0]!.received)
  })
})

describe.skipIf(!HAVE_COMPILER)('a slow sender', () => {
  // Receiver operational range, eight data bits: R_slow = (D+1) S / (S-1 + D S + S_F), 144/151 at normal speed, 72/75 at double speed.
  it.each([
    ['normal', 'UBRR0 = 25;', 144 / 151],
    ['double', 'UBRR0 = 51; UCSR0A = 1 << U2X0;', 72 / 75],
  ] as const)('is heard at %s speed down to the rate of the sheet', (_, setup, slowest) => {
    const own = 16e6 / 16 / 26
    const errors = (share: number) => {
      const { machine } = start(
        `int main(void) { ${setup} UCSR0B = 1 << RXEN0; for (;;) if (UCSR0A & 0x80) UDR0; }`,
        'atmega328p',
        `every 2 ms serial 0 with ${Math.round(own * slowest * share)} baud 0x00`,
      )
      machine.runTo(160e3)
      const { received, frameErrors } = reportOf(machine).serial[0]!
      expect(received).toBeGreaterThan(2)
      return frameErrors / received
    }
    expect(errors(1.002)).toBe(0)
    expect(errors(0.998)).toBe(1)
  })
})

describe.skipIf(!HAVE_COMPILER)('other peripherals', () => {
  it('convert 0.5 V against 5 V and against the 1.1 V reference, in 13 clocks', () => {
    const { machine, value } = start(
      `volatile uint16_t a, b; volatile uint8_t ticks; uint16_t convert(uint8_t mux) { ADMUX = mux; ADCSRA |= 1 << ADSC; while (ADCSRA & 1 << ADSC) ; return ADC; }
       int main(void) { ADCSRA = 1 << ADEN | 7; convert(0x42); a = convert(0x42); TCNT0 = 0; TCCR0B = 3; b = convert(0xc2); ticks = TCNT0; for (;;) ; }`,
      'atmega328p',
      'at 0 s volt PC2 0.5 V',
    )
    machine.runTo(20e3)
    // 1024 × 0.5 / 5 and 1024 × 0.5 / 1.1 (data sheet, "ADC Conversion Result").
    expect(value('a', 2)).toBe(102)
    expect(value('b', 2)).toBe(465)
    expect(value('ticks')).toBeGreaterThanOrEqual((13 * 128) / 64)
    expect(value('ticks')).toBeLessThanOrEqual((13 * 128) / 64 + 1)
  })

  it('interrupt on edges of INT0 and on changes of a pin', () => {
    const { machine } = start(
      `EMPTY_INTERRUPT(INT0_vect) EMPTY_INTERRUPT(PCINT2_vect)
       int main(void) { EICRA = 2; EIMSK = 1; PCMSK2 = 8; PCICR = 4; sei(); for (;;) ; }`,
      'atmega328p',
      'every 1 ms from 1 ms to 11 ms\nat 0 us pin PD2 high\nat 0 us pin PD3 high\nat 500 us pin PD2 low\nat 700 us pin PD3 low\nend',
    )
    machine.runTo(200e3)
    expect(machine.interrupts.stats[1]!.count).toBe(10)
    expect(machine.interrupts.stats[5]!.count).toBe(20)
  })

  it('count edges of the clock pin, and capture the count at an edge of the capture pin', () => {
    const { machine, value } = start(
      `volatile uint8_t edges; volatile uint16_t first, second; volatile uint8_t n;
       ISR(TIMER1_CAPT_vect) { if (n++ == 0) first = ICR1; else second = ICR1; }
       int main(void) { TCCR0B = 7; TCCR1B = 1 << ICES1 | 2; TIMSK1 = 1 << ICIE1; sei(); for (;;) edges = TCNT0; }`,
      'atmega328p',
      'every 1 ms from 1 ms to 6 ms\n at 0 us pin PD4 high\n at 300 us pin PD4 low\nend\nat 2 ms pin PB0 high\nat 3 ms pin PB0 low\nat 4 ms pin PB0 high',
    )
    machine.runTo(10e-3 * HZ)
    expect(value('edges')).toBe(5)
    expect(value('n')).toBe(2)
    // 2 ms at 2 MHz.
    expect(value('second', 2) - value('first', 2)).toBe(4000)
  })

  it('keep bytes in EEPROM, 3.4 ms each', () => {
    const { machine, value } = start(
      `uint8_t EEMEM kept = 7; volatile uint8_t was, is;
       int main(void) { was = eeprom_read_byte(&kept); eeprom_write_byte(&kept, 42); is = eeprom_read_byte(&kept); for (;;) ; }`,
    )
    machine.runTo(3.3e-3 * HZ)
    expect(value('is')).toBe(0)
    machine.runTo(3.5e-3 * HZ)
    expect([value('was'), value('is'), machine.eeprom.writes]).toEqual([7, 42, 1])
  })

  it('reset by the watchdog, with the flag set and the place told', () => {
    const { machine, value } = start(
      `volatile uint8_t cause __attribute__((section(".noinit"))); void hang(void) __attribute__((noinline)); void hang(void) { for (;;) ; }
       int main(void) { cause = MCUSR; wdt_enable(WDTO_15MS); hang(); }`,
    )
    machine.runTo(0.1 * HZ)
    const { restarts } = reportOf(machine)
    expect(value('cause') & 8).toBe(8)
    // 2048 cycles of 128 kHz: 16 ms.
    expect([restarts.count, restarts.asked, restarts.byCause]).toEqual([6, 0, { watchdog: 6 }])
    const [first, second] = restarts.list
    expect(first!.by?.symbol).toMatch(/^(hang|main)/)
    expect(second!.atUs - first!.atUs).toBeGreaterThan(16000)
    expect(second!.atUs - first!.atUs).toBeLessThan(16010)
  })

  it('reset by the watchdog at the same cycle whether waiting that resets it is skipped or not', () => {
    const bites = (skip: boolean) => {
      const { machine } = start(
        `int main(void) { DDRB = 2; TCCR1B = 5; wdt_enable(WDTO_15MS); uint16_t last = 0;
           while (TCNT1 < 700) { wdt_reset(); if (TCNT1 != last) { last = TCNT1; PINB = 2; } } for (;;) ; }`,
      )
      machine.core.skipWaiting = skip
      machine.runTo(0.3 * HZ)
      const { restarts } = reportOf(machine)
      return [restarts.list.map((r) => r.atUs), machine.core.waitingCycles > 0, [...machine.data]]
    }
    const idle = (skip: boolean) => {
      const { machine } = start(
        `volatile uint8_t n; ISR(TIMER1_OVF_vect) { n++; }
         int main(void) { TCCR1B = 1; TIMSK1 = 1; sei(); wdt_enable(WDTO_15MS); while (n < 20) wdt_reset(); for (;;) ; }`,
      )
      machine.core.skipWaiting = skip
      machine.runTo(0.3 * HZ)
      const { restarts } = reportOf(machine)
      return [restarts.count, restarts.list.map((r) => r.atUs), machine.core.waitingCycles, [...machine.data]]
    }
    expect(bites(true)).toEqual(bites(false))
    expect(idle(true)).toEqual(idle(false))
    const [count, , waited] = idle(true) as [number, number[], number]
    // 20 overflows of 65,536 cycles and 16 ms: 98 ms each.
    expect(count).toBe(3)
    expect(waited / (0.3 * HZ)).toBeGreaterThan(0.8)
  })

  it('are quiet where nothing is connected: SPI reads ones, no address answers', () => {
    const { machine, value } = start(`volatile uint8_t spi, twi;
      int main(void) { DDRB = 0x2c; SPCR = 0x50; SPDR = 5; while (!(SPSR & 0x80)) ; spi = SPDR;
        TWBR = 72; TWCR = 0xa4; while (!(TWCR & 0x80)) ; TWDR = 0x40; TWCR = 0x84; while (!(TWCR & 0x80)) ; twi = TWSR; TWCR = 0x94; for (;;) ; }`)
    machine.runTo(50e3)
    expect([value('spi'), value('twi')]).toEqual([0xff, 0x20])
  })

  it('slow down with the clock prescaler: edges keep the time of the oscillator', () => {
    const { machine } = start(
      `int main(void) { CLKPR = 0x80; CLKPR = 1; DDRB = 2; OCR1A = 463; TCCR1A = 1 << COM1A0; TCCR1B = 1 << WGM12 | 1; for (;;) ; }`,
    )
    const edges = record(machine, 'PB1')
    machine.runTo(100e3)
    expect(levelsOf(edges)).toEqual({ high: [928], low: [928] })
    expect(edges.ticks[edges.count - 1]!).toBeGreaterThan(98e3)
    expect(reportOf(machine).simulatedUs).toBeCloseTo(100e3 / 16, 0)
  })

  it('tell the deepest stack and a stack that runs into the data', () => {
    const deep = (
      depth: number,
    ) => `volatile uint8_t big[1000]; uint8_t down(uint8_t n) { volatile uint8_t x[20]; x[n % 20] = n; return n ? down(n - 1) + x[3] : big[n]; }
      int main(void) { big[0] = down(${depth}); for (;;) ; }`
    const fine = start(deep(10)).machine
    fine.runTo(100e3)
    const report = reportOf(fine)
    expect(report.stack.overflowed).toBe(false)
    expect(report.stack.deepestBytes).toBeGreaterThan(220)
    expect(report.stack.freeBytes).toBe(2048 - 1000 - report.stack.deepestBytes)
    const over = start(deep(50)).machine
    over.runTo(100e3)
    expect(reportOf(over).stack.overflowed).toBe(true)
  })
})
