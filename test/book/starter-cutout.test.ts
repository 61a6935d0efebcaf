// The cut-out of the starter firmware: what must not pass. What must is in starter-bench.test.ts.
import { readFileSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchOf } from '../../src/proof/index.js'
import { halfbitHere } from '../contract/here.js'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { stationDesign } from './station.js'
import { built, written } from './write.js'

const design = stationDesign({ chip: 'atmega328p', cutout: true })

/** The firmware with lines of a file changed, each of which must be there. */
function builtWith(changes: readonly { file: string; from: RegExp; to: string }[]): string {
  const files = new Map(written(design).files)
  for (const { file, from, to } of changes) {
    const text = files.get(file)!
    expect(text).toMatch(from)
    files.set(file, text.replace(from, to))
  }
  return built(files).elf
}

/** Ticks of half a microsecond: Timer 1 at 16 MHz divided by 8. */
const counts = (register: string, us: number) => ({
  file: 'figures.h',
  from: new RegExp(`(#define TRACK_SIGNAL_${register}_CUTOUT) \\d+u`),
  to: `$1 ${Math.round(us * 2) - 1}u`,
})

/** What three seconds of it show, by clause. */
async function shown(elf: string, of = design): Promise<Record<string, string>> {
  const file = join(dirname(elf), 'halfbit.yaml')
  writeFileSync(file, of)
  const { stdout } = await halfbitHere(['simulate', elf, '--design', file, '--for', '3 s', '--json'])
  const { evidence } = JSON.parse(stdout) as { evidence: { clause: string; verdict: string }[] }
  return Object.fromEntries(evidence.map((e) => [e.clause, e.verdict]))
}

describe.skipIf(!HAVE_COMPILER)('a cut-out by one run of the timer (compiler avr-gcc)', () => {
  // RCN-217:2019 2.4, from memory: it starts 26 to 32 us and ends 454 to 488 us after the last edge of the end bit.
  it.each<[string, Record<'cutout-start' | 'cutout-end', string>, ReturnType<typeof counts>[]]>([
    ['as it is written', { 'cutout-start': 'met', 'cutout-end': 'met' }, []],
    ['that starts early', { 'cutout-start': 'broken', 'cutout-end': 'met' }, [counts('OCR1A', 20)]],
    ['that starts late', { 'cutout-start': 'broken', 'cutout-end': 'met' }, [counts('OCR1A', 34)]],
    ['that ends early', { 'cutout-start': 'met', 'cutout-end': 'broken' }, [counts('ICR1', 450)]],
    ['that ends late', { 'cutout-start': 'met', 'cutout-end': 'broken' }, [counts('ICR1', 500)]],
  ])('%s', async (_, verdicts, changes) => {
    expect(await shown(builtWith(changes))).toMatchObject(verdicts)
  })

  it('is missing where the interrupt never loads it', async () => {
    const none = { file: 'main.c', from: /if \(loaded\) track/, to: 'if (false) track' }
    expect((await shown(builtWith([none])))['cutout-start']).toBe('broken')
  })

  it('leaves less of the preamble than the standard wants where it hides more ones than it tells', async () => {
    const more = { file: 'figures.h', from: /(#define TRACK_CUTOUT_ONES +)4/, to: '$19' }
    expect((await shown(builtWith([more]))).preamble).toBe('broken')
  })
})

/** The timer's outputs the other way round: in the cut-out both inputs of the driver are low. */
const bothLow = {
  file: 'signal.h',
  from: /\(1 << COM1B1\) \| \(1 << COM1A1\) \| \(1 << COM1A0\)/,
  to: '(1 << COM1B1) | (1 << COM1B0) | (1 << COM1A1)',
}

// Their truth tables, from memory of the data sheets: a DRV8874 with two inputs coasts while both are low, a L6203 has both low-side switches on.
describe.skipIf(!HAVE_COMPILER)('a cut-out with both inputs of the driver low (compiler avr-gcc)', () => {
  const withPart = (part: string) => design.replaceAll('part: DRV8874', `part: ${part}`)

  it.each([
    ['leaves the rails of a driver open that coasts then', 'DRV8874', 'broken'],
    ['joins the rails of a driver that brakes then', 'L6203', 'met'],
    ['is not shown where the truth table is not known', 'custom', undefined],
    ['is as the design says', 'custom\n      figures: { bothLow: joined }', 'met'],
  ])('%s', async (_, part, verdict) => {
    const found = await shown(builtWith([bothLow]), withPart(part))
    expect(found['cutout-start'] === 'not shown' ? undefined : found['cutout-start']).toBe(verdict)
    expect(found['cutout-end']).toBe('met')
  })

  it('is no switching off, whatever the driver does then', () => {
    const elf = builtWith([bothLow])
    const bench = benchOf(
      loadDesign(`${design}${written(design).yaml('')}`),
      loadFirmware(readFileSync(elf), elf),
      'atmega328p',
      elf,
    )!
    const { outcomes, statements } = bench.standing.find((s) => s.name === 'heaviest traffic')!.run()
    expect(statements.find((s) => s.clause === 'cutout-start')?.because).toMatch(
      /which leaves the rails open/,
    )
    const others = outcomes.filter((o) => o.key !== 'signal')
    expect(others.filter((o) => o.verdict !== 'met').map((o) => o.finding.sentence)).toEqual([])
  }, 120_000)
})

describe.skipIf(!HAVE_COMPILER)('the bench with cut-outs (compiler avr-gcc)', () => {
  it('does not take a cut-out for the driver being switched off: a short that nobody trips stays on', () => {
    const deaf = { file: 'figures.h', from: /(#define TRACK_TRIP_HIGH +)\d+/, to: '$11023' }
    const elf = builtWith([deaf])
    const text = `${design}${written(design).yaml('')}`
    const { standing } = benchOf(loadDesign(text), loadFirmware(readFileSync(elf), elf), 'atmega328p', elf)!
    const said = standing[0]!.run().statements.filter((s) => s.clause === 'short-trip')
    expect(said.map((s) => s.verdict)).toEqual(['broken'])
    expect(said[0]!.because).toMatch(/draws 4.4 A for 400 ms, and nothing switches it off/)
  }, 120_000)

  it('nor one that leaves the rails open', () => {
    const deaf = { file: 'figures.h', from: /(#define TRACK_TRIP_HIGH +)\d+/, to: '$11023' }
    const elf = builtWith([deaf, bothLow])
    const text = `${design}${written(design).yaml('')}`
    const { standing } = benchOf(loadDesign(text), loadFirmware(readFileSync(elf), elf), 'atmega328p', elf)!
    const said = standing[0]!.run().statements.filter((s) => s.clause === 'short-trip')
    expect(said.map((s) => s.verdict)).toEqual(['broken'])
    expect(said[0]!.because).toMatch(/nothing switches it off/)
  }, 120_000)
})
