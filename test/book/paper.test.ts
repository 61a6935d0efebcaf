/** What someone who has only the book asked of it on paper, with the answers. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { bookHtml, bookMarkdown } from '../../src/book/index.js'
import { CAPTIONS } from '../../src/book/page/captions.js'
import { loadDesign } from '../../src/design/index.js'
import { faultsOf } from './diagram-faults.js'
import { bookOf, loadedExample } from './made.js'

const source = (name: string) =>
  readFileSync(new URL(`../../examples/${name}/halfbit.yaml`, import.meta.url), 'utf8').replace(
    /^variants:[\s\S]*/m,
    '',
  )
const shelf = bookOf(loadedExample('shelf'))
const twoTracks = bookOf(loadedExample('two-tracks'))
const wireBetween = ({ book }: typeof shelf, from: string, to: string) =>
  book.wiring.connections.filter((c) => c.from === from && c.to === to)

describe('where the current is read', () => {
  it('joins the ground of the controller with the shunt, not with the far end of the lead that feeds it', () => {
    expect(wireBetween(shelf, 'controller ', 'sense shelf')).toMatchObject([
      { fromAt: 'GND', toAt: 'sense tap, supply side', roles: ['ground'] },
    ])
    expect(wireBetween(shelf, 'supply brick', 'controller ')).toEqual([])
    // A supply without a shunt in its minus still meets the controller itself.
    expect(wireBetween(twoTracks, 'supply workshop', 'controller ')).toHaveLength(1)
    expect(wireBetween(twoTracks, 'controller ', 'sense programming')).toHaveLength(1)
  })

  it('lets several shunts of one supply meet where the ground is, so that none reads the lead of another', () => {
    const two = bookOf(
      loadDesign(
        source('shelf')
          .replace(
            '  districts:\n',
            `    second:
      part: DRV8874
      cooling: { junctionToAmbient: 35 K/W }
      pins:
        [{ name: phase, role: direction, wired: PB2, output: main }, { name: enable, role: enable, wired: PB1 }, { name: shunt, role: sense, wired: PC1 }]
  districts:
    yard:
      driver: second
      fuse: 2.5 A
      sense: { kind: shunt, resistance: 0.1 Ohm, power: 1 W, reference: 1.1 V, rate: 9600 /s, filter: 100 us }
      trip: { current: 1.5 A, samples: 20, after: 100 us }
      load: { running: 0.5 A, worst: 1 A, stalled: 1.2 A, thinnestWire: 0.5 mm2 }
`,
          )
          .replace('    shelf:\n      fuse', '    shelf:\n      driver: bridge\n      fuse')
          .replace('bus: { wire', 'bus: { district: shelf, wire'),
      ),
    )
    expect(wireBetween(two, 'supply brick', 'sense yard')).toHaveLength(1)
    expect(wireBetween(two, 'supply brick', 'sense shelf')).toHaveLength(0)
    const [link] = wireBetween(two, 'sense yard', 'sense shelf')
    expect(link).toMatchObject({ fromAt: 'supply side', toAt: 'supply side' })
    expect(
      two.book.wiring.connections.filter((c) => c.roles.includes('ground') && c.toAt.includes('tap')),
    ).toHaveLength(1)
    expect(two.book.sensing.map((x) => x.text).join('\n')).toContain(
      `The shunts of supply brick meet at their supply sides (${link!.id})`,
    )
    expect(faultsOf(two.book.wiring, two.diagram)).toEqual([])
  })

  it('says that a GND of the driver joined with that of the controller bridges the shunt', () => {
    for (const page of [bookHtml(shelf), bookMarkdown(shelf.book)]) {
      expect(page).toMatch(
        /Every GND terminal of the DRV8874.*belongs there\. Join none of them with GND of the controller/,
      )
      expect(page).toMatch(/soldered to the lead of the shunt right at its body/)
      expect(page).toMatch(/Keep these wires to a few centimetres.*W9, W11, W12/)
    }
    // A part whose terminals are not known may have a return of its own.
    const other = bookOf(
      loadDesign(
        source('shelf').replace(
          'part: DRV8874',
          'part: custom\n      figures: { highOhm: 0.2 Ohm, lowOhm: 0.2 Ohm, continuous: 4 A, supplyMax: 30 V, junctionMax: 150 C }',
        ),
      ),
    )
    expect(bookMarkdown(other.book)).toMatch(
      /return terminal of its own \(sense or emitter in its data sheet\)/,
    )
  })

  it('puts an amplifier between a shunt and the converter where the design has a gain or a shunt in a leg', () => {
    const of = (more: string) =>
      bookOf(
        loadDesign(
          source('shelf').replace('resistance: 0.1 Ohm', `resistance: 0.02 Ohm,\n          ${more}`),
        ),
      )
    for (const [more, tap] of [
      ['gain: 5', 'supply side'],
      ['gain: 5, sees: one, amplifierInputMax: 26 V', 'track side'],
    ] as const) {
      const made = of(more)
      const from = made.book.wiring.connections.filter((c) => c.to === 'sense amplifier shelf')
      expect(
        from.map((c) => `${c.fromAt} → ${c.toAt}`),
        more,
      ).toEqual(
        expect.arrayContaining([
          `sense tap, ${tap} → input −`,
          'sense tap, driver side → input +',
          '2 → output',
        ]),
      )
      // Nothing of the controller but its ground meets the shunt.
      expect(wireBetween(made, 'controller ', 'sense shelf').every((c) => c.roles.includes('ground'))).toBe(
        true,
      )
      expect(made.book.parts.find((p) => p.part.startsWith('sense amplifier'))?.ratings.text).toContain(
        'gain 5',
      )
      expect(faultsOf(made.book.wiring, made.diagram)).toEqual([])
    }
    expect(shelf.book.parts.some((p) => p.part.startsWith('sense amplifier'))).toBe(false)
  })
})

