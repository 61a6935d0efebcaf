import { describe, expect, it } from 'vitest'
import { profileOf } from '../standard/index.js'
import { ENCODER_CLOCK, encodeSignal, NOMINAL_TIMING } from './encode.js'
import { judgeSignal } from './evidence.js'
import { readSignal } from './read.js'

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
