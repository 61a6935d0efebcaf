// Expected values: Ohm, Kirchhoff, Q = C·U and the first-order low-pass, worked by hand.
import { describe, expect, it } from 'vitest'
import { driverOutput } from './driver.js'
import { Melting } from './melting.js'
import { RailNetwork } from './network.js'
import type { RailLoad, SourcePlan, SupplyPlan } from './parts.js'
import { Rails } from './rails.js'
import { SenseFilter } from './sense-filter.js'

const SUPPLY: SupplyPlan = {
  name: 'brick',
  volt: 15,
  ohm: 0.1,
  limit: 'constant',
  limitAmp: Number.POSITIVE_INFINITY,
}
const SOURCE: Omit<SourcePlan, 'district'> = {
  supply: 'brick',
  dropVolt: 0,
  ohm: 0.4,
  holdsAmp: Number.POSITIVE_INFINITY,
}

/** Districts on one supply, each 0.5 Ohm from its source. */
function railsOf(
  names: readonly string[],
  supply: Partial<SupplyPlan> = {},
  source: Partial<SourcePlan> = {},
  farOhm = 0,
): Rails {
  const network = new RailNetwork(
    names,
    names.map(() => farOhm),
  )
  const rails = new Rails(
    network,
    [{ ...SUPPLY, ...supply }],
    names.map((district) => ({ ...SOURCE, district, ...source })),
  )
  rails.change(0, () => {
    for (const s of rails.sources) s.output = 'driving'
  })
  return rails
}

function load(rails: Rails, district: number, own: Partial<RailLoad>): RailLoad {
  const l: RailLoad = {
    spot: rails.network.rails(district),
    contact: true,
    amp: 0,
    ohm: 0.5,
    farad: 1e-3,
    volt: 0,
    ...own,
  }
  rails.change(rails.points.at(0)?.timeUs ?? 0, () => rails.loads.push(l))
  return l
}

const short = (rails: Rails, us: number, district: number, ohm: number, name = 'a') =>
  rails.change(us, () => void rails.shorts.set(name, { spot: rails.network.rails(district), ohm }))

describe('a load on rails that are shorted', () => {
  it('is a resistor while its capacitor is nearly empty, and takes no more steps than any other', () => {
    const rails = railsOf(['oval'], { limitAmp: 4 })
    const l = load(rails, 0, { amp: 0.5, farad: 47e-6, volt: 15 })
    // 4 A through 0.05 Ohm: 0.2 V, of which the load's 0.5 Ohm and its 0.5 V at 0.5 A (1 Ohm) leave two thirds.
    short(rails, 100, 0, 0.05)
    rails.ahead(50e3)
    expect(rails.points.length).toBeLessThan(300)
    const { portVolt, state } = rails.at(50e3)
    expect(state.volt[rails.loads.indexOf(l)]!).toBeCloseTo((Math.abs(portVolt[0]!) * 2) / 3, 3)
  })
})

