/** Paths and processes under the rules of both kinds of system, and no shell anywhere. */
import { readdirSync, readFileSync } from 'node:fs'
import { join, posix, win32 } from 'node:path'
import { describe, expect, it } from 'vitest'
import { npmCall } from '../../scripts/npm-call.mjs'
import { browserCall } from '../../src/cli/browser-call.js'
import { displayPath } from '../../src/cli/display-path.js'
import { assetPath } from '../../src/cli/serve/server.js'
import { root } from './halfbit.js'

describe('a path in a report', () => {
  it('is short inside the folder, whole outside, and has / on both', () => {
    expect(displayPath('/home/ann/club/halfbit.yaml', posix, '/home/ann')).toBe('club/halfbit.yaml')
    expect(displayPath('/tmp/halfbit.yaml', posix, '/home/ann')).toBe('/tmp/halfbit.yaml')
    expect(displayPath('C:\\ann\\club\\halfbit.yaml', win32, 'C:\\ann')).toBe('club/halfbit.yaml')
    expect(displayPath('D:\\halfbit.yaml', win32, 'C:\\ann')).toBe('D:/halfbit.yaml')
    expect(displayPath('..\\other\\halfbit.yaml', win32, 'C:\\ann')).toBe('../other/halfbit.yaml')
    // A backslash is a letter of a name where it separates nothing.
    expect(displayPath('/home/ann/a\\b.yaml', posix, '/home/ann')).toBe('a\\b.yaml')
  })
})

describe('a file of the pages', () => {
  it('lies below them, or is refused', () => {
    expect(assetPath('/opt/web', '/', posix)).toBe('/opt/web/index.html')
    expect(assetPath('/opt/web', '/docs/clauses/fuse.html', posix)).toBe('/opt/web/docs/clauses/fuse.html')
    expect(assetPath('C:\\opt\\web', '/docs/clauses/fuse.html', win32)).toBe(
      'C:\\opt\\web\\docs\\clauses\\fuse.html',
    )
    for (const path of ['/../secret', '/..\\secret', '/docs/../../secret', '/..\\..\\Windows\\win.ini'])
      expect(() => assetPath('C:\\opt\\web', path, win32)).toThrow('outside')
    expect(() => assetPath('/opt/web', '/../secret', posix)).toThrow('outside')
    expect(() => assetPath('/opt/web', '/../web-other/x', posix)).toThrow('outside')
  })
})

describe('programs', () => {
  it('npm is started by Node itself, wherever it lies', () => {
    const windows = npmCall({
      execPath: 'C:\\Program Files\\nodejs\\node.exe',
      env: {},
      rules: win32,
      isThere: (file: string) => file === 'C:\\Program Files\\nodejs\\node_modules\\npm\\bin\\npm-cli.js',
    })
    expect(windows).toEqual({
      program: 'C:\\Program Files\\nodejs\\node.exe',
      before: ['C:\\Program Files\\nodejs\\node_modules\\npm\\bin\\npm-cli.js'],
    })
    const unix = npmCall({
      execPath: '/usr/local/bin/node',
      env: {},
      rules: posix,
      isThere: (file: string) => file === '/usr/local/lib/node_modules/npm/bin/npm-cli.js',
    })
    expect(unix.before).toEqual(['/usr/local/lib/node_modules/npm/bin/npm-cli.js'])
    // Another package manager sets the same variable to a program of its own.
    const other = npmCall({
      execPath: '/bin/node',
      env: { npm_execpath: '/bin/npm' },
      rules: posix,
      isThere: () => false,
    })
    expect(other).toEqual({ program: 'npm', before: [] })
  })

  it('the browser gets the address as one argument', () => {
    const url = 'http://127.0.0.1:20001/#token=a&b|c%PATH%'
    for (const platform of ['linux', 'darwin', 'win32'] as const) {
      const { program, args } = browserCall(platform, url)
      expect(program).not.toMatch(/^(cmd|sh|bash|powershell)/)
      expect(args.at(-1)).toBe(url)
    }
  })

  it('nothing that a user runs goes through a shell or makes a path of an address', () => {
    const folders = ['src', 'scripts']
    const files = folders.flatMap((folder) =>
      readdirSync(join(root, folder), { recursive: true, encoding: 'utf8' })
        .filter((file) => /\.(ts|tsx|mjs)$/.test(file) && !/\.test\.ts$/.test(file))
        .map((file) => join(folder, file)),
    )
    expect(files.length).toBeGreaterThan(200)
    for (const file of files) {
      const text = readFileSync(join(root, file), 'utf8')
      expect(text, file).not.toMatch(/shell: true|execSync\(|spawn(Sync)?\(\s*'(sh|bash|cmd)'/)
      // Takes /C:/... for a path on Windows, and keeps %20; what records captures needs Debian's tools anyway.
      if (!file.endsWith('record-captures.mjs'))
        expect(text, file).not.toMatch(/import\.meta\.url\)\.pathname/)
    }
  })
})