describe('which terminal of the driver is meant', () => {
  const leaves = (made: typeof shelf) => made.book.leaves.join('\n')

  it('says it of every name in the wiring list, and sets the mode for the inputs that the design wires', () => {
    expect(leaves(shelf)).toMatch(
      /DRV8874 of driver bridge: phase is PH\/IN2; enable is EN\/IN1; \+ is VM; − is GND/,
    )
    expect(leaves(shelf)).toMatch(/out A is OUT1; out B is OUT2/)
    expect(leaves(shelf)).toMatch(/PMODE: GND: one input tells the polarity/)
    // Two inputs and an enable: the same part, set otherwise. With PMODE at GND it would give half waves.
    const [, main] = /(What the other terminals of the DRV8874 of driver main .*)/.exec(leaves(twoTracks))!
    expect(leaves(twoTracks)).toMatch(
      /DRV8874 of driver main: input 1 is EN\/IN1; input 2 is PH\/IN2; enable is nSLEEP/,
    )
    expect(main).toContain('PMODE: logic supply')
    expect(main).not.toMatch(/PMODE: GND|nSLEEP/)
    for (const made of [shelf, twoTracks])
      for (const { driverName, driver, model } of made.sources.stages)
        for (const pin of driver.pins ?? [])
          if (pin.role !== 'sense')
            expect(leaves(made), `${driverName} ${pin.name}`).toMatch(
              new RegExp(
                `${model.name} of driver ${driverName}: .*\\b${pin.name} is |no terminal for “${pin.name}”`,
              ),
            )
  })

  it('ties the inputs that the design wires to nothing', () => {
    const alone = bookOf(
      loadDesign(source('shelf').replace(', { name: enable, role: enable, wired: PB0 }', '')),
    )
    expect(leaves(alone)).toContain('EN/IN1: logic supply: always on')
    expect(leaves(shelf)).not.toContain('EN/IN1: logic supply')
  })

  it('says of a pin that the part does not have what must be there, and puts it on the list of parts', () => {
    expect(leaves(twoTracks)).toMatch(/DRV8871 itself has no terminal for “enable gate” of driver service/)
    expect(twoTracks.book.parts.find((p) => p.part.startsWith('gate before'))).toMatchObject({
      count: 2,
      for: 'service',
    })
    expect(shelf.book.parts.some((p) => p.part.startsWith('gate before'))).toBe(false)
  })

  it('says it once for drivers that are wired alike', () => {
    const six = bookOf(loadedExample('automation')).book.leaves
    expect(six.filter((l) => l.startsWith('What the other terminals'))).toHaveLength(1)
    // Their own sense output has a resistor at the ground of the controller, so it is not tied as well.
    expect(six.join()).toMatch(/current is IPROPI/)
    expect(six.join()).not.toMatch(/IPROPI: GND/)
    expect(leaves(shelf)).toMatch(/IPROPI: GND/)
    expect(leaves(shelf)).not.toMatch(/shunt is IPROPI/)
  })
})

