import { spawn, spawnSync } from 'node:child_process'
import {
  chmodSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { InputError } from '../../units/index.js'
import { OutputFile, readUpTo, writeWhole } from './index.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-files-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('a file that is written whole', () => {
  it('has its old content until all of the new one is there', () => {
    const path = join(folder, 'a.txt')
    writeWhole(path, 'old')
    const file = new OutputFile(path)
    file.write('new, ')
    file.write(new Uint8Array([0x62, 0x79, 0x74, 0x65, 0x73]))
    expect(readFileSync(path, 'utf8')).toBe('old')
    file.commit()
    file.discard()
    expect(readFileSync(path, 'utf8')).toBe('new, bytes')
    expect(readdirSync(folder).filter((f) => /^[.a-d]/.test(f))).toEqual(['a.txt'])
  })

  it('leaves nothing behind when it is given up', () => {
    const file = new OutputFile(join(folder, 'b.txt'))
    file.write('half')
    file.discard()
    expect(readdirSync(folder).filter((f) => /^[.a-d]/.test(f))).toEqual(['a.txt'])
  })

  it('names the path when its folder is missing', () => {
    const path = join(folder, 'none', 'c.txt')
    expect(() => writeWhole(path, '')).toThrow(expect.objectContaining({ code: 'ENOENT', path }))
  })
})

/** A node of a device in a scratch folder; undefined where none may be made. */
function node(name: string, major: number, minor: number): string | undefined {
  const path = join(folder, name)
  return spawnSync('mknod', [path, 'c', `${major}`, `${minor}`]).status === 0 ? path : undefined
}
// Numbers of the null and the full device: the kernel's own list, devices.txt.
const nothing = node('nothing', 1, 3)
const full = node('full', 1, 7)

describe('what is no regular file', () => {
  it('takes the bytes as a pipe, and stays one', async () => {
    const pipe = join(folder, 'pipe')
    expect(spawnSync('mkfifo', [pipe]).status).toBe(0)
    const got = join(folder, 'got')
    const reader = spawn('sh', ['-c', `cat ${pipe} > ${got}`])
    // More than a pipe holds is written while the reader takes it.
    const text = 'line of text\n'.repeat(50_000)
    writeWhole(pipe, text)
    await new Promise((done) => reader.on('close', done))
    expect(readFileSync(got, 'utf8') === text).toBe(true)
    expect(lstatSync(pipe).isFIFO()).toBe(true)
    rmSync(pipe)
    rmSync(got)
  })

  it.skipIf(nothing === undefined)('takes them as a device, and stays one', () => {
    writeWhole(nothing!, 'to nowhere')
    expect(lstatSync(nothing!).isCharacterDevice()).toBe(true)
  })

  it.skipIf(full === undefined)('is named when it has no space left', () => {
    expect(() => writeWhole(full!, 'x')).toThrow(expect.objectContaining({ code: 'ENOSPC', path: full }))
  })

  it('is no folder', () => {
    expect(() => writeWhole(folder, 'x')).toThrow(expect.objectContaining({ code: 'EISDIR', path: folder }))
  })
})

describe('a symbolic link', () => {
  it('is followed to the file, whose mode stays', () => {
    const at = join(folder, 'links')
    mkdirSync(join(at, 'real'), { recursive: true })
    writeFileSync(join(at, 'real/file'), 'old')
    chmodSync(join(at, 'real/file'), 0o600)
    symlinkSync('real/file', join(at, 'one'))
    symlinkSync('one', join(at, 'two'))
    writeWhole(join(at, 'two'), 'new')
    expect(readFileSync(join(at, 'real/file'), 'utf8')).toBe('new')
    expect(statSync(join(at, 'real/file')).mode & 0o777).toBe(0o600)
    expect([lstatSync(join(at, 'one')), lstatSync(join(at, 'two'))].every((l) => l.isSymbolicLink())).toBe(
      true,
    )
    expect(readdirSync(join(at, 'real'))).toEqual(['file'])
    symlinkSync('real/later', join(at, 'three'))
    writeWhole(join(at, 'three'), 'made')
    expect(readFileSync(join(at, 'real/later'), 'utf8')).toBe('made')
    symlinkSync('round', join(at, 'round'))
    expect(() => writeWhole(join(at, 'round'), 'x')).toThrow(expect.objectContaining({ code: 'ELOOP' }))
    rmSync(at, { recursive: true })
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
