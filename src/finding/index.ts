export * from './finding.js'
