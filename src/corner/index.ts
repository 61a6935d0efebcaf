export * from './quantity.js'
export * from './random.js'
export * from './search.js'
export * from './spread.js'
