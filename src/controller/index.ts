export * from './chips/index.js'
export * from './design.js'
export * from './simulate/index.js'
export * from './timers/index.js'
