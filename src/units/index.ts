export * from './format.js'
export * from './input-error.js'
export * from './nearest.js'
export * from './quantity.js'
