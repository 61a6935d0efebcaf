import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { InputError } from '../../units/index.js'
import type { Arguments, Io } from '../command.js'
import { command } from './simulate.js'

const examples = new URL('../../../examples/', import.meta.url).pathname
const folder = mkdtempSync(join(tmpdir(), 'halfbit-simulate-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

type Options = Record<string, string | boolean | string[]>

async function run(positionals: string[], options: Options, more: Partial<Io> = {}) {
  let out = ''
  let notes = ''
  const args: Arguments = {
    positionals,
    text: (name) => (typeof options[name] === 'string' ? (options[name] as string) : undefined),
    texts: (name) => (Array.isArray(options[name]) ? (options[name] as string[]) : []),
    on: (name) => options[name] === true,
  }
  const io: Io = {
    out: (text) => void (out += `${text}\n`),
    note: (text) => void (notes += text),
    progress: () => {},
    signal: new AbortController().signal,
    colour: false,
    width: 100,
    ...more,
  }
  return { status: await command.run(args, io), out, notes }
}

async function refusal(positionals: string[], options: Options): Promise<string> {
  const error = await run(positionals, options).catch((e: unknown) => e)
  return error instanceof InputError ? error.describe() : 'accepted'
}

const station = join(examples, 'exhibition/firmware/station.hex')
const byHand = { chip: 'atmega328p', clock: '16 MHz', pin: ['PB2'] }

describe('halfbit simulate', () => {
  it('runs what the design names and judges each output', async () => {
    const { status, out } = await run([], {
      design: join(examples, 'two-tracks/halfbit.yaml'),
      for: '1 s',
      json: true,
    })
    const json = JSON.parse(out)
    expect(status).toBe(0)
    expect(json.halfbit).toBe(1)
    expect(json.halfBits.one).toMatchObject({ minUs: 58, maxUs: 58 })
    expect(json.packets.valid).toBe(json.packets.total)
    expect(json.outputs.map((o: { name: string }) => o.name)).toEqual(['main', 'service'])
    expect(json.evidence.every((e: { origin: string }) => e.origin === 'simulated')).toBe(true)
    expect(json.simulation).toMatchObject({ chip: 'ATmega2560', clockHz: 16e6, restarts: { count: 0 } })
    expect(json.simulation.outputs[0]).toMatchObject({ madeBy: 'hardware', missedCompares: 0 })
    expect(json.interrupted).toBe(false)
  })

  it('runs a file with the controller named on the command line, and lists packets', async () => {
    const { status, out } = await run([station], { ...byHand, for: '300 ms', packets: true })
    expect(status).toBe(0)
    expect(out).toMatch(/ATmega328P at 16 MHz, 300 ms simulated/)
    expect(out).toMatch(/TIMER1_OVF began at most/)
    expect(out).toMatch(/00 00 00 {2}reset all decoders/)
  })

  it('ends with status 1 and the faults on flawed firmware', async () => {
    const { status, out } = await run([], { design: join(examples, 'flawed/halfbit.yaml') })
    expect(status).toBe(1)
    expect(out).toMatch(/compare values? came too late/)
    expect(out).toMatch(/BROKEN +one-half/)
  })

  it('writes the edges as VCD, whole or not at all', async () => {
    const path = join(folder, 'edges.vcd')
    const { out } = await run([station], { ...byHand, for: '100 ms', export: path, json: true })
    const text = readFileSync(path, 'utf8')
    expect(text).toMatch(
      /^\$comment edges of a track signal, made by halfbit simulate from firmware \S+ sha256:[0-9a-f]{64} \$end\n\$timescale 1 ps \$end\n/,
    )
    const times = text
      .split('\n')
      .filter((l) => l.startsWith('#'))
      .map((l) => Number(l.slice(1)))
    expect(times.every((t, i) => i === 0 || t > times[i - 1]!)).toBe(true)
    // One mark per edge, the start and the end of the record.
    expect(times.length).toBe(JSON.parse(out).simulation.outputs[0].edges + 1)
    expect(times.at(-1)).toBeGreaterThanOrEqual(0.1e12)
    expect(new Set(times.slice(3, -1).map((t, i) => t - times[i + 2]!))).toEqual(new Set([58e6, 100e6]))
    const bad = await refusal([join(examples, 'exhibition/README.md')], {
      ...byHand,
      export: join(folder, 'x.vcd'),
    })
    expect(bad).toMatch(/expected a record that begins with ":"/)
    expect(readdirSync(folder)).toEqual(['edges.vcd'])
  })

  it('stops at Ctrl-C with what was seen so far', async () => {
    const stop = new AbortController()
    let calls = 0
    const { out, notes } = await run(
      [station],
      { ...byHand, for: '1 h', json: true },
      {
        signal: stop.signal,
        progress: () => {
          if (++calls === 3) stop.abort()
        },
      },
    )
    const json = JSON.parse(out)
    expect(json.interrupted).toBe(true)
    expect(json.simulation.simulatedUs).toBeLessThan(1e6)
    expect(json.packets.total).toBeGreaterThan(10)
    expect(notes).toMatch(/stopped after/)
  })

  it('is no proof when the firmware sends nothing', async () => {
    const { out } = await run([station], { ...byHand, pin: ['PB5'], for: '100 ms', json: true })
    const json = JSON.parse(out)
    // The program may be healthy, but nothing is met of the output.
    const met = json.evidence.filter((e: { verdict: string }) => e.verdict === 'met')
    expect(met.filter((e: { about?: string }) => e.about !== undefined)).toEqual([])
    expect(json.simulation.outputs[0].madeBy).toBe('none')
  })

  it('says what it cannot use', async () => {
    expect(await refusal([], {})).toMatch(/no firmware; give a HEX or ELF file/)
    expect(await refusal([station], {})).toMatch(/no controller; give --chip/)
    expect(await refusal([station], { chip: 'atmega328' })).toMatch(/the nearest is atmega328p/)
    expect(await refusal([station], { chip: 'rp2040' })).toMatch(/cannot be simulated/)
    expect(await refusal([station], { chip: 'atmega328p', clock: '25 MHz' })).toMatch(
      /to 20 MHz for the ATmega328P/,
    )
    expect(await refusal([station], { ...byHand, pin: [] })).toMatch(/no pin to judge/)
    expect(await refusal([station], { ...byHand, pin: ['PE4'] })).toMatch(/no pin PE4 on the ATmega328P/)
    expect(await refusal([station], { ...byHand, for: 'long' })).toMatch(
      /--for long; expected a number with a unit/,
    )
    const script = join(folder, 'x.stimulus')
    writeFileSync(script, 'at 1 s serial 3 1\n')
    expect(await refusal([station], { ...byHand, stimulus: script })).toMatch(
      /x.stimulus:1:8: no serial port 3 on this controller; expected serial 0/,
    )
    rmSync(script)
    const design = join(examples, 'exhibition/halfbit.yaml')
    expect(await refusal([], { design, chip: 'atmega328p' })).toMatch(/--chip beside --design/)
    const other = join(folder, 'halfbit.yaml')
    const text = readFileSync(design, 'utf8')
    writeFileSync(other, text.replace('chip: atmega328p', 'chip: attiny85').replace('pin: PB2', 'pin: PB1'))
    expect(await refusal([station], { design: other })).toMatch(
      /halfbit.yaml:\d+:\d+: an? ATtiny85, which cannot be simulated; expected atmega328p, atmega2560, atmega32u4/,
    )
  })
})
