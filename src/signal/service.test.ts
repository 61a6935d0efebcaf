import { describe, expect, it } from 'vitest'
import { profileOf } from '../standard/index.js'
import { ENCODER_CLOCK, encodeSignal, NOMINAL_TIMING, SignalEncoder } from './encode.js'
import { judgeSignal } from './evidence.js'
import { readSignal } from './read.js'
import { type ReaderOptions, SignalReader } from './reader.js'

const RESET = [0, 0, 0]
/** Direct, verify CV8 bit 7 = 1: computed vector of S-9.2.3:2012 E. */
const VERIFY = [0x78, 0x07, 0xef, 0x90]
const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const times = (n: number, packet: number[]) => Array.from({ length: n }, () => packet)

function judge(packets: number[][]) {
  const edges = encodeSignal(packets, { ...NOMINAL_TIMING, preamble: 20 })
  const { reading } = readSignal(edges, ENCODER_CLOCK, { mode: 'service' })
  const evidence = judgeSignal(reading, profile, { origin: 'simulated', source: 'test' })
  return { reading, of: (id: string) => evidence.find((e) => e.clause === id) }
}

describe('a service track', () => {
  // 3+ resets, 5+ verifies, then the next operation: S-9.2.3:2012 E, direct mode (confirmed).
  const one = [...times(20, RESET), ...times(5, VERIFY), ...times(6, RESET)]

  it('has its operations counted and met', () => {
    const { reading, of } = judge([...one, ...one])
    expect(reading.service?.operations).toBe(2)
    expect(reading.service?.broken).toBe(0)
    expect(of('service-sequence')?.verdict).not.toBe('broken')
    expect(of('preamble')?.verdict).toBe('met')
    expect(of('same-address-gap')).toBeUndefined()
  })

  it('is broken by too few resets before an operation', () => {
    const next = [0x78, 0x07, 0xe7, 0x98]
    const { of } = judge([
      ...times(20, RESET),
      ...times(5, VERIFY),
      ...times(1, RESET),
      ...times(5, next),
      ...times(6, RESET),
    ])
    expect(of('service-sequence')).toMatchObject({ verdict: 'broken', count: { seen: 2, outside: 1 } })
  })

  it('says nothing of operations on a track without any', () => {
    expect(judge(times(30, RESET)).of('service-sequence')).toBeUndefined()
  })
})

/** Direct, write CV1 = 3; address-only, write 3; page preset; page register = 17: vectors of S-9.2.3:2012 E. */
const WRITE = [0x7c, 0x00, 0x03, 0x7f]
const ADDRESS = [0x78, 0x03, 0x7b]
const PRESET = [0x7d, 0x01, 0x7c]
const PAGE = [0x7d, 0x11, 0x6c]

type Step = number[][] | { offMs: number }

/** Packets with power off between them, 30 us after an end bit. */
function session(steps: Step[], options: ReaderOptions = {}) {
  const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 20 })
  for (const step of steps) {
    if (Array.isArray(step)) for (const bytes of step) encoder.packet(bytes)
    else {
      encoder.half(30)
      encoder.silence(step.offMs * 1000)
    }
  }
  const end = encoder.timeUs
  const clock = { ...ENCODER_CLOCK, shows: 'rails' } as const
  const { reading } = readSignal(encoder.finish(), clock, { mode: 'service', ...options }, end * 1000)
  const evidence = judgeSignal(reading, profile, { origin: 'measured', source: 'test', probe: 'rails' })
  return { reading, of: (id: string) => evidence.find((e) => e.clause === id) }
}

const good = [...times(3, RESET), ...times(5, WRITE), ...times(6, RESET)]

