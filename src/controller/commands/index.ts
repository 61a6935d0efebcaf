export * from './design.js'
export { COMMAND_KINDS, type CommandKind } from './pattern.js'
export * from './recognise.js'
