import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import { packetDurationUs } from './bits.js'
import { encodePacket } from './encode.js'
import type { CvAccess } from './packet.js'
import { pagedCv, pageOfCv } from './paging.js'
import type { ServiceMode } from './sequence.data.js'
import {
  type ServiceOperation,
  ServiceSequence,
  type ServiceSequenceOptions,
  serviceOperations,
} from './sequence.js'

/** S-9.2.3:2012 E (confirmed), not the room's own table. */
const TABLE = JSON.parse(
  readFileSync(new URL('../../test/published/service-sequence.json', import.meta.url), 'utf8'),
) as {
  powerOnPackets: number
  modes: Record<ServiceMode, Record<string, number | null>>
  paging: { cv: number; page: number; dataRegister: number }[]
}

type Step = [times: number, bytes: Uint8Array]
const direct = (access: CvAccess) => encodePacket({ kind: 'service-direct', access })
const register = (op: 'write' | 'verify', number: number, value: number) =>
  encodePacket({ kind: 'service-register', op, register: number, value })
const RESET = encodePacket({ kind: 'reset', target: { kind: 'all' } })
const IDLE = encodePacket({ kind: 'idle' })
const WRITE = direct({ op: 'write', cv: 29, value: 6 })
const VERIFY = direct({ op: 'verify', cv: 29, value: 6 })
const PRESET = register('write', 6, 1)

function packetsOf(steps: Step[]): { bytes: Uint8Array; timeUs: number; endUs: number }[] {
  let at = 0
  const list: { bytes: Uint8Array; timeUs: number; endUs: number }[] = []
  for (const [times, bytes] of steps) {
    for (let i = 0; i < times; i++) {
      const timeUs = at
      at += packetDurationUs(bytes, 20)
      list.push({ bytes, timeUs, endUs: at })
    }
  }
  return list
}
const judge = (steps: Step[], options: ServiceSequenceOptions = {}): ServiceOperation[] =>
  serviceOperations(packetsOf(steps), options)
const faults = (o: ServiceOperation | undefined) => o?.faults.map((f) => `${f.kind} ${f.verdict}`)

