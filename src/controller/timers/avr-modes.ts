/**
 * Modes of the classic AVR timers. Registers and bits by the data sheets of the ATmega328P (DS40001906C, 8271H),
 * ATmega32U4 (7766J, Timer 4) and ATtiny85 (2586).
 *
 * Toggle on compare: f = clk / (2 N (1 + OCR)), so one half-bit is N (1 + OCR) cycles. Fast PWM: a period is
 * N (1 + TOP) cycles and the output falls after 1 + OCR of them.
 */
import type { TimerInfo } from '../chips/index.js'
import { channelsOf, type Mode, noOpposite, type RegisterLoad, type Setting, type Use } from './mode.js'

const bit = (name: string, at: number) => ({ name, at })

interface Bit {
  name: string
  at: number
}

/** `(1 << COM1A0) | (1 << WGM12)` and its number. */
function bits(register: string, list: readonly Bit[], says: string): Setting {
  return {
    register,
    value: list.length === 0 ? '0' : list.map((b) => `(1 << ${b.name})`).join(' | '),
    number: list.reduce((sum, b) => sum | (1 << b.at), 0),
    says,
  }
}

const T1_SELECT: Record<number, number> = { 1: 1, 8: 2, 64: 3, 256: 4, 1024: 5 }
const T2_SELECT: Record<number, number> = { 1: 1, 8: 2, 32: 3, 64: 4, 128: 5, 256: 6, 1024: 7 }

function clockSelect(timer: TimerInfo, divider: number): Bit[] {
  const table = timer.kind === 'avr8' && timer.number === 2 ? T2_SELECT : T1_SELECT
  const code = table[divider] ?? 0
  return [2, 1, 0].filter((i) => code & (1 << i)).map((i) => bit(`CS${timer.number}${i}`, i))
}

/** Where COMnX1:0 sit: A at 7:6, B at 5:4, C at 3:2. */
const comAt = (channel: string) => ({ A: 6, B: 4, C: 2 })[channel] ?? 6
type Com = 'toggle' | 'plain' | 'inverted'

function com(n: number, channel: string, kind: Com): Bit[] {
  const low = bit(`COM${n}${channel}0`, comAt(channel))
  const high = bit(`COM${n}${channel}1`, comAt(channel) + 1)
  return kind === 'toggle' ? [low] : kind === 'plain' ? [high] : [high, low]
}

/** Control registers of an 8- or 16-bit timer; `wgm` is the number of the waveform mode. */
function control(u: Use, wgm: number, outputs: Bit[], says: string): Setting[] {
  const n = u.timer.number
  const low = [1, 0].filter((i) => wgm & (1 << i)).map((i) => bit(`WGM${n}${i}`, i))
  const high = [3, 2]
    .filter((i) => wgm & (1 << i))
    // WGM3:2 sit at bits 4:3 of TCCRnB; 8-bit timers have only WGM2, at bit 3.
    .map((i) => bit(`WGM${n}${i}`, i + 1))
  return [
    bits(`TCCR${n}A`, [...outputs, ...low], says),
    bits(
      `TCCR${n}B`,
      [...high, ...clockSelect(u.timer, u.divider)],
      `waveform mode ${wgm}, clock divided by ${u.divider}; written last, it starts the counter`,
    ),
  ]
}

function enable(t: TimerInfo, event: 'compareA' | 'overflow', says: string): Setting {
  const mask = t.mask ?? { register: `TIMSK${t.number}`, compareA: 1, overflow: 0 }
  const name = event === 'compareA' ? `OCIE${t.number}A` : `TOIE${t.number}`
  return bits(mask.register, [bit(name, mask[event])], says)
}

const wgmCtc = (t: TimerInfo) => (t.bits === 16 ? 4 : 2)
const wgmFastOcr = (t: TimerInfo) => (t.bits === 16 ? 15 : 7)

/** OCRn of the top and, where another channel drives the pin, its twin. */
function halfLoads(u: Use): RegisterLoad[] {
  const n = u.timer.number
  const channels = [u.channel, u.opposite?.channel].filter((c): c is string => c !== undefined && c !== 'A')
  const load = (channel: string, says: string): RegisterLoad => ({
    register: `OCR${n}${channel}`,
    one: u.oneTicks - 1,
    zero: u.zeroTicks - 1,
    says,
  })
  return [
    // The twin first: once the top has been written, the run may end.
    ...channels
      .filter((c) => c !== 'any')
      .map((c) => load(c, `where OC${n}${c} toggles, the same as the top`)),
    load('A', 'top: half-bit in ticks, minus one'),
  ]
}

