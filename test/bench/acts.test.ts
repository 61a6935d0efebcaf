// What an act does in a coupled run of the exhibition example. Expected values: the track room's own circuits, Ohm, and the
// standards named at each.
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import {
  type BenchAct,
  type BenchSetup,
  CoupledRun,
  RailNetwork,
  Rails,
  type SourcePlan,
} from '../../src/bench/index.js'
import { isSimulated, loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchSetup } from '../../src/proof/bench-setup.js'
import { Circuit, modelPlan, planWithFault, type TrackModel } from '../../src/track/index.js'

import { HAVE_COMPILER } from '../firmware/compile.js'
import { planted } from './planted.js'

const examples = new URL('../../examples/', import.meta.url).pathname

function setupOf(example: string, elf = join(examples, example, 'firmware/station.elf')): BenchSetup {
  const loaded = loadDesign(readFileSync(join(examples, example, 'halfbit.yaml'), 'utf8'))
  const { chip } = loaded.design.controller
  if (!isSimulated(chip)) throw new Error('the example has another chip now')
  const setup = benchSetup(loaded, loadFirmware(readFileSync(elf), elf), chip)
  if ('missing' in setup) throw new Error('the example has no power stage')
  return setup
}

const exhibition = setupOf('exhibition')
const speed = (address: number, share: number, forward = true): BenchAct => ({
  act: 'command',
  command: { kind: 'speed', address, speed: share, forward },
})

/** A run with acts at times, in ms. */
function run(
  acts: readonly (readonly [number, BenchAct])[],
  untilMs: number,
  setup = exhibition,
): CoupledRun {
  const coupled = new CoupledRun(setup)
  for (const [ms, act] of acts) coupled.at(ms * 1000, () => coupled.do(act))
  coupled.runTo(untilMs * 1000)
  return coupled
}

const ampAt = (r: CoupledRun, district: string, ms: number) =>
  r.amps.get(district)!.findLast((a) => a.timeUs <= ms * 1000)?.amp ?? 0
const said = (r: CoupledRun, about: string) =>
  r.timeline().flatMap((e) => (e.about === about ? [e.sentence] : []))

/** Every district as stiff as the track room takes it, with nothing on the rails and no limit. */
function bareRails(model: TrackModel): { rails: Rails; circuit: Circuit } {
  const circuit = new Circuit(model.worstCase.layout, 'usual')
  const names = model.net.districts
  const rails = new Rails(
    new RailNetwork(
      names,
      names.map(() => 0),
      model,
    ),
    names.map((name, d) => ({
      name,
      volt: circuit.openVolt(d),
      ohm: 0.01,
      limit: 'none' as const,
      limitAmp: Number.POSITIVE_INFINITY,
    })),
    names.map(
      (district, d): SourcePlan => ({
        district,
        supply: district,
        dropVolt: 0,
        ohm: circuit.sourceOhm(d) - 0.01,
        holdsAmp: Number.POSITIVE_INFINITY,
      }),
    ),
  )
  rails.change(0, () => {
    for (const s of rails.sources) s.output = 'driving'
  })
  return { rails, circuit }
}

describe('wires and rails', () => {
  const model = exhibition.railroad!

  it('draw at every place of the exhibition what the track room’s circuit gives', () => {
    const { rails, circuit } = bareRails(model)
    model.net.places.forEach((p, i) => {
      if (i % 7 !== 0) return
      rails.change(0, () => void rails.shorts.set('a', { spot: rails.network.place(i), ohm: 0.05 }))
      const wanted = Math.abs(circuit.across(circuit.open, p.a, p.b)) / (circuit.placeOhm[i]! + 0.05)
      const sum = rails.sources.reduce((total, _, d) => total + rails.sourceAmp(d, 1), 0)
      expect(sum / wanted).toBeCloseTo(1, 5)
    })
  })

  it.each(['open-feeder:south.3', 'open-feeder:yard1.2/A', 'bad-joiner:north.2/3', 'swapped-feeder:east.2'])(
    'with %s draw what a network built with that fault draws',
    (fault) => {
      const { rails } = bareRails(model)
      rails.network.fault(fault, true)
      const faulty = bareRails(
        modelPlan(
          planWithFault(model.plan, fault).plan,
          new Map(model.net.districts.map((d, i) => [d, model.net.sources[i]!])),
        ),
      )
      for (const at of [{ section: 'south.3' }, { section: 'yard1.2' }, { section: 'north.2' }]) {
        const amps = [rails, faulty.rails].map((r) => {
          const { track, mm } = r.network.named(at.section)!
          const spot = r.network.place(r.network.placeAt(track, mm))
          r.change(0, () => void r.shorts.set('a', { spot, ohm: 0.05 }))
          return r.sources.map((_, d) => r.sourceAmp(d, 1))
        })
        amps[0]!.forEach((amp, d) => {
          expect(amp).toBeCloseTo(amps[1]![d]!, 2)
        })
      }
    },
  )
})

