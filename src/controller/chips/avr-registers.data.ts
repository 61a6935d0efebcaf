/**
 * Registers and vectors of the simulated chips. Sources: data sheets ATmega328P (DS40001906C), ATmega2560 (2549Q),
 * ATmega32U4 (7766J), register summary and interrupt vector tables; a test compares them with avr-libc's headers.
 */
import type { AvrModel, AvrTimerModel } from './avr-registers.js'

const pins = (port: string, from = 0, to = 7): string[] =>
  Array.from({ length: to - from + 1 }, (_, i) => `P${port}${from + i}`)

/** Ports whose three registers follow one another from A at 0x20. */
const lowPorts = (letters: string) =>
  [...letters].map((letter) => ({ letter, pin: 0x20 + 3 * (letter.charCodeAt(0) - 65) }))

/** Vector names from a list `INT0 INT1 …`; `-` is a reserved one. Number 0 is the reset. */
const vectorNames = (text: string) => ['RESET', ...text.trim().split(/\s+/)]

function numbersOf(vectors: readonly string[]) {
  return (name: string): number => {
    const number = vectors.indexOf(name)
    if (number < 0) throw new RangeError(`no vector ${name}`)
    return number
  }
}

type Vector = (name: string) => number

/** What can start conversions, by the ADTS bits: the same first seven on every chip, then `more`. */
function adcTriggers(v: Vector, more = ''): AvrModel['adc']['triggers'] {
  const names = 'ANALOG_COMP INT0 TIMER0_COMPA TIMER0_OVF TIMER1_COMPB TIMER1_OVF TIMER1_CAPT'
  return [undefined, ...`${names} ${more}`.trim().split(' ').map(v)]
}

/** Timer 0 or 2: 8 bits, two channels. */
function timer8(n: number, tccra: number, v: Vector, clockPin?: string): AvrTimerModel {
  return {
    number: n,
    bits: 8,
    prescaler: n === 2 ? 'async' : 'sync',
    tccra,
    tcnt: tccra + 2,
    ocr: [tccra + 3, tccra + 4],
    tifr: 0x35 + n,
    timsk: 0x6e + n,
    vectors: {
      compare: [v(`TIMER${n}_COMPA`), v(`TIMER${n}_COMPB`)],
      overflow: v(`TIMER${n}_OVF`),
    },
    clockPin,
  }
}

/** Timers 1, 3, 4, 5: 16 bits. */
function timer16(
  n: number,
  tccra: number,
  channels: 'AB' | 'ABC',
  v: Vector,
  more: { icpPin?: string; clockPin?: string },
): AvrTimerModel {
  return {
    number: n,
    bits: 16,
    prescaler: 'sync',
    tccra,
    tccrc: tccra + 2,
    tcnt: tccra + 4,
    icr: tccra + 6,
    ocr: [...channels].map((_, i) => tccra + 8 + 2 * i),
    tifr: 0x35 + n,
    timsk: 0x6e + n,
    vectors: {
      compare: [...channels].map((c) => v(`TIMER${n}_COMP${c}`)),
      overflow: v(`TIMER${n}_OVF`),
      capture: v(`TIMER${n}_CAPT`),
    },
    ...more,
  }
}

const VECTORS_328P = vectorNames(`
  INT0 INT1 PCINT0 PCINT1 PCINT2 WDT TIMER2_COMPA TIMER2_COMPB TIMER2_OVF TIMER1_CAPT TIMER1_COMPA TIMER1_COMPB
  TIMER1_OVF TIMER0_COMPA TIMER0_COMPB TIMER0_OVF SPI_STC USART_RX USART_UDRE USART_TX ADC EE_READY ANALOG_COMP TWI
  SPM_READY`)
const v328 = numbersOf(VECTORS_328P)

