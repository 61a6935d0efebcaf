import { describe, expect, it } from 'vitest'
import { InputError } from '../../../units/index.js'
import { parseStimulus } from './stimulus.js'

function complaint(text: string): string {
  try {
    parseStimulus(text, 'a.stimulus')
  } catch (error) {
    if (error instanceof InputError) return error.describe()
    throw error
  }
  return 'accepted'
}

describe('a stimulus script', () => {
  it('reads bytes, levels, voltages, chance and repeated blocks', () => {
    const s = parseStimulus(
      `# invented\n` +
        `at 1 s serial 0 "go\\n\\x41" 0x0D 7\n` +
        `at 500ms pin pd2 low # a short\n` +
        `at 0 s volt ADC3 0.5 V\n` +
        `at 2 s serial 1 with 9600 baud random 200 /s for 3 s seed 7 of "ab"\n` +
        `every 100 ms from 1 s to 2 s\n at 5 ms pin PD3 high\n at 0 ms pin PD3 free\nend\n` +
        `every 1 s serial 0 "x"\n`,
      'a.stimulus',
    )
    expect(s.events.map((e) => [e.atUs, e.line, e.action.kind])).toEqual([
      [0, 4, 'volt'],
      [500e3, 3, 'pin'],
      [1e6, 2, 'bytes'],
      [2e6, 5, 'random'],
    ])
    expect(s.events[2]!.action).toEqual({
      kind: 'bytes',
      port: 0,
      bytes: Uint8Array.of(0x67, 0x6f, 10, 0x41, 13, 7),
    })
    expect(s.events[3]!.action).toMatchObject({ perSecond: 200, forUs: 3e6, seed: 7, baud: 9600 })
    expect(s.repeats[0]).toMatchObject({ everyUs: 1e5, fromUs: 1e6, toUs: 2e6 })
    expect(s.repeats[0]!.events.map((e) => e.atUs)).toEqual([0, 5000])
    expect(s.repeats[1]).toMatchObject({ everyUs: 1e6, fromUs: 0, toUs: Number.POSITIVE_INFINITY })
  })

  it('says what is wrong and where', () => {
    expect(complaint('att 1 s pin PD2 low')).toBe(
      'a.stimulus:1:1: "att"; expected at, every, end; the nearest is "at"',
    )
    expect(complaint('\nat 1 kg pin PD2 low')).toMatch(
      /^a.stimulus:2:4: "1" as a time; expected a number with a unit/,
    )
    expect(complaint('at 1 s pin PD9 low')).toMatch(/^a.stimulus:1:12: "PD9"; expected a port pin/)
    expect(complaint('at 1 s pin PD2 lo')).toMatch(/:16: "lo"; expected low, high, free/)
    expect(complaint('at 1 s serial 0 300')).toMatch(/:17: "300"; expected "text" or a byte/)
    expect(complaint('at 1 s serial 0 "a\\q"')).toMatch(/:19: "\\q"; expected/)
    expect(complaint('at 1 s serial 0 "a')).toMatch(/:17: a quotation mark without its partner/)
    expect(complaint('at 1 s')).toMatch(/the line ends here; expected serial, pin, volt or reset/)
    expect(complaint('end')).toMatch(/without a block/)
    expect(complaint('every 1 s\nat 0 s pin PD2 low')).toMatch(/^a.stimulus:1:1: a block without its "end"/)
    expect(complaint('every 1 s\nat 2 s pin PD2 low\nend')).toMatch(/not below its period/)
    expect(complaint('every 0.001 us pin PD2 low')).toMatch(/at least 10 us/)
    expect(complaint('at 1 s pin PD2 low high')).toMatch(/expected the end of the line/)
    expect(complaint('at 1 s volt ADC0 400 V')).toMatch(/expected -1 to 60 V/)
  })
})
