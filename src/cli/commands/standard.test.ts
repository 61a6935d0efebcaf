import { describe, expect, it } from 'vitest'
import { InputError } from '../../units/index.js'
import type { Arguments, Io } from '../command.js'
import { command } from './standard.js'

async function run(positionals: string[], options: Record<string, string | boolean> = {}, width = 80) {
  let out = ''
  const args: Arguments = {
    positionals,
    text: (name) => options[name] as string | undefined,
    texts: () => [],
    on: (name) => options[name] === true,
  }
  const io = { out: (text: string) => (out += `${text}\n`), width, colour: false } as unknown as Io
  await command.run(args, io)
  return out
}

describe('halfbit standard', () => {
  // S-9.1:2020 Tables 1 to 3, NEM 670:2013 and NEM 671:2014: see test/published/limits.json.
  it('prints limits with their sources, by profile, edition and scale', async () => {
    expect(await run([])).toMatch(/one-half +55 to 61 us +52 to 64 us +S-9\.1:2020/)
    expect(await run(['rcn'], { edition: '2013', cutout: true })).toMatch(/preamble +at least 16 bits/)
    const old = await run(['nmra'], { edition: '2006' })
    expect(await run(['nmra'], { edition: '2006' }, 140)).toMatch(/edge-rate +at least 2\.5 V\/us/)
    expect(old).toContain('from memory')
    expect(await run(['rcn'], { scale: 'Z' }, 200)).toMatch(
      /highest RMS track voltage +10 V +NEM 670:2013 4\.2a/,
    )
    for (const line of old.split('\n')) expect(line.length).toBeLessThanOrEqual(80)
  })

  it('gives the same as JSON', async () => {
    const object = JSON.parse(await run(['nmra'], { json: true }))
    expect(object).toMatchObject({ halfbit: 1, profile: 'nmra', edition: '2020', scale: 'H0' })
    expect(object.clauses[0]).toMatchObject({ id: 'one-half', sender: { min: 55, max: 61 } })
    expect(object.serviceMode.register.verify).toBe(7)
  })

  it('names what there is when it is asked for something else', async () => {
    await expect(run(['nmrb'])).rejects.toThrow(InputError)
    await expect(run(['rcn'], { edition: '2020' })).rejects.toThrow(/expected 2013, 2019/)
    await expect(run([], { scale: 'H1' })).rejects.toThrow(/expected .*Z, N/)
  })
})
