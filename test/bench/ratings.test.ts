// What a run shows of drivers, supplies and stops: what must not pass first, then what shows nothing, then what holds.
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import type { BenchDistrict, BenchPlan, ScenarioResult } from '../../src/bench/index.js'
import { isSimulated, loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { type Bench, benchOf, scenarioFromFile } from '../../src/proof/index.js'

const folder = new URL('../../examples/exhibition/', import.meta.url)
const loaded = loadDesign(readFileSync(new URL('halfbit.yaml', folder), 'utf8'))
const { chip } = loaded.design.controller
if (!isSimulated(chip)) throw new Error('the example has another chip now')
const image = loadFirmware(readFileSync(new URL('firmware/station.elf', folder)), 'station.elf')
const bench = benchOf(loaded, image, chip, 'station.elf')!

const drive = '  - { at: 300 ms, drive: { train: express, speed: 100 % } }'

function play(acts: string, on: Bench, lasts = '2 s', expected = 'driverSafe: yes'): ScenarioResult {
  const text = `scenario: 1\nname: load\nlasts: ${lasts}\nacts:\n${acts}\nexpect:\n  - ${expected}\n`
  return scenarioFromFile(on, text, 'x.yaml').run()
}
const of = (r: ScenarioResult, clause: string, about?: string) =>
  r.statements
    .filter((s) => s.clause === clause && (about === undefined || s.about === about))
    .map((s) => `${s.verdict} ${s.finding?.code}`)

const planned = (change: Partial<BenchPlan>): Bench => ({
  ...bench,
  options: { ...bench.options, planned: { ...bench.options.planned, ...change } },
})
const rated = (ratingAmp: number, plannedAmp?: number) =>
  planned({ supplies: [{ name: 'main', districts: ['main'], ratingAmp, besideAmp: 0, plannedAmp }] })
const withMain = (on: Bench, change: (d: BenchDistrict) => Partial<BenchDistrict>): Bench => ({
  ...on,
  setup: {
    ...on.setup,
    districts: on.setup.districts.map((d) => (d.name === 'main' ? { ...d, ...change(d) } : d)),
  },
})
/** A driver so small that it warms at once. */
const quick = (limitC: number) => (d: BenchDistrict) => ({
  heat: {
    ...d.heat!,
    limitC,
    model: { ambientC: 35, stages: [{ kelvinPerWatt: 17, tauUs: 50e3 }] },
  },
})
const light = (plannedAmp?: number) =>
  planned({ drivers: [{ name: 'main', districts: [{ name: 'main', plannedAmp }] }] })

describe('the current of a supply', () => {
  it('is broken beyond its rating for a second, and where the supply switches off without a short', () => {
    expect(of(play(drive, rated(0.5, 0.4)), 'supply-current')).toEqual(['broken bench/supply-overloaded'])
    const weak = rated(5, 1)
    const hiccup: Bench = {
      ...weak,
      setup: {
        ...weak.setup,
        supplies: weak.setup.supplies.map((s) =>
          s.name === 'main'
            ? { ...s, limit: 'hiccup', limitAmp: 0.6, hiccupOnUs: 5e3, hiccupOffUs: 100e3 }
            : s,
        ),
      },
    }
    expect(of(play(drive, hiccup), 'supply-current')).toEqual(['broken bench/supply-off'])
  })

  it('is not shown by a light load, a plan that is not known, or before a second is over', () => {
    expect(of(play(drive, bench), 'supply-current', 'main')).toEqual(['not shown bench/light-load'])
    expect(of(play(drive, rated(5)), 'supply-current')).toEqual(['not shown bench/plan-unknown'])
    const short = `${drive}\n  - { at: 900 ms, short: { at: { district: main }, lasts: 100 ms } }`
    expect(of(play(short, rated(5, 0.7)), 'supply-current')).toEqual(['not shown bench/supply-brief'])
  })

  it('is met under the planned load', () => {
    expect(of(play(drive, rated(5, 0.7)), 'supply-current')).toEqual(['met bench/supply-holds'])
  })
})

describe('the heat of a driver', () => {
  it('is broken where the junction passes its limit, and where the driver shuts itself down', () => {
    // The example's own model of the heat does not see this limit; the run does.
    const result = play(drive, withMain(light(0.5), quick(36)))
    expect(of(result, 'driver-heat')).toEqual(['broken bench/driver-overheats'])
    const hot: Bench = {
      ...light(0.5),
      options: { ...light(0.5).options, driverUnder: () => ({ hottestC: 151, junctionMaxC: 150 }) },
    }
    expect(of(play(drive, hot), 'driver-heat')).toEqual(['broken bench/driver-overheats'])
    const away: Bench = {
      ...hot,
      options: {
        ...hot.options,
        driverUnder: () => ({ hottestC: Number.POSITIVE_INFINITY, junctionMaxC: 150 }),
      },
    }
    expect(of(play(drive, away), 'driver-heat')).toEqual(['broken bench/driver-overheats'])
  })

  it('is not shown without a model of it, before the driver is warm, or under a light load', () => {
    const cold = withMain(light(0.5), () => ({ heat: undefined }))
    expect(of(play(drive, cold), 'driver-heat')).toEqual(['not shown bench/driver-unknown'])
    expect(of(play(drive, light(0.5), '900 ms'), 'driver-heat')).toEqual(['not shown bench/driver-brief'])
    expect(of(play(drive, withMain(light(2.85), quick(150))), 'driver-heat')).toEqual([
      'not shown bench/light-load',
    ])
    expect(of(play(drive, withMain(light(), quick(150))), 'driver-heat')).toEqual([
      'not shown bench/plan-unknown',
    ])
  })

  it('is broken where the planned load would make it too hot if it lasted, and met where it would not', () => {
    const slow = (kelvinPerWatt: number) => (d: BenchDistrict) => ({
      heat: { ...d.heat!, limitC: 150, model: { ambientC: 35, stages: [{ kelvinPerWatt, tauUs: 60e6 }] } },
    })
    // With 0.6 A a watt or so: a junction that settles far beyond its limit is still cold when the run ends.
    expect(of(play(drive, withMain(light(0.6), slow(1500))), 'driver-heat')).toEqual([
      'broken bench/driver-too-hot-for-plan',
    ])
    expect(of(play(drive, withMain(light(0.6), slow(17))), 'driver-heat')).toEqual([
      'met bench/driver-carries-plan',
    ])
  })

  it('is met by a warm driver under the planned load', () => {
    expect(of(play(drive, withMain(light(1), quick(150))), 'driver-heat')).toEqual([
      'met bench/driver-withstands',
    ])
  })
})

describe('stops', () => {
  const stop = (more: Partial<NonNullable<BenchPlan['stops']>[number]> = {}) =>
    planned({
      stops: [
        {
          name: 'shed',
          section: 'yard2.1',
          marginMm: 20,
          wholeTrain: false,
          trains: ['shunter'],
          sure: 0.99,
          ...more,
        },
      ],
    })
  const shunts = (speed: number, stopsMs: number) =>
    `  - { at: 300 ms, drive: { train: shunter, speed: ${speed} % } }\n  - { at: ${stopsMs} ms, drive: { train: shunter, speed: 0 % } }`
  const found = (acts: string, on: Bench, lasts = '4 s', expected?: string) =>
    of(play(acts, on, lasts, expected), 'stopping-distance')

  it('is broken by a train that runs past its place, or does not stop inside with its whole length', () => {
    const out = { marginMm: 295 }
    expect(found(shunts(100, 900), stop(out))).toEqual(['broken bench/stops-outside'])
    // Also where the scenario expects something else, and where the train still runs at the end.
    expect(found(shunts(100, 900), stop(out), '4 s', 'onlyCommanded: yes')).toEqual([
      'broken bench/stops-outside',
    ])
    expect(found(shunts(100, 900), stop(out), '1020 ms')).toEqual(['broken bench/stops-outside'])
  })

  it('is not shown without a stop there, from a creeping train, or where the place is not known', () => {
    // Where nobody is stopped, nobody is asked where.
    expect(found(drive, stop())).toEqual([])
    expect(found(shunts(100, 900), stop({ trains: ['express'] }))).toEqual(['not shown bench/no-stop'])
    expect(found(shunts(40, 900), stop())).toEqual(['not shown bench/stops-too-slow'])
    expect(found(shunts(100, 900), stop({ section: undefined }))).toEqual([
      'not shown bench/stop-place-unknown',
    ])
    expect(found(drive, stop(), '1 s', 'onlyCommanded: yes')).toEqual([])
  })

  it('is undecided after one stop inside, and met only where as few stops are enough', () => {
    expect(found(shunts(100, 900), stop())).toEqual(['undecided bench/stops-inside'])
    expect(found(shunts(100, 900), stop({ sure: 0.02 }))).toEqual(['met bench/stops-inside'])
  })

  it('is met after one stop only where it would end inside at worst: latest command, highest speed', () => {
    const at = (latestUs: number, faster: number) => stop({ worst: { latestUs, faster } })
    const shot = shunts(100, 900)
    expect(found(shot, at(300e3, 0.05))).toEqual(['met bench/stops-inside-at-worst'])
    // It runs at 128 mm/s: three seconds later it is out of the 600 mm, and so it is at twice the speed.
    expect(found(shot, at(5e6, 0.05))).toEqual(['undecided bench/stops-inside'])
    expect(found(shot, at(300e3, 5))).toEqual(['undecided bench/stops-inside'])
  })
})
