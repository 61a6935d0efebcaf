/** What holds for every command: help, exit status, JSON, files written whole, and that the pages tell the truth. */
import { spawn, spawnSync } from 'node:child_process'
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { COMMANDS } from '../../src/cli/commands.js'
import { built, halfbit, main, root } from './halfbit.js'

const names = Object.keys(COMMANDS)
const folder = mkdtempSync(join(tmpdir(), 'halfbit-commands-'))
const design = join(folder, 'halfbit.yaml')
const flawed = 'examples/flawed/halfbit.yaml'

beforeAll(() => {
  built()
  expect(halfbit(['new', folder]).status).toBe(0)
  writeFileSync(join(folder, 'bad.yaml'), 'halfbit: 1\nname: [\n')
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('help', () => {
  it('lists every command, and loads none of the rooms', () => {
    const hook = `import { register } from 'node:module'
register('data:text/javascript,' + encodeURIComponent(\`
import { writeSync } from 'node:fs'
export async function load(url, context, next) { writeSync(2, url + '\\\\n'); return next(url, context) }\`))`
    const done = spawnSync(
      process.execPath,
      ['--import', `data:text/javascript,${encodeURIComponent(hook)}`, main, '--help'],
      { encoding: 'utf8' },
    )
    expect(done.status).toBe(0)
    const loaded = done.stderr.split('\n').filter((url) => url.includes('/dist/'))
    expect(loaded.map((url) => url.split('/dist/')[1])).toEqual(['cli/main.js', 'cli/commands.js'])
    for (const name of names) expect(done.stdout).toContain(`halfbit ${name}`)
  })

  it.each(names)('%s tells its use', (name) => {
    const { status, stdout, stderr } = halfbit([name, '--help'])
    expect(status).toBe(0)
    expect(stderr).toBe('')
    expect(stdout).toContain(`Use: halfbit ${name}`)
    expect(stdout).toContain('--json')
    if (name === 'prove') expect(halfbit(['help', name]).stdout).toBe(stdout)
  })
})

describe('exit status', () => {
  it.each<[number, string[], RegExp]>([
    [0, ['--version'], /^$/],
    [0, ['check', 'DESIGN'], /^$/],
    [0, ['prove', 'DESIGN'], /^$/],
    [1, ['prove', flawed, '--for', '300 ms'], /^$/],
    [2, [], /^$/],
    [2, ['chekc', 'DESIGN'], /no command "chekc"; the nearest is "check"/],
    [2, ['constructor'], /no command/],
    [2, ['prove', 'DESIGN', '--htm', 'x'], /--htm.*nearest option is --html/],
    [2, ['prove', 'DESIGN', '--html'], /--html/],
    [2, ['prove'], /prove takes one design file; found 0/],
    [2, ['check', 'BAD'], /bad\.yaml:\d+:\d+: /],
    [2, ['prove', 'BAD'], /bad\.yaml:\d+:\d+: /],
    [2, ['check', 'none.yaml'], /none\.yaml: no such file/],
    [2, ['check', root], /is a folder; expected a design file/],
    [2, ['prove', 'DESIGN', '--for', '5'], /--for 5; expected a number with a unit/],
    [2, ['prove', 'DESIGN', '--for', '1 us'], /expected 1 ms to 24 h/],
    [2, ['prove', 'DESIGN', '--date', 'today'], /expected a date such as/],
    [2, ['prove', 'DESIGN', '--firmware', 'none.elf'], /none\.elf: no such file/],
    [2, ['prove', 'DESIGN', '--firmware', 'DESIGN'], /halfbit\.yaml:1/],
  ])('%d of %j', (status, args, says) => {
    const real = args.map((a) => (a === 'DESIGN' ? design : a === 'BAD' ? join(folder, 'bad.yaml') : a))
    const done = halfbit(real)
    expect(done.status, done.stderr).toBe(status)
    expect(done.stderr).toMatch(says)
    // A fault of ours would show its stack.
    expect(done.stderr).not.toMatch(/internal fault|\bat .*\.js:\d+/)
  })

  it('3 after Ctrl-C, with what was seen so far', async () => {
    const child = spawn(process.execPath, [main, 'prove', flawed, '--for', '1 h', '--json'], { cwd: root })
    let out = ''
    child.stdout.on('data', (part) => (out += part))
    setTimeout(() => child.kill('SIGINT'), 6000)
    const status = await new Promise((done) => child.on('close', done))
    expect(status).toBe(3)
    const proof = JSON.parse(out)
    const codes = proof.about.notes.map((n: { code: string }) => n.code)
    expect(codes).toContain('proof/interrupted')
    expect(proof.verdict).toBe('broken')
    expect(proof.rows.some((r: { cells: { simulated?: unknown } }) => r.cells.simulated)).toBe(true)
  })
})

/** How a command is called that does not take a design alone. */
const CALLS: Record<string, string[] | undefined> = {
  new: ['new', join(folder, 'made')],
  packet: ['packet', 'explain', '03', '3F', '80', 'BC'],
  simulate: ['simulate', 'examples/flawed/firmware/station.elf', '--design', flawed, '--for', '50 ms'],
  wave: ['wave', '37 74 43', 'idle'],
  capture: ['capture', 'examples/exhibition/captures/main.vcd.gz', '--channel', 'PB2', '--probe', 'logic'],
  standard: ['standard', 'rcn', '--edition', '2013'],
  open: undefined,
}

describe('--json', () => {
  it.each(names.filter((name) => !(name in CALLS) || CALLS[name]))(
    '%s prints one object of version 1',
    (name) => {
      const args = CALLS[name] ?? [
        name,
        'examples/exhibition/halfbit.yaml',
        ...(name === 'prove' ? ['--for', '50 ms'] : []),
      ]
      const { status, stdout, stderr } = halfbit([...args, '--json'])
      expect(status, stderr).toBeLessThanOrEqual(1)
      expect(JSON.parse(stdout).halfbit).toBe(1)
    },
  )

  it('check names every problem, with status 2', () => {
    writeFileSync(
      join(folder, 'two.yaml'),
      readFileSync(design, 'utf8').replace('oneHalf: 58 us', 'oneHalf: short').replace('H0', 'H1'),
    )
    const { status, stdout } = halfbit(['check', join(folder, 'two.yaml'), '--json'])
    expect(status).toBe(2)
    const { valid, problems } = JSON.parse(stdout)
    expect(valid).toBe(false)
    expect(problems.map((p: { path: string[] }) => p.path.join('.'))).toEqual([
      'scale',
      'signal.outputs.main.oneHalf',
    ])
  })
})

describe('written files', () => {
  it('are whole, and the same for the same inputs', () => {
    const make = (name: string) => {
      const files = ['html', 'md', 'junit'].map((form) => join(folder, `${name}.${form}`))
      const done = halfbit(['prove', design, '--html', files[0]!, '--md', files[1]!, '--junit', files[2]!])
      expect(done.status).toBe(0)
      return files.map((file) => readFileSync(file, 'utf8'))
    }
    const [html, md, junit] = make('a')
    expect(html).toMatch(/<\/html>\n$/)
    expect(junit).toMatch(/<\/testsuites>\n$/)
    expect(md).toContain('## Reasons')
    expect(make('b')).toEqual([html, md, junit])
    expect(readdirSync(folder).filter((f) => f.startsWith('.'))).toEqual([])
  })

  it('never replace an input or each other, and nothing is left of one that cannot be written', () => {
    const text = readFileSync(design, 'utf8')
    const before = readdirSync(folder)
    const out = join(folder, 'x')
    for (const args of [
      ['--html', design],
      ['--html', out, '--md', out],
      ['--html', out, '--md', folder],
      ['--html', join(folder, 'none/x.html')],
    ]) {
      const done = halfbit(['prove', design, ...args])
      expect(done.status, args.join(' ')).toBe(2)
      expect(done.stderr).not.toMatch(/internal fault/)
    }
    expect(readdirSync(folder)).toEqual(before)
    expect(readFileSync(design, 'utf8')).toBe(text)
  })

  it('are not half there when the disk is full', () => {
    // A file of at most 1 block of 1024 bytes stands in for a full disk.
    const small = join(folder, 'small')
    mkdirSync(small)
    const done = spawnSync(
      'bash',
      [
        '-c',
        `trap '' XFSZ; ulimit -f 1; exec "$0" "$@"`,
        process.execPath,
        main,
        'prove',
        design,
        '--html',
        join(small, 'p.html'),
      ],
      { encoding: 'utf8' },
    )
    expect(done.status).toBeGreaterThan(1)
    expect(readdirSync(small)).toEqual([])
  })
})

describe('the pages', () => {
  const pages = ['README.md', ...list('docs'), ...list('examples')].filter((f) => f.endsWith('.md'))

  function list(path: string): string[] {
    return readdirSync(join(root, path), { recursive: true, encoding: 'utf8' }).map((f) => join(path, f))
  }

  it('name only commands and options that exist', async () => {
    const wrong: string[] = []
    let seen = 0
    for (const page of pages) {
      const text = readFileSync(join(root, page), 'utf8')
      for (const [, call] of text.matchAll(/(?:^ {4}|`|^\$ )(?:npx )?halfbit ([^`\n]+)/gm)) {
        const [name = '', ...rest] = call!.split(/\s+/)
        if (!/^[a-z]+$/.test(name)) continue
        seen++
        const entry = COMMANDS[name]
        if (!entry) {
          wrong.push(`${page}: halfbit ${name}`)
          continue
        }
        const { command } = await entry.load()
        for (const word of rest) {
          const option = /^\[?--([a-z-]+)/.exec(word)?.[1]
          if (option && !(option in command.options) && option !== 'json' && option !== 'help')
            wrong.push(`${page}: halfbit ${name} --${option}`)
        }
      }
    }
    expect(wrong).toEqual([])
    expect(seen).toBeGreaterThan(3)
  })
})