describe('service-mode sequences', () => {
  it('finds a direct write with all it takes', () => {
    const [write, ...more] = judge([
      [3, RESET],
      [5, WRITE],
      [6, RESET],
      [1, IDLE],
    ])
    expect(more).toEqual([])
    expect(write).toMatchObject({
      says: 'direct: write CV29 = 6',
      does: 'write',
      modes: ['direct'],
      resetsBefore: 3,
      instructions: 5,
      resetsAfter: 6,
      ended: 'other packet',
      verdict: 'met',
    })
  })

  it('counts more of the same write as recovery', () => {
    const steps: Step[] = [
      [3, RESET],
      [11, WRITE],
      [1, IDLE],
    ]
    expect(judge(steps)[0]?.verdict).toBe('met')
    steps[1] = [10, WRITE]
    expect(faults(judge(steps)[0])).toEqual(['recovery broken'])
  })

  // Every cell of the table: as many as it says are enough, one fewer is not.
  const cells = (Object.keys(TABLE.modes) as ServiceMode[]).flatMap((mode) =>
    (['resets', 'page', 'pageRecovery', 'verify', 'write', 'recovery', 'recoveryOfRegister1'] as const)
      .filter((step) => TABLE.modes[mode][step] !== null)
      .flatMap((step) => [0, 1].map((fewer) => ({ mode, step, fewer }))),
  )
  it.each(cells)('$mode: $step less $fewer', ({ mode, step, fewer }) => {
    const row = TABLE.modes[mode]
    const n = (name: string) => (row[name] ?? 0) - (name === step ? fewer : 0)
    const does = step === 'verify' ? 'verify' : 'write'
    // Register 1 where the step or the mode asks for it, else register 2.
    const number = mode === 'address-only' || step === 'recoveryOfRegister1' ? 1 : 2
    const instruction =
      mode === 'direct'
        ? does === 'write'
          ? WRITE
          : VERIFY
        : register(does, number, mode === 'paged' ? 9 : 3)
    const page = register('write', 6, mode === 'paged' ? 17 : 1)
    const recovery = number === 1 && step === 'recoveryOfRegister1' ? step : 'recovery'
    const list = judge(
      [
        [1, IDLE],
        ...(row['page'] === null
          ? []
          : ([
              [3, RESET],
              [n('page'), page],
              [n('pageRecovery'), RESET],
              // What parts the recovery of the page from the resets of the operation, and breaks neither.
              ...(step === 'resets' || step === 'pageRecovery' ? [[1, IDLE] as Step] : []),
            ] as Step[])),
        [n('resets'), RESET],
        [n(does), instruction],
        [does === 'verify' ? 0 : n(recovery), RESET],
        [1, IDLE],
      ],
      { modes: [mode], acknowledgementsTold: true },
    )
    const all = list.flatMap((o) => faults(o) ?? [])
    const kind = {
      resets: 'resets',
      page: 'instructions',
      pageRecovery: 'recovery',
      verify: 'instructions',
      write: 'instructions',
      recovery: 'recovery',
      recoveryOfRegister1: 'recovery',
    }[step]
    // Steps that share their resets are undecided; see the next test.
    const sharp = all.filter((f) => !f.endsWith('undecided'))
    // A write that is short of one is short of nothing else: more writes would have counted as its recovery only beyond five.
    expect(sharp).toEqual(fewer ? [`${kind} broken`] : [])
    expect(list.at(-1)?.modes).toEqual([mode])
  })

  it('cannot tell whether resets may count for two steps', () => {
    const twice = (between: number) =>
      judge([
        [3, RESET],
        [5, WRITE],
        [between, RESET],
        [5, VERIFY],
        [1, RESET],
        [1, IDLE],
      ]).map((o) => [o.verdict, ...(faults(o) ?? [])])
    expect(twice(9)).toEqual([['met'], ['met']])
    expect(twice(6)).toEqual([['met'], ['undecided', 'resets undecided']])
    expect(twice(5)).toEqual([['broken', 'recovery broken'], ['met']])
    expect(twice(2)).toEqual([
      ['broken', 'recovery broken'],
      ['broken', 'resets broken'],
    ])
  })

  it('knows that a run may end at an acknowledgement, and that only the caller can see one', () => {
    const steps: Step[] = [
      [3, RESET],
      [3, VERIFY],
      [3, RESET],
      [1, IDLE],
    ]
    expect(faults(judge(steps)[0])).toEqual(['instructions undecided'])
    expect(faults(judge(steps, { acknowledgementsTold: true })[0])).toEqual(['instructions broken'])
    const seen = new ServiceSequence({ acknowledgementsTold: true })
    let over: ServiceOperation | undefined
    packetsOf(steps).forEach(({ bytes, timeUs, endUs }, i) => {
      over ??= seen.packet(bytes, timeUs, endUs)
      if (i === 5) seen.acknowledge()
    })
    expect(over).toMatchObject({ acknowledged: true, verdict: 'met', instructions: 3 })
  })

  it('wants a reset after an acknowledged direct verify', () => {
    const sequence = new ServiceSequence({ acknowledgementsTold: true })
    for (const p of packetsOf([
      [3, RESET],
      [4, VERIFY],
    ]))
      sequence.packet(p.bytes, p.timeUs, p.endUs)
    sequence.acknowledge()
    expect(faults(sequence.packet(IDLE, 60_000, 66_000))).toEqual(['acknowledged broken'])
  })

  it('wants a reset right before service mode is entered', () => {
    const steps: Step[] = [
      [3, RESET],
      [1, IDLE],
      [5, VERIFY],
      [1, IDLE],
    ]
    expect(faults(judge(steps)[0])).toEqual(['entry broken'])
  })

  it('sees decoders leave service mode after 20 ms without a packet', () => {
    const list = packetsOf([
      [3, RESET],
      [5, VERIFY],
    ])
    const endUs = list.at(-1)!.endUs
    const again = (gap: number) => {
      const next = packetsOf([[5, WRITE]]).map((p) => ({
        bytes: p.bytes,
        timeUs: p.timeUs + endUs + gap,
        endUs: p.endUs + endUs + gap,
      }))
      return serviceOperations([...list, ...next])
    }
    const lasts = packetDurationUs(WRITE, 20)
    expect(faults(again(20_000 - lasts)[1])).toContain('resets broken')
    expect(again(20_000 - lasts)[0]?.ended).toBe('next operation')
    expect(faults(again(20_001 - lasts)[1])).toContain('entry broken')
    expect(again(20_001 - lasts)[0]?.ended).toBe('time-out')
  })

  it('finds that nothing acts on packets that never come twice in a row', () => {
    const list = judge([
      [3, RESET],
      [1, WRITE],
      [1, RESET],
      [1, WRITE],
      [9, RESET],
      [1, IDLE],
    ])
    expect(list.map(faults)).toEqual([
      ['instructions broken', 'recovery broken'],
      ['resets broken', 'instructions broken'],
    ])
  })

  it('wants twenty packets after power', () => {
    const withPackets = (n: number) =>
      faults(
        judge(
          [
            [n, RESET],
            [5, VERIFY],
            [1, IDLE],
          ],
          { fromPowerOn: true },
        )[0],
      )
    expect(withPackets(TABLE.powerOnPackets - 1)).toEqual(['power-on broken'])
    expect(withPackets(TABLE.powerOnPackets)).toEqual(['power-on undecided'])
    expect(withPackets(TABLE.powerOnPackets + 3)).toEqual([])
  })

  it('sees power go in the middle', () => {
    const sequence = new ServiceSequence()
    for (const p of packetsOf([
      [3, RESET],
      [5, WRITE],
      [2, RESET],
    ]))
      sequence.packet(p.bytes, p.timeUs, p.endUs)
    const over = sequence.powerOff()
    expect(over?.ended).toBe('power off')
    expect(faults(over)).toEqual(['recovery broken'])
    sequence.packet(RESET, 1e6, 1.007e6)
    for (let i = 0; i < 5; i++) sequence.packet(VERIFY, 1.01e6 + i * 9000, 1.018e6 + i * 9000)
    expect(faults(sequence.finish())).toEqual(['power-on broken', 'resets broken'])
  })

  it('does not condemn what the ends of the record hide', () => {
    expect(faults(judge([[3, VERIFY]])[0])).toEqual(['resets undecided', 'instructions undecided'])
    const cut = judge([
      [3, RESET],
      [5, WRITE],
      [2, RESET],
    ])
    expect(cut[0]).toMatchObject({ ended: 'end of record', verdict: 'undecided' })
  })

  it('follows the page register', () => {
    const list = judge([
      [3, RESET],
      [5, register('write', 6, 17)],
      [9, RESET],
      [5, register('write', 1, 9)],
      [6, RESET],
      [1, IDLE],
    ])
    expect(list.map((o) => [o.says, o.verdict])).toEqual([
      ['paged: write register 6 (page) = 17, holds CV65 to CV68', 'met'],
      ['paged: write CV65 = 9 (page 17, data register 0)', 'met'],
    ])
    expect(list[1]?.notes).toEqual(['the page register still holds 17; it should be put back to 1'])
  })

  it('says which mode would want more, where bytes fit several', () => {
    const list = judge([
      [3, RESET],
      [5, PRESET],
      [9, RESET],
      [5, register('write', 1, 3)],
      [6, RESET],
      [1, IDLE],
    ])
    expect(list[1]?.modes).toEqual(['address-only', 'register', 'paged'])
    expect(list[1]?.faults).toMatchObject([{ kind: 'recovery', verdict: 'undecided', found: 6, wanted: 10 }])
    expect(list[1]?.faults[0]?.says).toContain('address-only or register')
  })

  it('has the factory reset and the missing page preset before it', () => {
    const steps: Step[] = [
      [23, RESET],
      [5, register('write', 8, 8)],
      [6, RESET],
      [1, IDLE],
    ]
    const [reset] = judge(steps, { fromPowerOn: true })
    expect(reset?.says).toBe('register: decoder factory reset')
    expect(faults(reset)).toEqual(['page broken'])
    expect(faults(judge(steps)[0])).toEqual(['page undecided'])
  })

  it('counts as many operations as it tells, for any packets in any order', () => {
    const any = fc.constantFrom<Uint8Array>(
      RESET,
      IDLE,
      WRITE,
      VERIFY,
      PRESET,
      register('verify', 3, 9),
      Uint8Array.of(0x70, 0, 0, 0x70),
      Uint8Array.of(0),
      Uint8Array.of(),
    )
    fc.assert(
      fc.property(
        fc.array(fc.tuple(fc.integer({ min: 1, max: 12 }), any), { maxLength: 40 }),
        fc.record({ fromPowerOn: fc.boolean(), acknowledgementsTold: fc.boolean() }),
        (steps, options) => {
          const sequence = new ServiceSequence(options)
          let told = 0
          let sent = 0
          for (const p of packetsOf(steps)) {
            const over = sequence.packet(p.bytes, p.timeUs, p.endUs)
            if (over) {
              told++
              sent += over.instructions
              expect(over.verdict === 'met').toBe(over.faults.length === 0)
            }
          }
          const last = sequence.finish()
          if (last) {
            told++
            sent += last.instructions
          }
          const { operations, met, broken, undecided } = sequence.counts
          expect(operations).toBe(told)
          expect(met + broken + undecided).toBe(told)
          // Every instruction packet is in exactly one operation.
          const instructions = steps.filter(([, b]) => b[0] !== undefined && b[0] >= 112 && b[0] < 128)
          expect(sent).toBe(instructions.reduce((sum, [n]) => sum + n, 0))
        },
      ),
      { numRuns: runs(300) },
    )
  })
})

describe('paging', () => {
  it.each(TABLE.paging)(
    'CV$cv is on page $page, data register $dataRegister',
    ({ cv, page, dataRegister }) => {
      expect(pageOfCv(cv)).toEqual({ page, register: dataRegister + 1 })
    },
  )
  it('comes back for every CV', () => {
    for (let cv = 1; cv <= 1024; cv++) {
      const { page, register: number } = pageOfCv(cv)
      expect(page).toBeLessThan(256)
      expect(pagedCv(page, number)).toBe(cv)
    }
  })
  it.each([0, 1025, 1.5])('refuses CV %d', (cv) => expect(() => pageOfCv(cv)).toThrow(RangeError))
})