const atmega328p: AvrModel = {
  id: 'atmega328p',
  flashBytes: 0x8000,
  ramStart: 0x100,
  ramBytes: 0x800,
  eepromBytes: 0x400,
  longProgramCounter: false,
  vectors: VECTORS_328P,
  ports: lowPorts('BCD'),
  timers: [
    timer8(0, 0x44, v328, 'PD4'),
    timer16(1, 0x80, 'AB', v328, { icpPin: 'PB0', clockPin: 'PD5' }),
    timer8(2, 0xb0, v328),
  ],
  usarts: [
    {
      name: 'USART0',
      base: 0xc0,
      vectors: { received: v328('USART_RX'), empty: v328('USART_UDRE'), sent: v328('USART_TX') },
      txdPin: 'PD1',
      xckPin: 'PD4',
    },
  ],
  adc: {
    vector: v328('ADC'),
    pins: Object.fromEntries(pins('C', 0, 5).map((pin, i) => [i, pin])),
    channelOf: (mux) => ((mux & 15) < 8 ? mux & 15 : undefined),
    bandgapMux: 14,
    groundMux: 15,
    references: ['supply', 'supply', 1.1, 1.1],
    highMuxBit: 0,
    triggerMask: 7,
    triggers: adcTriggers(v328),
  },
  externalInterrupts: [
    { number: 0, pin: 'PD2', vector: v328('INT0') },
    { number: 1, pin: 'PD3', vector: v328('INT1') },
  ],
  pinChange: [
    { vector: v328('PCINT0'), mask: 0x6b, pins: pins('B') },
    { vector: v328('PCINT1'), mask: 0x6c, pins: pins('C', 0, 6) },
    { vector: v328('PCINT2'), mask: 0x6d, pins: pins('D') },
  ],
  comparator: { vector: v328('ANALOG_COMP'), positive: 'PD6', negative: 'PD7' },
  spi: { vector: v328('SPI_STC'), ss: 'PB2', sck: 'PB5', mosi: 'PB3', miso: 'PB4' },
  twi: { vector: v328('TWI'), sda: 'PC4', scl: 'PC5' },
  selfProgramming: { vector: v328('SPM_READY') },
  eeprom: { vector: v328('EE_READY') },
  watchdog: { vector: v328('WDT') },
  source: 'data sheet DS40001906C, register summary and interrupt vectors',
}

const VECTORS_2560 = vectorNames(`
  INT0 INT1 INT2 INT3 INT4 INT5 INT6 INT7 PCINT0 PCINT1 PCINT2 WDT TIMER2_COMPA TIMER2_COMPB TIMER2_OVF TIMER1_CAPT
  TIMER1_COMPA TIMER1_COMPB TIMER1_COMPC TIMER1_OVF TIMER0_COMPA TIMER0_COMPB TIMER0_OVF SPI_STC USART0_RX
  USART0_UDRE USART0_TX ANALOG_COMP ADC EE_READY TIMER3_CAPT TIMER3_COMPA TIMER3_COMPB TIMER3_COMPC TIMER3_OVF
  USART1_RX USART1_UDRE USART1_TX TWI SPM_READY TIMER4_CAPT TIMER4_COMPA TIMER4_COMPB TIMER4_COMPC TIMER4_OVF
  TIMER5_CAPT TIMER5_COMPA TIMER5_COMPB TIMER5_COMPC TIMER5_OVF USART2_RX USART2_UDRE USART2_TX USART3_RX
  USART3_UDRE USART3_TX`)
const v2560 = numbersOf(VECTORS_2560)

/** Single-ended channels of the chips with MUX5: 0…7 and 32…39 are channels 0…15. */
const splitChannels = (last: number) => (mux: number) => {
  const channel = (mux & 0x18) === 0 ? (mux & 7) + ((mux & 0x20) >> 2) : undefined
  return channel !== undefined && channel <= last ? channel : undefined
}

