/** What holds for every option that takes a value: a bad one is told in one line with its option, and ends with status 2. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it, vi } from 'vitest'
import { COMMANDS } from '../../src/cli/commands.js'
import { runCommand } from '../../src/cli/run.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-options-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const shelf = 'examples/shelf/halfbit.yaml'
const capture = ['examples/two-tracks/captures/service.csv.gz', '--channel', 'PE4']
/** A call that lacks nothing but the option. */
const CALLS: Record<string, string[]> = {
  new: [join(folder, 'none')],
  prove: [shelf],
  timers: [shelf],
  wave: ['idle'],
  capture,
  simulate: ['--design', 'examples/two-tracks/halfbit.yaml'],
  track: [shelf, '--quick'],
  power: [shelf],
  open: [shelf, '--no-browser'],
  traffic: ['examples/exhibition/halfbit.yaml', '--most', '0'],
}
/** Options whose value may be any text: a file that is named like that, or a name. */
const FREE = ['FILE', 'DIR', 'FILE.cir', 'DESIGN', 'TEXT']

/** Packets with a field that takes no −1, and what else they need. */
const FIELDS: [kind: string, field: string, others: string[]][] = [
  ['speed', 'address', ['--step', '3', '--of', '28']],
  ['speed', 'step', ['--address', '3', '--of', '28']],
  ['speed', 'of', ['--address', '3', '--step', '3']],
  ['functions', 'on', ['--address', '3']],
  ['functions', 'group', ['--address', '3']],
  ['cv', 'cv', ['--address', '3', '--value', '1']],
  ['cv', 'value', ['--address', '3', '--cv', '1']],
  ['cv', 'bit', ['--address', '3', '--cv', '1', '--value', '1']],
  ['consist', 'consist', ['--address', '3']],
  ['accessory', 'number', []],
  ['accessory', 'board', ['--pair', '1']],
  ['accessory', 'pair', ['--board', '1']],
  ['aspect', 'aspect', ['--number', '5']],
  ['time', 'hour', ['--minute', '1']],
  ['time', 'minute', ['--hour', '1']],
]

interface Case {
  name: string
  call: string[]
  key: string
  what: string
}

async function cases(): Promise<Case[]> {
  const list: Case[] = []
  for (const [name, entry] of Object.entries(COMMANDS)) {
    if (!CALLS[name]) continue
    const { command } = await entry.load()
    for (const [key, info] of Object.entries(command.options)) {
      // What --design tells already may not be given beside it, and a channel is looked for in the file.
      const beside = name === 'simulate' && ['chip', 'clock', 'pin', 'mode'].includes(key)
      if (info.type === 'boolean' || FREE.includes(info.value ?? '') || beside) continue
      // Read with --design, --firmware or --capture only, or a name of the file's own.
      if (['channel', 'current', 'output'].includes(key) && name !== 'timers') continue
      if (name === 'traffic' && ['rate', 'run'].includes(key)) continue
      list.push({ name, call: CALLS[name], key, what: info.value ?? 'N' })
    }
  }
  for (const [kind, key, others] of FIELDS)
    list.push({ name: 'packet', call: ['make', kind, ...others], key, what: 'N' })
  for (const key of ['offset', 'steps', 'preamble'])
    list.push({ name: 'packet', call: ['explain', '37', '74', '43'], key, what: 'N' })
  const chip = ['none.hex', '--chip', 'atmega328p', '--clock', '16 MHz', '--pin', 'PB1']
  for (const key of ['chip', 'clock', 'mode', 'for', 'skip'])
    list.push({ name: 'simulate', call: chip, key, what: 'N' })
  return list
}

async function run(name: string, argv: string[]): Promise<{ status: number; out: string; err: string }> {
  let [out, err] = ['', '']
  const streams = [
    vi.spyOn(process.stdout, 'write').mockImplementation((text) => {
      out += text
      return true
    }),
    vi.spyOn(process.stderr, 'write').mockImplementation((text) => {
      err += text
      return true
    }),
  ]
  try {
    return { status: await runCommand(name, argv), out, err }
  } finally {
    for (const s of streams) s.mockRestore()
  }
}

const ALL = await cases()

describe('a bad value', () => {
  it('is tried on many options of many commands', () => {
    expect(new Set(ALL.map((c) => c.name)).size).toBeGreaterThanOrEqual(10)
    expect(ALL.length).toBeGreaterThan(60)
  })

  it.each(ALL)(
    'of $name --$key is told with option, value and what was expected',
    async ({ name, call, key }) => {
      for (const bad of ['-1', '1e99', 'NaN', 'rubbish', '-2.5x']) {
        for (const argv of [[`--${key}=${bad}`], [`--${key}`, bad]]) {
          const { status, out, err } = await run(name, [...call, ...argv])
          expect([status, out], `${argv.join(' ')}: ${err}`).toEqual([2, ''])
          expect(err.trimEnd().split('\n')).toHaveLength(1)
          expect(err).toContain(`--${key}`)
          expect(err.toLowerCase()).toContain(bad.toLowerCase())
          expect(err).toContain('expected')
          expect(err).not.toMatch(/ambiguous|argument missing|Did you|undefined/)
        }
      }
    },
  )

  it.each(ALL)('of $name --$key may not be left out or empty', async ({ name, call, key }) => {
    for (const argv of [[`--${key}`], [`--${key}`, '--json'], [`--${key}=`], [`--${key}`, '']]) {
      const { status, out, err } = await run(name, [...call, ...argv])
      expect([status, out]).toEqual([2, ''])
      expect(err).toMatch(new RegExp(`^halfbit: ${name}: --${key} has (no|an empty) value; expected .+\\n$`))
    }
  })
})

describe('a flag and an option nobody knows', () => {
  it('are told in our words', async () => {
    expect((await run('power', [shelf, '--compare=1'])).err).toBe(
      'halfbit: power: --compare takes no value; found "1"\n',
    )
    expect((await run('power', [shelf, '--sede', '1'])).err).toBe(
      'halfbit: power: no option --sede; the nearest option is --seed\n',
    )
    expect((await run('power', [shelf, '-1'])).err).toMatch(/^halfbit: power: no option -1; .*--help lists/)
    expect((await run('power', [''])).err).toMatch(
      /^halfbit: power takes one design file; found an empty name\. Usage: halfbit power DESIGN/,
    )
    expect((await run('starter', [shelf, ''])).err).toMatch(/found an empty name/)
    expect((await run('power', ['--', '--seed'])).err).toBe('halfbit: --seed: no such file\n')
  })
})
