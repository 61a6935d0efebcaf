export * from './decoder/cvs.js'
export * from './decoder/decoder.js'
export * from './decoder/programmer.js'
export * from './decoder/receiver.js'
