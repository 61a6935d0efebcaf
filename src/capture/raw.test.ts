import { describe, expect, it } from 'vitest'
import { read } from '../../test/capture/read.js'

describe('raw samples of an instrument', () => {
  it('of unsigned bytes have their zero in the middle, and a probe its factor', () => {
    const volts = Array.from({ length: 6000 }, (_, i) => (Math.floor(i / 58) % 2 === 0 ? 1.5 : -1.5))
    const bytes = Uint8Array.from(volts, (v) => Math.round(128 + v / 0.02))
    const { summary } = read(bytes, {
      format: 'raw',
      bits: 8,
      rateHz: 1e6,
      stepVolt: 0.02,
      zeroCount: 128,
      probeFactor: 10,
    })
    expect(summary.analog?.highVolt).toBeCloseTo(15, 6)
    expect(summary.analog?.lowVolt).toBeCloseTo(-15, 6)
    expect(summary.analog?.bipolar).toBe(true)
  })

  it('of an idle line are passed over, and the change behind them is where it is', () => {
    for (const bits of [1, 2, 4]) {
      const idle = new Uint8Array(100_000)
      const file = Uint8Array.from([...idle, ...Array.from({ length: 4 }, () => 0xff), 0, 0xff])
      const { edges } = read(file, { format: 'raw', bits, rateHz: 1e6, channel: ['0'] })
      const per = 8 / bits
      expect([...edges.ticks.subarray(0, edges.count)], `${bits} bits`).toEqual([
        0,
        100_000 * per,
        100_004 * per,
        100_005 * per,
      ])
    }
  })
})

describe('bytes of a logic analyzer, a channel in each bit', () => {
  const bytes = Uint8Array.from({ length: 6000 }, (_, i) => Math.floor(i / 58) % 2)
  const raw = { format: 'raw', bits: 8, rateHz: 1e6 } as const

  it('are told from samples of a voltage, and what to state is named', () => {
    expect(() => read(bytes, raw)).toThrow(
      'read as analog counts, lie between 0 and 1 and show no signal; if their bits are logic channels, name one',
    )
    expect(() => read(new Uint8Array(6000).fill(7), raw)).toThrow('lie between 7 and 7')
  })

  it('are read where they are said to be digital, or a bit is named', () => {
    for (const digital of [{ as: 'digital' }, { channel: ['0'] }] as const)
      expect(read(bytes, { ...raw, ...digital }).summary).toMatchObject({ edges: 104, isAnalog: false })
  })
})

it('a channel is found by its name without its unit', () => {
  const rows = Array.from({ length: 60 }, (_, i) => `${i * 58e-6},${i % 2},${(i >> 1) % 2}`).join('\n')
  const { summary } = read(`Time (s),CH1 (V),CH2 [V]\n${rows}\n`, { channel: ['ch2'] })
  expect(summary.channels).toEqual(['CH2 [V]'])
})
