/**
 * Captures with a channel of the current: an acknowledgement is an increase of at least 60 mA for 6 ms ± 1 ms, and
 * 250 mA may flow for 100 ms (S-9.2.3:2012 D and B, confirmed). Both faces, with the file written here.
 */
import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { ENCODER_CLOCK, NOMINAL_TIMING, SignalEncoder } from '../../src/signal/index.js'
import type { Statement } from '../../src/standard/index.js'
import { capture as readOnScreen } from '../../src/web/worker/captures.js'
import { halfbitHere } from '../contract/here.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-current-'))
afterAll(() => rmSync(folder, { recursive: true }))

const RESET = [0, 0, 0]
/** Direct, verify CV8 bit 7 = 1: computed vector of S-9.2.3:2012 E. */
const VERIFY = [0x78, 0x07, 0xef, 0x90]
const QUIET_AMP = 0.02
const STEP_US = 10
let files = 0

interface Plan {
  /** Verify packets of the one operation: 5 without an acknowledgement, 2 or more with one. */
  verifies: number
  /** A rise of the current, from the middle of the last verify packet on. */
  riseMs?: number
  riseAmp?: number
  resetsAfter?: number
  /** Column of the current: title and the value that stands for so many amperes. */
  title?: string
  value?: (amp: number, us: number) => number
  analog?: boolean
}

/** Samples every 10 us: twenty resets, one operation, resets, an idle. */
function record(plan: Plan): string {
  const { verifies, riseMs = 0, riseAmp = 0, resetsAfter = 6, title = 'shunt (A)', analog = true } = plan
  const { value = (amp: number) => amp } = plan
  const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 20 })
  let riseAtUs = 0
  for (let i = 0; i < 20; i++) encoder.packet(RESET)
  for (let i = 0; i < verifies; i++) {
    riseAtUs = encoder.timeUs + 4000
    encoder.packet(VERIFY)
  }
  for (let i = 0; i < resetsAfter; i++) encoder.packet(RESET)
  encoder.packet([0xff, 0, 0xff])
  const { ticks, levels, count } = encoder.finish()
  const rows = [`Time (us),track (V),${title}`]
  let at = 0
  const endUs = ticks[count - 1]! * ENCODER_CLOCK.tickUs
  for (let us = 0; us < endUs; us += STEP_US) {
    while (at + 1 < count && ticks[at + 1]! * ENCODER_CLOCK.tickUs <= us) at++
    const high = levels[at] === 1
    const amp = QUIET_AMP + (us >= riseAtUs && us < riseAtUs + riseMs * 1000 ? riseAmp : 0)
    rows.push(`${us},${analog ? (high ? 15 : -15) : high ? 1 : 0},${value(amp, us)}`)
  }
  const path = join(folder, `record-${files++}.csv`)
  writeFileSync(path, `${rows.join('\n')}\n`)
  return path
}

async function read(plan: Plan, options: string[] = ['--current', 'shunt']) {
  const { stdout, stderr } = await halfbitHere([
    'capture',
    record(plan),
    '--mode',
    'service',
    '--json',
    ...options,
  ])
  if (stdout === '') throw new Error(stderr)
  const json = JSON.parse(stdout)
  const list: Statement[] = json.evidence ?? json.statements
  return { json, of: (id: string) => list.find((e) => e.clause === id), stderr }
}

const ACK = { riseMs: 6, riseAmp: 0.07 }

describe('a service operation with its current', () => {
  it('may end early at an acknowledgement', async () => {
    const { of, json } = await read({ verifies: 3, ...ACK })
    expect(json.current.acknowledgements).toBe(1)
    expect(of('service-sequence')?.verdict, of('service-sequence')?.because).toBe('met')
    expect(of('service-current')).toMatchObject({ verdict: 'met', origin: 'measured' })
  })

  it.each([
    ['no rise at all', {}],
    ['a rise of 4 ms', { riseMs: 4, riseAmp: 0.07 }],
    ['a rise of 9 ms', { riseMs: 9, riseAmp: 0.07 }],
    ['a rise of 50 mA', { riseMs: 6, riseAmp: 0.05 }],
  ])('may not with %s', async (_, rise) => {
    const { of, json } = await read({ verifies: 3, ...rise })
    expect(json.current.acknowledgements).toBe(0)
    expect(of('service-sequence')?.verdict).toBe('broken')
  })

  it('needs none when it sends all its packets', async () => {
    const { of } = await read({ verifies: 5 })
    expect(of('service-sequence')?.verdict, of('service-sequence')?.because).toBe('met')
  })

  it('is undecided without a channel of the current, which is said', async () => {
    const { of } = await read({ verifies: 3, ...ACK }, [])
    expect(of('service-sequence')?.verdict).toBe('undecided')
    expect(of('service-current')).toMatchObject({ verdict: 'not shown' })
    expect(of('service-current')?.because).toContain('no current channel')
  })
})

