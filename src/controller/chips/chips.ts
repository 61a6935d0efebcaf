/** Every controller that the design file can name. */
import { CHIPS_32_BIT } from './32-bit.data.js'
import { AVR_CHIPS } from './avr-timers.data.js'
import type { ChipInfo } from './chip.js'

const ALL = { ...AVR_CHIPS, ...CHIPS_32_BIT }

export type ChipId = keyof typeof ALL

export const CHIPS: Readonly<Record<ChipId, ChipInfo>> = ALL
