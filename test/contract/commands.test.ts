/** What holds for every command: help, exit status, JSON, files written whole, and that the pages tell the truth. */
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { COMMANDS } from '../../src/cli/commands.js'
import { halfbitHere } from './here.js'

const root = new URL('../../', import.meta.url).pathname
const names = Object.keys(COMMANDS)
const folder = mkdtempSync(join(tmpdir(), 'halfbit-commands-'))
const design = join(folder, 'halfbit.yaml')
const flawed = 'examples/flawed/halfbit.yaml'

beforeAll(async () => {
  expect((await halfbitHere(['new', folder])).status).toBe(0)
  writeFileSync(join(folder, 'bad.yaml'), 'halfbit: 1\nname: [\n')
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('help', () => {
  it.each(names)('%s tells its use', async (name) => {
    const { status, stdout, stderr } = await halfbitHere([name, '--help'])
    expect(status).toBe(0)
    expect(stderr).toBe('')
    expect(stdout).toContain(`Usage: halfbit ${name}`)
    expect(stdout).toContain('--json')
  })
})

it('a global installation links a manual page for each command', () => {
  const { man } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8')) as { man: string[] }
  expect([...man].sort()).toEqual(
    ['halfbit', ...names.map((name) => `halfbit-${name}`)].map((page) => `dist/man/${page}.1`).sort(),
  )
})

describe('exit status', () => {
  it.each<[number, string[], RegExp]>([
    [0, ['check', 'DESIGN'], /^$/],
    [0, ['prove', 'DESIGN'], /^$/],
    [1, ['prove', flawed, '--for', '300 ms'], /^$/],
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
  ])('%d of %j', async (status, args, says) => {
    const real = args.map((a) => (a === 'DESIGN' ? design : a === 'BAD' ? join(folder, 'bad.yaml') : a))
    const done = await halfbitHere(real)
    expect(done.status, done.stderr).toBe(status)
    expect(done.stderr).toMatch(says)
    // A fault of ours would show its stack.
    expect(done.stderr).not.toMatch(/internal fault|\bat .*\.js:\d+/)
  })
})

/** How a command is called that does not take a design alone. */
const CALLS: Record<string, string[] | undefined> = {
  new: ['new', join(folder, 'made')],
  // One scenario of it: all of them take as long as ten other commands.
  bench: ['bench', 'examples/exhibition/halfbit.yaml', 'every locomotive starts at once'],
  packet: ['packet', 'explain', '03', '3F', '80', 'BC'],
  simulate: ['simulate', 'examples/flawed/firmware/station.elf', '--design', flawed, '--for', '50 ms'],
  wave: ['wave', '37 74 43', 'idle'],
  capture: ['capture', 'examples/exhibition/captures/main.vcd.gz', '--channel', 'PB2', '--probe', 'logic'],
  standard: ['standard', 'rcn', '--edition', '2013'],
  starter: ['starter', 'examples/exhibition/halfbit.yaml', join(folder, 'firmware')],
  find: ['find', 'examples/two-tracks/halfbit.yaml', '--reading', 'controller serial line garbled'],
  open: undefined,
  explain: ['explain', 'short-trip'],
  completion: ['completion', 'bash'],
}

describe('--json', () => {
  it.each(names.filter((name) => !(name in CALLS) || CALLS[name]))(
    '%s prints one object of version 1',
    async (name) => {
      const args = CALLS[name] ?? [
        name,
        'examples/exhibition/halfbit.yaml',
        ...(name === 'prove' ? ['--for', '50 ms'] : []),
      ]
      const { status, stdout, stderr } = await halfbitHere([...args, '--json'])
      expect(status, stderr).toBeLessThanOrEqual(1)
      expect(JSON.parse(stdout).halfbit).toBe(1)
    },
  )

  it('check names every problem, with status 2', async () => {
    writeFileSync(
      join(folder, 'two.yaml'),
      readFileSync(design, 'utf8').replace('oneHalf: 58 us', 'oneHalf: short').replace('H0', 'H1'),
    )
    const { status, stdout } = await halfbitHere(['check', join(folder, 'two.yaml'), '--json'])
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
  it('are whole, and the same for the same inputs', async () => {
    const make = async (name: string) => {
      const files = ['html', 'md', 'junit'].map((form) => join(folder, `${name}.${form}`))
      const done = await halfbitHere([
        'prove',
        design,
        '--html',
        files[0]!,
        '--md',
        files[1]!,
        '--junit',
        files[2]!,
      ])
      expect(done.status).toBe(0)
      return files.map((file) => readFileSync(file, 'utf8'))
    }
    const [html, md, junit] = await make('a')
    expect(html).toMatch(/<\/html>\n$/)
    expect(junit).toMatch(/<\/testsuites>\n$/)
    expect(md).toContain('## Reasons')
    expect(await make('b')).toEqual([html, md, junit])
    expect(readdirSync(folder).filter((f) => f.startsWith('.'))).toEqual([])
  })

  it('never replace an input or each other, and nothing is left of one that cannot be written', async () => {
    const text = readFileSync(design, 'utf8')
    const before = readdirSync(folder)
    const out = join(folder, 'x')
    for (const args of [
      ['--html', design],
      ['--html', out, '--md', out],
      ['--html', out, '--md', folder],
      ['--html', join(folder, 'none/x.html')],
    ]) {
      const done = await halfbitHere(['prove', design, ...args])
      expect(done.status, args.join(' ')).toBe(2)
      expect(done.stderr).not.toMatch(/internal fault/)
    }
    expect(readdirSync(folder)).toEqual(before)
    expect(readFileSync(design, 'utf8')).toBe(text)
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