describe('a district', () => {
  it('obeys Ohm: a short of 1 Ohm behind 0.5 Ohm draws 10 A, two of them 15 A', () => {
    const rails = railsOf(['oval'])
    short(rails, 100, 0, 1)
    expect(rails.sourceAmp(0, 200)).toBeCloseTo(10, 7)
    expect(rails.voltAt(rails.network.rails(0), 200)).toBeCloseTo(10, 7)
    short(rails, 300, 0, 1, 'b')
    expect(rails.sourceAmp(0, 301)).toBeCloseTo(15, 7)
    rails.change(400, () => rails.shorts.clear())
    expect(rails.sourceAmp(0, 401)).toBeCloseTo(0, 6)
  })

  it('gives no more than its supply’s limit, or what its driver holds', () => {
    const limited = railsOf(['oval'], { limitAmp: 4 })
    short(limited, 0, 0, 0.1)
    expect(limited.sourceAmp(0, 50)).toBeCloseTo(4, 7)
    const held = railsOf(['oval'], {}, { holdsAmp: 3 })
    short(held, 0, 0, 0.1)
    expect(held.sourceAmp(0, 50)).toBeCloseTo(3, 7)
  })

  it('folds back along a straight line from the limit at full voltage to the short current at none', () => {
    // U = 1.5 · I on the line 1 + 3·U/15 gives I = 1 / 0.7.
    const rails = railsOf(['oval'], { limit: 'foldback', limitAmp: 4, shortAmp: 1 })
    short(rails, 0, 0, 1.1)
    expect(rails.sourceAmp(0, 50)).toBeCloseTo(1 / 0.7, 6)
  })

  it('shares its supply’s limit with the others', () => {
    const rails = railsOf(['oval', 'yard'], { limitAmp: 6 })
    short(rails, 0, 0, 0.6)
    short(rails, 0, 1, 1.6, 'b')
    // 1 Ohm and 2 Ohm side by side: the 6 A divide as 2 to 1.
    expect(rails.sourceAmp(0, 50)).toBeCloseTo(4, 6)
    expect(rails.sourceAmp(1, 50)).toBeCloseTo(2, 6)
  })

  it('charges a capacitor with all the charge it takes, limited or not', () => {
    for (const limitAmp of [Number.POSITIVE_INFINITY, 5]) {
      const rails = railsOf(['oval'], { limitAmp })
      load(rails, 0, {})
      let coulomb = 0
      for (let us = 0; us < 30e3; us++) coulomb += rails.sourceAmp(0, us + 0.5) * 1e-6
      // The peak is 15 V over 1 Ohm.
      expect(rails.sourceAmp(0, 0.001)).toBeCloseTo(Math.min(limitAmp, 15), 1)
      expect(coulomb).toBeCloseTo(0.015, 4)
    }
  })

  it('follows 1 − exp(−t/RC) within 0.2 %', () => {
    const rails = railsOf(['oval'])
    load(rails, 0, {})
    // 1 Ohm and 1 mF.
    for (const us of [50, 300, 1000, 2500])
      expect(rails.sourceAmp(0, us)).toBeCloseTo(15 * Math.exp(-us / 1000), 1.6)
  })

  it('lets a decoder live on its capacitor: t = C·ΔU/I', () => {
    const rails = railsOf(['oval'])
    const decoder = load(rails, 0, { amp: 0.5 })
    rails.change(50e3, () => {
      rails.sources[0]!.output = 'open'
    })
    // It had 15 − 0.5·1 V; 3 V less after 6 ms.
    expect(rails.at(56e3).state.volt[0]).toBeCloseTo(11.5, 2)
    expect(decoder.contact).toBe(true)
  })

  it('charges a stay-alive through its resistor, which gives through a diode', () => {
    const rails = railsOf(['oval'])
    load(rails, 0, { farad: 47e-6, amp: 0.2, stay: { farad: 2.2e-3, ohm: 100, volt: 0 } })
    // RC = 0.22 s.
    const { stay, volt } = rails.at(220e3).state
    expect(stay[0]! / volt[0]!).toBeCloseTo(1 - Math.exp(-1), 2)
    rails.change(5e6, () => {
      rails.sources[0]!.output = 'open'
    })
    // Both together: 0.2 A for 20 ms take 1.78 V from 2.247 mF.
    const before = rails.at(5e6).state.stay[0]!
    expect(before - rails.at(5.02e6).state.stay[0]!).toBeCloseTo(1.78, 1)
  })

  it('keeps energy: what supplies give is in resistances, loads and capacitors', () => {
    const rails = railsOf(['oval', 'yard'], { limitAmp: 20 })
    load(rails, 0, { amp: 0.4 })
    load(rails, 1, { amp: 0.2, farad: 2e-4 })
    let [given, lost, used] = [0, 0, 0]
    rails.onPassed = (a, b) => {
      const s = (b.timeUs - a.timeUs) / 1e6
      const mean = (f: (x: typeof a) => number) => (s * (f(a) + f(b))) / 2
      given += mean((x) => 15 * x.supplyAmp[0]!)
      lost += mean((x) => 0.1 * x.supplyAmp[0]! ** 2)
      for (const d of [0, 1]) {
        lost += mean((x) => 0.4 * x.sourceAmp[d]! ** 2)
        // A 1.5 Ohm short beside the load of the first district takes the rest.
        lost += mean((x) => {
          const rail = x.portVolt[d]!
          const shorted = d === 0 && a.timeUs >= 20e3 ? rail / 1.5 : 0
          return shorted * rail + 0.5 * (x.sourceAmp[d]! - shorted) ** 2
        })
        used += mean((x) => (d === 0 ? 0.4 : 0.2) * x.state.volt[d]!)
      }
    }
    short(rails, 20e3, 0, 1.5)
    rails.change(40e3)
    const [one, two] = rails.at(40e3).state.volt
    const stored = 0.5 * 1e-3 * one! ** 2 + 0.5 * 2e-4 * two! ** 2
    expect(given / (lost + used + stored)).toBeCloseTo(1, 2)
  })

  it('meets its neighbour where wheels join them, opposed as a short', () => {
    const rails = railsOf(['oval', 'yard'])
    const [from, to] = [rails.network.rails(0), rails.network.rails(1)]
    rails.change(10, () => void rails.bridges.set('wheels', { from, to, ohm: 0.1, opposed: false }))
    expect(rails.sourceAmp(0, 20)).toBeCloseTo(0, 6)
    rails.change(30, () => void rails.bridges.set('wheels', { from, to, ohm: 0.2, opposed: true }))
    // 30 V less 2·0.1·2·I in the common supply, over 0.4 + 0.4 + 0.2 Ohm: I = 30 / 1.4.
    expect(rails.sourceAmp(0, 40)).toBeCloseTo(30 / 1.4, 6)
  })
})

