import type { ControllerDesign } from '../design.js'
import { AVR_CHIPS } from './avr.data.js'
import type { ChipInfo } from './chip.js'
import { WIDE_CHIPS } from './wide.data.js'

export * from './chip.js'

export type ChipId = ControllerDesign['chip']

/** Every controller that the design file can name. */
export const CHIPS: Readonly<Record<ChipId, ChipInfo>> = { ...AVR_CHIPS, ...WIDE_CHIPS }
