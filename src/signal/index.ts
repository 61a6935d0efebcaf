export * from './design.js'
export * from './edges.js'
