/** Places in a program: function, source file and line. */
import type { FirmwareImage } from './image/image.js'
import { lineAt } from './image/line-table.js'

export interface PlaceInCode {
  /** Byte address in program memory, as disassemblies show it. */
  address: number
  /** `function+offset`, when the file has symbols. */
  symbol?: string
  /** Source file and line, when the file has line tables. */
  file?: string
  line?: number
}

/** Where in the program, for people: `function+offset`, with file and line where known. */
export function placeInWords(place: PlaceInCode | undefined): string {
  if (place === undefined) return 'an unknown place'
  const { address, symbol, file, line } = place
  const name = symbol ?? `address 0x${address.toString(16).padStart(4, '0')}`
  return file === undefined || line === undefined ? name : `${name} (${file}:${line})`
}

/** Name of the function at a byte address, with the offset inside it. */
export function symbolAt(image: FirmwareImage, address: number): string | undefined {
  let best: { name: string; address: number; size: number } | undefined
  for (const s of image.symbols) {
    if (s.kind !== 'code' || s.address > address) continue
    if (best === undefined || s.address > best.address || (s.address === best.address && s.size > best.size))
      best = s
  }
  if (best === undefined || (best.size > 0 && address >= best.address + best.size)) return undefined
  const offset = address - best.address
  return offset === 0 ? best.name : `${best.name}+0x${offset.toString(16)}`
}

/** Where a word address is in the program: function, file and line as far as the image tells. */
export function placeOf(image: FirmwareImage, pc: number): PlaceInCode {
  const address = 2 * pc
  const symbol = symbolAt(image, address)
  const line = image.lines && lineAt(image.lines, address)
  return { address, ...(symbol === undefined ? {} : { symbol }), ...line }
}
