/** Which modes each kind of timer has, and the modes that cannot work. */
import type { TimerKind } from '../chips/index.js'
import {
  ALARM_MODES,
  GPT_MODES,
  GROUP_MODES,
  PIO_MODES,
  RMT_MODES,
  SLICE_MODES,
  TC_MODES,
  TCC_MODES,
  TIM_MODES,
} from './32-bit-modes.js'
import { TCA_MODES, TCB_MODES } from './avr-modern-modes.js'
import { AVR8_MODES, AVR16_MODES, OCRC_MODES } from './avr-modes.js'
import type { Mode, UnusableMode } from './mode.js'

export const MODES: Readonly<Record<TimerKind, readonly Mode[]>> = {
  avr8: AVR8_MODES,
  avr16: AVR16_MODES,
  'avr-ocr1c': OCRC_MODES,
  'avr-ocr4c': OCRC_MODES,
  tca: TCA_MODES,
  tcb: TCB_MODES,
  tc: TC_MODES,
  tcc: TCC_MODES,
  slice: SLICE_MODES,
  pio: PIO_MODES,
  alarm: ALARM_MODES,
  tim: TIM_MODES,
  rmt: RMT_MODES,
  group: GROUP_MODES,
  gpt: GPT_MODES,
}

export const UNUSABLE_MODES: readonly UnusableMode[] = [
  {
    kinds: ['avr8', 'avr16'],
    says: 'phase-correct PWM, toggle at a top in OCRnA',
    why: 'a period runs from top to top: down from the old top and up to the new one, so where a one meets a zero both halves come to the mean of the two (79 us with 58 and 100)',
  },
  {
    kinds: ['avr16'],
    says: 'phase and frequency correct PWM',
    why: 'a new top takes effect at the bottom, in the middle of the time between two edges: halves where a one meets a zero come to the mean of the two',
  },
  {
    kinds: ['avr8', 'avr16'],
    says: 'PWM with a fixed top (0xFF, 0x1FF, 0x3FF)',
    why: 'the length of a run cannot change from bit to bit',
  },
  {
    kinds: ['slice', 'tcc'],
    says: 'dual-slope or phase-correct PWM',
    why: 'the edges sit around the middle of a period, so half-bits mix two bits',
  },
]
