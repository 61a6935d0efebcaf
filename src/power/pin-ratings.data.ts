/**
 * What a controller pin and the whole chip may carry, as absolute limits of the data sheets; which pins have an analog input
 * is from memory.
 */
import type { ChipId } from '../controller/index.js'
import type { FactStatus } from '../standard/index.js'

export interface PinRating {
  pinAmp: number
  /** All pins together, over the supply pins. */
  totalAmp?: number
  status: FactStatus
  sheet: string
  /** Port pins with an analog input. */
  analog: RegExp
}

export const PIN_RATINGS: Readonly<Record<string, PinRating>> = {
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
} satisfies Readonly<Record<ChipId, PinRating>>
