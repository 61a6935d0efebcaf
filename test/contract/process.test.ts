/** What only a process of its own shows: signals, pipes, full disks, and that no good file is lost to them. */
import { type ChildProcess, spawn, spawnSync } from 'node:child_process'
import {
  closeSync,
  copyFileSync,
  lstatSync,
  mkdirSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, expect, it } from 'vitest'
import { COMMANDS } from '../../src/cli/commands.js'
import { built, halfbit, main, root } from './halfbit.js'
import { halfbitHere } from './here.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-process-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
beforeAll(built)

const flawed = 'examples/flawed/halfbit.yaml'
const firmware = 'examples/flawed/firmware/station.elf'
const PINS = ['--chip', 'atmega328p', '--clock', '16 MHz', '--pin', 'PB1']

function started(args: string[]): { child: ChildProcess; ended: Promise<{ status: number; err: string }> } {
  const child = spawn(process.execPath, [main, ...args], { cwd: root, stdio: ['ignore', 'ignore', 'pipe'] })
  let err = ''
  child.stderr!.on('data', (part) => (err += part))
  const ended = new Promise<{ status: number; err: string }>((done) =>
    child.on('close', (status) => done({ status: status!, err })),
  )
  return { child, ended }
}

/** Wait for what the other process does; the test's own time limit ends it. */
async function until(there: () => boolean): Promise<void> {
  while (!there()) await new Promise((resolve) => setTimeout(resolve, 20))
}

function scratch(name: string): string {
  const path = join(folder, name)
  mkdirSync(path)
  return path
}

const parts = (path: string) => readdirSync(path).filter((f) => f.endsWith('.part'))

it('keeps the file that is there when Ctrl-C comes during an export', async () => {
  const path = scratch('interrupt')
  writeFileSync(join(path, 'a.vcd'), 'good')
  const { child, ended } = started([
    'simulate',
    firmware,
    ...PINS,
    '--for',
    '1 h',
    '--export',
    join(path, 'a.vcd'),
  ])
  await until(() => parts(path).length > 0)
  child.kill('SIGINT')
  const { status, err } = await ended
  expect([status, readFileSync(join(path, 'a.vcd'), 'utf8'), readdirSync(path)]).toEqual([
    3,
    'good',
    ['a.vcd'],
  ])
  expect(err).toContain(`interrupted: ${join(path, 'a.vcd')} was not written`)
})

it('leaves no hidden part behind when it is ended', async () => {
  const path = scratch('ended')
  const { child, ended } = started([
    'simulate',
    firmware,
    ...PINS,
    '--for',
    '1 h',
    '--export',
    join(path, 'a.vcd'),
  ])
  await until(() => parts(path).length > 0)
  child.kill('SIGTERM')
  expect([(await ended).status, readdirSync(path)]).toEqual([143, []])
})

it('waits for a pipe that nothing writes into, says so, and can be interrupted', async () => {
  const pipe = join(folder, 'silent')
  expect(spawnSync('mkfifo', [pipe]).status).toBe(0)
  for (const args of [
    ['simulate', pipe, ...PINS],
    ['capture', pipe],
  ]) {
    const { child, ended } = started(args)
    let said = ''
    child.stderr!.on('data', (part) => (said += part))
    await until(() => said.includes(`${pipe}: nothing writes into it yet; waiting`))
    child.kill('SIGINT')
    const { err } = await ended
    expect(err).not.toMatch(/internal fault|\bat .*\.js:\d+/)
  }
})

it('reads firmware from a pipe, and from standard input', () => {
  const args = [...PINS, '--for', '20 ms', '--json']
  const plain = halfbit(['simulate', firmware, ...args])
  const pipe = join(folder, 'firmware')
  expect(spawnSync('mkfifo', [pipe]).status).toBe(0)
  const writer = spawn('sh', ['-c', `sleep 1; cat ${join(root, firmware)} > ${pipe}`])
  const piped = halfbit(['simulate', pipe, ...args])
  writer.kill()
  const input = readFileSync(join(root, firmware))
  const stdin = spawnSync(process.execPath, [main, 'simulate', '-', ...args], {
    cwd: root,
    input,
    encoding: 'utf8',
  })
  expect([piped.status, stdin.status]).toEqual([plain.status, plain.status])
  const named = (text: string, name: string) => text.replaceAll(name, 'FILE')
  expect(named(piped.stdout, pipe)).toBe(named(plain.stdout, firmware))
  expect(JSON.parse(stdin.stdout).outputs.length).toBe(1)
})

