/** Firmware files of either kind. */
import { InputError } from '../../../units/index.js'
import { readElf } from './elf.js'
import { readHex } from './hex.js'
import type { FirmwareImage } from './image.js'

/**
 * Read Intel HEX or an AVR ELF file; told apart by content, not by name.
 * @param name of the file, for messages.
 * @throws InputError with line and column (HEX) or byte (ELF): what was found, what was expected.
 */
export function loadFirmware(bytes: Uint8Array, name: string): FirmwareImage {
  if (bytes.length === 0) throw new InputError('is empty; expected Intel HEX or ELF', { file: name })
  if (bytes[0] === 0x7f && bytes[1] === 0x45) return readElf(bytes, name)
  return readHex(bytes, name)
}
