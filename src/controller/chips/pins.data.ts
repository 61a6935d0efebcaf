/**
 * Port pins of each controller that have a second duty. What is not listed here is free for any use.
 * Facts of the ATmega328P are in the data sheets DS40001906C and 8271H; all tables are restated from memory unless their
 * `source` says otherwise, and a test compares the port pins of the AVR chips with avr-libc's headers.
 */
import { pinRange } from './chip.js'
import type { ChipId } from './chips.js'
import type { ChipPins, PinCare, PinDuty, PinRule } from './pin-rule.js'

/** What a duty means where a chip's table does not say otherwise. */
const CARE: Readonly<Partial<Record<PinDuty, PinCare>>> = {
  reset: 'forbidden',
  oscillator: 'forbidden',
  flash: 'forbidden',
  'input-only': 'forbidden',
  'boot-strap': 'strap',
  'boot-output': 'check',
  debug: 'check',
  package: 'check',
  module: 'check',
  'weak-output': 'check',
}

function rule(duty: PinDuty, pins: readonly string[], detail = ''): PinRule {
  return {
    pins,
    duty,
    care: CARE[duty] ?? 'note',
    ...(duty === 'input-only' || duty === 'weak-output' ? { outputsOnly: true as const } : {}),
    ...(duty === 'oscillator' ? { outsideClockOnly: true as const } : {}),
    ...(detail === '' ? {} : { detail }),
  }
}

const JTAG = 'JTAG is enabled by fuse as delivered'
const BOOT_SERIAL = 'common practice, no source'

