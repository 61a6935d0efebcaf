export * from './evidence.js'
export * from './reading.js'
export { type AnalogSettings, AnalogTracker } from './tracker.js'
