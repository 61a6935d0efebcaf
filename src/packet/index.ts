export * from './address.js'