it('reads a design and a capture from standard input', () => {
  const from = (file: string, args: string[]) =>
    spawnSync(process.execPath, [main, ...args], {
      cwd: root,
      input: readFileSync(join(root, file)),
      encoding: 'utf8',
    })
  expect(from('examples/shelf/halfbit.yaml', ['check', '-']).stdout).toMatch(/^- is valid: /)
  const capture = from('examples/exhibition/captures/main.vcd.gz', [
    'capture',
    '-',
    '--channel',
    'PB2',
    '--json',
  ])
  expect([capture.status, JSON.parse(capture.stdout).halfbit]).toEqual([0, 1])
})

it('proves with the firmware in a second thread what it proves in one', async () => {
  for (const file of ['examples/exhibition/halfbit.yaml', 'examples/flawed/halfbit.yaml']) {
    // Sources are run in one thread.
    const one = await halfbitHere(['prove', file, '--json', '--for', '2 s'])
    const two = halfbit(['prove', file, '--json', '--for', '2 s'])
    expect([two.status, two.stderr]).toEqual([one.status, one.stderr])
    expect(two.stdout).toBe(one.stdout)
  }
})

it('says of firmware that cannot be run what is wrong with it, and nothing else', () => {
  const path = join(folder, 'short.hex')
  writeFileSync(path, ':1000000\n')
  const found = halfbit(['prove', 'examples/exhibition/halfbit.yaml', '--firmware', path])
  expect([found.status, found.stdout]).toEqual([2, ''])
  expect(found.stderr).toMatch(/short\.hex:1\b[^\n]*\n$/)
  expect(found.stderr.trim().split('\n')).toHaveLength(1)
})

it('ends a proof at Ctrl-C with what was shown until then', async () => {
  const design = readFileSync(join(root, 'examples/exhibition/halfbit.yaml'), 'utf8')
  const path = join(folder, 'halfbit.yaml')
  const beside = (name: string) => join(root, 'examples/exhibition', name)
  // That the firmware lies elsewhere is said once the design is read.
  writeFileSync(
    path,
    design
      .replace('file: firmware/station.elf', `file: ${beside('firmware/station.elf')}`)
      .replace('stimulus: evening.stimulus', `stimulus: ${beside('evening.stimulus')}`)
      .replace('file: captures/main.vcd.gz', `file: ${beside('captures/main.vcd.gz')}`),
  )
  const child = spawn(process.execPath, [main, 'prove', path, '--json', '--for', '24 h'], { cwd: root })
  let [out, err] = ['', '']
  child.stdout.on('data', (part) => (out += part))
  child.stderr.on('data', (part) => (err += part))
  const ended = new Promise((done) => child.on('close', done))
  await until(() => err.includes('outside the folder'))
  child.kill('SIGINT')
  expect(await ended).toBe(3)
  const proof = JSON.parse(out)
  const clauses = proof.rows.map((r: { clause: string }) => r.clause)
  expect(clauses).toEqual(expect.arrayContaining(['short-trip', 'voltage-drop', 'command-latency']))
  expect(JSON.stringify(proof.about.notes)).toContain('proof/interrupted')
  expect(err).not.toMatch(/internal fault|\bat .*\.js:\d+/)
})

it('writes a file to standard output in place of the report', () => {
  const shelf = 'examples/shelf/halfbit.yaml'
  const html = halfbit(['prove', shelf, '--html', '-'])
  expect(html.stdout).toMatch(/^<!doctype html>[\s\S]*<\/html>\n$/)
  expect(html.stderr).toContain('met')
  for (const args of [
    ['--html', '-', '--md', '-'],
    ['--html', '-', '--json'],
  ]) {
    const { status, stdout, stderr } = halfbit(['prove', shelf, ...args])
    expect([status, stdout]).toEqual([2, ''])
    expect(stderr).toMatch(/^halfbit: --html - and .* write to standard output; expected .*\n$/)
  }
})

it.each([
  ['a report', ['timers', 'examples/exhibition/halfbit.yaml']],
  ['a stream', ['wave', 'idle', '--repeat', '90000']],
])('ends with status 3 and one line when standard output is full: %s', (_, args) => {
  // Opened to be written to, as a shell does; nothing is ever renamed over it.
  const full = openSync('/dev/full', 'w')
  const done = spawnSync(process.execPath, [main, ...args], { cwd: root, stdio: ['ignore', full, 'pipe'] })
  closeSync(full)
  expect([done.status, done.stderr.toString()]).toEqual([3, 'halfbit: standard output: no space left\n'])
})

