// What a run shows against closed forms worked by hand: the time of a trip, the way of a stop, the current of a supply.
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, it } from 'vitest'
import { type BenchSetup, CoupledRun } from '../../src/bench/index.js'
import { isSimulated, loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchSetup } from '../../src/proof/index.js'

const folder = new URL('../../examples/exhibition/', import.meta.url).pathname

function setup(): BenchSetup {
  const loaded = loadDesign(readFileSync(join(folder, 'halfbit.yaml'), 'utf8'))
  const { chip } = loaded.design.controller
  if (!isSimulated(chip)) throw new Error('the example has another chip now')
  const elf = join(folder, 'firmware/station.elf')
  const found = benchSetup(loaded, loadFirmware(readFileSync(elf), elf), chip)
  if ('missing' in found) throw new Error('the example has no power stage')
  return found
}

it('a short trips when filter, converter and counting say so, whenever it begins', () => {
  // 0.1 Ohm against 1.1 V: the firmware counts readings above 326, so from 327 on.
  const thresholdAmp = (327 * 1.1) / 1024 / 0.1
  const [filterUs, readings] = [100, 20]
  // 13 clocks of 125 kHz (ATmega328P data sheet); the reading is there one conversion after it was sampled.
  const conversionUs = 13 / 0.125
  const plan = setup()
  for (const phase of [0, 17, 39, 58, 71, 96]) {
    const run = new CoupledRun(plan)
    const shortUs = 500e3 + phase
    run.runTo(shortUs)
    const began = run.nowUs
    const before = run.rails.sourceAmp(0, began)
    run.do({ act: 'short', name: 'a', at: { district: 'main', end: 'weakest' }, ohm: 0.05 })
    run.runTo(shortUs + 10e3)
    const off = run.events.find((e) => e.about === 'main' && e.on === false)!
    // The supply holds 5.4 A at once.
    const crossesUs = filterUs * Math.log((5.4 - before) / (5.4 - thresholdAmp))
    const least = crossesUs + readings * conversionUs
    // One more conversion where it has just missed a sample, and a turn of the main loop with a packet to write.
    const most = least + conversionUs + 60
    expect(off.timeUs - began).toBeGreaterThan(least - 1)
    expect(off.timeUs - began).toBeLessThan(most)
  }
})

it('a train stops over half of its speed times the time that CV4 gives it', () => {
  const plan = setup()
  const run = new CoupledRun(plan)
  const drive = (speed: number) =>
    run.do({ act: 'command', command: { kind: 'speed', address: 60, speed, forward: true } })
  run.at(100e3, () => run.do({ act: 'place', train: 'shunter', at: { section: 'yard1.1', atMm: 250 } }))
  run.at(300e3, () => drive(1))
  run.at(2500e3, () => drive(0))
  run.runTo(5e6)
  // CV4 = 1: 126 of 128 steps, 0.896 s from the top by S-9.2.2:2012; 40 km/h in 1:87.
  const top = 40e6 / 3600 / 87
  const brakesS = (0.896 * 126) / 128
  const [stop] = run.figures().stops
  expect(run.figures().stops).toHaveLength(1)
  expect((stop!.stoodUs - stop!.heardUs) / 1e6).toBeCloseTo(brakesS, 1)
  // Within what it moves between two looks.
  expect(Math.abs(stop!.ranMm - (top * brakesS) / 2)).toBeLessThan(2)
})

it('supplies and drivers have the peaks and means of what they carried', () => {
  const run = new CoupledRun(setup())
  run.runTo(2e6)
  const { districts, supplies } = run.figures()
  const yard = supplies.find((s) => s.name === 'yard')!
  // Its one locomotive stands: 20 mA, after its capacitors were charged at the supply's limit.
  expect(yard.peakAmp).toBeCloseTo(5, 1)
  const charged = (1000e-6 + 47e-6) * 14.97
  expect(yard.meanAmp).toBeCloseTo(0.02 + charged / 2, 3)
  const main = districts.find((d) => d.name === 'main')!
  expect(main.hottestC!).toBeGreaterThan(35)
  expect(main.hottestC!).toBeLessThan(45)
})
