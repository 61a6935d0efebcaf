/** The captures of the examples, read as their designs name them. */
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { readCapture } from '../../src/cli/capturing.js'
import { readDesign } from '../../src/cli/read-design.js'
import { judgeSignal } from '../../src/signal/index.js'
import { profileOf } from '../../src/standard/index.js'

const examples = new URL('../../examples/', import.meta.url).pathname

async function judged(name: string) {
  const { design } = readDesign(`${examples}${name}/halfbit.yaml`)
  const capture = design.captures![0]!
  const { mode } = design.signal.outputs[capture.output!]!
  const { reading, summary } = await readCapture({
    path: `${examples}${name}/${capture.file}`,
    capture: { channel: capture.channel!, rateHz: capture.rate! },
    reader: { mode },
  })
  const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
  return {
    summary,
    evidence: judgeSignal(reading, profile, { origin: 'measured', source: name, probe: 'logic' }),
  }
}

describe('captures of the examples', () => {
  it.each(['exhibition', 'two-tracks'])('%s keeps every clause', async (name) => {
    const { evidence } = await judged(name)
    expect(evidence.filter((e) => e.verdict !== 'met')).toEqual([])
    expect(evidence.length).toBeGreaterThanOrEqual(11)
    // 58 us, give or take the steps of 0.25 us and the wandering of the independent simulator.
    const one = evidence.find((e) => e.clause === 'one-half')!
    expect(one.value.low).toBeGreaterThanOrEqual(57.5)
    expect(one.value.high).toBeLessThanOrEqual(58.5)
  })

  it('flawed shows each planted fault', async () => {
    const { evidence } = await judged('flawed')
    const broken = evidence.filter((e) => e.verdict === 'broken').map((e) => e.clause)
    for (const clause of ['one-half', 'preamble', 'instruction', 'error-byte', 'framing', 'packet-interval'])
      expect(broken).toContain(clause)
  })

  it.each(['exhibition', 'two-tracks'])('%s names the build that its capture was taken with', (name) => {
    const { design } = readDesign(`${examples}${name}/halfbit.yaml`)
    const sum = createHash('sha256')
      .update(readFileSync(`${examples}${name}/${design.firmware!.file}`))
      .digest('hex')
    // Another firmware wants other captures: see scripts/record-captures.mjs.
    expect(sum.slice(0, 12)).toBe(design.captures![0]!.build)
  })

  it('flawed says in its head that it was simulated, and by which build', async () => {
    const { summary } = await judged('flawed')
    const sum = createHash('sha256')
      .update(readFileSync(`${examples}flawed/firmware/station.elf`))
      .digest('hex')
    expect(summary.madeBy).toEqual({ command: 'simulate', firmware: { name: 'station.elf', sha256: sum } })
  })
})
