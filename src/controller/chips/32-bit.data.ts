/**
 * 32-bit controllers. Timer widths and buffering by the data sheets named in each entry; pin tables are from
 * memory and not complete (the pin multiplexers offer more), so a pin that is not listed is never called wrong.
 */
import { type ChipInfo, pinRange, SYSTEM_CLOCK, type TimerInfo } from './chip.js'

const system = [SYSTEM_CLOCK]
const SAMD_DIVIDERS = [1, 2, 4, 8, 16, 64, 256, 1024]

function list(text: string): TimerInfo['outputs'] {
  return text.split(' ').map((item) => {
    const [channel, pin] = item.split('=')
    return { channel: channel!, pin: pin! }
  })
}

/** SAM D21/DA1 family data sheet DS40001882D. */
const samd21: ChipInfo = {
  id: 'samd21',
  name: 'SAMD21',
  title: 'SAMD21, 32 bit',
  usualClock: { hz: 48e6, source: 'crystal' },
  internalShare: 0.05,
  maxHz: 48e6,
  core: 'arm',
  interruptEntryCycles: 15,
  converter: { bits: 12, mostPerSecond: 350_000 },
  pins: [
    ...pinRange('PA', 0, 25),
    ...['PA27', 'PA28', 'PA30', 'PA31'],
    ...pinRange('PB', 0, 17),
    ...['PB22', 'PB23', 'PB30', 'PB31'],
  ],
  outputsComplete: false,
  timers: [
    ...(
      [
        [0, 24, 'WO0=PA8 WO0=PA4 WO1=PA9 WO1=PA5'],
        [1, 24, 'WO0=PA6 WO0=PA10 WO1=PA7 WO1=PA11'],
        [2, 16, 'WO0=PA12 WO0=PA16 WO1=PA13 WO1=PA17'],
      ] as const
    ).map(
      ([n, bits, pins]): TimerInfo => ({
        kind: 'tcc',
        number: n,
        name: `TCC${n}`,
        bits,
        dividers: SAMD_DIVIDERS,
        clocks: system,
        outputs: list(pins),
        status: 'confirmed',
      }),
    ),
    ...(
      [
        [3, 'WO0=PA14 WO0=PA18 WO1=PA15 WO1=PA19'],
        [4, 'WO0=PA22 WO0=PB8 WO1=PA23 WO1=PB9'],
        [5, 'WO0=PA24 WO0=PB10 WO1=PA25 WO1=PB11'],
      ] as const
    ).map(
      ([n, pins]): TimerInfo => ({
        kind: 'tc',
        number: n,
        name: `TC${n}`,
        bits: 16,
        dividers: SAMD_DIVIDERS,
        clocks: system,
        outputs: list(pins),
        ...(n === 5 ? { reliedOn: 'tone output of the common libraries' } : {}),
        ...(n === 4 ? { reliedOn: 'servo output of the common libraries' } : {}),
        status: 'confirmed',
      }),
    ),
  ],
  source: 'data sheet DS40001882D; pins from memory',
}

const GPIO30 = pinRange('GPIO', 0, 29)

const rp2040: ChipInfo = {
  id: 'rp2040',
  name: 'RP2040',
  title: 'RP2040, 32 bit',
  usualClock: { hz: 125e6, source: 'crystal' },
  // The ring oscillator has no specified frequency; it is no clock for a signal.
  internalShare: 0.5,
  maxHz: 133e6,
  core: 'arm',
  interruptEntryCycles: 15,
  converter: { bits: 12, mostPerSecond: 500_000 },
  pins: GPIO30,
  outputsComplete: true,
  timers: [
    ...[0, 1].map(
      (n): TimerInfo => ({
        kind: 'pio',
        number: n,
        name: `programmable I/O block ${n}`,
        bits: 32,
        dividers: { from: 1, to: 65535 },
        clocks: system,
        outputs: GPIO30.map((pin) => ({ channel: 'any', pin })),
        status: 'confirmed',
      }),
    ),
    ...pinRange('', 0, 7).map(
      (text): TimerInfo => ({
        kind: 'slice',
        number: Number(text),
        name: `PWM slice ${text}`,
        bits: 16,
        // 8.4 fractional; whole dividers only, a fraction makes the edges wander by one clock.
        dividers: { from: 1, to: 255 },
        clocks: system,
        outputs: GPIO30.flatMap((pin, i) =>
          ((i >> 1) & 7) === Number(text) ? [{ channel: i % 2 === 0 ? 'A' : 'B', pin }] : [],
        ),
        status: 'confirmed',
      }),
    ),
    {
      kind: 'alarm',
      number: 0,
      name: 'alarm of the microsecond timer',
      bits: 32,
      dividers: [1],
      clocks: [{ id: 'microsecond', hz: 1e6, says: '1 MHz reference made from the crystal' }],
      outputs: [],
      reliedOn: 'sleep and time functions of the common libraries use one of the four alarms',
      status: 'from memory',
    },
  ],
  source: 'RP2040 data sheet',
}

