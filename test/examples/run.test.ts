/** The examples' firmware on the simulated controller: the healthy ones keep every clause, the flawed one shows each planted fault. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { readDesign } from '../../src/cli/read-design.js'
import { runFirmware } from '../../src/cli/run-firmware.js'
import { loadFirmware, parseStimulus, type SimulatedChip } from '../../src/controller/index.js'
import { outputsOf } from '../../src/proof/index.js'
import type { PacketRecord } from '../../src/signal/index.js'
import { judgeSignal } from '../../src/signal/index.js'

const examples = new URL('../../examples/', import.meta.url).pathname
const text = (path: string) => readFileSync(path, 'utf8')
const hex = (p: PacketRecord) =>
  Array.from(p.bytes, (b) => b.toString(16).toUpperCase().padStart(2, '0')).join(' ')

async function play(name: string) {
  const folder = `${examples}${name}/`
  const loaded = readDesign(`${folder}halfbit.yaml`)
  const { controller, firmware } = loaded.design
  const packets: Record<string, { hex: string; timeUs: number; valid: boolean }[]> = {}
  const result = await runFirmware(
    {
      image: loadFirmware(readFileSync(folder + firmware!.file), firmware!.file),
      chip: controller.chip as SimulatedChip,
      clockHz: controller.clock.frequency,
      outputs: outputsOf(loaded),
      forUs: firmware!.runFor,
      skipUs: 0,
      stimulus:
        firmware!.stimulus === undefined
          ? undefined
          : parseStimulus(text(folder + firmware!.stimulus), firmware!.stimulus),
      onPacket: (output, p) => {
        ;(packets[output.name] ??= []).push({ hex: hex(p), timeUs: p.timeUs, valid: p.valid })
      },
    },
    { signal: new AbortController().signal, progress: () => {} },
  )
  const verdicts = Object.fromEntries(
    result.outputs.map((o) => [
      o.name,
      judgeSignal(o.reading, o.profile, { origin: 'simulated', source: name, about: o.name }),
    ]),
  )
  return { packets, verdicts, report: result.report, outputs: result.outputs }
}

/** What the firmware said on its serial line. */
const said = (report: Awaited<ReturnType<typeof play>>['report']) =>
  report.serial.map((s) => s.text.replace(/\\n/g, '\n')).join('')

describe('exhibition', () => {
  it('keeps every clause through an evening, with half-bits exact to the cycle', async () => {
    const { verdicts, outputs, packets, report } = await play('exhibition')
    expect(verdicts['main']!.filter((e) => e.verdict !== 'met')).toEqual([])
    const shown = verdicts['main']!.map((e) => e.clause)
    for (const clause of [
      'one-half',
      'one-difference',
      'zero-half',
      'preamble',
      'error-byte',
      'instruction',
      'packet-interval',
    ])
      expect(shown).toContain(clause)
    const { one, zero } = outputs[0]!.reading
    // Data sheet arithmetic: 928 and 1600 cycles at 16 MHz, each one.
    expect([one.minUs, one.maxUs, zero.minUs, zero.maxUs]).toEqual([58, 58, 100, 100])
    const list = packets['main']!.map((p) => p.hex)
    // Start-up: twenty resets and ten idles before anything else (RP-9.2.4 A).
    expect(list.slice(0, 20)).toEqual(Array(20).fill('00 00 00'))
    expect(list.slice(20, 30)).toEqual(Array(10).fill('FF 00 FF'))
    // Locomotive 3 forward at step 60 of 126, 1247 backward at step 35, the emergency stop for all (S-9.2.1:2012 C, S-9.2:2004 B).
    expect(list).toContain('03 3F BD 81')
    expect(list).toContain('C4 DF 3F 24 00')
    expect(list.filter((p) => p === '00 71 71').length).toBe(8)
    expect(report.outputs[0]!.missedCompares).toBe(0)
    expect(said(report)).toMatch(/^ok\nok\nok\nok\n/)
  })
})

describe('two tracks', () => {
  it('keeps every clause on both', async () => {
    const { verdicts, outputs } = await play('two-tracks')
    const open = (output: string) =>
      verdicts[output]!.filter((e) => e.verdict !== 'met').map((e) => `${e.clause} ${e.verdict}`)
    expect(open('main')).toEqual([])
    // The overload of the stimulus makes the firmware switch off inside a packet: from the edges alone nobody can tell why.
    expect(open('service')).toEqual(['interruption undecided'])
    for (const { reading } of outputs) {
      expect([reading.one.minUs, reading.one.maxUs, reading.zero.minUs, reading.zero.maxUs]).toEqual([
        58, 58, 100, 100,
      ])
    }
  })

  it('writes and verifies with the packets that S-9.2.3:2012 E lists, and hears the acknowledgement', async () => {
    const { packets, report } = await play('two-tracks')
    const list = packets['service']!.map((p) => p.hex)
    // 0111CCVV VVVVVVVV DDDDDDDD, CC 11 write, 01 verify; verify CV29 = 6 is 74 1C 06 6E (computed, service-mode vectors).
    const runs: [string, number][] = []
    for (const p of list) {
      const last = runs.at(-1)
      if (last?.[0] === p) last[1]++
      else runs.push([p, 1])
    }
    const names = runs.map(([p]) => p)
    const count = (p: string) => runs[names.indexOf(p)]![1]
    // Power-on: 20 or more packets. Write: 5 and, as recovery, 6 more of the same. Verify: 5.
    expect(names).toEqual([
      '00 00 00',
      '7C 1C 06 66',
      '00 00 00',
      '74 1C 06 6E',
      '00 00 00',
      '74 1C 07 6F',
      '00 00 00',
      '7C 02 0C 72',
      '00 00 00',
    ])
    expect(runs[0]![1]).toBeGreaterThanOrEqual(23)
    expect(count('7C 1C 06 66')).toBe(11)
    expect(count('74 1C 06 6E')).toBe(5)
    expect(
      runs
        .slice(2, -1)
        .filter(([p]) => p === '00 00 00')
        .every(([, n]) => n >= 3 + 6),
    ).toBe(true)
    expect(said(report)).toBe(
      'ok\nok\nok\ntaken\nyes\ntaken\nyes\ntaken\nsilent\ntaken\nyes\noverload\nok\nok\n',
    )
  })
})

describe('flawed', () => {
  it('shows every planted fault, and nothing else of the signal is called broken', async () => {
    const { verdicts, report, outputs } = await play('flawed')
    const broken = verdicts['main']!.filter((e) => e.verdict === 'broken').map((e) => e.clause)
    expect(broken.sort()).toEqual(
      [
        'error-byte',
        'framing',
        'instruction',
        'interruption',
        'one-half',
        'packet-interval',
        'preamble',
        'start-up',
      ].sort(),
    )
    // 145 ticks of 8 / 17.734475 MHz, 13 % more than 58 us.
    expect(outputs[0]!.reading.one.meanUs).toBeCloseTo((145 * 8) / 17.734475, 6)
    expect(report.outputs[0]!.missedCompares).toBeGreaterThan(0)
    // Interrupts off for longer than a half-bit.
    expect(report.outputs[0]!.worstLatencyUs).toBeGreaterThan(65)
  })
})
