export * from './design.js'
export { COMMAND_KINDS, type CommandKind, PatternError, textBytes } from './pattern.js'
export * from './recognise.js'
