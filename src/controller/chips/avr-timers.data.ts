/**
 * Controllers of the 8-bit AVR family. Pins and timers by the data sheets named in each entry; where parts of a
 * sheet were not at hand the timer says `from memory`. What core libraries do with a timer is common practice, no source.
 */
import { type ChipInfo, pinRange, SYSTEM_CLOCK, type TimerInfo } from './chip.js'

const T1_DIVIDERS = [1, 8, 64, 256, 1024]
// Timer 2 has its own prescaler with more taps (data sheet, TCCR2B; from memory).
const T2_DIVIDERS = [1, 8, 32, 64, 128, 256, 1024]
const POWERS_TO_16384 = Array.from({ length: 15 }, (_, i) => 2 ** i)
const system = [SYSTEM_CLOCK]

function outputs(pins: Record<string, string>): TimerInfo['outputs'] {
  return Object.entries(pins).map(([channel, pin]) => ({ channel, pin }))
}

function timer8(number: number, pins: Record<string, string>, more: Partial<TimerInfo> = {}): TimerInfo {
  return {
    kind: 'avr8',
    number,
    name: `Timer ${number}`,
    bits: 8,
    dividers: T1_DIVIDERS,
    clocks: system,
    outputs: outputs(pins),
    status: 'confirmed',
    ...more,
  }
}

function timer16(number: number, pins: Record<string, string>, more: Partial<TimerInfo> = {}): TimerInfo {
  return { ...timer8(number, pins), kind: 'avr16', bits: 16, ...more }
}

/** 10 bits; 13 clocks of at most 1 MHz, and full accuracy up to 15,000 /s (data sheet, analog-to-digital converter). */
const CLASSIC = { bits: 10, mostPerSecond: 76_900 }

const TIME = 'time-keeping of the common core libraries'
const SERVO = 'servo output of the common libraries'
const TONE = 'tone output of the common libraries'

/** DS40001906C, 8271H, 7810C. */
const atmega328p: ChipInfo = {
  id: 'atmega328p',
  name: 'ATmega328P',
  title: 'ATmega328P, 8 bit',
  usualClock: { hz: 16e6, source: 'crystal' },
  internalShare: 0.1,
  maxHz: 20e6,
  core: 'avr',
  // 4 cycles to push the program counter and 3 for the vector's JMP (data sheet, interrupt response time).
  interruptEntryCycles: 7,
  converter: CLASSIC,
  pins: [...pinRange('PB', 0, 7), ...pinRange('PC', 0, 6), ...pinRange('PD', 0, 7)],
  outputsComplete: true,
  timers: [
    timer8(0, { A: 'PD6', B: 'PD5' }, { reliedOn: TIME }),
    timer16(1, { A: 'PB1', B: 'PB2' }, { reliedOn: SERVO }),
    timer8(2, { A: 'PB3', B: 'PD3' }, { dividers: T2_DIVIDERS, reliedOn: TONE }),
  ],
  source: 'data sheets DS40001906C, 8271H',
}

const atmega2560: ChipInfo = {
  id: 'atmega2560',
  name: 'ATmega2560',
  title: 'ATmega2560, 8 bit',
  usualClock: { hz: 16e6, source: 'crystal' },
  internalShare: 0.1,
  maxHz: 16e6,
  core: 'avr',
  // 5 cycles with the 22-bit program counter and 3 for the vector's JMP.
  interruptEntryCycles: 8,
  converter: CLASSIC,
  pins: [
    ...['A', 'B', 'C', 'D', 'E', 'F', 'H', 'J', 'K', 'L'].flatMap((p) => pinRange(`P${p}`, 0, 7)),
    ...pinRange('PG', 0, 5),
  ],
  outputsComplete: true,
  timers: [
    timer8(0, { A: 'PB7', B: 'PG5' }, { status: 'from memory', reliedOn: TIME }),
    timer16(1, { A: 'PB5', B: 'PB6', C: 'PB7' }, { status: 'from memory' }),
    timer8(2, { A: 'PB4', B: 'PH6' }, { dividers: T2_DIVIDERS, status: 'from memory', reliedOn: TONE }),
    timer16(3, { A: 'PE3', B: 'PE4', C: 'PE5' }, { status: 'from memory' }),
    timer16(4, { A: 'PH3', B: 'PH4', C: 'PH5' }, { status: 'from memory' }),
    timer16(5, { A: 'PL3', B: 'PL4', C: 'PL5' }, { status: 'from memory', reliedOn: SERVO }),
  ],
  source: 'data sheet of the ATmega2560, from memory',
}

