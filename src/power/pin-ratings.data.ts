/** What a controller pin and the whole chip may carry, as absolute limits of the data sheets. */
import type { FactStatus } from '../standard/index.js'

export interface PinRating {
  pinAmp: number
  /** All pins together, over the supply pins. */
  totalAmp?: number
  status: FactStatus
  sheet: string
  /** Port pins with an analog input; absent where it is not known here. */
  analog?: RegExp
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
  atmega4809: { pinAmp: 0.04, totalAmp: 0.2, status: 'from memory', sheet: 'ATmega4809 data sheet' },
  attiny85: { pinAmp: 0.04, totalAmp: 0.2, status: 'from memory', sheet: '2586', analog: /^PB[2-5]$/ },
  samd21: { pinAmp: 0.01, status: 'from memory', sheet: 'DS40001882D' },
  rp2040: { pinAmp: 0.012, totalAmp: 0.05, status: 'from memory', sheet: 'RP2040 data sheet' },
  stm32f103: { pinAmp: 0.025, totalAmp: 0.15, status: 'confirmed', sheet: 'STM32F103 data sheet' },
  esp32: { pinAmp: 0.04, status: 'from memory', sheet: 'ESP32 data sheet' },
  ra4m1: { pinAmp: 0.008, status: 'from memory', sheet: 'RA4M1 data sheet' },
}
