export * from './shape.js'