/** 7766J. */
const atmega32u4: ChipInfo = {
  id: 'atmega32u4',
  name: 'ATmega32U4',
  title: 'ATmega32U4, 8 bit with USB',
  usualClock: { hz: 16e6, source: 'crystal' },
  internalShare: 0.1,
  maxHz: 16e6,
  core: 'avr',
  interruptEntryCycles: 7,
  converter: CLASSIC,
  pins: [
    ...pinRange('PB', 0, 7),
    ...pinRange('PC', 6, 7),
    ...pinRange('PD', 0, 7),
    'PE2',
    'PE6',
    ...pinRange('PF', 0, 1),
    ...pinRange('PF', 4, 7),
  ],
  outputsComplete: true,
  timers: [
    timer8(0, { A: 'PB7', B: 'PD0' }, { status: 'from memory', reliedOn: TIME }),
    timer16(1, { A: 'PB5', B: 'PB6', C: 'PB7' }, { status: 'from memory', reliedOn: SERVO }),
    timer16(3, { A: 'PC6' }, { status: 'from memory', reliedOn: TONE }),
    {
      kind: 'avr-ocr4c',
      number: 4,
      name: 'Timer 4',
      bits: 10,
      dividers: POWERS_TO_16384,
      clocks: [
        SYSTEM_CLOCK,
        {
          id: 'pll',
          hz: 64e6,
          says: 'PLL clock of 64 MHz, locked to the crystal (full supply voltage only)',
        },
      ],
      outputs: outputs({ A: 'PC7', '/A': 'PC6', B: 'PB6', '/B': 'PB5', D: 'PD7', '/D': 'PD6' }),
      status: 'confirmed',
    },
  ],
  source: 'data sheet 7766J for Timer 4, the rest from memory',
}

const MODERN_DIVIDERS = [1, 2, 4, 8, 16, 64, 256, 1024]

const atmega4809: ChipInfo = {
  id: 'atmega4809',
  name: 'ATmega4809',
  title: 'ATmega4809, 8 bit',
  usualClock: { hz: 20e6, source: 'internal' },
  internalShare: 0.04,
  maxHz: 20e6,
  core: 'avr-modern',
  interruptEntryCycles: 8,
  // 1.5 MHz and 13 clocks; from memory.
  converter: { bits: 10, mostPerSecond: 115_000 },
  pins: [
    ...pinRange('PA', 0, 7),
    ...pinRange('PB', 0, 5),
    ...pinRange('PC', 0, 7),
    ...pinRange('PD', 0, 7),
    ...pinRange('PE', 0, 3),
    ...pinRange('PF', 0, 6),
  ],
  outputsComplete: false,
  timers: [
    {
      kind: 'tca',
      number: 0,
      name: 'TCA0',
      bits: 16,
      dividers: MODERN_DIVIDERS,
      clocks: system,
      // The port multiplexer moves all three together; each port is one alternative.
      outputs: ['A', 'B', 'C', 'D', 'E', 'F'].flatMap((port) =>
        [0, 1, 2].map((n) => ({ channel: `WO${n}`, pin: `P${port}${n}` })),
      ),
      reliedOn: 'clock of the time-keeping and PWM of the common core libraries',
      status: 'confirmed',
    },
    ...[0, 1, 2, 3].map(
      (n): TimerInfo => ({
        kind: 'tcb',
        number: n,
        name: `TCB${n}`,
        bits: 16,
        dividers: [1, 2],
        clocks: system,
        outputs: [],
        ...(n === 3 ? { reliedOn: TIME } : {}),
        status: 'from memory',
      }),
    ),
  ],
  source: 'data sheet of the ATmega4809; buffering confirmed, the rest from memory',
}

/** 2586. */
const attiny85: ChipInfo = {
  id: 'attiny85',
  name: 'ATtiny85',
  title: 'ATtiny85, 8 bit, 8 pins',
  usualClock: { hz: 16e6, source: 'crystal' },
  internalShare: 0.1,
  maxHz: 20e6,
  core: 'avr',
  // 4 cycles and 2 for the vector's RJMP.
  interruptEntryCycles: 6,
  converter: CLASSIC,
  pins: pinRange('PB', 0, 5),
  outputsComplete: true,
  timers: [
    timer8(
      0,
      { A: 'PB0', B: 'PB1' },
      { mask: { register: 'TIMSK', compareA: 4, overflow: 1 }, reliedOn: TIME },
    ),
    {
      kind: 'avr-ocr1c',
      number: 1,
      name: 'Timer 1',
      bits: 8,
      dividers: POWERS_TO_16384,
      clocks: [
        SYSTEM_CLOCK,
        {
          id: 'pll',
          hz: 64e6,
          fromInternal: true,
          says: 'PLL clock of 64 MHz, made from the internal oscillator whatever crystal is fitted',
        },
      ],
      outputs: outputs({ A: 'PB1', '/A': 'PB0', B: 'PB4', '/B': 'PB3' }),
      status: 'from memory',
    },
  ],
  source: 'data sheet 2586',
}

export const AVR_CHIPS = { atmega328p, atmega2560, atmega32u4, atmega4809, attiny85 } as const
