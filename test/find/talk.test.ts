/** The questions in a terminal: awkward answers are asked again, and nothing that was said is lost. */
import { describe, expect, it } from 'vitest'
import { askForReadings, toGoOn } from '../../src/cli/ask-readings.js'
import { parseReading, parseSymptom, type Reading, type Symptom } from '../../src/find/index.js'
import { finderOf } from './designs.js'

/** What is said in between, and what is taken, when somebody answers with these lines and then ends the input. */
async function talked(...lines: string[]) {
  return talkedAbout('two-tracks', lines)
}

async function talkedAbout(example: 'two-tracks' | 'shelf', lines: readonly string[]) {
  const said: string[] = []
  const readings: Reading[] = []
  const symptoms: Symptom[] = []
  let asked = 0
  await askForReadings(
    finderOf(example),
    readings,
    symptoms,
    {
      say: (text) => void said.push(text),
      line: async (prompt) => {
        said.push(prompt)
        return lines[asked++]
      },
      close: () => {},
    },
    80,
  )
  return { said: said.join('\n'), readings, symptoms, asked }
}

describe('what was noticed', () => {
  it('is asked again where the answer is no number of the list', async () => {
    for (const odd of ['seven', '0', '99', '1, 2', '-1', '1.5']) {
      const { said, symptoms } = await talked(odd, '1', 'q')
      expect(said, odd).toContain(`found "${odd}"; expected a number from 1 to`)
      expect(symptoms.length, odd).toBe(1)
    }
  })

  it('is nothing with Enter, and q or the end of the input ends', async () => {
    expect((await talked('')).asked).toBeGreaterThan(1)
    expect(await talked('q')).toMatchObject({ asked: 1, symptoms: [], readings: [] })
    expect(await talked()).toMatchObject({ asked: 1, symptoms: [], readings: [] })
  })
})

describe('a reading', () => {
  it('is asked again where it is none, with what was expected', async () => {
    const first = await talked('')
    const isFigure = /\((V|A|us|%)[;,]/.test(first.said)
    for (const odd of ['perhaps', isFigure ? '12 furlongs' : '12 V', '٣']) {
      const { said, readings } = await talked('', odd, 'q')
      expect(said, odd).toMatch(/expected/)
      expect(readings, odd).toEqual([])
      expect(said.split('explains): ').length - 1, odd).toBe(2)
    }
  })

  it('is left out with s or Enter, for another one', async () => {
    for (const skip of ['s', '']) {
      const { said, readings } = await talked('', skip, 'q')
      const next = said.split('\n').filter((l) => l.startsWith('Next reading'))
      expect(next).toHaveLength(2)
      expect(next[1]).not.toBe(next[0])
      expect(readings).toEqual([])
    }
  })

  it('is explained with ?, and asked for once more', async () => {
    const { said } = await talked('', '?', 'q')
    const prompts = said.split('\n').filter((l) => l.includes('explains): '))
    expect(prompts[1]).toBe(prompts[0])
  })
})

describe('where it was noticed', () => {
  it('is asked of what happens at one place, listed with ?, and asked again where there is no such place', async () => {
    const { said, symptoms } = await talkedAbout('shelf', ['4', '?', 'nowhere', 'mill', 'q'])
    expect(said).toMatch(/front\.1, .*mill/)
    expect(said).toContain('no place "track nowhere"')
    expect(symptoms).toEqual([{ id: 'stops at one place', place: 'track mill' }])
  })

  it('may be left open, and is not asked of what has no place', async () => {
    expect((await talkedAbout('shelf', ['4', '', 'q'])).symptoms).toEqual([{ id: 'stops at one place' }])
    expect((await talkedAbout('shelf', ['4', 'q'])).symptoms).toEqual([{ id: 'stops at one place' }])
    expect((await talkedAbout('shelf', ['10', 'q'])).said).not.toContain('Which ')
  })
})

describe('on a terminal of 80 columns', () => {
  it('no line is longer, and a reading left out repeats no table', async () => {
    const { said } = await talkedAbout('shelf', ['4', '', 'seventeen', '12.9 V', '8.1 V', 's', 's', '?', 'q'])
    // Questions are lines with an answer behind them.
    for (const line of said.split('\n')) expect(line.length, line).toBeLessThanOrEqual(80)
    expect(said.split('Next reading').length - 1).toBe(5)
    expect(said.split('likely  explanation').length - 1).toBe(3)
  })

  it('what was said is given as a call that says it again', async () => {
    const finder = finderOf('shelf')
    const { readings, symptoms } = await talkedAbout('shelf', ['4', 'mill', '12.9 V', '11.1 V', 'q'])
    const text = toGoOn("my file's.yaml", readings, symptoms).join('\n')
    expect(text).toContain("halfbit find 'my file'\\''s.yaml'")
    const given = (option: string) =>
      [...text.matchAll(new RegExp(`--${option} '([^']+)'`, 'g'))].map(([, value]) => value!)
    expect(given('symptom').map((t) => parseSymptom(finder.station, t))).toEqual(symptoms)
    expect(given('reading').map((t) => parseReading(finder.station, finder.spots, t))).toEqual(readings)
    expect(toGoOn('a.yaml', [], [])).toEqual([])
  })
})
