export { type FirmwareImage, type FirmwareSymbol, flashEnd, loadFirmware } from './image.js'
export * from './machine.js'
export * from './report.js'
export * from './stimulus.js'
