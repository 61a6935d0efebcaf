/** Compiles test firmware with the real AVR compiler into a folder of its own. */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'

export const HAVE_COMPILER = existsSync('/usr/bin/avr-gcc') && existsSync('/usr/lib/avr/include/avr/io.h')
if (!HAVE_COMPILER)
  console.error('SKIPPED, referee not installed: avr-gcc (apt-get install gcc-avr avr-libc binutils-avr)')

/** A folder that is removed when the process ends. */
export function workFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), 'halfbit-firmware-'))
  process.on('exit', () => rmSync(folder, { recursive: true, force: true }))
  return folder
}

/**
 * Compile a C source, or source text, to ELF.
 * @returns path and bytes of the ELF file.
 * @throws Error with the compiler's messages.
 */
export function compile(
  folder: string,
  source: { file: string } | { text: string },
  mcu: string,
  flags: string[] = [],
): { path: string; bytes: Uint8Array } {
  const path = join(folder, `${Math.random().toString(36).slice(2)}.elf`)
  const file = 'file' in source ? [new URL(source.file, import.meta.url).pathname] : ['-x', 'c', '-']
  const done = spawnSync(
    'avr-gcc',
    [`-mmcu=${mcu}`, '-Os', '-std=gnu11', '-Wall', '-DF_CPU=16000000UL', ...flags, '-o', path, ...file],
    { encoding: 'utf8', ...('text' in source ? { input: source.text } : {}) },
  )
  if (done.status !== 0) throw new Error(`avr-gcc: ${done.stderr}`)
  return { path, bytes: readFileSync(path) }
}

/** The same program as Intel HEX, written by the compiler's own tool. */
export function toHex(elf: string): Uint8Array {
  const path = `${elf}.hex`
  const done = spawnSync(
    'avr-objcopy',
    ['-O', 'ihex', '-R', '.eeprom', '-R', '.fuse', '-R', '.lock', elf, path],
    {
      encoding: 'utf8',
    },
  )
  if (done.status !== 0) throw new Error(`avr-objcopy: ${done.stderr}`)
  return readFileSync(path)
}