const ctcToggle: Mode = {
  id: 'ctc-toggle',
  method: 'toggle',
  behaviour: 'half-now',
  says: (t, c) =>
    `CTC, top in OCR${t.number}A (mode ${wgmCtc(t)}), the compare toggles OC${t.number}${c}; OCR is not buffered`,
  channels: channelsOf,
  opposites: (t, c) => channelsOf(t).filter((x) => x !== c),
  settings: (u) => [
    ...control(
      u,
      wgmCtc(u.timer),
      [
        ...com(u.timer.number, u.channel, 'toggle'),
        ...(u.opposite ? com(u.timer.number, u.opposite.channel, 'toggle') : []),
      ],
      'the compare toggles the output',
    ),
    enable(u.timer, 'compareA', 'interrupt at every edge'),
  ],
  loads: halfLoads,
  interrupt: (u) => `TIMER${u.timer.number}_COMPA_vect`,
}

const fastToggle: Mode = {
  id: 'fast-toggle',
  method: 'toggle',
  behaviour: 'half-next',
  says: (t) =>
    `fast PWM, top in OCR${t.number}A (mode ${wgmFastOcr(t)}), the compare toggles OC${t.number}A; OCR is double-buffered`,
  channels: (t) => channelsOf(t).filter((c) => c === 'A'),
  opposites: noOpposite,
  settings: (u) => [
    ...control(u, wgmFastOcr(u.timer), com(u.timer.number, 'A', 'toggle'), 'the compare toggles the output'),
    enable(u.timer, 'compareA', 'interrupt at every edge'),
  ],
  loads: halfLoads,
  interrupt: (u) => `TIMER${u.timer.number}_COMPA_vect`,
}

/** Loads of a whole bit: top at the end of it, edge in the middle. */
function bitLoads(top: string, u: Use): RegisterLoad[] {
  const n = u.timer.number
  const outputs = [u.channel, ...(u.opposite ? [u.opposite.channel] : [])]
  return [
    ...outputs.map((c) => ({
      register: `OCR${n}${c}`,
      one: u.oneTicks - 1,
      zero: u.zeroTicks - 1,
      says: `edge of OC${n}${c}: half-bit in ticks, minus one`,
    })),
    {
      register: top,
      one: 2 * u.oneTicks - 1,
      zero: 2 * u.zeroTicks - 1,
      says: top.startsWith('ICR')
        ? 'top: whole bit in ticks, minus one; takes effect at once, so it is written one bit after the edges'
        : 'top: whole bit in ticks, minus one',
    },
  ]
}

const fastBit: Mode = {
  id: 'fast-bit',
  method: 'buffered',
  behaviour: 'bit-next',
  says: (t, c) =>
    `fast PWM, bit period in OCR${t.number}A (mode ${wgmFastOcr(t)}), edge at half of it by OCR${t.number}${c}; both double-buffered`,
  channels: (t) => channelsOf(t).filter((c) => c !== 'A'),
  opposites: (t, c) => channelsOf(t).filter((x) => x !== 'A' && x !== c),
  settings: (u) => [
    ...control(
      u,
      wgmFastOcr(u.timer),
      [
        ...com(u.timer.number, u.channel, 'plain'),
        ...(u.opposite ? com(u.timer.number, u.opposite.channel, 'inverted') : []),
      ],
      'high from the start of a bit to the middle of it',
    ),
    enable(u.timer, 'overflow', 'interrupt at the start of every bit'),
  ],
  loads: (u) => bitLoads(`OCR${u.timer.number}A`, u),
  interrupt: (u) => `TIMER${u.timer.number}_OVF_vect`,
}

const icrBit: Mode = {
  id: 'icr-bit',
  method: 'buffered',
  behaviour: 'bit-now',
  says: (t, c) =>
    `fast PWM, bit period in ICR${t.number} (mode 14, not buffered), edge at half of it by OCR${t.number}${c} (buffered)`,
  channels: channelsOf,
  opposites: (t, c) => channelsOf(t).filter((x) => x !== c),
  settings: (u) => [
    ...control(
      u,
      14,
      [
        ...com(u.timer.number, u.channel, 'plain'),
        ...(u.opposite ? com(u.timer.number, u.opposite.channel, 'inverted') : []),
      ],
      'high from the start of a bit to the middle of it',
    ),
    enable(u.timer, 'overflow', 'interrupt at the start of every bit'),
  ],
  loads: (u) => bitLoads(`ICR${u.timer.number}`, u),
  interrupt: (u) => `TIMER${u.timer.number}_OVF_vect`,
}

const softPin: Mode = {
  id: 'pin',
  method: 'interrupt',
  behaviour: 'pin',
  says: (t) => `CTC, top in OCR${t.number}A (mode ${wgmCtc(t)}), the interrupt writes the pin`,
  channels: () => 'pins',
  opposites: () => ['any'],
  settings: (u) => [
    ...control(u, wgmCtc(u.timer), [], 'no output of the timer'),
    enable(u.timer, 'compareA', 'interrupt at every half-bit'),
  ],
  loads: halfLoads,
  interrupt: (u) => `TIMER${u.timer.number}_COMPA_vect`,
}

export const AVR8_MODES: readonly Mode[] = [fastBit, fastToggle, ctcToggle, softPin]
export const AVR16_MODES: readonly Mode[] = [fastBit, fastToggle, icrBit, ctcToggle, softPin]

