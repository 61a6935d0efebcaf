export * from './design.js'
