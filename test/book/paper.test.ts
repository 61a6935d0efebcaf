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