it('writes through a link and into a pipe', async () => {
  const path = scratch('special')
  copyFileSync(join(root, 'examples/shelf/halfbit.yaml'), join(path, 'halfbit.yaml'))
  expect(spawnSync('mkfifo', [join(path, 'pipe')]).status).toBe(0)
  expect(spawnSync('ln', ['-s', 'proof.html', join(path, 'link')]).status).toBe(0)
  const reader = spawn('sh', ['-c', `cat ${join(path, 'pipe')} > ${join(path, 'got')}`])
  const { ended } = started([
    'prove',
    join(path, 'halfbit.yaml'),
    '--html',
    join(path, 'link'),
    '--md',
    join(path, 'pipe'),
  ])
  expect((await ended).status).toBe(0)
  await new Promise((done) => (reader.exitCode === null ? reader.on('close', done) : done(0)))
  expect(readFileSync(join(path, 'got'), 'utf8')).toContain('## ')
  expect(readFileSync(join(path, 'proof.html'), 'utf8')).toMatch(/<\/html>\n$/)
  expect([lstatSync(join(path, 'pipe')).isFIFO(), lstatSync(join(path, 'link')).isSymbolicLink()]).toEqual([
    true,
    true,
  ])
})

it('says that a design reaches outside its folder, and shows nothing of what is there', () => {
  const path = scratch('outside')
  mkdirSync(join(path, 'design'))
  writeFileSync(join(path, 'notes.txt'), 'hunter2, in plain text\nand more\n')
  const text = readFileSync(join(root, 'examples/exhibition/halfbit.yaml'), 'utf8')
  const design = join(path, 'design/halfbit.yaml')
  for (const [from, to, key] of [
    ['file: firmware/station.elf', 'file: ../notes.txt', 'firmware.file'],
    ['stimulus: evening.stimulus', 'stimulus: ../notes.txt', 'firmware.stimulus'],
  ] as const) {
    mkdirSync(join(path, 'design/firmware'), { recursive: true })
    copyFileSync(join(root, firmware), join(path, 'design/firmware/station.elf'))
    writeFileSync(design, text.replace(from, to))
    const { status, stdout, stderr } = halfbit(['prove', design])
    expect(status).toBe(2)
    expect(stderr).toMatch(
      new RegExp(`${key} names \\.\\./notes\\.txt, which is outside the folder of the design`),
    )
    expect(stderr).toMatch(/lies outside the folder of the design, so nothing of it is shown/)
    expect(stdout + stderr).not.toContain('hunter')
  }
})

it('never passes on what would steer the terminal', () => {
  const name = 'x\u001b]0;title\u0007\u202ey'
  const path = join(folder, 'names.yaml')
  writeFileSync(
    path,
    readFileSync(join(root, 'examples/shelf/halfbit.yaml'), 'utf8').replace(
      /^name: .*/m,
      'name: "a\\u202eb\\u0085c"',
    ),
  )
  for (const args of [
    [name],
    ['check', name],
    ['check', path],
    ['prove', path],
    ['prove', path, `--${name}`],
  ]) {
    const { stdout, stderr } = halfbit(args)
    expect(stdout + stderr).not.toMatch(/[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/)
  }
  expect(halfbit(['check', path]).stdout).toContain('a\\u202eb\\u0085c')
})

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
  for (const name of Object.keys(COMMANDS)) expect(done.stdout).toContain(`halfbit ${name}`)
})

it('tells the version, and without a command what there is', () => {
  expect(halfbit(['--version']).stdout).toMatch(/^halfbit \d+\.\d+\.\d+\n$/)
  expect(halfbit(['help', 'prove']).stdout).toBe(halfbit(['prove', '--help']).stdout)
  const none = halfbit([])
  expect([none.status, none.stderr]).toEqual([2, ''])
  expect(none.stdout).toContain('Usage: halfbit COMMAND')
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
      join(root, 'examples/shelf/halfbit.yaml'),
      '--html',
      join(small, 'p.html'),
    ],
    { encoding: 'utf8' },
  )
  expect(done.status).toBeGreaterThan(1)
  expect(readdirSync(small)).toEqual([])
})