/** Bits CSn3:0 of Timer 1 of the ATtiny85 and Timer 4 of the ATmega32U4: the divider is 2^(code − 1). */
function wideSelect(u: Use): Bit[] {
  const code = Math.log2(u.divider) + 1
  return [3, 2, 1, 0].filter((i) => code & (1 << i)).map((i) => bit(`CS${u.timer.number}${i}`, i))
}

function pllSettings(u: Use): Setting[] {
  if (u.clock.id !== 'pll') return []
  return u.timer.kind === 'avr-ocr4c'
    ? [
        bits(
          'PLLFRQ',
          [bit('PLLUSB', 6), bit('PLLTM1', 5), bit('PDIV3', 3), bit('PDIV1', 1)],
          'PLL at 96 MHz, Timer 4 at 96/1.5 = 64 MHz (from memory)',
        ),
        bits('PLLCSR', [bit('PINDIV', 4), bit('PLLE', 1)], 'PLL on; wait for PLOCK'),
      ]
    : [bits('PLLCSR', [bit('PCKE', 2), bit('PLLE', 1)], 'PLL on; set PCKE only after PLOCK')]
}

/** The two timers whose top is OCRnC; registers from memory where the sheet passage was not at hand. */
function ocrCMode(id: string, period: 'half' | 'bit'): Mode {
  const positive = (t: TimerInfo) => channelsOf(t).filter((c) => !c.startsWith('/'))
  return {
    id,
    method: period === 'half' ? 'toggle' : 'buffered',
    behaviour: period === 'half' ? 'half-now' : 'bit-now',
    says: (t, c) =>
      period === 'half'
        ? `top in OCR${t.number}C (taken as not buffered), the compare toggles OC${t.number}${c}`
        : `PWM, bit period in OCR${t.number}C (taken as not buffered), edge at half of it by OCR${t.number}${c} (buffered)`,
    channels: positive,
    opposites: (t, c) => (period === 'bit' && channelsOf(t).includes(`/${c}`) ? [`/${c}`] : []),
    settings: (u) => {
      const n = u.timer.number
      const c = u.channel
      const toggling = u.opposite || period === 'half'
      const select = wideSelect(u)
      if (u.timer.kind === 'avr-ocr4c') {
        return [
          ...pllSettings(u),
          {
            register: c === 'D' ? 'TCCR4C' : 'TCCR4A',
            value: `${toggling ? `(1 << COM4${c}0)` : `(1 << COM4${c}1)`}${period === 'bit' ? ` | (1 << PWM4${c})` : ''}`,
            says:
              period === 'half'
                ? 'the compare toggles the output'
                : 'PWM on the output, with its twin if asked for',
          },
          bits('TCCR4B', select, `clock divided by ${u.divider}`),
          bits('TIMSK4', [bit('TOIE4', 2)], 'interrupt at the start of every run of the counter'),
        ]
      }
      const place = c === 'A' ? 'TCCR1' : 'GTCCR'
      return [
        ...pllSettings(u),
        {
          register: place,
          value: [
            c === 'A' ? '(1 << CTC1)' : '',
            period === 'bit' ? `(1 << PWM1${c})` : '',
            toggling ? `(1 << COM1${c}0)` : `(1 << COM1${c}1)`,
          ]
            .filter((x) => x !== '')
            .join(' | '),
          says:
            period === 'half'
              ? 'the compare toggles the output'
              : 'PWM on the output, with its twin if asked for',
        },
        {
          register: 'TCCR1',
          value: `TCCR1 | (1 << CTC1) | ${select.map((b) => `(1 << ${b.name})`).join(' | ') || '0'}`,
          says: `restart at OCR1C, clock divided by ${u.divider}`,
        },
        bits(
          'TIMSK',
          [period === 'half' ? bit(`OCIE1${c}`, c === 'A' ? 6 : 5) : bit('TOIE1', 2)],
          `interrupt at the end of every run of the counter (OC${n}${c})`,
        ),
      ]
    },
    loads: (u) => {
      const n = u.timer.number
      const edge: RegisterLoad = {
        register: `OCR${n}${u.channel}`,
        one: u.oneTicks - 1,
        zero: u.zeroTicks - 1,
        says:
          period === 'half'
            ? 'where the output toggles, the same as the top'
            : 'edge: half-bit in ticks, minus one',
      }
      const factor = period === 'half' ? 1 : 2
      return [
        edge,
        {
          register: `OCR${n}C`,
          one: factor * u.oneTicks - 1,
          zero: factor * u.zeroTicks - 1,
          says: u.timer.bits > 8 ? 'top; its two high bits go through TC4H first' : 'top',
        },
      ]
    },
    interrupt: (u) =>
      u.timer.kind === 'avr-ocr4c'
        ? 'TIMER4_OVF_vect'
        : period === 'half'
          ? `TIMER1_COMP${u.channel}_vect`
          : 'TIMER1_OVF_vect',
  }
}

export const OCRC_MODES: readonly Mode[] = [ocrCMode('ocrc-bit', 'bit'), ocrCMode('ocrc-toggle', 'half')]
