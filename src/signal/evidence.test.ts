import { describe, expect, it } from 'vitest'
import { type ClauseId, type Evidence, profileOf } from '../standard/index.js'
import { type EdgeClock, EdgeList } from './edges.js'
import { ENCODER_CLOCK, encodeSignal, NOMINAL_TIMING, SignalEncoder } from './encode.js'
import { judgeSignal, type SignalOrigin } from './evidence.js'
import { readSignal } from './read.js'

const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const measured: SignalOrigin = { origin: 'measured', source: 'a test signal', probe: 'rails' }
const packets = Array.from({ length: 30 }, (_, i) => {
  const bytes = [1 + (i % 9), 0x3f, 0x80 + i]
  return [...bytes, bytes[0]! ^ bytes[1]! ^ bytes[2]!]
})

function judge(
  edges: EdgeList,
  clock: EdgeClock = ENCODER_CLOCK,
  about = measured,
): Partial<Record<ClauseId, Evidence>> {
  const { reading } = readSignal(edges, clock)
  return Object.fromEntries(judgeSignal(reading, profile, about).map((e) => [e.clause, e]))
}

/** The same signal seen by a probe that looks every `us`. */
function sampled(edges: EdgeList, us: number): [EdgeList, EdgeClock] {
  const out = new EdgeList()
  for (let i = 0; i < edges.count; i++)
    out.add(Math.ceil((edges.ticks[i]! / 1000 - 0.3) / us), edges.levels[i]!)
  return [out, { tickUs: us, resolutionUs: us }]
}

describe('judging a signal', () => {
  it('finds a good signal met in every clause it shows, with margins', () => {
    const verdicts = judge(encodeSignal(packets))
    for (const e of Object.values(verdicts)) expect(e.verdict, e.because).toBe('met')
    expect(verdicts['one-half']?.margin).toBeCloseTo(1, 6)
    expect(verdicts['one-half']?.count?.outside).toBe(0)
    expect(verdicts['cutout-start']).toBeUndefined()
  })

  // Sender 55 to 61 us, decoder 52 to 64 us: S-9.1:2020 Table 1 (confirmed).
  it.each([
    [58, 'met', ''],
    [61, 'met', ''],
    [61.1, 'broken', 'decoders should still read it'],
    [54.9, 'broken', 'decoders should still read it'],
    [64.5, 'broken', 'decoders need not read it'],
    [51, 'broken', 'decoders need not read it'],
  ] as const)('a half of a one of %s us is %s', (oneHalfUs, verdict, says) => {
    const { 'one-half': e } = judge(encodeSignal(packets, { ...NOMINAL_TIMING, oneHalfUs }))
    expect(e?.verdict).toBe(verdict)
    expect(e?.because).toContain(says)
    expect(e!.margin >= -1e-9).toBe(verdict === 'met')
  })

  it('does not decide more finely than it was sampled', () => {
    // At 1 MHz 61.0 cannot be told from 61.9 us.
    const near = judge(...sampled(encodeSignal(packets, { ...NOMINAL_TIMING, oneHalfUs: 60.5 }), 1))[
      'one-half'
    ]
    expect(near?.verdict).toBe('undecided')
    expect(near?.because).toMatch(/Hz would decide it/)
    const far = judge(...sampled(encodeSignal(packets, { ...NOMINAL_TIMING, oneHalfUs: 63 }), 1))['one-half']
    expect(far?.verdict).toBe('broken')
    const fine = judge(...sampled(encodeSignal(packets, { ...NOMINAL_TIMING, oneHalfUs: 60.5 }), 0.1))[
      'one-half'
    ]
    expect(fine?.verdict).toBe('met')
    const centre = judge(...sampled(encodeSignal(packets), 1))['one-half']
    expect(centre?.verdict).toBe('met')
  })

  it('leaves open what may be the probe, and says how to find out', () => {
    const clean = encodeSignal(packets)
    const shifted = new EdgeList()
    for (let i = 0; i < clean.count; i++) {
      shifted.add(clean.ticks[i]! + (clean.levels[i] === 0 ? 6000 : 0), clean.levels[i]!)
    }
    const rails = judge(shifted)
    expect(rails['one-half']?.verdict).toBe('undecided')
    expect(rails['one-difference']?.verdict).toBe('undecided')
    expect(rails['one-half']?.because).toContain('swap the leads')
    const pin = judge(shifted, ENCODER_CLOCK, { ...measured, probe: 'logic' })
    expect(pin['one-half']?.verdict).toBe('broken')
  })

  it('holds against the station what ones alone have', () => {
    const encoder = new SignalEncoder()
    for (const bytes of packets) {
      for (let i = 0; i < 16; i++) encoder.bit(true, 60.5, 55.5)
      for (const byte of bytes) {
        encoder.bit(false)
        for (let mask = 0x80; mask > 0; mask >>= 1) {
          if (byte & mask) encoder.bit(true, 60.5, 55.5)
          else encoder.bit(false)
        }
      }
      encoder.bit(true, 60.5, 55.5)
    }
    encoder.ones(2)
    const e = judge(encoder.finish())
    expect(e['one-half']?.verdict).toBe('met')
    expect(e['one-difference']).toMatchObject({ verdict: 'broken' })
    expect(e['one-difference']?.value.high).toBeCloseTo(5, 6)
  })

  it('shows nothing of a record without a signal', () => {
    expect(judge(new EdgeList())).toEqual({})
    const noise = new EdgeList()
    for (let i = 0; i < 40; i++) noise.add(i * 5e6, i % 2)
    for (const e of Object.values(judge(noise))) {
      expect(['framing', 'error-byte', 'instruction', 'preamble']).not.toContain(e.clause)
    }
    // Silence is no signal: nothing begins for longer than 30 ms.
    expect(judge(noise)['packet-interval']?.verdict).toBe('broken')
  })

  it('finds wrong error bytes, short preambles and repeats', () => {
    const list = packets.map((p, i) => (i === 7 ? [...p.slice(0, -1), p.at(-1)! ^ 1] : p))
    // S-9.2:2004 note 11: addresses 112 to 127.
    const close = [115, 0x74, 115 ^ 0x74]
    const e = judge(encodeSignal([...list, close, close], { ...NOMINAL_TIMING, preamble: 12 }))
    expect(e['error-byte']).toMatchObject({ verdict: 'broken', count: { seen: 32, outside: 1 } })
    expect(e['preamble']).toMatchObject({ verdict: 'broken', value: { low: 13 } })
    expect(e['preamble']?.because).toContain('decoders should still read it')
    expect(e['same-address-gap']?.verdict).toBe('broken')
    expect(e['one-half']?.verdict).toBe('met')
  })
})