describe('the limit of the current', () => {
  it.each([
    [150, 0.28, 'broken'],
    [50, 0.28, 'met'],
    [150, 0.22, 'met'],
  ])('%s ms of %s A more than 20 mA: %s', async (riseMs, riseAmp, verdict) => {
    const { of } = await read({ verifies: 5, riseMs, riseAmp, resetsAfter: 30 })
    expect(of('service-current')?.verdict, of('service-current')?.because).toBe(verdict)
  })

  // A shunt in a rail sees the current turn with the polarity, and a spike at each change of it.
  it('counts neither the sign of the current nor the spikes of the polarity', async () => {
    const value = (amp: number, us: number) =>
      ((us / 60) % 2 < 1 ? 1 : -1) * (us % 120 === 0 ? amp + 0.3 : amp)
    const quiet = await read({ verifies: 5, value })
    expect(quiet.of('service-current')?.verdict).toBe('met')
    const loaded = await read({ verifies: 5, riseMs: 150, riseAmp: 0.28, resetsAfter: 30, value })
    expect(loaded.of('service-current')?.verdict).toBe('broken')
    const acknowledged = await read({ verifies: 3, ...ACK, value })
    expect(acknowledged.json.current.acknowledgements).toBe(1)
  })
})

describe('the channel of the current', () => {
  const LOADED = { verifies: 5, riseMs: 150, riseAmp: 0.28, resetsAfter: 30 }

  it.each([
    ['shunt (mA)', 1000, [] as string[]],
    ['shunt (V)', 0.1, ['--amp-per-volt', '10']],
    ['shunt (mV)', 100, ['--amp-per-volt', '10']],
  ])('may be %s', async (title, factor, more) => {
    const { json, of } = await read({ ...LOADED, title, value: (amp) => amp * factor }, [
      '--current',
      'shunt',
      ...more,
    ])
    expect(json.current.peakAmp).toBeCloseTo(0.3, 6)
    expect(of('service-current')?.verdict).toBe('broken')
  })

  it('may stand beside a digital one', async () => {
    const { of } = await read({ ...LOADED, analog: false })
    expect(of('service-current')?.verdict).toBe('broken')
  })

  it('must be known in amperes, and be another than the signal', async () => {
    await expect(read({ ...LOADED, title: 'shunt (V)' })).rejects.toThrow(/"shunt \(V\)" holds no amperes/)
    await expect(read(LOADED, ['--current', 'shunt', '--amp-per-volt', '2'])).rejects.toThrow(
      /holds amperes already/,
    )
    await expect(
      read(LOADED, ['--current', 'track', '--amp-per-volt', '1', '--channel', 'track']),
    ).rejects.toThrow(/expected two channels/)
    await expect(read(LOADED, ['--amp-per-volt', '2'])).rejects.toThrow(/needs --current/)
    await expect(read({ ...LOADED, value: () => Number.NaN })).rejects.toThrow()
  })

  it('is judged on a service track only, which is said', async () => {
    const { stdout } = await halfbitHere(['capture', record({ verifies: 5 }), '--json', '--current', 'shunt'])
    expect(stdout).toContain('the current is judged on a service track only')
    expect(stdout).not.toContain('"service-current"')
  })
})

describe('in the workbench and in the design', () => {
  const text = [
    'halfbit: 2',
    'name: service track, invented',
    'scale: H0',
    'controller: { chip: atmega328p, clock: { frequency: 16 MHz, source: crystal } }',
    'signal: { outputs: { service: { mode: service, pin: PB1, method: buffered, timer: 1, prescaler: 8 } } }',
    'captures: [{ file: record.csv, output: service, current: { channel: shunt } }]',
    '',
  ].join('\n')

  it.each([
    [150, 'broken'],
    [50, 'met'],
  ])('%s ms of 300 mA are %s', async (riseMs, verdict) => {
    const path = record({ verifies: 5, riseMs, riseAmp: 0.28, resetsAfter: 30 })
    const file = new Blob([readFileSync(path)])
    const tools = { progress: () => {}, cancelled: () => false }
    const { evidence } = await readOnScreen(
      { file, name: 'record.csv', text, listed: 0 } as never,
      tools as never,
    )
    expect(evidence.statements.find((e) => e.clause === 'service-current')?.verdict).toBe(verdict)

    copyFileSync(path, join(folder, 'record.csv'))
    writeFileSync(join(folder, 'halfbit.yaml'), text)
    const { stdout } = await halfbitHere(['prove', join(folder, 'halfbit.yaml'), '--json'])
    const row = JSON.parse(stdout).rows.find((r: { clause: string }) => r.clause === 'service-current')
    expect(row.verdict).toBe(verdict)
  })
})
