/** What ordinary instruments show on a track signal, and what a reading therefore tells. */
export * from './design.js'
export * from './findings.data.js'
export * from './instrument.js'
export * from './waveform.js'