const stm32f103: ChipInfo = {
  id: 'stm32f103',
  name: 'STM32F103',
  title: 'STM32F103, 32 bit',
  usualClock: { hz: 72e6, source: 'crystal' },
  internalShare: 0.03,
  maxHz: 72e6,
  core: 'arm',
  interruptEntryCycles: 12,
  converter: { bits: 12, mostPerSecond: 1_000_000 },
  pins: ['PA', 'PB', 'PC', 'PD', 'PE'].flatMap((p) => pinRange(p, 0, 15)),
  outputsComplete: false,
  timers: (
    [
      [1, '1=PA8 2=PA9 3=PA10 4=PA11 /1=PB13 /2=PB14 /3=PB15'],
      [2, '1=PA0 2=PA1 3=PA2 4=PA3'],
      [3, '1=PA6 2=PA7 3=PB0 4=PB1'],
      [4, '1=PB6 2=PB7 3=PB8 4=PB9'],
    ] as const
  ).map(([n, pins]) => ({
    kind: 'tim',
    number: n,
    name: `TIM${n}`,
    bits: 16,
    dividers: { from: 1, to: 65536 },
    clocks: system,
    outputs: list(pins),
    status: 'confirmed',
  })),
  source: 'data sheet of the STM32F103; dividers, preload and pins from memory',
}

const ESP32_PINS = pinRange('GPIO', 0, 39).filter((p) => !/GPIO(20|24|2[89]|3[01])$/.test(p))
/** The matrix leads to every pin with an output stage. */
const ESP32_OUTPUTS = ESP32_PINS.filter((p) => !/GPIO3[4-9]$/.test(p))

const esp32: ChipInfo = {
  id: 'esp32',
  name: 'ESP32',
  title: 'ESP32, 32 bit',
  usualClock: { hz: 240e6, source: 'crystal' },
  internalShare: 0.1,
  maxHz: 240e6,
  core: 'xtensa',
  interruptEntryCycles: 480,
  converter: { bits: 12, mostPerSecond: 2_000_000 },
  pins: ESP32_PINS,
  outputsComplete: true,
  timers: [
    ...pinRange('', 0, 7).map(
      (n): TimerInfo => ({
        kind: 'rmt',
        number: Number(n),
        name: `remote-pulse channel ${n}`,
        bits: 15,
        dividers: { from: 1, to: 255 },
        clocks: [{ id: 'bus', hz: 80e6, says: 'bus clock of 80 MHz' }],
        outputs: ESP32_OUTPUTS.map((pin) => ({ channel: 'any', pin })),
        status: 'confirmed',
      }),
    ),
    ...[0, 1, 2, 3].map(
      (n): TimerInfo => ({
        kind: 'group',
        number: n,
        name: `general timer ${n}`,
        bits: 32,
        dividers: { from: 2, to: 65535 },
        clocks: [{ id: 'bus', hz: 80e6, says: 'bus clock of 80 MHz' }],
        outputs: [],
        status: 'from memory',
      }),
    ),
  ],
  source: 'ESP32 technical reference, remote-pulse chapter; interrupt entry (2 us at 240 MHz) from memory',
}

/** P000 … P915, the port pins of the largest package. */
const RA_PINS = (
  [
    [0, 0, 8],
    [0, 10, 15],
    [1, 0, 15],
    [2, 0, 6],
    [2, 12, 15],
    [3, 0, 7],
    [4, 0, 15],
    [5, 0, 5],
    [6, 0, 3],
    [6, 8, 10],
    [8, 8, 9],
    [9, 14, 15],
  ] as const
).flatMap(([port, from, to]) => pinRange(`P${port}`, from, to, 2))

const ra4m1: ChipInfo = {
  id: 'ra4m1',
  name: 'RA4M1',
  title: 'RA4M1, 32 bit',
  usualClock: { hz: 48e6, source: 'internal' },
  internalShare: 0.03,
  maxHz: 48e6,
  core: 'arm',
  interruptEntryCycles: 12,
  converter: { bits: 14, mostPerSecond: 1_000_000 },
  pins: RA_PINS,
  outputsComplete: false,
  timers: (
    [
      [0, 32, 'A=P107 B=P106'],
      [1, 32, 'A=P105 B=P104 A=P109 B=P110'],
      [2, 16, 'A=P103 B=P102'],
      [3, 16, 'A=P111 B=P112'],
      [4, 16, 'A=P302 B=P301'],
      [7, 16, 'A=P304 B=P303'],
    ] as const
  ).map(([n, bits, pins]) => ({
    kind: 'gpt',
    number: n,
    name: `GPT ${n}`,
    bits,
    dividers: [1, 4, 16, 64, 256, 1024],
    clocks: system,
    outputs: list(pins),
    status: 'quoted',
  })),
  source: 'data sheet of the RA4M1, quoted; registers and pins from memory',
}

export const CHIPS_32_BIT = { samd21, rp2040, stm32f103, esp32, ra4m1 } as const
