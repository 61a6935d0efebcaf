export * from './input-file.js'
export * from './make-folder.js'
export * from './output-file.js'
