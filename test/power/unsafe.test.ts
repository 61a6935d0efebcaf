/**
 * Designs that would hurt hardware, each with what must be said of it, and what makes it safe. Each stands in
 * test/power/odd with the reason in its first line.
 */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { powerReport } from '../../src/power/index.js'
import { powerInput } from '../../src/proof/index.js'
import type { Evidence } from '../../src/standard/index.js'

const odd = new URL('./odd/', import.meta.url).pathname

function reportOf(name: string, changes: readonly (readonly [string, string])[] = []) {
  let text = readFileSync(`${odd}${name}.yaml`, 'utf8')
  for (const [from, to] of changes) {
    expect(text).toContain(from)
    text = text.replace(from, to)
  }
  return powerReport(powerInput(loadDesign(text))!.input)
}

function row(evidence: readonly Evidence[], clause: string, about = 'main'): Evidence {
  const found = evidence.filter((e) => e.clause === clause && e.about === about)
  expect(found.length, `${clause} ${about}`).toBe(1)
  return found[0]!
}

interface Unsafe {
  clause: string
  about?: string
  verdict: 'broken' | 'undecided'
  says: RegExp
  /** What makes it met. */
  mended: [string, string][]
}

const UNSAFE: Record<string, Unsafe> = {
  'trip-band': {
    clause: 'driver-heat',
    verdict: 'undecided',
    says: /make 218 °C; limit 150 °C; it fails with the current that may flow continuously in main at its highest, 3\.94 A.*decides it/,
    mended: [['25 K/W', '17 K/W']],
  },
  // The driver limits at 25 to 35 A, the supply at 5.06 A: its output capacitors, which nobody described, lie between them.
  'pin-pulse': {
    clause: 'sense-stress',
    verdict: 'undecided',
    says: /a short of 35 A puts 7\.07 V on the converter pin, which withstands 5\.5 V/,
    mended: [['resistance: 0.2 Ohm', 'resistance: 0.2 Ohm, series: 10 kOhm']],
  },
  'slow-own-limit': {
    clause: 'short-trip',
    verdict: 'broken',
    says: /before the driver limits its current, the supply gives \d+\.?\d* A at first, above the 10 A that is the absolute maximum of custom part/,
    mended: [['limitDelay: 500 us', 'limitDelay: 3 us, shortProof: true']],
  },
  'unrated-driver': {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /the peak current of custom part is not known/,
    mended: [['junctionMax: 150 C', 'junctionMax: 150 C, continuous: 10 A, peak: 120 A']],
  },
  'unrated-pulse': {
    clause: 'inrush',
    verdict: 'undecided',
    says: /knowing the peak current of driver main decides it/,
    mended: [['continuous: 6 A', 'continuous: 6 A, peak: 120 A']],
  },
  'supply-fuse': {
    clause: 'fuse',
    verdict: 'broken',
    says: /the fuse of supply main, 1 A, must carry 1\.1\d? A at the worst load; in air of up to 60 °C it carries 75 %/,
    mended: [['fuse: 1 A', 'fuse: 4 A']],
  },
  'noisy-trip': {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /is off after 10\.6 ms at the latest/,
    mended: [['noise: 60 mV', 'noise: 5 mV']],
  },
  // Only typical on-resistances are known.
  'typical-ohm': {
    clause: 'driver-heat',
    verdict: 'undecided',
    says: /make 15\d °C; limit 150 °C/,
    mended: [['lowOhm: 100 mOhm', 'lowOhm: 100 mOhm, highOhmMax: 110 mOhm, lowOhmMax: 110 mOhm']],
  },
  'unknown-rise': {
    clause: 'driver-heat',
    verdict: 'undecided',
    says: /make 2\d\d °C; limit 150 °C/,
    mended: [['highOhm: 80 mOhm', 'ohmPerKelvin: 0.4 %, highOhm: 80 mOhm']],
  },
  'test-board': {
    clause: 'driver-heat',
    verdict: 'undecided',
    says: /53\.3 K\/W above 35 °C make 15\d °C.*thermal resistance of driver main as mounted/,
    mended: [['part: DRV8871', 'part: DRV8871, cooling: { junctionToAmbient: 41 K/W }']],
  },
  retries: {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /needs 6 ms to trip, but the driver may switch off at its own limit after 1\.5 us and retry.*knowing the (time that driver main gives its own limit|current limit of supply main|own current limit)/,
    mended: [
      [
        'rating: 10 A, limit: constant, limitCurrent: 11 A',
        'rating: 3 A, limit: constant, limitCurrent: 3.3 A',
      ],
    ],
  },
  'cold-driver': {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /short at the terminals 20\.6 A to 54 A.*above the 30 A.*losses of driver main.*junction of driver main at its lowest, 20 °C/,
    mended: [['peak: 30 A', 'peak: 60 A']],
  },
  'least-limit': {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /not sure to trip.*own current limit of driver main at its lowest, 4 A.*knowing the own current limit/,
    mended: [['limitMin: 4 A', 'limitMin: 7 A']],
  },
  'driver-trips': {
    clause: 'driver-heat',
    verdict: 'broken',
    says: /up to 5\.3 A in main continuously/,
    mended: [
      [
        'part: DRV8871',
        'part: DRV8871, cooling: { junctionToAmbient: 41 K/W }, figures: { limit: 1.2 A, limitMin: 1 A }',
      ],
    ],
  },
  blanking: {
    clause: 'short-trip',
    verdict: 'broken',
    says: /off after 30\.1 ms at the latest; 200 us allowed/,
    mended: [[', blanking: 30 ms', '']],
  },
  'sense-short': {
    clause: 'sense-stress',
    verdict: 'broken',
    says: /a short of 1\d\.?\d? A makes 1\d\d W in the shunt, rated 3 W/,
    mended: [
      ['resistance: 1 Ohm', 'resistance: 0.1 Ohm'],
      ['reference: 5 V', 'reference: 1.1 V, series: 10 kOhm'],
    ],
  },
  'inrush-peak': {
    clause: 'inrush',
    verdict: 'broken',
    says: /12 decoders.*draw up to 7\d\.?\d? A.*against the driver's peak current/,
    mended: [
      [
        'limit: none, fuse: 10 A, fuseBreaking: 1500 A',
        'limit: constant, limitCurrent: 9 A, capacitance: 0 F, limitResponse: 0 us',
      ],
    ],
  },
  'inrush-trip': {
    clause: 'inrush',
    verdict: 'broken',
    says: /it trips after/,
    mended: [['resistance: 22 Ohm', 'resistance: 220 Ohm']],
  },
  'ack-gain': {
    clause: 'ack-detect',
    verdict: 'undecided',
    says: /gain of the sense of main at its lowest, 0\.89/,
    mended: [['threshold: 55 mA', 'threshold: 35 mA']],
  },
  hiccup: {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /knowing the time that supply main delivers into a short decides it \(its times are not given\)/,
    mended: [['limitCurrent: 6 A', 'limitCurrent: 6 A, hiccupOn: 200 ms']],
  },
  foldback: {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /knowing the current of supply main into a short decides it \(its foldback current is not given\)/,
    mended: [['limitCurrent: 6 A', 'limitCurrent: 6 A, shortCurrent: 4 A']],
  },
  'fuse-unknown-wire': {
    clause: 'fuse',
    verdict: 'undecided',
    says: /opens it after 4\.2\d? s at the latest, but the design describes no wire.*knowing the cross-section of the thinnest wire in main decides it/,
    mended: [['worst: 2 A', 'worst: 2 A, thinnestWire: 0.75 mm2']],
  },
  'closes-again': {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /closes again after 500 ms: 33 A for 120 ms each time heat like 14\.5 A continuously; the thinnest wire carries 3\.\d+ A.*knowing the time until the trip of main closes again decides it/,
    mended: [['after: 100 ms', 'after: 100 ms, again: 60 s']],
  },
  'capacitor-short': {
    clause: 'short-trip',
    verdict: 'broken',
    says: /the output capacitors give \d+\.?\d? A at first, above the 3 A that is the absolute maximum of L298/,
    mended: [['capacitance: 2200 uF', 'capacitance: 0 F, limitResponse: 0 us']],
  },
  'slow-clock': {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /it fails with the.*clock period of the controller, against the nominal one at its highest, 1\.1/,
    mended: [['source: rc', 'source: crystal']],
  },
  'shared-hiccup': {
    clause: 'inrush',
    verdict: 'undecided',
    says: /those of yard on the same supply.*hiccup supply, which may switch off before the capacitors are charged/,
    mended: [['hiccupOn: 20 ms', 'hiccupOn: 60 ms']],
  },
  'reservoir-inrush': {
    clause: 'inrush',
    verdict: 'undecided',
    says: /those of the controller on the same supply.*hiccup supply, which may switch off before the capacitors are charged/,
    mended: [['reservoir: 20 mF', 'reservoir: 1 mF']],
  },
  'fuse-inrush': {
    clause: 'inrush',
    verdict: 'undecided',
    says: /against what the fuse survives/,
    mended: [['fuse: 1 A', 'fuse: 8 A']],
  },
  'mirror-pulse': {
    clause: 'sense-stress',
    verdict: 'broken',
    says: /a short of 13 A puts 15 V on the converter pin, which withstands 5\.5 V/,
    mended: [['capacitance: 2200 uF', 'capacitance: 0 F, limitResponse: 0 us']],
  },
  'slow-limit': {
    clause: 'short-trip',
    verdict: 'broken',
    says: /the supply, whose limit does not act at once, gives \d+\.?\d* A at first, above the 3 A that is the absolute maximum of L298/,
    mended: [['limitResponse: 500 us', 'limitResponse: 0 us']],
  },
  'slow-limit-trip': {
    clause: 'inrush',
    verdict: 'broken',
    says: /it trips after 40 us/,
    mended: [['limitResponse: 2 ms', 'limitResponse: 5 us']],
  },
  'slow-limit-heat': {
    clause: 'inrush',
    verdict: 'broken',
    says: /against the driver's heat/,
    mended: [['limitResponse: 1 s', 'limitResponse: 5 us']],
  },
  'output-capacitor-trip': {
    clause: 'inrush',
    verdict: 'broken',
    says: /it trips after 40 us/,
    mended: [['capacitance: 4700 uF', 'capacitance: 0 F, limitResponse: 0 us']],
  },
  'output-capacitor-fuse': {
    clause: 'inrush',
    verdict: 'broken',
    says: /against what the fuse survives/,
    mended: [['capacitance: 4700 uF', 'capacitance: 0 F, limitResponse: 0 us']],
  },
  'output-capacitor-heat': {
    clause: 'inrush',
    verdict: 'broken',
    says: /against the driver's heat/,
    mended: [['capacitance: 500 mF', 'capacitance: 0 F, limitResponse: 0 us']],
  },
  follower: {
    clause: 'sense-stress',
    verdict: 'broken',
    says: /on the input of the amplifier, which withstands 0\.5 V/,
    mended: [['amplifierInputMax: 0.5 V', 'amplifierInputMax: 10 V']],
  },
  'amplifier-input': {
    clause: 'sense-stress',
    verdict: 'undecided',
    says: /puts 7\.?\d* V on the input of the amplifier, which withstands 5 V.*knowing the highest voltage at the input/,
    mended: [['amplifierSupply: 5 V', 'amplifierSupply: 5 V, amplifierInputMax: 26 V']],
  },
  'shunt-again': {
    clause: 'short-trip',
    verdict: 'broken',
    says: /closes again after 31 ms.*the shunt is rated for 6\.\d+ A/,
    mended: [['again: 31 ms', 'again: 2 s']],
  },
  'starved-controller': {
    clause: 'short-trip',
    verdict: 'undecided',
    says: /pulls down the supply that also feeds the controller: the firmware needs 1\.\d+ ms to trip, and may stop at once.*no capacitor before its regulator is given/,
    mended: [['current: 100 mA', 'current: 100 mA, reservoir: 470 uF']],
  },
  'no-off-pin': {
    clause: 'short-trip',
    verdict: 'broken',
    says: /is not sure to trip: no pin of the controller can switch the driver off/,
    mended: [['tied: high', 'wired: PB0, pull: low']],
  },
  battery: {
    clause: 'fuse',
    verdict: 'broken',
    says: /neither the district nor supply main.*has a fuse/,
    mended: [['load:', 'fuse: 5 A\n      fuseBreaking: 1500 A\n      load:']],
  },
  stalled: {
    clause: 'driver-heat',
    verdict: 'undecided',
    says: /up to 5\.5 A in main continuously/,
    mended: [['part: DRV8874', 'part: DRV8874, cooling: { junctionToAmbient: 8 K/W }']],
  },
  dead: {
    clause: 'dead-level',
    verdict: 'broken',
    says: /puts direct current on the rails while the controller is dead/,
    mended: [['tied: high', 'wired: PB0, pull: low']],
  },
  levels: {
    clause: 'logic-level',
    verdict: 'broken',
    says: /high from 3\.5 V, the controller gives at least 3\.\d+ V/,
    mended: [['inputHigh: 3.5 V', 'inputHigh: 2 V']],
  },
  // 3.3 V less 5 % are 3.135 V.
  'close-levels': {
    clause: 'logic-level',
    verdict: 'undecided',
    says: /high from 3\.2 V, the controller gives at least 3\.1\d V, its supply 5 % off/,
    mended: [['inputHigh: 3.2 V', 'inputHigh: 3.1 V']],
  },
}

