/** The questions in a terminal: awkward answers are asked again, and nothing that was said is lost. */
import { describe, expect, it } from 'vitest'
import { askForReadings } from '../../src/cli/commands/find.js'
import type { Reading, Symptom } from '../../src/find/index.js'
import { finderOf } from './designs.js'

/** What is said in between, and what is taken, when somebody answers with these lines and then ends the input. */
async function talked(...lines: string[]) {
  const said: string[] = []
  const readings: Reading[] = []
  const symptoms: Symptom[] = []
  let asked = 0
  await askForReadings(
    finderOf('two-tracks'),
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
      expect(said.split('q ends, ? explains').length - 1, odd).toBe(2)
    }
  })

  it('is left out with s or Enter, for another one', async () => {
    for (const skip of ['s', '']) {
      const { said, readings } = await talked('', skip, 'q')
      const prompts = said.split('\n').filter((l) => l.includes('q ends'))
      expect(prompts).toHaveLength(2)
      expect(prompts[1]).not.toBe(prompts[0])
      expect(readings).toEqual([])
    }
  })

  it('is explained with ?, and asked for once more', async () => {
    const { said } = await talked('', '?', 'q')
    const prompts = said.split('\n').filter((l) => l.includes('q ends'))
    expect(prompts[1]).toBe(prompts[0])
  })
})
