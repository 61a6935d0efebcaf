// The firmware's health: each sick program sends a clean signal, so only its own clause may be broken.
import { describe, expect, it } from 'vitest'
import {
  firmwareEvidence,
  loadFirmware,
  parseStimulus,
  reportOf,
  SimulatedController,
} from '../../src/controller/index.js'
import { judgeSignal, SignalReader } from '../../src/signal/index.js'
import { profileOf, type Statement } from '../../src/standard/index.js'
import { compile, HAVE_COMPILER, toHex, workFolder } from '../firmware/compile.js'

const HZ = 16e6
const folder = workFolder()
const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

function run(
  source: { file: string } | { text: string },
  options: { seconds?: number; stimulus?: string; hex?: boolean } = {},
) {
  const { seconds = 1, stimulus, hex } = options
  const { path, bytes } = compile(folder, source, 'atmega328p', [
    '-I',
    new URL('../firmware', import.meta.url).pathname,
  ])
  const image = loadFirmware(hex ? toHex(path) : bytes, 'sick.elf')
  const machine = new SimulatedController('atmega328p', HZ, image, {
    stimulus: stimulus === undefined ? undefined : parseStimulus(stimulus, 'test'),
  })
  const reader = new SignalReader({ tickUs: 1 / 16, resolutionUs: 0 }, { mode: 'operations' })
  const recorder = machine.record(reader, 'PB1')
  machine.runTo(seconds * HZ)
  const report = reportOf(machine, [{ name: 'main', pin: 'PB1', recorder }])
  const signal = judgeSignal(reader.finish(seconds * HZ), profile, {
    origin: 'simulated',
    source: 'test',
    about: 'main',
    probe: 'logic',
  })
  const health = firmwareEvidence(report, { profile, file: 'sick.elf' })
  const verdict = (clause: string) => health.find((e) => e.clause === clause)?.verdict
  return {
    report,
    signal,
    health,
    verdict,
    because: (c: string) => health.find((e) => e.clause === c)!.because,
  }
}

const broken = (list: readonly Statement[]) => list.filter((e) => e.verdict === 'broken').map((e) => e.clause)

describe.skipIf(!HAVE_COMPILER)('firmware health', () => {
  it('of a sound program is met', () => {
    const { health, signal } = run({ file: 'healthy.c' })
    expect(broken(signal)).toEqual([])
    expect(health.map((e) => [e.clause, e.verdict])).toEqual([
      ['stack', 'met'],
      ['restart', 'met'],
      ['instruction-set', 'met'],
      ['interrupts', 'met'],
      ['shared-data', 'met'],
      ['deadline', 'met'],
    ])
  })

  for (const [file, clauses, says] of [
    ['stack-in-data.c', ['stack'], /\d+ bytes into the program's data, first at [\d.]+ m?s in descend/],
    [
      'no-handler.c',
      ['restart', 'interrupts'],
      /61 times .*no handler: 61.*TIMER0_OVF is enabled and has no handler/,
    ],
    ['illegal.c', ['instruction-set'], /\d+ illegal instructions, the first at 4\.\d+ ms in astray/],
    ['lost-interrupts.c', ['interrupts'], /TIMER0_COMPA \d+ times/],
  ] as const) {
    it(`${file}: the signal stays clean, and only ${clauses.join(' and ')} fails`, () => {
      const { health, signal, because } = run({ file })
      expect(signal.filter((e) => e.verdict !== 'met').map((e) => [e.clause, e.verdict, e.because])).toEqual(
        run({ file: 'healthy.c' })
          .signal.filter((e) => e.verdict !== 'met')
          .map((e) => [e.clause, e.verdict, e.because]),
      )
      expect(broken(signal)).toEqual([])
      expect(broken(health)).toEqual(clauses)
      expect(because(clauses[0])).toMatch(says)
    })
  }
})
