/** What people read: the sentences of `halfbit track` that matter, for the examples and for plans of their own kind. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { adviceText, trackText } from '../../src/cli/track-text.js'
import { loadDesign } from '../../src/design/index.js'
import { profileOf } from '../../src/standard/index.js'
import {
  adviseTrack,
  modelTrack,
  reportFault,
  reportTrack,
  ringingAt,
  sourcesFromPower,
  type TrackInput,
} from '../../src/track/index.js'
import { sourceOf, stockOf, trackOf } from './fill.js'

const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

function example(name: string): TrackInput {
  const { design } = loadDesign(
    readFileSync(new URL(`../../examples/${name}/halfbit.yaml`, import.meta.url), 'utf8'),
  )
  return {
    track: design.track!,
    rollingStock: design.rollingStock!,
    sources: sourcesFromPower(design.power!, design.signal),
    profile,
  }
}

/** Text as on a wide terminal, blanks made one. */
function textOf(
  input: TrackInput,
  own: { all?: boolean; advice?: boolean; at?: string; fault?: string } = {},
) {
  const model = modelTrack(input)
  const fault = own.fault === undefined ? undefined : reportFault(model, input, own.fault)
  const at = own.at === undefined ? undefined : ringingAt(model, { section: own.at })
  const shape = { width: 200, all: own.all ?? false, ...(at ? { at } : {}), ...(fault ? { fault } : {}) }
  const lines = [
    ...trackText(fault?.report ?? reportTrack(model, input, { terminator: true }), shape),
    ...(own.advice ? adviceText(adviseTrack(model, input), shape) : []),
    '',
  ]
  return lines.join('\n').replace(/[ \t]+/g, ' ')
}

describe('the exhibition layout', () => {
  const text = textOf(example('exhibition'), { advice: true, at: 'halt' })

  it('tells its three districts with voltage, trip and weakest short', () => {
    expect(text).toMatch(/^Power districts, from the unfavourable to the favourable case/)
    expect(text).toMatch(
      /\nmain 20\.3 m 14\.8…15\.2 2\.05 3\.94 13\.\d…14\.\d south\.3, middle 5…5\.94 T4\.diverging/,
    )
    expect(text).toMatch(/\nyard 6\.74 m .* yard3\.3, end/)
    expect(text).toMatch(/\nbranch 6\.64 m .* halt, end/)
  })

  it('says what stands for a decoder at an edge, and that nothing published tells it', () => {
    expect(text).toContain(
      'Each decoder is modelled as 1 nF (common practice, no source) at its input and 47 uF (common practice, no source) behind its bridge.',
    )
    const own = example('exhibition')
    own.track.ringing = { decoderCapacitance: 2.2e-9, decoderReservoir: 47e-6 } as typeof own.track.ringing
    expect(textOf(own)).toContain(
      'is modelled as 2.2 nF (of the design) at its input and 47 uF (common practice',
    )
  })

  it('has nothing found, and a short that trips everywhere', () => {
    expect(text).not.toMatch(/\nFound\n/)
    expect(text).toContain('and a short of 50 mOhm, weakest first')
    expect(text).not.toMatch(/ never\n/)
    expect(text).toMatch(/and 51 more: --all lists them\./)
    expect(text).toMatch(/Until a short is off, code 83 nickel silver warms by at most 0\.00\d+ K/)
  })

  it('says that no route joins a rail to its opposite', () => {
    expect(text).toContain('Polarity\n\nNo route joins a rail to the opposite polarity.')
  })

  it('takes the driver’s own edge, and says from which figure', () => {
    expect(text).toContain('Edges on the bus: decoders must withstand 27 V')
    expect(text).toContain('main: edge of 187 ns, the 150 ns rise of DRV8874, 10 to 90 %, from memory.')
    expect(text).toMatch(
      /yard: nothing more is needed at the ends of the bus; \d+ Ohm and [\d.]+ nF in series across the end of yard/,
    )
    expect(text).not.toMatch(/assumed/)
  })

  it('tells the edge at a place with its way from the station', () => {
    expect(text).toContain('An edge at halt, 0.6 m')
    expect(text).toContain(
      'Path from the station: 6.8 m of bus ("branch"), 0.25 m of feeder (halt), 0 m of rails.',
    )
    expect(text).toMatch(
      /Peak 1\d(?:\.\d)? V, \d\.\d+ V above the settled value; \d+ V\/us between -4 V and \+4 V/,
    )
  })

  it('tries one fault each, one line for a place, and says how to see one whole', () => {
    expect(text).toMatch(/open feeder south\.3, wire [AB] 13\.7/)
    expect(text.match(/\nopen feeder south\.3/g)).toHaveLength(1)
    expect(text).toMatch(/swapped feeder south\.1 .* 1\.27× trips at once/)
    expect(text).toMatch(/--fault open-feeder:[\w.]+\/[AB] reports the whole railroad with that fault/)
  })

  it('proposes by what a metre of wire buys', () => {
    expect(text).toMatch(/What to change, ranked by gain per metre of wire; now 13 V at worst/)
    expect(text).toMatch(/\n1\. Feed T4\.diverging from run "back" at 8\.0 m, with 0\.75 mm2, 0\.25 m\.\n/)
    expect(text).toMatch(/Lay bus run "back" in 4 mm2 instead of 2\.5 mm2\./)
  })
})