export const CHIP_PINS: Readonly<Record<ChipId, ChipPins>> = {
  atmega328p: {
    rules: [
      rule(
        'reset',
        ['PC6'],
        'unless the RSTDISBL fuse turns it off, and then only high voltage programs the chip',
      ),
      rule('oscillator', ['PB6', 'PB7'], 'XTAL1 and XTAL2'),
      rule('programming', ['PB3', 'PB4', 'PB5'], 'MOSI, MISO, SCK'),
      rule('serial', ['PD0', 'PD1'], BOOT_SERIAL),
      rule('input-only', ['ADC6', 'ADC7'], 'of the converter, without a port'),
      rule('package', ['ADC6', 'ADC7'], '32 pins only'),
    ],
    status: 'confirmed',
    source: 'data sheets DS40001906C, 8271H, alternate functions of the ports',
  },
  atmega2560: {
    rules: [
      rule('debug', pinRange('PF', 4, 7), JTAG),
      rule('programming', ['PB1', 'PB2', 'PB3'], 'SCK, MOSI, MISO'),
      rule('serial', ['PE0', 'PE1'], BOOT_SERIAL),
      rule('low-clock', ['PG3', 'PG4']),
    ],
    status: 'from memory',
    source: 'data sheet 2549Q, alternate functions of the ports',
  },
  atmega32u4: {
    rules: [
      rule('boot-strap', ['PE2'], 'HWB: low at reset starts the boot loader where the HWBE fuse is set'),
      rule('debug', pinRange('PF', 4, 7), JTAG),
      rule('programming', ['PB1', 'PB2', 'PB3'], 'SCK, MOSI, MISO'),
    ],
    status: 'from memory',
    source: 'data sheet 7766J, alternate functions of the ports',
  },
  atmega4809: {
    rules: [
      rule('reset', ['PF6'], 'and as a port pin an input only'),
      rule('oscillator', ['PA0'], 'EXTCLK, the only way to feed a main clock from outside'),
      rule('low-clock', ['PF0', 'PF1']),
      rule('package', [...pinRange('PB', 0, 5), 'PC6', 'PC7'], '48 pins only'),
    ],
    status: 'from memory',
    source: 'data sheet of the ATmega4809, pins and multiplexing',
  },
  attiny85: {
    rules: [
      rule(
        'reset',
        ['PB5'],
        'unless the RSTDISBL fuse turns it off, and then only high voltage programs the chip',
      ),
      rule('oscillator', ['PB3', 'PB4'], 'XTAL1 and XTAL2'),
      rule('programming', ['PB0', 'PB1', 'PB2'], 'MOSI, MISO, SCK'),
    ],
    status: 'from memory',
    source: 'data sheet 2586, alternate functions of port B',
  },
  samd21: {
    rules: [
      rule('debug', ['PA30', 'PA31'], 'SWCLK and SWDIO; a debugger then connects under reset only'),
      {
        ...rule('oscillator', ['PA14', 'PA15'], 'XIN and XOUT, unless the only crystal is one of 32 kHz'),
        care: 'check',
      },
      rule('low-clock', ['PA0', 'PA1']),
      rule('usb', ['PA24', 'PA25']),
      rule(
        'package',
        ['PA12', 'PA13', 'PA20', 'PA21', 'PB2', 'PB3', ...pinRange('PB', 8, 11), 'PB22', 'PB23'],
        '48 pins and more',
      ),
      rule(
        'package',
        ['PB0', 'PB1', ...pinRange('PB', 4, 7), ...pinRange('PB', 12, 17), 'PB30', 'PB31'],
        '64 pins only',
      ),
    ],
    status: 'from memory',
    source: 'data sheet DS40001882D, I/O multiplexing',
  },
  rp2040: {
    // Crystal, reset, debug, USB, flash and the boot select have pins of their own, none of them a port pin.
    rules: [rule('module', [...pinRange('GPIO', 23, 25), 'GPIO29'], BOOT_SERIAL)],
    status: 'from memory',
    source: 'RP2040 data sheet, pin functions',
  },
  stm32f103: {
    rules: [
      rule('debug', ['PA13', 'PA14'], 'SWDIO and SWCLK'),
      rule('debug', ['PA15', 'PB3', 'PB4'], 'JTDI, JTDO and NJTRST until AFIO_MAPR.SWJ_CFG frees them'),
      {
        ...rule('oscillator', ['PD0', 'PD1'], 'OSC_IN and OSC_OUT on packages of up to 64 pins'),
        care: 'check',
      },
      rule('weak-output', ['PC13', 'PC14', 'PC15'], '3 mA, 2 MHz, and not as a source of current'),
      rule('start-option', ['PB2'], 'BOOT1 counts only while BOOT0 is high'),
      rule('low-clock', ['PC14', 'PC15']),
      rule('usb', ['PA11', 'PA12']),
      rule('serial', ['PA9', 'PA10'], 'of the boot loader in ROM'),
      rule(
        'package',
        ['PB10', 'PB11', 'PB12', 'PB13', 'PB14', 'PB15', 'PB8', 'PB9', 'PC13', 'PC14', 'PC15'],
        '48 pins and more',
      ),
      rule('package', [...pinRange('PC', 0, 12), 'PD2'], '64 pins and more'),
      rule('package', [...pinRange('PD', 3, 15), ...pinRange('PE', 0, 15)], '100 pins and more'),
    ],
    status: 'from memory',
    source: 'data sheet of the STM32F103x8/xB, pin definitions',
  },
  esp32: {
    rules: [
      rule('flash', pinRange('GPIO', 6, 11)),
      rule('input-only', pinRange('GPIO', 34, 39)),
      rule('boot-strap', ['GPIO0'], 'low at reset loads firmware instead of running it'),
      rule('boot-strap', ['GPIO2'], 'high at reset together with GPIO0 low keeps firmware from being loaded'),
      rule(
        'boot-strap',
        ['GPIO12'],
        'high at reset sets the flash supply to 1.8 V, and a 3.3 V flash does not start',
      ),
      rule('start-option', ['GPIO5'], 'timing of the SDIO slave'),
      rule('start-option', ['GPIO15'], 'low at reset silences the messages of the boot'),
      rule('boot-output', ['GPIO1'], 'U0TXD prints the messages of the boot'),
      rule('serial', ['GPIO3'], 'U0RXD'),
      rule('module', ['GPIO16', 'GPIO17'], 'those with PSRAM'),
      rule('module', ['GPIO37', 'GPIO38'], 'most modules do not bring it out'),
      rule('low-clock', ['GPIO32', 'GPIO33']),
      {
        ...rule('debug', ['GPIO13', 'GPIO14'], 'JTAG until the firmware gives the pin another function'),
        care: 'note',
      },
    ],
    status: 'from memory',
    source: 'ESP32 data sheet, pin description and strapping pins',
  },
  ra4m1: {
    rules: [
      rule('input-only', ['P200', 'P214', 'P215']),
      rule('boot-strap', ['P201'], 'MD: low at reset starts the boot mode'),
      rule('debug', ['P108', 'P300'], 'SWDIO and SWCLK'),
      rule('debug', ['P109', 'P110'], 'TDO and TDI until the firmware gives the pin another function'),
      rule('oscillator', ['P212', 'P213'], 'EXTAL and XTAL'),
      rule('usb', ['P914', 'P915']),
      rule(
        'package',
        [
          ...pinRange('P0', 5, 8, 2),
          'P114',
          'P115',
          'P202',
          'P203',
          ...pinRange('P3', 5, 7, 2),
          ...pinRange('P4', 3, 6, 2),
          ...pinRange('P4', 12, 15, 2),
          ...pinRange('P5', 3, 5, 2),
          ...pinRange('P6', 0, 3, 2),
          'P608',
          'P609',
          'P610',
          'P808',
          'P809',
        ],
        '100 pins only',
      ),
      rule(
        'package',
        [
          'P003',
          'P004',
          'P105',
          'P106',
          'P107',
          'P113',
          'P204',
          'P205',
          'P303',
          'P304',
          'P400',
          'P401',
          'P402',
          'P410',
          'P411',
          'P500',
          'P501',
          'P502',
        ],
        '64 pins and more',
      ),
    ],
    status: 'from memory',
    source: 'data sheet of the RA4M1, pin lists',
  },
}
