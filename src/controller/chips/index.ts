export {
  AVR_MODELS,
  isSimulated,
  SIMULATED_CHIPS,
  type SimulatedChip,
  serialPortsOf,
} from './avr-registers.data.js'
export type * from './avr-registers.js'
export * from './chip.js'
export * from './chips.js'
export { PIN_FINDINGS } from './findings.data.js'
export * from './pin-levels.data.js'
export * from './pin-levels.js'
export type * from './pin-rule.js'
export * from './pins.js'
