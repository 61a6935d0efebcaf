/**
 * What pins do in reset, which levels they make and need, and what they may carry, as the data sheets guarantee them over temperature. Restated
 * from memory, except where `status` says otherwise: look a figure up before anything depends on the last tenth of a volt.
 */
import type { FactStatus } from '../../standard/index.js'
import { pinRange } from './chip.js'
import type { ChipId } from './chips.js'

/** What a pin does while the controller is in reset and until firmware sets it up. */
export type ResetState = 'floating' | 'pull-up' | 'pull-down' | 'driven'

export interface ResetPins {
  /** Of every pin that `pins` does not name. */
  others: ResetState
  /** Pins that differ. */
  pins?: Readonly<Partial<Record<Exclude<ResetState, 'floating'>, readonly string[]>>>
  /** Least and greatest resistance of the chip's own pull-up or pull-down, Ohm. */
  pullOhm: { low: number; high: number }
  says?: string
  status: FactStatus
  source: string
}

/** Output levels at one supply voltage and load: the high level at least, the low level at most. */
export interface OutputRating {
  supplyVolt: number
  loadAmp: number
  highMinVolt: number
  lowMaxVolt: number
}

export interface PinLevels {
  /** Supply voltages of the pins that the chip allows, and the usual one of boards with it (common practice, no source). */
  supplyVolt: { min: number; usual: number; max: number }
  /** Rising supply voltage. */
  output: readonly OutputRating[]
  /** Thresholds of a digital input: `share` of the supply plus `volt`. */
  input: { lowMax: Threshold; highMin: Threshold }
  /** Most that a pin may see, volts above the supply. */
  aboveSupplyVolt: number
  says?: string
  status: FactStatus
  source: string
}

export interface Threshold {
  share: number
  volt: number
}

const share = (of: number, volt = 0): Threshold => ({ share: of, volt })
const AVR_PULL = { low: 20e3, high: 50e3 }
const avrReset = (source: string, status: FactStatus, jtag?: string): ResetPins => ({
  others: 'floating',
  ...(jtag === undefined ? {} : { pins: { 'pull-up': ['PF4', 'PF5', 'PF7'] } }),
  pullOhm: AVR_PULL,
  ...(jtag === undefined ? {} : { says: jtag }),
  status,
  source,
})
const JTAG = 'TCK, TMS and TDI have pull-ups while the JTAG fuse is set, as delivered'

export const RESET_PINS: Readonly<Record<ChipId, ResetPins>> = {
  // "The port pins are tri-stated when a reset condition becomes active, even if no clocks are running."
  atmega328p: avrReset('data sheet 8271H, I/O ports and DC characteristics', 'from memory'),
  atmega2560: avrReset('data sheet 2549Q, I/O ports and DC characteristics', 'from memory', JTAG),
  atmega32u4: avrReset('data sheet 7766J, I/O ports and DC characteristics', 'from memory', JTAG),
  atmega4809: avrReset('data sheet of the ATmega4809, PORT and I/O pin characteristics', 'from memory'),
  attiny85: avrReset('data sheet 2586, I/O ports and DC characteristics', 'from memory'),
  samd21: {
    others: 'floating',
    pins: { 'pull-up': ['PA30'] },
    pullOhm: { low: 20e3, high: 60e3 },
    status: 'from memory',
    source: 'data sheet DS40001882D, PORT and I/O pin characteristics',
  },
  rp2040: {
    others: 'pull-down',
    pullOhm: { low: 50e3, high: 80e3 },
    says: 'the pads of all port pins come out of reset with their pull-downs on',
    status: 'from memory',
    source: 'RP2040 data sheet, pad control and electrical specification',
  },
  stm32f103: {
    others: 'floating',
    pins: { 'pull-up': ['PA13', 'PA15', 'PB4'], 'pull-down': ['PA14'] },
    pullOhm: { low: 30e3, high: 50e3 },
    status: 'from memory',
    source: 'data sheet and reference manual of the STM32F103, GPIO and debug port',
  },
  esp32: {
    others: 'floating',
    pins: {
      'pull-up': ['GPIO0', 'GPIO3', 'GPIO5', ...pinRange('GPIO', 6, 11), 'GPIO14', 'GPIO15'],
      'pull-down': ['GPIO2', 'GPIO4', 'GPIO12', 'GPIO13'],
      driven: ['GPIO1'],
    },
    // Given as 45 kOhm typical only; the spread is a guess.
    pullOhm: { low: 30e3, high: 80e3 },
    says: 'GPIO1 is pulled up in reset and driven with the messages of the boot after it',
    status: 'from memory',
    source: 'ESP32 data sheet, IO_MUX and DC characteristics',
  },
  ra4m1: {
    others: 'floating',
    pins: { 'pull-up': ['P108', 'P110', 'P300'] },
    pullOhm: { low: 10e3, high: 100e3 },
    status: 'from memory',
    source: 'data sheet of the RA4M1, I/O ports and electrical characteristics',
  },
}