describe('power on a service track', () => {
  // 20 valid packets after power is applied, before any operation: S-9.2.3:2012 E (confirmed).
  it.each([3, 5, 17])('that comes back needs 20 packets before an operation, not %s', (count) => {
    for (const offMs of [300, 500]) {
      const { of } = session([good, { offMs }, times(count, RESET), times(5, WRITE), times(6, RESET)])
      expect(of('service-sequence')?.verdict).toBe('broken')
      expect(of('service-sequence')?.because).toMatch(/20 or more come before any operation/)
    }
  })

  it('may be taken away between operations without a long wait being held against it', () => {
    const { of } = session([good, { offMs: 400 }, times(23, RESET), times(5, WRITE), times(6, RESET)], {
      power: { offFromUs: 200_000 },
    })
    expect(of('service-sequence')?.verdict, of('service-sequence')?.because).toBe('met')
    expect(of('packet-interval')?.verdict).toBe('met')
    expect(of('interruption')?.verdict).toBe('met')
  })

  it('is told from a drop-out by the stated time', () => {
    const steps = (offMs: number): Step[] => [
      good,
      { offMs },
      times(3, RESET),
      times(5, WRITE),
      times(6, RESET),
    ]
    const power = { offFromUs: 100_000 }
    expect(session(steps(20), { power }).of('service-sequence')?.verdict).not.toBe('broken')
    expect(session(steps(300), { power }).of('service-sequence')?.verdict).toBe('broken')
    // Not stated, 50 ms may be either.
    expect(session(steps(50)).of('service-sequence')?.verdict).toBe('undecided')
  })

  it('must not be taken away inside paged work', () => {
    const paged = (value: number[]) => [...times(5, value), ...times(6, RESET)]
    const read = [0x70, 0x03, 0x73]
    const steps: Step[] = [
      times(25, RESET),
      paged(PAGE),
      { offMs: 400 },
      times(25, RESET),
      times(7, read),
      times(6, RESET),
    ]
    const { of } = session(steps, { power: { offFromUs: 200_000 } })
    expect(of('service-sequence')?.verdict).toBe('broken')
    expect(of('service-sequence')?.because).toContain('page register')
  })
})

describe('operations at the end of a record', () => {
  it('are right when the record ends just after the recovery', () => {
    const { of } = session([times(3, RESET), times(5, WRITE), times(6, RESET)])
    expect(of('service-sequence')?.verdict, of('service-sequence')?.because).toBe('met')
  })

  it('lack what silence shows to be missing', () => {
    const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 20 })
    for (const bytes of [...times(3, RESET), ...times(5, WRITE), ...times(3, RESET)]) encoder.packet(bytes)
    const end = encoder.timeUs + 500_000
    const { reading } = readSignal(encoder.finish(), ENCODER_CLOCK, { mode: 'service' }, end * 1000)
    expect(reading.service).toMatchObject({ operations: 1, broken: 1 })
  })
})

describe('what packets alone cannot tell', () => {
  it('is named with its reason', () => {
    const without = session([times(20, RESET), times(5, ADDRESS), times(10, RESET)])
    expect(without.of('service-sequence')).toMatchObject({ verdict: 'undecided' })
    expect(without.of('service-sequence')?.because).toMatch(/no page preset .* was seen before it/)
    const recovery = session([
      times(20, RESET),
      times(11, PRESET),
      times(3, RESET),
      times(5, ADDRESS),
      times(10, RESET),
    ])
    expect(recovery.of('service-sequence')?.because).toMatch(/unless .* mode is meant/)
    // Said which mode is meant, it is decided.
    const said = session(
      [times(20, RESET), times(11, PRESET), times(3, RESET), times(5, ADDRESS), times(10, RESET)],
      { serviceModes: ['address-only'] },
    )
    expect(said.of('service-sequence')?.verdict, said.of('service-sequence')?.because).toBe('met')
  })

  it('is decided by acknowledgements where they are known', () => {
    const steps = [...times(20, RESET), ...times(3, VERIFY), ...times(6, RESET)]
    expect(session([steps]).of('service-sequence')?.verdict).toBe('undecided')
    const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 20 })
    let acknowledgedUs = 0
    for (const [i, bytes] of steps.entries()) {
      if (i === 23) acknowledgedUs = encoder.timeUs - 100
      encoder.packet(bytes)
    }
    const verdict = (told: boolean) => {
      const reader = new SignalReader(ENCODER_CLOCK, { mode: 'service', acknowledgementsTold: true })
      if (told) reader.acknowledge(acknowledgedUs)
      reader.push(edges)
      const reading = reader.finish(edges.ticks[edges.count - 1]!)
      return judgeSignal(reading, profile, { origin: 'measured', source: 'test' }).find(
        (e) => e.clause === 'service-sequence',
      )?.verdict
    }
    const edges = encoder.finish()
    expect(verdict(true)).toBe('met')
    expect(verdict(false)).toBe('broken')
  })
})
