// Firmware that must not pass, and would on a bench that is kinder than the chip or that knows one scale of speed only.
import { readFileSync } from 'node:fs'
import { describe, expect, it, vi } from 'vitest'
import { loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchOf } from '../../src/proof/index.js'
import { compile, HAVE_COMPILER, workFolder } from '../firmware/compile.js'

vi.setConfig({ testTimeout: 600_000 })

const folder = workFolder()
const DESIGN = readFileSync(new URL('firmware/step-scales.yaml', import.meta.url), 'utf8')

function run(scenario: string, flag = 'SOUND', design = DESIGN) {
  const file = '../bench/firmware/step-scales.c'
  const { path, bytes } = compile(folder, { file }, 'atmega328p', [`-D${flag}`])
  const bench = benchOf(loadDesign(design), loadFirmware(bytes, path), 'atmega328p', path)!
  const result = bench.standing.find((s) => s.name === scenario)!.run()
  const outcomes = Object.fromEntries(result.outcomes.map((o) => [o.key, o.verdict]))
  const broken = result.statements.filter((s) => s.verdict === 'broken').map((s) => s.clause)
  return { outcomes, broken, codes: result.findings.map((f) => f.code) }
}

describe.runIf(HAVE_COMPILER)('a station with decoders of 14, 28 and 126 steps (compiler avr-gcc)', () => {
  it('is sound: the headlight of 14 steps goes with the speed', () => {
    const { outcomes, broken } = run('heaviest traffic')
    expect(broken).toEqual([])
    // Functions from F29 on are from memory of their standard, so `signal` is not decided.
    expect(outcomes).toMatchObject({ traffic: 'met', commandsActed: 'met', onlyCommanded: 'met' })
  })

  it('is caught that sends the headlight of 14 steps in function group one only', () => {
    const { outcomes, broken } = run('heaviest traffic', 'NOFL14')
    expect(outcomes['commandsActed']).toBe('broken')
    expect(broken).toContain('command-latency')
  })
})

describe.runIf(HAVE_COMPILER)('a trip (compiler avr-gcc)', () => {
  it('works, by the converter or by the comparator at the same pin', () => {
    expect(run('short in west').outcomes['shortOff']).toBe('met')
    // The bandgap, 1.1 V, at 0.44 Ohm.
    const comparing = DESIGN.replace(
      '0.1 Ohm, power: 2 W, reference: 1.1 V',
      '0.44 Ohm, power: 5 W, reference: 2.56 V',
    )
    expect(comparing).not.toBe(DESIGN)
    expect(run('short in west', 'COMPARATOR', comparing).outcomes['shortOff']).toBe('met')
  })

  it.each([
    ['ADCH is read before ADCL, which locks the result', 'ADCHFIRST', 'simulate/adc-locked'],
    ['the power reduction register has the converter off', 'NO_ADC_CLOCK', 'simulate/stopped-peripheral'],
  ])('never comes where %s, and the run says so', (_, flag, code) => {
    const { outcomes, codes } = run('short in west', flag)
    expect(outcomes['shortOff']).toBe('broken')
    expect(codes).toContain(code)
  })

  it('is not shown where the program sleeps deeper than is simulated: the chip stops its timers', () => {
    const { outcomes, broken, codes } = run('short in west', 'DEEP_SLEEP')
    expect(new Set(Object.values(outcomes))).toEqual(new Set(['not shown']))
    expect(broken).toEqual([])
    expect(codes).toContain('simulate/deep-sleep')
  })
})
