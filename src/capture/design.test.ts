import { describe, expect, it } from 'vitest'
import { CAPTURE_FORMAT_IDS, CaptureImporter, captureOptions, checkCapture } from './index.js'

const capture = (keys: object) => ({
  file: 'a.bin',
  invert: false,
  signed: false,
  probe: 'rails' as const,
  ...keys,
})

describe('captures that the design lists', () => {
  it.each([
    [{ bits: 8 }, 'bits', /carry no times; expected rate/],
    [{ format: 'raw' as const }, 'format', /carry no times; expected rate/],
    [{ format: 'csv' as const, bits: 8 }, 'bits', /bits is for raw samples/],
    [{ bits: 3, rate: 4e6 }, 'bits', /3 bits; expected one of 1, 2, 4, 8, 16/],
    [{ bits: 8, rate: 4e6, channel: ['8'] }, 'channel', /expected a bit from 0 to 7/],
    [{ bits: 8, rate: 4e6, channel: ['0', '1'] }, 'channel', /cannot be subtracted/],
    [{ step: 0.2 }, 'step', /step is for raw samples/],
    [{ from: 5, to: 5 }, 'from', /not before/],
  ])('%j is refused before anything is read', (keys, key, message) => {
    const problems = checkCapture(capture(keys))
    expect(problems.map((p) => p.key)).toEqual([key])
    expect(problems[0]!.message).toMatch(message)
    expect(problems[0]!.message).not.toMatch(/--/)
  })

  it('what passes can be opened', () => {
    for (const keys of [
      {},
      { bits: 8, rate: 4e6, step: 0.2, zeroCount: 128, probeFactor: 10 },
      { bits: 1, rate: 4e6 },
      { format: 'raw' as const, rate: 1e6, channel: ['0'] },
      ...CAPTURE_FORMAT_IDS.filter((f) => f !== 'raw').map((format) => ({ format })),
    ]) {
      expect(checkCapture(capture(keys))).toEqual([])
      expect(
        () => new CaptureImporter(captureOptions(capture(keys)), { begin() {}, push() {} }),
      ).not.toThrow()
    }
  })
})