const atmega2560: AvrModel = {
  id: 'atmega2560',
  flashBytes: 0x40000,
  ramStart: 0x200,
  ramBytes: 0x2000,
  eepromBytes: 0x1000,
  longProgramCounter: true,
  vectors: VECTORS_2560,
  ports: [...lowPorts('ABCDEFG'), ...[...'HJKL'].map((letter, i) => ({ letter, pin: 0x100 + 3 * i }))],
  timers: [
    timer8(0, 0x44, v2560, 'PD7'),
    timer16(1, 0x80, 'ABC', v2560, { icpPin: 'PD4', clockPin: 'PD6' }),
    timer8(2, 0xb0, v2560),
    timer16(3, 0x90, 'ABC', v2560, { icpPin: 'PE7', clockPin: 'PE6' }),
    timer16(4, 0xa0, 'ABC', v2560, { icpPin: 'PL0', clockPin: 'PH7' }),
    timer16(5, 0x120, 'ABC', v2560, { icpPin: 'PL1', clockPin: 'PL2' }),
  ],
  usarts: [0xc0, 0xc8, 0xd0, 0x130].map((base, n) => ({
    name: `USART${n}`,
    base,
    vectors: {
      received: v2560(`USART${n}_RX`),
      empty: v2560(`USART${n}_UDRE`),
      sent: v2560(`USART${n}_TX`),
    },
    txdPin: ['PE1', 'PD3', 'PH1', 'PJ1'][n]!,
    xckPin: ['PE2', 'PD5', 'PH2', 'PJ2'][n]!,
  })),
  adc: {
    vector: v2560('ADC'),
    pins: Object.fromEntries([...pins('F'), ...pins('K')].map((pin, i) => [i, pin])),
    channelOf: splitChannels(15),
    bandgapMux: 0x1e,
    groundMux: 0x1f,
    references: ['supply', 'supply', 1.1, 2.56],
    highMuxBit: 8,
    triggerMask: 7,
    triggers: adcTriggers(v2560),
  },
  externalInterrupts: [...pins('D', 0, 3), ...pins('E', 4, 7)].map((pin, number) => ({
    number,
    pin,
    vector: v2560(`INT${number}`),
  })),
  pinChange: [
    { vector: v2560('PCINT0'), mask: 0x6b, pins: pins('B') },
    { vector: v2560('PCINT1'), mask: 0x6c, pins: ['PE0', ...pins('J', 0, 6)] },
    { vector: v2560('PCINT2'), mask: 0x6d, pins: pins('K') },
  ],
  comparator: { vector: v2560('ANALOG_COMP'), positive: 'PE2', negative: 'PE3' },
  spi: { vector: v2560('SPI_STC'), ss: 'PB0', sck: 'PB1', mosi: 'PB2', miso: 'PB3' },
  twi: { vector: v2560('TWI'), sda: 'PD1', scl: 'PD0' },
  selfProgramming: { vector: v2560('SPM_READY') },
  externalMemory: { control: 0x74, ports: 'ACG' },
  eeprom: { vector: v2560('EE_READY') },
  watchdog: { vector: v2560('WDT') },
  source: 'data sheet 2549Q, register summary and interrupt vectors',
}

const VECTORS_32U4 = vectorNames(`
  INT0 INT1 INT2 INT3 - - INT6 - PCINT0 USB_GEN USB_COM WDT - - - TIMER1_CAPT TIMER1_COMPA TIMER1_COMPB TIMER1_COMPC
  TIMER1_OVF TIMER0_COMPA TIMER0_COMPB TIMER0_OVF SPI_STC USART1_RX USART1_UDRE USART1_TX ANALOG_COMP ADC EE_READY
  TIMER3_CAPT TIMER3_COMPA TIMER3_COMPB TIMER3_COMPC TIMER3_OVF TWI SPM_READY TIMER4_COMPA TIMER4_COMPB TIMER4_COMPD
  TIMER4_OVF TIMER4_FPF`)
const v32u4 = numbersOf(VECTORS_32U4)

