import { existsSync, mkdtempSync, rmSync, statSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { makeFolder } from './make-folder.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-folder-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('makeFolder', () => {
  it('makes what is missing and tells the uppermost', () => {
    expect(makeFolder(join(folder, 'a/b/c'))).toBe(join(folder, 'a'))
    expect(statSync(join(folder, 'a/b/c')).isDirectory()).toBe(true)
    expect(makeFolder(join(folder, 'a/b/d'))).toBe(join(folder, 'a/b/d'))
    expect(makeFolder(join(folder, 'a'))).toBeUndefined()
    expect(makeFolder('.')).toBeUndefined()
  })

  it('refuses files, what lies below them, and links that lead nowhere', () => {
    writeFileSync(join(folder, 'file'), '')
    symlinkSync(join(folder, 'nowhere'), join(folder, 'link'))
    expect(() => makeFolder(join(folder, 'file'))).toThrow(/is no folder/)
    expect(() => makeFolder(join(folder, 'file/x'))).toThrow(/ENOTDIR/)
    expect(() => makeFolder(join(folder, 'link'))).toThrow(/is no folder/)
  })

  // Node's recursive mkdir loops for ever here.
  it.skipIf(!existsSync('/proc/self'))('returns where nothing can be made', () => {
    expect(() => makeFolder('/proc/halfbit')).toThrow(/ENOENT|EACCES/)
    expect(() => makeFolder('/proc/halfbit/x')).toThrow(/ENOENT|EACCES/)
  })
})
