import { spawn, spawnSync } from 'node:child_process'
import {
  closeSync,
  existsSync,
  mkdtempSync,
  openSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { afterAll, describe, expect, it } from 'vitest'
import { CsvWriter, VcdWriter } from '../../capture/index.js'
import { EdgeList, ENCODER_CLOCK, encodeSignal } from '../../signal/index.js'
import { InputError } from '../../units/index.js'
import type { Arguments, Io } from '../command.js'
import { command } from './capture.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-capture-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const examples = new URL('../../../examples/', import.meta.url).pathname
/** The built command: threads and signals need a process of its own. */
const built = new URL('../../../dist/cli/main.js', import.meta.url).pathname

const PACKETS = Array.from({ length: 60 }, (_, i) => {
  const bytes = [3 + (i % 12), 0x3f, (i * 37) & 255]
  return [...bytes, bytes[0]! ^ bytes[1]! ^ bytes[2]!]
})
const SIGNAL = encodeSignal(PACKETS)

/** The signal over and over, as one list. */
function repeated(times: number): EdgeList {
  const list = new EdgeList()
  const length = SIGNAL.ticks[SIGNAL.count - 1]!
  for (let k = 0; k < times; k++)
    for (let i = 0; i < SIGNAL.count - 1; i++) list.add(SIGNAL.ticks[i]! + k * length, SIGNAL.levels[i]!)
  return list
}

function file(name: string, content: string | Uint8Array): string {
  const path = join(folder, name)
  writeFileSync(path, content)
  return path
}

const csv = file('main.csv', new CsvWriter(ENCODER_CLOCK, { command: 'capture' }).write(SIGNAL))
const vcd = file('main.vcd', new VcdWriter(ENCODER_CLOCK, { command: 'capture' }).write(SIGNAL))

async function run(path: string, options: Record<string, string | boolean | string[]> = {}, width = 100) {
  let out = ''
  const args: Arguments = {
    positionals: [path],
    text: (name) => (typeof options[name] === 'string' ? (options[name] as string) : undefined),
    texts: (name) => (Array.isArray(options[name]) ? (options[name] as string[]) : []),
    on: (name) => options[name] === true,
  }
  const io: Io = {
    out: (text) => void (out += `${text}\n`),
    note: () => {},
    progress: () => {},
    signal: new AbortController().signal,
    colour: false,
    width,
  }
  return { status: await command.run(args, io), out }
}

async function refusal(path: string, options: Record<string, string | boolean | string[]> = {}) {
  const error = await run(path, options).catch((e: unknown) => e)
  return error instanceof InputError ? error.describe() : error instanceof Error ? String(error) : 'accepted'
}

describe('halfbit capture', () => {
  it('says clause by clause what was seen, what is asked, and the margin', async () => {
    const { status, out } = await run(csv)
    expect(status).toBe(0)
    expect(out).toMatch(/met +one-half +58 us +55 to 61 us +1 /)
    expect(out).toMatch(/Packets +60, of which 60 valid/)
    expect(out).toMatch(
      /NOT ALL SHOWN: 11 met and \d+ not shown, 0 broken, 0 undecided, of \d+ clauses that a capture can show/,
    )
    for (const line of (await run(csv, {}, 70)).out.split('\n').filter((l) => /^(met|BROKEN)/.test(l)))
      expect(line.length).toBeLessThanOrEqual(76)
  })

  it('gives the one JSON object that simulations give too', async () => {
    const json = JSON.parse((await run(vcd, { json: true, packets: true })).out)
    expect(json).toMatchObject({ halfbit: 1, packets: { total: 60, valid: 60 }, interrupted: false })
    expect(json.packets.list[0]).toMatchObject({ hex: expect.stringMatching(/^03 3F 00/), valid: true })
    expect(json.halfBits.one).toMatchObject({ minUs: 58, maxUs: 58 })
    expect(json.capture).toMatchObject({ format: 'vcd', channels: ['track.signal'] })
    for (const e of json.evidence) expect(e).toMatchObject({ origin: 'measured', where: { file: vcd } })
  })

  it('reads each format through gzip as without', async () => {
    for (const path of [csv, vcd]) {
      const packed = file(`${path.slice(-3)}.gz`, gzipSync(readFileSync(path)))
      const halfBits = async (p: string) => JSON.parse((await run(p, { json: true })).out).halfBits
      expect(await halfBits(packed)).toEqual(await halfBits(path))
    }
  })

  it('writes the edges as VCD and CSV that read the same, whole or not at all', async () => {
    for (const name of ['again.vcd', 'again.csv']) {
      const again = join(folder, name)
      await run(csv, { export: again, from: '0 us', to: '1 s' })
      const [a, b] = [
        JSON.parse((await run(csv, { json: true })).out),
        JSON.parse((await run(again, { json: true })).out),
      ]
      expect(b.halfBits).toEqual(a.halfBits)
      expect(b.packets).toEqual(a.packets)
    }
    const bad = file('bad.csv', `${readFileSync(csv, 'utf8')}oops,1\n`)
    expect(await refusal(bad, { export: join(folder, 'never.vcd') })).toMatch(/bad\.csv:\d+:1: found "oops"/)
    expect(existsSync(join(folder, 'never.vcd'))).toBe(false)
    expect(readdirSync(folder).filter((n) => n.includes('.part'))).toEqual([])
  })

  it('takes what a simulation exported for simulated, also after another export', async () => {
    const sha256 = 'ab'.repeat(32)
    const first = file(
      'run.vcd',
      new VcdWriter(ENCODER_CLOCK, {
        command: 'simulate',
        firmware: { name: 'main.hex', sha256 },
      }).write(SIGNAL),
    )
    const second = join(folder, 'run-again.csv')
    await run(first, { export: second })
    for (const path of [first, second]) {
      const json = JSON.parse((await run(path, { json: true })).out)
      expect(json.capture.madeBy).toEqual({ command: 'simulate', firmware: { name: 'main.hex', sha256 } })
      expect(new Set(json.evidence.map((e: { origin: string }) => e.origin))).toEqual(new Set(['simulated']))
      expect((await run(path)).out).toMatch(
        /Made by +halfbit simulate from firmware main\.hex, SHA-256 abababababab….*simulated/,
      )
    }
    // An excerpt of a record that nobody claims stays measured.
    const excerpt = join(folder, 'excerpt.vcd')
    await run(csv, { export: excerpt })
    const json = JSON.parse((await run(excerpt, { json: true })).out)
    expect(new Set(json.evidence.map((e: { origin: string }) => e.origin))).toEqual(new Set(['measured']))
  })

  it('judges only the window, and turns the level round', async () => {
    const json = JSON.parse((await run(csv, { json: true, from: '100 ms', to: '200 ms', invert: true })).out)
    expect(json.packets.total).toBeGreaterThan(5)
    expect(json.packets.total).toBeLessThan(25)
    expect(json.packets.valid).toBe(json.packets.total)
  })

  it('judges as the design says, and asks which of several outputs it is', async () => {
    const design = join(examples, 'two-tracks/halfbit.yaml')
    const path = join(examples, 'two-tracks/captures/service.csv.gz')
    expect(await refusal(path, { design })).toMatch(/--output.*main, service/)
    const json = JSON.parse((await run(path, { design, output: 'service', json: true })).out)
    expect(json.evidence.every((e: { about: string }) => e.about === 'service')).toBe(true)
  })

  it('shows every planted fault of the flawed example, and ends with 1', async () => {
    const { status, out } = await run(join(examples, 'flawed/captures/main.csv.gz'))
    expect(status).toBe(1)
    for (const clause of ['one-half', 'preamble', 'error-byte', 'framing'])
      expect(out).toMatch(new RegExp(`BROKEN +${clause}`))
  })

  it.each<[string, () => string, Record<string, string | boolean | string[]>, RegExp]>([
    ['a folder', () => folder, {}, /folder/],
    ['a file that is not there', () => join(folder, 'none.csv'), {}, /ENOENT/],
    ['an empty file', () => file('empty.csv', ''), {}, /empty/],
    [
      'gzip that is cut off',
      () => file('cut.csv.gz', gzipSync(readFileSync(csv)).subarray(0, 900)),
      {},
      /cut gzip/,
    ],
    [
      'gzip that is damaged',
      () =>
        file(
          'hurt.csv.gz',
          gzipSync(readFileSync(csv)).map((b, i) => (i === 700 ? b ^ 255 : b)),
        ),
      {},
      /gzip data|found|expected/,
    ],
    ['a silent channel', () => file('flat.csv', '0.1,1\n0.2,1\n0.3,1\n'), { unit: 's' }, /edges? on/],
    ['a channel that is not there', () => vcd, { channel: ['signl'] }, /no channel "signl"; the nearest is/],
    ['an impossible window', () => csv, { from: '2 s', to: '1 s' }, /--from is not before --to/],
    ['an unknown unit', () => csv, { unit: 'fortnight' }, /--unit fortnight/],
    ['an export of no known kind', () => csv, { export: 'x.txt' }, /\.vcd or \.csv/],
    ['raw samples without a rate', () => csv, { format: 'raw' }, /--rate/],
  ])('refuses %s', async (_, path, options, says) => {
    expect(await refusal(path(), options)).toMatch(says)
  })

  it('reads a large file with two threads as with one', () => {
    const many = repeated(160)
    const path = file('large.csv', new CsvWriter(ENCODER_CLOCK, { command: 'capture' }).write(many))
    expect(readFileSync(path).length).toBeGreaterThan(9e6)
    const [one, two] = ['--packets', ''].map((option) => {
      const done = spawnSync(
        process.execPath,
        [built, 'capture', path, '--json', ...(option ? [option] : [])],
        {
          encoding: 'utf8',
          maxBuffer: 1 << 28,
        },
      )
      expect(done.stderr).toBe('')
      const { evidence, halfBits, packets } = JSON.parse(done.stdout)
      return { evidence, halfBits, packets: { total: packets.total, valid: packets.valid } }
    })
    expect(two).toEqual(one)
    expect(two?.packets.total).toBe(160 * 60)
    const worse = file('large-bad.csv', `${readFileSync(path, 'utf8')}0.1,1\n`)
    const done = spawnSync(process.execPath, [built, 'capture', worse], { encoding: 'utf8' })
    expect(done.status).toBe(2)
    expect(done.stderr).toMatch(/large-bad\.csv:\d+:1: time goes backwards/)
  })

  it('ends at Ctrl-C with what was seen so far, even while it waits for more', async () => {
    const part = file('part.vcd', new VcdWriter(ENCODER_CLOCK, { command: 'capture' }).write(repeated(10)))
    const pipe = join(folder, 'pipe.vcd')
    expect(spawnSync('mkfifo', [pipe]).status).toBe(0)
    const child = spawn(process.execPath, [built, 'capture', pipe, '--json'])
    let out = ''
    child.stdout.on('data', (data) => {
      out += data
    })
    const ended = new Promise((resolve) => child.on('exit', resolve))
    // Opens once the command does; all of it fits into what the command takes before it waits.
    const writer = openSync(pipe, 'w')
    writeFileSync(writer, readFileSync(part))
    await new Promise((resolve) => setTimeout(resolve, 500))
    child.kill('SIGINT')
    expect(await ended).toBe(3)
    closeSync(writer)
    const json = JSON.parse(out)
    expect(json.interrupted).toBe(true)
    expect(json.packets.valid).toBeGreaterThan(500)
  })
})