describe('an act', () => {
  it('puts several shorts on at once, each in its own district', () => {
    const r = run(
      [
        [500, { act: 'short', name: 'one', at: { section: 'yard3.2', atMm: 100 }, ohm: 0.05 }],
        [500, { act: 'short', name: 'two', at: { section: 'halt' }, ohm: 0.05 }],
        [510, { act: 'end-short', name: 'two' }],
      ],
      600,
    )
    for (const district of ['yard', 'branch']) {
      const opened = r.events.find((e) => e.about === district && e.kind === 'breaker')
      // Its breaker waits 2 ms.
      expect(opened!.timeUs / 1000).toBeCloseTo(502, 1)
    }
    expect(r.isOn('main')).toBe(true)
    expect(() => r.do({ act: 'end-short', name: 'two' })).toThrow(/no short "two"/)
  })

  it('takes the contact of a train: it hears nothing, and restarts once its capacitor is empty', () => {
    const r = run(
      [
        [300, speed(47, 0.5)],
        [1000, { act: 'lose-contact', train: 'railcar', forUs: 300e3 }],
        [1100, speed(47, 1)],
      ],
      1250,
    )
    expect(r.decoder('railcar')!.isPowered).toBe(false)
    expect(r.train('railcar').speedMmPerS).toBe(0)
    r.runTo(2e6)
    // It hears the new speed when it is refreshed.
    expect(r.decoder('railcar')!.target).toBe(1)
    expect(said(r, 'railcar')).toContain('has no contact')
  })

  it('lets a supply drop out, and come back', () => {
    const r = run([[500, { act: 'supply', supply: 'branch', volt: 0, forUs: 200e3 }]], 650)
    expect(ampAt(r, 'branch', 650)).toBeCloseTo(0, 2)
    expect(r.decoder('pick-up')!.isPowered).toBe(false)
    expect(r.decoder('express')!.isPowered).toBe(true)
    r.runTo(1e6)
    expect(r.decoder('pick-up')!.isPowered).toBe(true)
  })

  it('holds the controller: with a floating enable the pull resistor takes the rails off', () => {
    const r = run([[500, { act: 'hold', why: 'boot', forUs: 400e3 }]], 700)
    expect(r.isOn('main')).toBe(false)
    r.runTo(1.2e6)
    expect(r.isOn('main')).toBe(true)
  })

  it('holds the controller with its enable high: 30 ms later decoders run away on direct current (S-9.2.4:2012 B)', () => {
    const hold: BenchAct = { act: 'hold', why: 'flashing', forUs: 400e3, pins: { PB0: 'high', PB2: 'high' } }
    const r = run([[500, hold]], 525)
    expect(r.decoders.some((d) => d.isAnalog)).toBe(false)
    r.runTo(600e3)
    expect(r.decoders.every((d) => d.isAnalog && d.target === 1)).toBe(true)
    r.runTo(1.2e6)
    expect(r.decoders.every((d) => !d.isAnalog && d.target === 0)).toBe(true)
    // CV29 bit 2 off: it stays where it is.
    const none = {
      ...exhibition,
      decoders: exhibition.decoders.map((d) => ({ ...d, cvs: { ...d.cvs, 29: d.cvs[29]! & ~4 } })),
    }
    expect(run([[500, hold]], 700, none).decoders.some((d) => d.isAnalog)).toBe(false)
  })

  const hang = (setup?: BenchSetup) => {
    const r = run(
      [
        [300, speed(3, 0.5)],
        [800, { act: 'hold', why: 'hang', forUs: 6e6 }],
      ],
      1000,
      setup,
    )
    expect(r.decoder('express')!.target).toBe(0.5)
    r.runTo(4.5e6)
    return r
  }

  it.runIf(HAVE_COMPILER)(
    'lets the program hang: its timer goes on, nothing new is sent, and decoders stop by their time-out',
    () => {
      const elf = planted('exhibition', [['main.c', 'wdt_enable(WDTO_250MS);', '']])
      const r = hang(setupOf('exhibition', elf))
      expect(r.decoder('express')!.target).toBe(0.5)
      r.runTo(5e6)
      // 4 s by the design.
      expect(r.decoder('express')!.target).toBe(0)
      expect(r.decoder('express')!.isAnalog).toBe(false)
    },
  )

  it('lets the program hang until its watchdog restarts it, which stops every train', () => {
    const r = hang()
    expect(r.decoder('express')!.target).toBe(0)
  })

  it('derails a train: it shorts the rails while it moves, and only then', () => {
    const r = run([[500, { act: 'derail', train: 'shunter', ohm: 0.1 }]], 800)
    expect(r.rails.shorts.size).toBe(0)
    r.at(800e3, () => r.do(speed(60, 1)))
    r.runTo(900e3)
    expect(said(r, 'shunter')).toContain('shorts the rails while it moves')
    expect(r.events.some((e) => e.kind === 'breaker' && e.about === 'yard')).toBe(true)
  })

  it('blocks a motor: it draws its stall current when it is driven', () => {
    const acts: (readonly [number, BenchAct])[] = [
      [100, { act: 'stick-motor', train: 'pick-up' }],
      [300, speed(9999, 1)],
    ]
    const before = ampAt(run(acts, 290), 'branch', 290)
    // By the design 0.9 A instead of none.
    expect(ampAt(run(acts, 900), 'branch', 900) - before).toBeCloseTo(0.9, 1)
  })

  it('moves a train to another place, where it draws, and takes it off', () => {
    const r = run([[500, { act: 'place', train: 'express', at: { section: 'yard1.1', atMm: 300 } }]], 700)
    const inYard = ampAt(r, 'yard', 700)
    r.do({ act: 'remove', train: 'express' })
    r.runTo(900e3)
    // 0.02 A of a decoder and 0.25 A of sound; its coaches’ lights stand in the district too or beyond.
    expect(inYard - ampAt(r, 'yard', 900)).toBeGreaterThan(0.26)
    expect(r.decoder('express')!.isPowered).toBe(false)
  })

  it('loses contact on dirt, and regains it behind', () => {
    const dirt: BenchAct = { act: 'dirt', name: 'leaf', at: { section: 'yard2.2', atMm: 300 }, lengthMm: 4 }
    const r = run(
      [
        [100, dirt],
        [100, { act: 'place', train: 'shunter', at: { section: 'yard2.2', atMm: 100 } }],
        [400, speed(60, 1)],
      ],
      3500,
    )
    expect(said(r, 'shunter').filter((s) => s === 'has no contact: dirt')).toHaveLength(1)
    expect(r.train('shunter').motion!.front.mm).toBeGreaterThan(310)
    expect(r.train('shunter').hasContact).toBe(true)
    expect(r.decoder('shunter')!.isPowered).toBe(true)
    r.do({ act: 'clean', name: 'leaf' })
    expect(() => r.do({ act: 'clean', name: 'leaf' })).toThrow(/no dirt/)
  })

  it('follows a thrown turnout and crosses into another district, and stops where the track ends', () => {
    const r = run(
      [
        [100, { act: 'throw', turnout: 'T3', to: 'diverging' }],
        [100, { act: 'throw', turnout: 'Y1', to: 'diverging' }],
        [100, { act: 'place', train: 'railcar', at: { section: 'lead', atMm: 600 } }],
        [300, speed(47, 1, false)],
      ],
      20_000,
    )
    const places = said(r, 'railcar').filter((s) => s.startsWith('its rear enters'))
    expect(places.slice(0, 7)).toEqual([
      'its rear enters T3.points',
      'its rear enters T3.diverging',
      'its rear enters throat',
      'its rear enters Y1.points',
      'its rear enters Y1.diverging',
      'its rear enters ladder',
      'its rear enters Y2.points',
    ])
    expect(r.train('railcar').district).toBe(1)
    expect(said(r, 'railcar')).toContain('stands at the end of yard2.3')
    expect(r.train('railcar').speedMmPerS).toBe(0)
  })
})

it('two runs of the same acts are equal to the bit', () => {
  const acts: (readonly [number, BenchAct])[] = [
    [300, speed(3, 1)],
    [700, { act: 'short', name: 'a', at: { section: 'south.2' }, ohm: 0.3 }],
    [900, { act: 'end-short', name: 'a' }],
  ]
  const [one, two] = [run(acts, 1200), run(acts, 1200)]
  expect(two.timeline()).toEqual(one.timeline())
  expect([...two.amps]).toEqual([...one.amps])
})
