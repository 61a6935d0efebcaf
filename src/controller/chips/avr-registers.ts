/** What a simulated AVR consists of: memories, registers and vectors. Addresses are in data space. Plain data. */
import type { AVR_CHIPS } from './avr-timers.data.js'

/** A timer of the 8- or 16-bit kind. TCCRnB lies after TCCRnA; high bytes lie after low bytes. */
export interface AvrTimerModel {
  number: number
  bits: 8 | 16
  prescaler: 'sync' | 'async'
  tccra: number
  tccrc?: number
  tcnt: number
  icr?: number
  ocr: readonly number[]
  tifr: number
  timsk: number
  vectors: { compare: readonly number[]; overflow: number; capture?: number }
  /** Pin of the input capture and of the external clock. */
  icpPin?: string
  clockPin?: string
}

/** Timer 4 of the ATmega32U4. */
export interface AvrTimer4Model {
  tcnt: number
  tc4h: number
  tccra: number
  ocr: { A: number; B: number; C: number; D: number }
  dt4: number
  tifr: number
  timsk: number
  vectors: { A: number; B: number; D: number; overflow: number }
}

export interface AvrUsartModel {
  name: string
  /** UCSRnA; UCSRnB, UCSRnC, UBRRnL, UBRRnH, UDRn at +1, +2, +4, +5, +6. */
  base: number
  vectors: { received: number; empty: number; sent: number }
  /** Transmitted data, and the clock of the synchronous modes. */
  txdPin: string
  xckPin: string
}

export interface AvrPortModel {
  letter: string
  /** PINx; DDRx and PORTx follow. */
  pin: number
}

export interface AvrModel {
  /** Name in the design file. */
  id: keyof typeof AVR_CHIPS
  /** It has a USB controller with a PLL of its own. */
  usb?: true
  flashBytes: number
  ramStart: number
  ramBytes: number
  eepromBytes: number
  /** 22-bit program counter: three bytes on the stack, EIND and RAMPZ. */
  longProgramCounter: boolean
  /** Names by vector number; vectors are two words apart. */
  vectors: readonly string[]
  ports: readonly AvrPortModel[]
  timers: readonly AvrTimerModel[]
  timer4?: AvrTimer4Model
  usarts: readonly AvrUsartModel[]
  adc: {
    vector: number
    /** Port pin of each single-ended channel, where it has one. */
    pins: Readonly<Record<number, string>>
    /** Mux value → channel; others are constants or differential. */
    channelOf: (mux: number) => number | undefined
    /** Mux bits: value of the internal reference and of ground. */
    bandgapMux: number
    groundMux: number
    /** Reference volts by REFS bits; undefined: the supply. */
    references: readonly (number | 'supply')[]
    /** Bit of ADCSRB that is the highest of the mux. */
    highMuxBit: number
    /** By the ADTS bits of ADCSRB: the interrupt whose flag starts a conversion; 0 is free running. */
    triggerMask: number
    triggers: readonly (number | undefined)[]
  }
  /** The analog comparator's inputs; `negative` is absent where only the converter's multiplexer feeds it. */
  comparator: { vector: number; positive: string; negative?: string }
  externalInterrupts: readonly { number: number; pin: string; vector: number }[]
  pinChange: readonly { vector: number; mask: number; pins: readonly (string | undefined)[] }[]
  spi: { vector: number; ss: string; sck: string; mosi: string; miso: string }
  twi: { vector: number; sda: string; scl: string }
  selfProgramming: { vector: number }
  /** External memory interface: ports that it takes over when it is on. */
  externalMemory?: { control: number; ports: string }
  eeprom: { vector: number }
  watchdog: { vector: number }
  /** Data sheet the addresses are from; compared with avr-libc's headers by a test. */
  source: string
}