const atmega32u4: AvrModel = {
  id: 'atmega32u4',
  usb: true,
  flashBytes: 0x8000,
  ramStart: 0x100,
  ramBytes: 0xa00,
  eepromBytes: 0x400,
  longProgramCounter: false,
  vectors: VECTORS_32U4,
  ports: lowPorts('BCDEF'),
  timers: [
    timer8(0, 0x44, v32u4, 'PD7'),
    timer16(1, 0x80, 'ABC', v32u4, { icpPin: 'PD4', clockPin: 'PD6' }),
    timer16(3, 0x90, 'ABC', v32u4, { icpPin: 'PC7' }),
  ],
  timer4: {
    tcnt: 0xbe,
    tc4h: 0xbf,
    tccra: 0xc0,
    ocr: { A: 0xcf, B: 0xd0, C: 0xd1, D: 0xd2 },
    dt4: 0xd4,
    tifr: 0x39,
    timsk: 0x72,
    vectors: {
      A: v32u4('TIMER4_COMPA'),
      B: v32u4('TIMER4_COMPB'),
      D: v32u4('TIMER4_COMPD'),
      overflow: v32u4('TIMER4_OVF'),
    },
  },
  usarts: [
    {
      name: 'USART1',
      base: 0xc8,
      vectors: { received: v32u4('USART1_RX'), empty: v32u4('USART1_UDRE'), sent: v32u4('USART1_TX') },
      txdPin: 'PD3',
      xckPin: 'PD5',
    },
  ],
  adc: {
    vector: v32u4('ADC'),
    pins: {
      0: 'PF0',
      1: 'PF1',
      4: 'PF4',
      5: 'PF5',
      6: 'PF6',
      7: 'PF7',
      8: 'PD4',
      9: 'PD6',
      10: 'PD7',
      11: 'PB4',
      12: 'PB5',
      13: 'PB6',
    },
    channelOf: splitChannels(13),
    bandgapMux: 0x1e,
    groundMux: 0x1f,
    references: ['supply', 'supply', 2.56, 2.56],
    highMuxBit: 0x20,
    triggerMask: 15,
    triggers: adcTriggers(v32u4, 'TIMER4_OVF TIMER4_COMPA TIMER4_COMPB TIMER4_COMPD'),
  },
  externalInterrupts: [...pins('D', 0, 3), 'PE6'].map((pin, i) => {
    const number = i === 4 ? 6 : i
    return { number, pin, vector: v32u4(`INT${number}`) }
  }),
  pinChange: [{ vector: v32u4('PCINT0'), mask: 0x6b, pins: pins('B') }],
  comparator: { vector: v32u4('ANALOG_COMP'), positive: 'PE6' },
  spi: { vector: v32u4('SPI_STC'), ss: 'PB0', sck: 'PB1', mosi: 'PB2', miso: 'PB3' },
  twi: { vector: v32u4('TWI'), sda: 'PD1', scl: 'PD0' },
  selfProgramming: { vector: v32u4('SPM_READY') },
  eeprom: { vector: v32u4('EE_READY') },
  watchdog: { vector: v32u4('WDT') },
  source: 'data sheet 7766J, register summary and interrupt vectors',
}

/** Chips that can be simulated. */
export const AVR_MODELS = { atmega328p, atmega2560, atmega32u4 } as const satisfies Record<string, AvrModel>

export type SimulatedChip = keyof typeof AVR_MODELS

/** Their names; what offers or refuses a simulation asks this list. */
export const SIMULATED_CHIPS = Object.keys(AVR_MODELS) as readonly SimulatedChip[]

export function isSimulated(chip: string): chip is SimulatedChip {
  return Object.hasOwn(AVR_MODELS, chip)
}

/** Numbers of the serial ports of a chip, as its data sheet numbers them; undefined where that is not known here. */
export function serialPortsOf(chip: string): number[] | undefined {
  if (!isSimulated(chip)) return undefined
  return AVR_MODELS[chip].usarts.map((u) => Number(u.name.replace('USART', '')))
}
