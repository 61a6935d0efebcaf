import type { ControllerDesign } from '../design.js'
import { CHIPS_32_BIT } from './32-bit.data.js'
import { AVR_CHIPS } from './avr-timers.data.js'
import type { ChipInfo } from './chip.js'

export { AVR_MODELS, isSimulated, SIMULATED_CHIPS, type SimulatedChip } from './avr-registers.data.js'
export type * from './avr-registers.js'
export * from './chip.js'

export type ChipId = ControllerDesign['chip']

/** Every controller that the design file can name. */
export const CHIPS: Readonly<Record<ChipId, ChipInfo>> = { ...AVR_CHIPS, ...CHIPS_32_BIT }