describe('the flawed layout', () => {
  const text = textOf(example('flawed'), { advice: true })

  it('finds what is wrong, errors first', () => {
    const found = text.slice(text.indexOf('Found'), text.indexOf('Sections:'))
    expect(found).toMatch(
      /error District "all": its supply guarantees only 2\.00 A, but it trips only at 3\.10 A; a short may never trip\./,
    )
    expect(found).toMatch(/error At "L\.diverging" a rail meets its opposite\./)
    expect(found).toMatch(/warn The feeder of spur\.5 is open\./)
    expect(found.indexOf('error')).toBeLessThan(found.indexOf('warn'))
  })

  it('says where gaps must go', () => {
    expect(text).toMatch(
      /4\.43 m: loop\.6 – L – loop\.1 .* back to loop\.6\. Cut both rails at L\.straight and at L\.diverging, and feed the 4\.2 m between through an automatic reverser\./,
    )
  })

  it('has shorts that never trip, spur.5 first', () => {
    expect(text).toMatch(/off after\n[─ ]+\nspur\.5 all 7\.7\d 4\.\d+ .* 2 0\.644× .*never/)
    expect(text).toMatch(/swapped feeder station\.1 .* 0\.644× never trips/)
  })

  it('proposes the missing feeder first, and it once', () => {
    expect(text).toMatch(/\n1\. Feed spur\.5, (middle|end) from run "bus"/)
    expect(text.match(/Feed spur\.5,/g)).toHaveLength(1)
    expect(text).toMatch(
      /Make 10 sections of district "all" \(station\.3 and on\) a district of their own: cut both rails at station\.2\/3/,
    )
    expect(text).toMatch(/1 driver with fuse and sense, 1 pair of gaps/)
    expect(text).not.toMatch(/\b1 (pairs|sections|places)\b/)
  })
})

describe('the shelf layout', () => {
  it('is sound, and says for which decoders', () => {
    const text = textOf(example('shelf'))
    expect(text).toMatch(/\nshelf 3\.93 m 12\.6…13\.4 1 1\.7 12\.1…13 mill, middle 3\.15…3\.85 mill, end/)
    expect(text).not.toMatch(/\nFound\n|browns out/)
    expect(text).toMatch(/diesel mill 0\.5 12\.1…13/)
  })
})

describe('on 80 columns', () => {
  it.each(['exhibition', 'flawed', 'shelf'])('no line of %s is longer', (name) => {
    const input = example(name)
    const model = modelTrack(input)
    const at = ringingAt(model, { section: model.plan.tracks[0]!.name })!
    const fault = reportFault(model, input, `open-feeder:${model.plan.feeders[0]!.name}`)
    for (const lines of [
      [
        ...trackText(reportTrack(model, input, { terminator: true }), { width: 80, all: false, at }),
        ...adviceText(adviseTrack(model, input), { width: 80, all: false }),
      ],
      trackText(fault.report, { width: 80, all: false, fault }),
    ]) {
      expect(lines.filter((l) => l.length > 80)).toEqual([])
      expect(lines.join('\n').replace(/\s+/g, ' ')).toMatch(/lowest at .*; weakest short at /)
    }
  })
})

describe('what an example does not show', () => {
  const input = (own: object = {}, source = {}): TrackInput => ({
    track: trackOf({
      bus: { bus: { wire: '1.5 mm2', length: '8 m' } },
      sections: { line: { count: 4, length: '1 m', feeders: { at: '2 m', step: '2 m' } } },
      ...own,
    }),
    rollingStock: stockOf({ goods: { running: '1 A', section: 'line.4' } }),
    sources: new Map([['main', sourceOf(15, source)]]),
    profile,
  })

  it('an edge that is assumed', () => {
    const text = textOf(input())
    expect(text).toMatch(/\nmain 8 m 500 ns\? /)
    expect(text).toMatch(
      /main: edge of 500 ns, assumed: the driver's rise and fall times are not known, drivers have 30 ns to 1\.25 us; between those the peak is [\d.]+ to [\d.]+ V\./,
    )
  })

  it('one fault', () => {
    const text = textOf(input(), { fault: 'swapped-feeder:line.2' })
    expect(text).toMatch(
      /^With one fault: the feeder of line\.2 is swapped\. Every figure below is with this fault\./,
    )
    expect(text).toMatch(
      /error District "main" trips at once, with no train on it: what is swapped makes a short of [\d.]+ A by the wiring\./,
    )
    expect(text).toMatch(/goods on line\.4 has \d+\.\d V, below the decoder's 7 V: it browns out\./)
    expect(text).toMatch(/The feeder of line\.2 is swapped: it joins the two bus wires through the rails\./)
    expect(text).not.toMatch(/has -/)
  })

  it('no reading in base units, no figure that is none', () => {
    for (const text of [textOf(input()), textOf(input(), { fault: 'open-feeder:line.1/A', all: true })])
      expect(text).not.toMatch(/base unit|NaN|undefined|Infinity|∞/)
  })
})