describe('a design that would hurt hardware', () => {
  it.each(Object.entries(UNSAFE))('%s: is not met, and its cure is', (name, unsafe) => {
    const { clause, about, verdict, says, mended } = unsafe
    const found = row(reportOf(name).evidence, clause, about)
    expect(`${found.verdict}: ${found.because}`).toMatch(new RegExp(`^${verdict}: `))
    expect(found.because).toMatch(says)
    expect(found.margin).toBeLessThan(0)
    expect(found.finding?.code).toMatch(/^power\//)
    const cured = row(reportOf(name, mended).evidence, clause, about)
    expect(`${cured.verdict}: ${cured.because}`).toMatch(/^met: /)
    expect(cured.margin).toBeGreaterThanOrEqual(0)
  })

  it('one bridge cannot repeat two outputs', () => {
    expect(() => reportOf('two-signals')).toThrow(
      /channel 1 of driver "bridge" repeats output "main" for district "main"; it cannot repeat "service" too/,
    )
    expect(() => reportOf('two-signals', [['output: service', 'output: main']])).not.toThrow()
  })

  it.each(['dead-level', 'logic-level'])('a driver whose inputs nobody named leaves %s open', (clause) => {
    const named =
      'pins: [{ name: phase, role: direction, wired: PB1 }, { name: enable, role: enable, wired: PB2, pull: low }]'
    const judged = (changes?: [string, string][]) => row(reportOf('unnamed-inputs', changes).evidence, clause)
    expect(judged().verdict).toBe('undecided')
    expect(judged().because).toMatch(/the design does not name (its inputs|the inputs of driver far)/)
    expect(judged([['pins: []', named]]).verdict).toBe('met')
  })

  it('a pull resistor against another one inside the driver leaves dead-level open', () => {
    const judged = (pull: string) =>
      row(
        reportOf('unnamed-inputs', [
          [
            'pins: []',
            `pins: [{ name: phase, role: direction, wired: PB1 }, { name: sleep, role: enable, active: ${pull === 'low' ? 'high' : 'low'}, wired: PB2, pull: ${pull} }]`,
          ],
        ]).evidence,
        'dead-level',
      )
    expect(judged('low').verdict).toBe('met')
    expect(judged('high').verdict).toBe('undecided')
    expect(judged('high').because).toMatch(
      /a pull resistor on the board pulls it high, DRV8874 itself the other way/,
    )
  })

  it('a single input that tells the polarity is none of a driver with two: what stands between is not held by it', () => {
    const judged = (clause: string, pull: string) =>
      row(
        reportOf('unnamed-inputs', [
          [
            'part: DRV8874\n      pins: []',
            `part: DRV8871\n      pins: [{ name: phase, role: direction, wired: PB1 }, { name: enable, role: enable, wired: PB2${pull} }]`,
          ],
        ]).evidence,
        clause,
      )
    expect(judged('dead-level', '').verdict).toBe('undecided')
    expect(judged('dead-level', ', pull: low').verdict).toBe('met')
    expect(judged('logic-level', ', pull: low').verdict).toBe('undecided')
  })

  it('inputs that are both held high break dead-level where that shorts the supply', () => {
    const judged = (bothHigh: string) =>
      row(
        reportOf('unnamed-inputs', [
          [
            'part: DRV8874\n      pins: []',
            `part: custom\n      figures: { bothHigh: ${bothHigh} }\n      pins: [{ name: left, role: direction, wired: PB1, pull: high }, { name: right, role: inverted, wired: PB3, pull: high }]`,
          ],
        ]).evidence,
        'dead-level',
      )
    expect(judged('joined').verdict).toBe('met')
    expect(judged('short').verdict).toBe('broken')
    expect(judged('short').because).toMatch(
      /shorts its supply while the controller is dead: its inputs are all high/,
    )
  })

  it('an enable input that the driver does not have leaves open what holds it, and its thresholds', () => {
    const judged = (clause: string, pull: string, figures = '') =>
      row(
        reportOf('unnamed-inputs', [
          [
            'part: DRV8874\n      pins: []',
            `part: DRV8871${figures}\n      pins: [{ name: forward, role: direction, wired: PB1 }, { name: back, role: inverted, wired: PB3 }, { name: gate, role: enable, wired: PB2${pull} }]`,
          ],
        ]).evidence,
        clause,
      )
    expect(judged('dead-level', '').verdict).toBe('undecided')
    expect(judged('dead-level', '').because).toMatch(/gate is no terminal of DRV8871 itself/)
    expect(judged('dead-level', ', pull: low').verdict).toBe('met')
    expect(judged('logic-level', ', pull: low').verdict).toBe('undecided')
    expect(judged('logic-level', ', pull: low').because).toMatch(/thresholds of gate, which is no terminal/)
    const figures = (high: string) =>
      `\n      figures: { inputHigh: ${high}, inputLow: 1.5 V, inputMax: 5.5 V }`
    expect(judged('logic-level', '', figures('3.5 V')).verdict).toBe('met')
    expect(judged('logic-level', '', figures('5.5 V')).verdict).toBe('broken')
  })

  it('a driver whose thresholds, or what its inputs withstand, nobody knows leaves logic-level open', () => {
    const far = (part: string) =>
      row(
        reportOf('unnamed-inputs', [
          [
            'part: DRV8874\n      pins: []',
            `${part}\n      pins: [{ name: phase, role: direction, wired: PB1 }]`,
          ],
        ]).evidence,
        'logic-level',
      )
    expect(far('part: DRV8874').verdict).toBe('met')
    expect(far('part: TB6612FNG').because).toMatch(/thresholds of the inputs of driver far are not known/)
    expect(far('part: TB6612FNG').verdict).toBe('undecided')
    const custom = (most: string) =>
      far(`part: custom\n      figures: { inputHigh: 2 V, inputLow: 0.8 V${most} }`).verdict
    expect(custom('')).toBe('undecided')
    expect(custom(', inputMax: 7 V')).toBe('met')
    expect(custom(', inputMax: 3.6 V')).toBe('broken')
  })

  it('a driver that holds its own limit lets a slower trip see it, and one that stays off ends the short itself', () => {
    const at = (what: string) =>
      row(
        reportOf('least-limit', [
          ['limitMin: 4 A', 'limitMin: 7 A, limitDelay: 3 us'],
          ['atLimit: holds', what],
        ]).evidence,
        'short-trip',
      )
    expect(at('atLimit: holds').verdict).toBe('met')
    expect(at('atLimit: latches').verdict).toBe('met')
    expect(at('atLimit: latches').value.high).toBeCloseTo(3, 6)
    expect(at('atLimit: retries').verdict).toBe('undecided')
    expect(at('limitMax: 9 A').because).toMatch(
      /whether it holds the current, retries or stays off is not known/,
    )
  })

  it('a hiccup supply that gives up before the breaker acts never trips it', () => {
    const { evidence } = reportOf('hiccup', [['limitCurrent: 6 A', 'limitCurrent: 6 A, hiccupOn: 20 ms']])
    const found = row(evidence, 'short-trip')
    expect(found.verdict).toBe('broken')
    expect(found.because).toMatch(/needs 60 ms to trip, but the supply may switch off after 16 ms/)
  })

  it('a foldback supply is judged alike in every clause', () => {
    const verdicts = (changes?: [string, string][]) => {
      const { evidence } = reportOf('foldback', changes)
      return [row(evidence, 'short-trip').verdict, row(evidence, 'supply-current', 'main, to trip').verdict]
    }
    expect(verdicts()).toEqual(['undecided', 'undecided'])
    const short = (amp: string): [string, string][] => [
      ['limitCurrent: 6 A', `limitCurrent: 6 A, shortCurrent: ${amp}`],
    ]
    expect(verdicts(short('4 A'))).toEqual(['met', 'met'])
    expect(verdicts(short('1 A'))).toEqual(['broken', 'broken'])
  })

  it('output capacitors of a supply give a peak that its limit does not hold back', () => {
    const cured: [string, string] = [
      'limit: none, fuse: 10 A, fuseBreaking: 1500 A',
      'limit: constant, limitCurrent: 9 A, capacitance: 4700 uF',
    ]
    const found = row(reportOf('inrush-peak', [cured]).evidence, 'inrush')
    expect(found.verdict).toBe('broken')
    expect(found.because).toMatch(/draw up to 7\d\.?\d? A.*against the driver's peak current/)
  })

  it('a controller whose capacitor is empty before the firmware trips never switches a short off', () => {
    const { evidence } = reportOf('starved-controller', [
      ['after: 1 ms', 'after: 50 ms'],
      ['current: 100 mA', 'current: 100 mA, reservoir: 47 uF'],
    ])
    expect(row(evidence, 'short-trip').verdict).toBe('broken')
  })

  it('a threshold that the amplifier’s own supply keeps from the converter is refused', () => {
    const to = (volt: string) =>
      reportOf('starved-controller', [
        ['gain: 4', 'gain: 20'],
        ['amplifierSupply: 5 V', `amplifierSupply: ${volt}`],
      ])
    expect(() => to('3.3 V')).toThrow(/2 A cannot be read: the current sense ends at 1\.65 A/)
    expect(() => to('5 V')).not.toThrow()
  })

  it('output capacitors that nobody described leave a driver without a limit of its own undecided', () => {
    const { evidence } = reportOf('capacitor-short', [['capacitance: 2200 uF', 'limitResponse: 0 us']])
    const found = row(evidence, 'short-trip')
    expect(found.verdict).toBe('undecided')
    expect(found.because).toMatch(/knowing the output capacitors of supply main decides it \(not given\)/)
  })

  it('a capacitor of the controller charges in a district without any decoder, too', () => {
    const { evidence } = reportOf('reservoir-inrush', [['worst: 1 A', 'worst: 1 A, decoders: 0']])
    const found = row(evidence, 'inrush')
    expect(found.verdict).toBe('undecided')
    expect(found.because).toMatch(/hiccup supply, which may switch off before the capacitors are charged/)
    const small = [['worst: 1 A', 'worst: 1 A, decoders: 0'] as const, ['20 mF', '1 mF'] as const]
    expect(row(reportOf('reservoir-inrush', small).evidence, 'inrush').verdict).toBe('met')
  })

  it('a limit whose response nobody gave leaves a driver without a limit of its own undecided', () => {
    const { evidence } = reportOf('slow-limit', [[', limitResponse: 500 us', '']])
    const found = row(evidence, 'short-trip')
    expect(found.verdict).toBe('undecided')
    expect(found.because).toMatch(
      /knowing the time until the limit of supply main acts decides it \(not given, up to 1 ms assumed\)/,
    )
    // A driver that holds its current back, or a supply that cannot give more than the driver's peak, needs no figure.
    for (const change of [
      ['part: L298', 'part: DRV8874'],
      ['tolerance: 3 %', 'resistance: 10 Ohm, tolerance: 3 %'],
    ] as const) {
      const other = row(
        reportOf('slow-limit', [[', limitResponse: 500 us', ''], change]).evidence,
        'short-trip',
      )
      expect(other.because).not.toContain('time until the limit')
    }
  })

  it('a breaker that closes again at once into a short is broken, not undecided', () => {
    const { evidence } = reportOf('closes-again', [['after: 100 ms', 'after: 100 ms, again: 10 ms']])
    expect(row(evidence, 'short-trip').verdict).toBe('broken')
  })

  it('a fuse must break what a battery gives', () => {
    const glass = reportOf('battery', [['load:', 'fuse: 5 A\n      load:']])
    const found = row(glass.evidence, 'fuse')
    expect(found.verdict).toBe('broken')
    expect(found.because).toMatch(/can interrupt 50 A|can interrupt 35 A/)
  })
})