describe('which program, how it gets there, and how it is spoken to', () => {
  const firmware = (made: typeof shelf) => made.book.firmware.join('\n')
  const step = (made: typeof shelf, id: string) => made.book.steps.find((s) => s.id === id)!

  it('gives the fuse byte with the commands that read and write it, only for a clock that it knows', () => {
    expect(firmware(shelf)).toContain('avrdude -p m328p -c PROGRAMMER -U lfuse:r:-:h')
    expect(firmware(shelf)).toContain('avrdude -p m328p -c PROGRAMMER -U lfuse:w:0xff:m')
    expect(firmware(twoTracks)).toContain('avrdude -p m2560 -c PROGRAMMER -U lfuse:w:0xff:m')
    const slow = bookOf(loadDesign(source('shelf').replace('source: crystal', 'source: trimmed rc')))
    expect(firmware(slow)).not.toContain('lfuse')
  })

  it('has a step in which it is loaded, before the first step that looks at its signal', () => {
    for (const made of [shelf, twoTracks]) {
      const order = made.book.steps.map((s) => s.id)
      expect(order.indexOf('firmware-load')).toBe(order.indexOf('controller-clock') + 1)
      expect(order.indexOf('firmware-load')).toBeLessThan(order.findIndex((id) => id.startsWith('half-one')))
    }
    expect(step(shelf, 'firmware-load').probes.text).toContain('send “stop everything”')
    expect(step(shelf, 'firmware-load').expected.text).toContain('answers “done”')
    expect(step(twoTracks, 'firmware-load').probes.text).toContain('send “halt”')
    // Nobody said what this firmware answers.
    expect(step(twoTracks, 'firmware-load').expected.text).not.toContain('answers')
  })

  it('says what ends a command, its ranges, and the word for the other way', () => {
    expect(firmware(shelf)).toMatch(/A line feed \(LF\) ends a command/)
    expect(firmware(shelf)).toMatch(/SPEED is 0 to 126, FUNCTION 0 to 12/)
    expect(firmware(shelf)).toContain('drive ADDRESS at SPEED forward (or backward)')
    expect(firmware(twoTracks)).toMatch(
      /serial port 0 of the chip \(PE0 receives, PE1 sends\), at a speed that the design does not give/,
    )
    expect(firmware(twoTracks)).toMatch(/Each command ends with a line feed \(LF\)/)
    expect(firmware(twoTracks)).toContain('go ADDRESS SPEED (a negative SPEED is backward)')
    const bytes = bookOf(loadDesign(source('two-tracks').replace('  commands:', '  commands:\n    end: ";"')))
    expect(firmware(bytes)).toContain('Each command ends with “;”')
    const silent = bookOf(
      loadDesign(source('two-tracks').replace(/ {2}commands:[\s\S]*? {2}runFor/, '  runFor')),
    )
    expect(firmware(silent)).toContain('does not say how this firmware is spoken to')
  })
})

