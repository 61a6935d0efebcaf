export * from './starter/index.js'
