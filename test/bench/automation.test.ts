// The automation example: its firmware, railroad and dispatcher on the bench. HALFBIT_SECONDS=3600 runs an hour.
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import * as bench from '../../src/bench/index.js'
import { isSimulated, loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchSetup } from '../../src/proof/index.js'

const folder = new URL('../../examples/automation/', import.meta.url).pathname
interface Evening {
  together: unknown[]
  outside: unknown[]
  unheard: unknown[]
  stops: number
  lost: number
  lateMs: number[]
  ranMm: number
}
const { runEvening, within } = (await import(join(folder, 'evening.js'))) as {
  runEvening(b: typeof bench, setup: bench.BenchSetup, options: { seconds: number; seed: number }): Evening
  within(lateMs: readonly number[], share: number): number
}
const seconds = Number(process.env.HALFBIT_SECONDS ?? 40)
/** The default of the design's traffic: common practice, a hand notices a quarter of a second. */
const LATENCY_MS = 250

function setup(): bench.BenchSetup {
  const loaded = loadDesign(readFileSync(join(folder, 'halfbit.yaml'), 'utf8'))
  const { chip } = loaded.design.controller
  if (!isSimulated(chip)) throw new Error('the example has another chip now')
  const elf = join(folder, 'firmware/station.elf')
  const found = benchSetup(loaded, loadFirmware(readFileSync(elf), elf), chip)
  if ('missing' in found) throw new Error('the example has no power stage')
  return found
}

it('never has two trains in one block, stops every train inside its block, and commands in time', () => {
  const r = runEvening(bench, setup(), { seconds, seed: 7 })
  expect(r.together).toEqual([])
  expect(r.outside).toEqual([])
  expect(r.unheard).toEqual([])
  expect(within(r.lateMs, 0.95)).toBeLessThan(LATENCY_MS)
  // Something has happened at all.
  expect(r.stops).toBeGreaterThan(seconds / 30)
  expect(r.lateMs.length).toBeGreaterThan(seconds / 6)
  expect(r.lost).toBeGreaterThan(seconds / 3)
  expect(r.ranMm).toBeGreaterThan(100 * seconds)
})

it('sees two trains in one block', () => {
  const plan = setup()
  const { track, mm } = plan.decoders.find((d) => d.name === 'local')!.at!
  // The goods train stands across the gap before block 1, where the dispatcher does not expect it.
  const wrong = {
    ...plan,
    decoders: plan.decoders.map((d) => (d.name === 'goods' ? { ...d, at: { track, mm: mm - 650 } } : d)),
  }
  expect(runEvening(bench, wrong, { seconds: 3, seed: 7 }).together.length).toBeGreaterThan(0)
})
