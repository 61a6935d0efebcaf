import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { terminalWidth } from '../../plot/index.js'
import { InputError } from '../../units/index.js'
import type { Arguments, Io } from '../command.js'
import { command } from './timers.js'

const examples = new URL('../../../examples/', import.meta.url).pathname
const folder = mkdtempSync(join(tmpdir(), 'halfbit-timers-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

async function run(file: string, options: Record<string, string | boolean> = {}) {
  let out = ''
  let notes = ''
  const args: Arguments = {
    positionals: [file],
    text: (name) => (typeof options[name] === 'string' ? (options[name] as string) : undefined),
    texts: () => [],
    on: (name) => options[name] === true,
  }
  const io: Io = {
    out: (text) => void (out += `${text}\n`),
    note: (text) => void (notes += text),
    progress: () => {},
    signal: new AbortController().signal,
    colour: false,
    width: 80,
  }
  return { status: await command.run(args, io), out, notes }
}

function design(controller: string, output: string): string {
  const path = join(folder, 'halfbit.yaml')
  writeFileSync(
    path,
    `halfbit: 2\nname: x\ncontroller: ${controller}\nsignal: { outputs: { main: ${output} } }\n`,
  )
  return path
}

describe('halfbit timers', () => {
  it('ranks the ways, shows the registers, and what the design shows', async () => {
    const { status, out } = await run(join(examples, 'exhibition/halfbit.yaml'))
    expect(status).toBe(0)
    expect(out).toContain('avr16-1/fast-bit/8/PB2; it is number 1 of the list')
    expect(out).toMatch(/TCCR1B +0x1A \(1 << WGM13\) \| \(1 << WGM12\) \| \(1 << CS11\)/)
    expect(out).toMatch(/OCR1A +231 +399/)
    // 57.369 to 58.645 us at the pin; for the rails, as the proof has it, 0.065 us of the driver's legs (10 % of
    // 0.65 us) and 0.30 us of its dead time with a one-sided load on either side (DRV8874 data sheet).
    expect(out).toMatch(/met {7}one-half: 57\.004 to 59\.010 us/)
  })

  it.each(['exhibition', 'two-tracks', 'flawed', 'shelf'])('fits %s into 80 columns', async (name) => {
    for (const all of [false, true]) {
      const { out } = await run(join(examples, name, 'halfbit.yaml'), { all })
      expect(out.split('\n').filter((l) => terminalWidth(l) > 80)).toEqual([])
    }
  })

  it('judges each output by its own limits, as the proof does', async () => {
    // RCN-211:2019, preamble with cut-out (from memory): 17.
    const of = (preamble: number, cutout: boolean) =>
      run(
        design(
          '{ chip: atmega328p, clock: { frequency: 16 MHz } }',
          `{ pin: PB2, preamble: ${preamble}, cutout: ${cutout} }`,
        ),
      )
    expect((await of(16, false)).status).toBe(0)
    const short = await of(16, true)
    expect(short.status).toBe(1)
    expect(short.out).toContain('at least 17')
    expect((await of(17, true)).status).toBe(0)
  })

  it('says what it takes where the method is left open', async () => {
    const path = design('{ chip: rp2040, clock: { frequency: 125 MHz } }', '{ pin: GPIO2 }')
    const { status, out } = await run(path)
    expect(status).toBe(0)
    expect(out).toContain('method left open')
    expect(out.replace(/\s+/g, ' ')).toContain('leaves the method, timer and prescaler open')
  })

  it('gives one JSON object', async () => {
    const { status, out } = await run(join(examples, 'two-tracks/halfbit.yaml'), { json: true })
    const json = JSON.parse(out)
    expect(status).toBe(0)
    expect(json).toMatchObject({ halfbit: 1, chip: 'atmega2560', clockHz: 16e6 })
    expect(json.outputs.map((t: { choice: string }) => t.choice)).toEqual([
      'avr16-1/fast-bit/8/PB6',
      'avr16-3/fast-bit/8/PE4',
    ])
    const about = json.outputs.flatMap((t: { evidence: { clause: string }[] }) => t.evidence)
    expect(about.filter((e: { clause: string }) => e.clause === 'pin-conflict')).toHaveLength(1)
  })

  it('ends with 1 where the design breaks a clause', async () => {
    const { status, out } = await run(join(examples, 'flawed/halfbit.yaml'))
    expect(status).toBe(1)
    expect(out).toMatch(/broken {4}preamble: 10 bits/)
    const rc = design(
      '{ chip: atmega328p, clock: { frequency: 8 MHz, source: rc } }',
      '{ pin: PB1, method: toggle, preamble: 16 }',
    )
    const none = await run(rc)
    expect(none.status).toBe(1)
    expect(none.out).toContain('No timer of this controller can make this signal with this clock')
  })

  it('lists what is refused and what cannot work when asked', async () => {
    const path = design(
      '{ chip: atmega328p, clock: { frequency: 16 MHz }, reservedTimers: [0] }',
      '{ pin: PB1, method: toggle }',
    )
    expect((await run(path)).out.replace(/\s+/g, ' ')).toContain(
      'Timer 0 is reserved in the design; without that, possible: toggle, buffered / 8',
    )
    const { out } = await run(path, { all: true })
    expect(out).toContain('phase-correct PWM')
    expect(out).toMatch(/bits reach\s+only/)
  })

  it.each([
    ['exhibition', 'main', 'halfbit_signal.h'],
    ['two-tracks', 'main', 'halfbit_main.h'],
    ['two-tracks', 'service', 'halfbit_service.h'],
  ])('%s: the header of %s is what the design gives', async (example, output, file) => {
    const path = join(folder, file)
    const { status, notes, out } = await run(join(examples, example, 'halfbit.yaml'), { output, c: path })
    expect({ status, out }).toEqual({ status: 0, out: '' })
    expect(notes).toContain(`Wrote ${path}`)
    const kept = join(examples, example, 'firmware', file)
    expect(readFileSync(path, 'utf8')).toBe(readFileSync(kept, 'utf8'))
  })

  it('refuses what it cannot do, and leaves no file', async () => {
    const two = join(examples, 'two-tracks/halfbit.yaml')
    const path = join(folder, 'none.h')
    await expect(run(two, { c: path })).rejects.toThrow('give --output NAME, one of main, service')
    await expect(run(two, { output: 'servce' })).rejects.toThrow('the nearest is service')
    await expect(run(two, { pick: 'avr16-1/fast-bit/8/PB9' })).rejects.toThrow(
      'the nearest is avr16-1/fast-bit/8/PB',
    )
    const rp = design('{ chip: rp2040, clock: { frequency: 125 MHz } }', '{ pin: GPIO3, method: fed }')
    await expect(run(rp, { c: path })).rejects.toThrow(InputError)
    await expect(run(join(folder, 'missing.yaml'))).rejects.toThrow(/ENOENT/)
    expect(existsSync(path)).toBe(false)
  })
})