describe('what each step leaves no doubt about', () => {
  const step = (made: typeof shelf, id: string) => made.book.steps.find((s) => s.id === id)!
  const offs = (made: typeof shelf, id: string) =>
    step(made, id)
      .off.map((o) => o.text)
      .join('\n')

  it('before power: that nothing is open either', () => {
    expect(step(shelf, 'before-power').probes.text).toMatch(
      /end to end of each wire.*GND of the controller to −/,
    )
    expect(step(shelf, 'before-power').expected.text).toMatch(/its diodes, one way round only/)
    expect(offs(shelf, 'before-power')).toMatch(/No tone along a wire, or from GND to −/)
  })

  it('DC between the rails: how near to nothing, by the standard and the voltage, and what it means in between', () => {
    // Ones of 58 us may differ by 3 us (S-9.1): 13.39 V · 3 / 119.
    expect(step(shelf, 'offset-shelf').expected.text).toBe(
      'Near 0: less than 0.338 V while no zeros are stretched',
    )
    expect(offs(shelf, 'offset-shelf')).toMatch(/Steady and between 0\.338 V and half of the voltage/)
  })

  it('ringing: no terminator is missing where the design has none', () => {
    expect(offs(shelf, 'scope-shelf')).toMatch(/The design has no terminator/)
    expect(offs(shelf, 'scope-shelf')).not.toMatch(/terminator is missing/)
    const automation = bookOf(loadedExample('automation'))
    expect(offs(automation, 'scope-block1')).toMatch(/its terminator is missing or wrong/)
    expect(automation.book.parts.find((p) => p.part.startsWith('terminator'))!.ratings.text).toContain(
      'rated 2 W',
    )
  })

  it('the resistors: with their tolerances, what shows a trip, and how to go on', () => {
    expect(step(shelf, 'resistor-shelf').probes.text).toMatch(
      /tolerances included.*DC meter from a wire of shelf to − shows a trip.*“short on …”.*To go on: send “power on”/,
    )
    expect(step(twoTracks, 'resistor-trial').probes.text).toMatch(/The light of the breaker shows a trip\.$/)
    expect(offs(twoTracks, 'resistor-trial')).not.toMatch(/shunt|sense|count/)
    expect(offs(shelf, 'resistor-shelf')).toMatch(/something bridges the shunt/)
  })

  it('the coin: where to look, sooner and later than expected, and that it comes on again', () => {
    expect(step(shelf, 'coin-shelf').probes.text).not.toContain('breaker')
    expect(step(shelf, 'coin-shelf').expected.text).toMatch(
      /on again after 1 s; the starter firmware tries 3 times/,
    )
    expect(offs(shelf, 'coin-shelf')).toMatch(/longer than 2\.26 ms, such as 4\.52 ms/)
    // 19 periods of 9.6 kHz and what the filter holds back: a firmware that is off at once is no fault.
    expect(offs(shelf, 'coin-shelf')).toMatch(/less than 1\.99 ms/)
    // A breaker is in the rail: no pin of the controller shows when it opens.
    expect(step(twoTracks, 'coin-trial').probes.text).toMatch(
      /One probe before the breaker and one behind it/,
    )
    expect(step(twoTracks, 'coin-trial').probes.text).not.toContain('enable pin')
    expect(step(twoTracks, 'coin-programming').probes.text).toContain('enable pin')
  })

  it('the first train: no meter goes in under power, and the stop is ready', () => {
    for (const train of ['tank engine', 'diesel', 'railcar']) {
      expect(step(shelf, `train-${train}`).probes.text).toMatch(
        /^Unplug the supply.*put the meter in series.*“stop everything” typed and ready/,
      )
      expect(offs(shelf, `train-${train}`)).toMatch(/Well above that, up to \d+ mA/)
    }
  })

  it('an acknowledgement: which command asks for it', () => {
    expect(step(twoTracks, 'ack-programming').probes.text).toMatch(/send “service on”.*verify CV VALUE/)
  })
})

describe('what is ordered and cut', () => {
  it('has every fact that the design gives of a part, and says what is the builder’s choice', () => {
    const part = (made: typeof shelf, name: string) =>
      made.book.parts.find((p) => p.part.startsWith(name))!.ratings.text
    expect(part(shelf, 'supply, certified')).toMatch(
      /isolated from the mains and not earthed.*holds the current/,
    )
    expect(part(shelf, 'turnout')).toMatch(/is your choice: the design does not say/)
    expect(part(shelf, 'driver')).toMatch(/on a board, or bare/)
    expect(part(twoTracks, 'electronic breaker')).toMatch(/of either polarity up to 15\.5 V/)
    const hiccup = bookOf(loadDesign(source('shelf').replace('limit: constant', 'limit: hiccup')))
    expect(part(hiccup, 'supply, certified')).toContain('switches off and tries again')
  })

  it('says a count once: from which on it trips, and how often it is read', () => {
    expect(shelf.book.protection.map((p) => p.text).join()).toMatch(
      /its count is 140 or more; 20 samples in a row, taken at 9\.6 kHz/,
    )
  })

  it('has the same captions and headings as Markdown and as a page', () => {
    const [html, md] = [bookHtml(shelf), bookMarkdown(shelf.book, 'd.svg')]
    for (const caption of Object.values(CAPTIONS)) {
      expect(md, caption).toContain(caption)
      expect(html, caption).toContain(caption)
    }
    const headings = (text: string, of: RegExp) => [...text.matchAll(of)].map(([, t]) => t)
    const settings = [
      'Jumpers',
      'Protection',
      'Single faults',
      'Registers',
      'Firmware',
      'Constants of the firmware',
    ]
    expect(headings(md, /^### (?!\d)(.*)$/gm)).toEqual(expect.arrayContaining(settings))
    expect(headings(html, /<h3>(.*?)<\/h3>/g)).toEqual(expect.arrayContaining(settings))
  })

  it('says of a district without a train that it has none', () => {
    const is = bookOf(loadedExample('automation')).book.is.map((x) => x.text)
    expect(is.find((x) => x.startsWith('District block2'))).toContain('with no train of the plan in it')
    expect(is.join()).not.toContain('up to 0 A')
  })
})
