export * from './design.js'
export * from './load.js'