describe('the filter of a sense', () => {
  it('is the closed form of a step: 1 − exp(−t/T)', () => {
    const rails = railsOf(['oval'])
    const f = new SenseFilter(rails, 0, 100)
    short(rails, 0, 0, 1)
    for (const us of [0, 50, 100, 230, 1000]) expect(f.at(us)).toBeCloseTo(10 * (1 - Math.exp(-us / 100)), 7)
  })

  it('agrees with small steps of the differential equation while a capacitor charges', () => {
    for (const [farad, tauUs] of [
      [1e-4, 80],
      [1e-4, 100],
      [2e-3, 40],
    ] as const) {
      const rails = railsOf(['oval'], { limitAmp: 9 })
      const f = new SenseFilter(rails, 0, tauUs)
      load(rails, 0, { farad, amp: 0.4 })
      let y = 0
      const h = 0.05
      for (let us = 0; us < 600; us += h) y += ((rails.sourceAmp(0, us + h / 2) - y) * h) / tauUs
      expect(f.at(600)).toBeCloseTo(y, 2)
    }
  })

  it('goes on from where it was when something changes', () => {
    const rails = railsOf(['oval'])
    const f = new SenseFilter(rails, 0, 100)
    short(rails, 0, 0, 1)
    f.at(150)
    rails.change(150, () => rails.shorts.clear())
    expect(f.at(250)).toBeCloseTo(10 * (1 - Math.exp(-1.5)) * Math.exp(-1), 6)
  })
})

describe('the inputs of a driver', () => {
  const read = (pins: Parameters<typeof driverOutput>[0], high: string) => {
    const { output, level } = driverOutput(pins, (p) => (high.includes(p) ? 1 : 0))
    return output === 'driving' ? `driving ${level}` : output
  }

  it.each<[string, string]>([
    ['', 'open'],
    ['P', 'open'],
    ['E', 'driving 0'],
    ['PE', 'driving 1'],
    ['PEB', 'braking'],
    ['PEZ', 'open'],
  ])('phase and enable, with a brake and an enable that is active low: %s high gives %s', (high, wanted) => {
    expect(read({ direction: 'P', enable: ['E'], enableLow: ['Z'], brake: ['B'] }, high)).toBe(wanted)
  })

  it.each<[string, string]>([
    ['', 'braking'],
    ['A', 'driving 1'],
    ['I', 'driving 0'],
    ['AI', 'braking'],
  ])('two inputs: %s high gives %s', (high, wanted) => {
    expect(read({ direction: 'A', inverted: 'I', enable: [], brake: [] }, high)).toBe(wanted)
  })

  // DRV8871 data sheet SLVSCY9B: both inputs low is coast, both high brake.
  it.each<[string, string]>([
    ['', 'open'],
    ['A', 'driving 1'],
    ['AI', 'braking'],
  ])('two inputs of a driver that coasts while both are low: %s high gives %s', (high, wanted) => {
    const pins = { direction: 'A', inverted: 'I', bothLow: 'open', enable: [], brake: [] } as const
    expect(read(pins, high)).toBe(wanted)
  })

  // A bridge of single transistors: each input turns on one switch of either side.
  it.each<[string, boolean]>([
    ['', false],
    ['A', false],
    ['I', false],
    ['AI', true],
  ])('two inputs of a bridge without a logic of its own: %s high shorts its supply: %s', (high, shorts) => {
    const pins = { direction: 'A', inverted: 'I', bothHigh: 'short', enable: ['E'], brake: [] } as const
    expect(driverOutput(pins, (pin) => (`${high}E`.includes(pin) ? 1 : 0)).shorts ?? false).toBe(shorts)
    expect(driverOutput(pins, (pin) => (high.includes(pin) ? 1 : 0)).shorts ?? false).toBe(false)
  })

  it('nothing without a direction, or with an enable that is tied off', () => {
    expect(read({ enable: ['E'], brake: [] }, 'E')).toBe('open')
    expect(read({ direction: 'P', enable: [], brake: [], neverOn: true }, 'P')).toBe('open')
  })
})

describe('a fuse', () => {
  it('carries its rating for ever, and melts between the gates of IEC 60127-2 sheet 3 (from memory)', () => {
    const fuse = new Melting(2)
    expect(fuse.pass(2, 3600e6)).toBe(false)
    // 4 times: 0.15 to 3 s.
    expect(fuse.usualUs(8)).toBeGreaterThan(0.15e6)
    expect(fuse.usualUs(8)).toBeLessThan(3e6)
    let us = 0
    while (!fuse.pass(8, 10e3)) us += 10e3
    expect(us / 1e6).toBeCloseTo(fuse.usualUs(8) / 1e6, 1)
  })
})