export const PIN_LEVELS: Readonly<Record<ChipId, PinLevels>> = {
  atmega328p: {
    supplyVolt: { min: 1.8, usual: 5, max: 5.5 },
    output: [
      { supplyVolt: 3, loadAmp: 0.01, highMinVolt: 2.3, lowMaxVolt: 0.6 },
      { supplyVolt: 5, loadAmp: 0.02, highMinVolt: 4.2, lowMaxVolt: 0.9 },
    ],
    input: { lowMax: share(0.3), highMin: share(0.6) },
    aboveSupplyVolt: 0.5,
    says: 'thresholds from 2.4 V supply upwards',
    status: 'from memory',
    source: 'data sheet 8271H, DC characteristics',
  },
  atmega2560: {
    supplyVolt: { min: 4.5, usual: 5, max: 5.5 },
    output: [
      { supplyVolt: 3, loadAmp: 0.01, highMinVolt: 2.3, lowMaxVolt: 0.6 },
      { supplyVolt: 5, loadAmp: 0.02, highMinVolt: 4.2, lowMaxVolt: 0.9 },
    ],
    input: { lowMax: share(0.3), highMin: share(0.6) },
    aboveSupplyVolt: 0.5,
    says: '4.5 V is the least at 16 MHz',
    status: 'from memory',
    source: 'data sheet 2549Q, DC characteristics',
  },
  atmega32u4: {
    supplyVolt: { min: 2.7, usual: 5, max: 5.5 },
    output: [
      { supplyVolt: 3, loadAmp: 0.005, highMinVolt: 2.3, lowMaxVolt: 0.5 },
      { supplyVolt: 5, loadAmp: 0.01, highMinVolt: 4.2, lowMaxVolt: 0.7 },
    ],
    input: { lowMax: share(0.2, -0.1), highMin: share(0.2, 0.9) },
    aboveSupplyVolt: 0.5,
    status: 'from memory',
    source: 'data sheet 7766J, DC characteristics',
  },
  atmega4809: {
    supplyVolt: { min: 1.8, usual: 5, max: 5.5 },
    output: [
      { supplyVolt: 1.8, loadAmp: 0.0015, highMinVolt: 1.44, lowMaxVolt: 0.36 },
      { supplyVolt: 3, loadAmp: 0.0075, highMinVolt: 2.4, lowMaxVolt: 0.6 },
      { supplyVolt: 5, loadAmp: 0.015, highMinVolt: 4, lowMaxVolt: 1 },
    ],
    input: { lowMax: share(0.3), highMin: share(0.7) },
    aboveSupplyVolt: 0.5,
    status: 'from memory',
    source: 'data sheet of the ATmega4809, I/O pin characteristics',
  },
  attiny85: {
    supplyVolt: { min: 2.7, usual: 5, max: 5.5 },
    output: [
      { supplyVolt: 3, loadAmp: 0.005, highMinVolt: 2.5, lowMaxVolt: 0.5 },
      { supplyVolt: 5, loadAmp: 0.01, highMinVolt: 4.3, lowMaxVolt: 0.6 },
    ],
    input: { lowMax: share(0.3), highMin: share(0.6) },
    aboveSupplyVolt: 0.5,
    status: 'from memory',
    source: 'data sheet 2586, DC characteristics',
  },
  samd21: {
    supplyVolt: { min: 1.62, usual: 3.3, max: 3.63 },
    // 0.8 and 0.2 of the supply at the usual drive strength.
    output: [{ supplyVolt: 3, loadAmp: 0.0025, highMinVolt: 2.4, lowMaxVolt: 0.6 }],
    input: { lowMax: share(0.3), highMin: share(0.55) },
    aboveSupplyVolt: 0.3,
    status: 'from memory',
    source: 'data sheet DS40001882D, I/O pin characteristics',
  },
  rp2040: {
    supplyVolt: { min: 1.8, usual: 3.3, max: 3.3 },
    // At the drive strength of 4 mA that the pads have after reset.
    output: [{ supplyVolt: 3.3, loadAmp: 0.004, highMinVolt: 2.62, lowMaxVolt: 0.5 }],
    input: { lowMax: share(0, 0.8), highMin: share(0, 2) },
    aboveSupplyVolt: 0.3,
    says: 'thresholds at a supply of 3.3 V',
    status: 'from memory',
    source: 'RP2040 data sheet, electrical specification',
  },
  stm32f103: {
    supplyVolt: { min: 2, usual: 3.3, max: 3.6 },
    output: [{ supplyVolt: 2.7, loadAmp: 0.008, highMinVolt: 2.3, lowMaxVolt: 0.4 }],
    // 0.28 (VDD - 2 V) + 0.8 V and 0.41 (VDD - 2 V) + 1.3 V.
    input: { lowMax: share(0.28, 0.24), highMin: share(0.41, 0.48) },
    aboveSupplyVolt: 0.3,
    says: 'pins marked as 5 V tolerant in the data sheet may see 5 V; which ones is not listed here',
    status: 'from memory',
    source: 'data sheet of the STM32F103x8/xB, I/O port characteristics',
  },
  esp32: {
    supplyVolt: { min: 3, usual: 3.3, max: 3.6 },
    // 0.8 and 0.1 of the supply; the lesser of the two currents they are given for.
    output: [{ supplyVolt: 3.3, loadAmp: 0.02, highMinVolt: 2.64, lowMaxVolt: 0.33 }],
    input: { lowMax: share(0.25), highMin: share(0.75) },
    aboveSupplyVolt: 0.3,
    status: 'from memory',
    source: 'ESP32 data sheet, DC characteristics',
  },
  ra4m1: {
    supplyVolt: { min: 1.6, usual: 5, max: 5.5 },
    // Low drive, as after reset.
    output: [
      { supplyVolt: 2.7, loadAmp: 0.001, highMinVolt: 2.2, lowMaxVolt: 0.5 },
      { supplyVolt: 4, loadAmp: 0.002, highMinVolt: 3.2, lowMaxVolt: 0.8 },
    ],
    input: { lowMax: share(0.2), highMin: share(0.8) },
    aboveSupplyVolt: 0.3,
    status: 'from memory',
    source: 'data sheet of the RA4M1, electrical characteristics',
  },
}

