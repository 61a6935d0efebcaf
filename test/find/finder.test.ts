import { beforeAll, describe, expect, it } from 'vitest'
import { seededRandom } from '../../src/corner/index.js'
import { type Finder, follow, parseReading, parseSymptom, plant } from '../../src/find/index.js'
import { finderOf } from './designs.js'

let shelf: Finder
let workshop: Finder
beforeAll(() => {
  shelf = finderOf('shelf')
  workshop = finderOf('two-tracks')
})

const at = (finder: Finder, ...texts: string[]) =>
  texts.map((t) => parseReading(finder.station, finder.spots, t))
const numberOf = (finder: Finder, id: string) => finder.hypotheses.findIndex((h) => h.id === id)

describe('what must not happen', () => {
  it('gives no probability below nought, none above one, and none that is no number, whatever is read', () => {
    const random = seededRandom(11)
    for (let round = 0; round < 6; round++) {
      const readings = Array.from({ length: 5 }, () => {
        const spot = workshop.spots[Math.floor(random.uniform() * workshop.spots.length)]!
        const { words, span } = spot.kind
        const value = words ? words[Math.floor(random.uniform() * words.length)]! : random.uniform() * span
        return { spot, instrument: spot.kind.instruments[0]!, value }
      })
      const { ranking } = workshop.diagnose(readings)
      for (const r of ranking) expect(r.probability >= 0 && r.probability <= 1).toBe(true)
      const sum = ranking.reduce((s, r) => s + r.probability, 0)
      expect(sum).toBeGreaterThan(0.9)
      expect(sum).toBeLessThan(1 + 1e-9)
    }
  })

  it('names faults that no reading separates as a class, never as one', () => {
    // All readings together must not single one of them out.
    const classes = workshop.hypotheses.map((_, h) => workshop.classOf(h)).filter((c) => c.length > 1)
    expect(classes.length).toBeGreaterThan(0)
    for (const members of classes.slice(0, 3)) {
      const bench = plant(workshop, members[0]!, { uniform: () => 0.5, normal: () => 0 })
      const readings = workshop.spots.map((s) => bench.read(s, s.kind.instruments[0]!))
      const { outcome, class: kin } = workshop.diagnose(readings)
      expect(outcome).not.toBe('found')
      expect(kin.length).toBeGreaterThan(1)
    }
  })

  it('admits that nothing fits', () => {
    const { outcome, next } = shelf.diagnose(
      at(
        shelf,
        'district shelf output volts 27 V',
        'supply brick supply volts 3 V',
        'track mill track volts 22 V',
        'district shelf output DC volts 19 V',
      ),
    )
    expect(outcome).toBe('nothing fits')
    expect(next).toEqual([])
  })

  it('does not take one wrong reading for a fault', () => {
    const { ranking, doubtful, outcome } = shelf.diagnose(
      at(
        shelf,
        'output main half of a one 58 us',
        'output main preamble 16',
        'supply brick supply volts 33 V',
      ),
    )
    expect(outcome).not.toBe('nothing fits')
    expect(doubtful).toEqual([2])
    expect(ranking[0]!.probability).toBeLessThan(0.9)
  })

  it.each([
    ['track nowhere track volts 12 V', /no place "track nowhere".*expected one of track/],
    ['track mil track volts 12 V', /nearest is "track mill"/],
    ['moon base track volts 12 V', /no place "moon base".*expected one of track, joint, feeder/],
    ['track mill colour red', /expected after "track mill" one of track volts/],
    ['track mill track volts green', /expected a value such as/],
    ['track mill track volts 900 V', /from 0 to 30/],
    [
      'track mill track volts 12 V clamp meter',
      /not read with "clamp meter"; expected rms meter or average meter/,
    ],
    ['controller serial line purple', /expected "legible" or "garbled"/],
  ])('refuses the reading "%s"', (text, message) => {
    expect(() => at(shelf, text)).toThrow(message)
  })

  it('refuses symptoms that there are not', () => {
    expect(() => parseSymptom(shelf.station, 'smells')).toThrow(/no symptom "smells"; expected one of/)
    expect(() => parseSymptom(shelf.station, 'never trips at mill')).toThrow(/has no place/)
    expect(() => parseSymptom(shelf.station, 'stops at one place at nowhere')).toThrow(/no place/)
  })
})

describe('what it finds', () => {
  it('finds an open wire by the current in it, where the rails have voltage', () => {
    const readings = at(shelf, 'feeder mill/A feeder current 0 A', 'track mill track volts 12.9 V')
    const { ranking } = shelf.diagnose(readings)
    expect(ranking[0]!.hypothesis.id).toBe('open-feeder at feeder mill/A')
  })

  it('takes an average-responding meter for what it is', () => {
    const id = 'supply-weak at supply brick'
    const sound = (text: string) =>
      shelf.diagnose(at(shelf, text)).ranking.find((r) => r.hypothesis.id === id)?.probability ?? 0
    // 13 V square shows 14.4 V on a meter that is scaled for sines.
    expect(sound('district shelf output volts 14.4 V average meter')).toBeLessThan(0.01)
    expect(sound('district shelf output volts 11.1 V average meter')).toBeGreaterThan(0.3)
  })

  it('tells a half-bridge at rest from a wire at rest by the level at its input', () => {
    const first = (...texts: string[]) => shelf.diagnose(at(shelf, ...texts)).ranking[0]!.hypothesis.kinds
    const dc = 'district shelf output DC volts 6.5 V'
    const ac = 'district shelf output volts 6.5 V'
    expect(first(dc, ac, 'driver bridge half B low', 'input bridge.enable input level high')).toEqual([
      'half-dead',
    ])
    expect(first(dc, ac, 'driver bridge half B low', 'input bridge.enable input level switches')).toEqual([
      'inputs-swapped',
    ])
  })

  it('follows its own readings to planted faults: nine of ten first, all but one in a hundred among three', () => {
    let [all, first, three] = [0, 0, 0]
    for (const [finder, step] of [
      [workshop, 3],
      [shelf, 17],
    ] as const)
      for (let h = 1; h < finder.hypotheses.length; h += step) {
        const { rank } = follow(finder, h, seededRandom(5000 + h))
        all++
        if (rank === 1) first++
        if (rank <= 3) three++
      }
    expect(all).toBeGreaterThanOrEqual(25)
    expect(first / all).toBeGreaterThanOrEqual(0.9)
    expect(three / all).toBeGreaterThanOrEqual(0.99)
  })

  it('knows each hypothesis by its own name', () => {
    expect(new Set(shelf.hypotheses.map((h) => h.id)).size).toBe(shelf.hypotheses.length)
    expect(numberOf(shelf, 'sound')).toBe(0)
    expect(shelf.hypotheses.reduce((s, h) => s + h.prior, 0)).toBeCloseTo(1, 9)
  })
})
