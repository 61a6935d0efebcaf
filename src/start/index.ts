/** The beginning of a design: questions as data, and a whole, sound design file from the answers. */
export * from './answers.js'
export * from './layout.js'
export * from './parts.data.js'
export * from './pictures.js'
export * from './plan.js'
export * from './questions.js'
export * from './shapes.data.js'
export * from './start.js'
