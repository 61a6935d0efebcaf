import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { InputError } from '../units/index.js'
import { readUpTo, WholeFile, writeWhole } from './files.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-files-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('a file that is written whole', () => {
  it('has its old content until all of the new one is there', () => {
    const path = join(folder, 'a.txt')
    writeWhole(path, 'old')
    const file = new WholeFile(path)
    file.write('new, ')
    file.write(new Uint8Array([0x62, 0x79, 0x74, 0x65, 0x73]))
    expect(readFileSync(path, 'utf8')).toBe('old')
    file.commit()
    file.discard()
    expect(readFileSync(path, 'utf8')).toBe('new, bytes')
    expect(readdirSync(folder)).toEqual(['a.txt'])
  })

  it('leaves nothing behind when it is given up', () => {
    const file = new WholeFile(join(folder, 'b.txt'))
    file.write('half')
    file.discard()
    expect(readdirSync(folder)).toEqual(['a.txt'])
  })

  it('names the path when its folder is missing', () => {
    const path = join(folder, 'none', 'c.txt')
    expect(() => writeWhole(path, '')).toThrow(expect.objectContaining({ code: 'ENOENT', path }))
  })
})

describe('a file that is read up to a limit', () => {
  it('is read whole if it has no more', () => {
    const path = join(folder, 'd.bin')
    const bytes = Uint8Array.from({ length: 200_000 }, (_, i) => i * 31)
    writeFileSync(path, bytes)
    expect(Buffer.compare(readUpTo(path, 200_000, 'a thing'), bytes)).toBe(0)
    expect(() => readUpTo(path, 199_999, 'a thing')).toThrow(/larger than a thing can be \(199999 bytes\)/)
  })

  it('stops at a device that never ends', () => {
    expect(() => readUpTo('/dev/zero', 1 << 20, 'a thing')).toThrow(InputError)
  })

  it('is no folder, and is there', () => {
    expect(() => readUpTo(folder, 10, 'a thing')).toThrow(/is a folder; expected a thing/)
    expect(() => readUpTo(join(folder, 'none'), 10, 'a thing')).toThrow(
      expect.objectContaining({ code: 'ENOENT' }),
    )
  })
})
