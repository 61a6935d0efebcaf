/**
 * Waveform modes of the AVR timers by their WGM bits. Source: ATmega328P data sheet (DS40001906C) tables "Waveform
 * Generation Mode Bit Description" of the 8-bit and 16-bit timers, the same in the ATmega2560 and ATmega32U4.
 */

/** How the counter moves and when it takes new compare values. */
export type Waveform = 'immediate' | 'fast' | 'phase' | 'phase-frequency'

export interface WaveformMode {
  waveform: Waveform
  top: number | 'ocra' | 'icr'
  /** COM = 1 toggles OCnA; elsewhere in PWM modes it leaves the pin alone. */
  togglesA: boolean
}

const mode = (waveform: Waveform, top: WaveformMode['top'], togglesA = false): WaveformMode => ({
  waveform,
  top,
  togglesA,
})

/** 8-bit timers; 4 and 6 are reserved and count like normal mode here. */
export const MODES_8: readonly WaveformMode[] = [
  mode('immediate', 0xff),
  mode('phase', 0xff),
  mode('immediate', 'ocra'),
  mode('fast', 0xff),
  mode('immediate', 0xff),
  mode('phase', 'ocra', true),
  mode('immediate', 0xff),
  mode('fast', 'ocra', true),
]

/** 16-bit timers; 13 is reserved and counts like normal mode here. */
export const MODES_16: readonly WaveformMode[] = [
  mode('immediate', 0xffff),
  mode('phase', 0xff),
  mode('phase', 0x1ff),
  mode('phase', 0x3ff),
  mode('immediate', 'ocra'),
  mode('fast', 0xff),
  mode('fast', 0x1ff),
  mode('fast', 0x3ff),
  mode('phase-frequency', 'icr'),
  mode('phase-frequency', 'ocra', true),
  mode('phase', 'icr'),
  mode('phase', 'ocra', true),
  mode('immediate', 'icr'),
  mode('immediate', 0xffff),
  mode('fast', 'icr', true),
  mode('fast', 'ocra', true),
]

/** Cycles per tick by the CS bits; 0 stopped, −1 clocked by the T pin's falling, −2 by its rising edges. */
export const PRESCALE_SYNC: readonly number[] = [0, 1, 8, 64, 256, 1024, -1, -2]
/** Timer 2 of the ATmega328P and ATmega2560. */
export const PRESCALE_ASYNC: readonly number[] = [0, 1, 8, 32, 64, 128, 256, 1024]
