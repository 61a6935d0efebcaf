import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { ENCODER_CLOCK, encodeSignal } from '../signal/index.js'
import { CsvWriter, VcdWriter } from './export.js'
import { CaptureImporter } from './import.js'
import { isSimulatedRecord, type MadeBy, madeByOf, madeBySentence } from './provenance.js'

const SIGNAL = encodeSignal([[0xff, 0, 0xff]])
const SIMULATED: MadeBy = { command: 'simulate', firmware: { name: 'main.hex', sha256: 'ab'.repeat(32) } }

/** What the importer says made a file, once in its summary and once to the sink. */
function madeBy(text: string): [MadeBy | undefined, MadeBy | undefined] {
  let told: MadeBy | undefined
  const importer = new CaptureImporter({}, { begin: (_, made) => void (told = made), push() {} })
  importer.push(new TextEncoder().encode(text))
  return [importer.end().madeBy, told]
}

describe('an export says what made it', () => {
  it.each([
    ['VCD', VcdWriter],
    ['CSV', CsvWriter],
  ] as const)('and the importer returns it: %s', (_, Writer) => {
    for (const made of [SIMULATED, { command: 'wave' }, { command: 'capture' }] as const) {
      const [summary, sink] = madeBy(new Writer(ENCODER_CLOCK, made).write(SIGNAL))
      expect(summary).toEqual(made)
      expect(sink).toEqual(made)
    }
  })

  it('a file of another origin says nothing', () => {
    expect(madeBy('Time (s),D0\n0.000000,0\n0.000058,1\n0.000116,0\n0.000174,1\n')[0]).toBeUndefined()
  })

  it('what was calculated is simulated, an excerpt of a measured record is not', () => {
    expect(isSimulatedRecord(SIMULATED)).toBe(true)
    expect(isSimulatedRecord({ command: 'wave' })).toBe(true)
    expect(isSimulatedRecord({ command: 'capture' })).toBe(false)
    expect(isSimulatedRecord(undefined)).toBe(false)
  })

  it('a name of firmware cannot end the comment, the line or the sentence', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary', maxLength: 150 }), (name) => {
        const sentence = madeBySentence({
          command: 'simulate',
          firmware: { name, sha256: SIMULATED.firmware!.sha256 },
        })
        expect(sentence).not.toMatch(/[\r\n]|\$/)
        const back = madeByOf(`$comment ${sentence} $end`)
        expect(back?.command).toBe('simulate')
        expect(back?.firmware?.sha256).toBe(SIMULATED.firmware!.sha256)
      }),
    )
  })
})
