/** What someone who has only the book asked of it on paper, with the answers. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { bookHtml, bookMarkdown } from '../../src/book/index.js'
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
      count: 1,
      for: 'service',
    })
    expect(shelf.book.parts.some((p) => p.part.startsWith('gate before'))).toBe(false)
  })

  it('says it once for drivers that are wired alike', () => {
    const six = bookOf(loadedExample('automation')).book.leaves
    expect(six.filter((l) => l.startsWith('What the other terminals'))).toHaveLength(1)
  })
})

describe('which program, how it gets there, and how it is spoken to', () => {
  const firmware = (made: typeof shelf) => made.book.firmware.join('\n')
  const step = (made: typeof shelf, id: string) => made.book.steps.find((s) => s.id === id)!

  it('gives the fuse byte with the commands that read and write it, only for a clock that it knows', () => {
    expect(firmware(shelf)).toContain('avrdude -p m328p -c PROGRAMMER -U lfuse:r:-:h')
    expect(firmware(shelf)).toContain('avrdude -p m328p -c PROGRAMMER -U lfuse:w:0xff:m')
    expect(firmware(twoTracks)).toContain('avrdude -p m2560 -c PROGRAMMER -U lfuse:w:0xff:m')
    const slow = bookOf(loadDesign(source('shelf').replace('source: crystal', 'source: resonator')))
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
    expect(firmware(twoTracks)).toMatch(/serial port 0 of the chip, at a speed that the design does not give/)
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
