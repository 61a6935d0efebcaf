import { describe, expect, it } from 'vitest'
import type { Progressive } from '../track/index.js'
import type { Io } from './command.js'
import { stepwise } from './stepwise.js'

function io(signal = new AbortController().signal) {
  const said: string[] = []
  const one = { progress: (text: string) => void said.push(text), signal } as unknown as Io
  return { said, one }
}

function* busy(ms: number): Progressive<string> {
  const end = performance.now() + ms
  for (let n = 0; performance.now() < end; n++) yield { what: n < 2 ? 'first' : 'then', share: 0.5 }
  return 'done'
}

describe('a long calculation', () => {
  it('comes to its end and says what it is at', async () => {
    const { said, one } = io()
    expect(await stepwise(busy(100), one)).toBe('done')
    expect(said[0]).toBe('first … 50 %')
    expect(said).toContain('then … 50 %')
    // Not at every step: the terminal would be what takes the time.
    expect(said.length).toBeLessThan(10)
  })

  it('ends when it is interrupted', async () => {
    const stop = new AbortController()
    setTimeout(() => stop.abort(), 60)
    const { one } = io(stop.signal)
    const forever = busy(30_000)
    expect(await stepwise(forever, one)).toBeUndefined()
  })
})