/** What a controller pin and the whole chip may carry, as absolute limits of the data sheets. */
export interface PinRating {
  pinAmp: number
  /** All pins together, over the supply pins. */
  totalAmp?: number
  status: FactStatus
  sheet: string
  /** Port pins with an analog input. */
  analog: RegExp
}

/** Which pins have an analog input is from memory. */
export const PIN_RATINGS: Readonly<Record<ChipId, PinRating>> = {
  atmega328p: {
    pinAmp: 0.04,
    totalAmp: 0.2,
    status: 'confirmed',
    sheet: 'DS40001906C',
    analog: /^PC[0-5]$|^ADC[67]$/,
  },
  atmega2560: {
    pinAmp: 0.04,
    totalAmp: 0.2,
    status: 'from memory',
    sheet: 'ATmega2560 data sheet',
    analog: /^P[FK][0-7]$/,
  },
  atmega32u4: {
    pinAmp: 0.04,
    totalAmp: 0.2,
    status: 'from memory',
    sheet: '7766J',
    analog: /^PF[014567]$|^PD[467]$|^PB[456]$/,
  },
  atmega4809: {
    pinAmp: 0.04,
    totalAmp: 0.2,
    status: 'from memory',
    sheet: 'ATmega4809 data sheet',
    analog: /^PD[0-7]$|^PE[0-3]$|^PF[2-5]$/,
  },
  attiny85: { pinAmp: 0.04, totalAmp: 0.2, status: 'from memory', sheet: '2586', analog: /^PB[2-5]$/ },
  samd21: {
    pinAmp: 0.01,
    status: 'from memory',
    sheet: 'DS40001882D',
    analog: /^PA([2-9]|1[01])$|^PB[0-9]$/,
  },
  rp2040: {
    pinAmp: 0.012,
    totalAmp: 0.05,
    status: 'from memory',
    sheet: 'RP2040 data sheet',
    analog: /^GPIO2[6-9]$/,
  },
  stm32f103: {
    pinAmp: 0.025,
    totalAmp: 0.15,
    status: 'confirmed',
    sheet: 'STM32F103 data sheet',
    analog: /^PA[0-7]$|^PB[01]$|^PC[0-5]$/,
  },
  esp32: {
    pinAmp: 0.04,
    status: 'from memory',
    sheet: 'ESP32 data sheet',
    analog: /^GPIO(0|2|4|1[2-5]|2[5-7]|3[2-9])$/,
  },
  ra4m1: {
    pinAmp: 0.008,
    status: 'from memory',
    sheet: 'RA4M1 data sheet',
    analog: /^P0(0[0-8]|1[0-5])$|^P10[0-3]$|^P50[0-5]$/,
  },
}
