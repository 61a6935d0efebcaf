/** What a stranger who built the exhibition layout on paper asked of its book. */
import { describe, expect, it } from 'vitest'
import { railroadOf } from '../../src/proof/index.js'
import { bookOf, loadedExample } from './made.js'

describe('the third build on paper, of the exhibition', () => {
  const { book } = bookOf(loadedExample('exhibition'))
  const step = (id: string) => book.steps.find((s) => s.id === id)!

  it('tells the fuse of a supply from that of its district', () => {
    const at = (part: string) =>
      book.wires.filter((w) => w.to === part || w.from === part).map((w) => `${w.fromAt} ${w.toAt}`)
    expect(at('fuse supply main')).toEqual(['+ in', 'out +'])
    expect(at('fuse district main')).toEqual(['out A in', 'out A', 'out A'])
  })

  it('has supplies that wheels join measured with one meter, and their drivers bought together', () => {
    expect(step('supply-main').probes.text).toContain('Take the same meter as for yard, branch')
    expect(step('supply-yard').probes.text).toContain('Take the same meter as for main:')
    for (const p of book.parts.filter((r) => r.part.startsWith('driver, ')))
      expect(p.ratings.text).toContain('those of main, yard, branch out of one batch')
    const one = bookOf(loadedExample('shelf')).book
    expect(JSON.stringify(one)).not.toMatch(/same meter|one batch/)
  })

  it('clips the resistor behind the breaker, and says what one pin switches', () => {
    expect(step('resistor-yard').probes.text).toContain('between the two wires of yard behind its breaker')
    expect(step('resistor-main').probes.text).not.toContain('breaker')
    expect(book.protection.at(-1)!.text).toBe(
      'PB0 switches the drivers main, yard, branch together: when the firmware trips for main, the track goes off in main, yard, branch',
    )
    const own = bookOf(loadedExample('automation')).book
    expect(JSON.stringify(own.protection)).not.toContain('together')
  })

  it('lists an insulated joiner for each rail that is cut, and a joiner for each that is not', () => {
    const loaded = loadedExample('exhibition')
    const { joints } = railroadOf(loaded)!.model.plan
    const cut = joints.flatMap((j) => [j.gapL, j.gapR]).filter(Boolean).length
    const count = (part: string) => book.parts.find((p) => p.part === part)?.count ?? 0
    expect(cut).toBeGreaterThan(0)
    expect(count('insulated rail joiner')).toBe(cut)
    expect(count('rail joiner') + count('rail joiner, soldered')).toBe(2 * joints.length - cut)
  })

  it('gives the fuse byte and the pins of a resonator', () => {
    expect(book.firmware.join()).toContain('For this resonator with the divider off it is 0xff')
    expect(JSON.stringify(step('controller-clock').off)).toContain('for this resonator')
    expect(book.pins.find((p) => p.pin === 'resonator')!.fit).toContain('its middle pin to ground')
    expect(book.pins.some((p) => p.pin === 'crystal')).toBe(false)
  })

  it('names the pins of the serial line', () => {
    expect(book.pins.filter((p) => p.goesTo === 'serial line').map((p) => [p.pin, p.role])).toEqual([
      ['PD0', 'receives'],
      ['PD1', 'sends'],
    ])
  })

  it('names the legs of turnouts that end at nothing', () => {
    expect(book.turnouts.join()).not.toContain('ends there')
    const without = bookOf(loadedExample('exhibition', (text) => text.replace(/^ {4}ladder: .*\n/m, ''))).book
    expect(without.turnouts[1]).toMatch(/^Y1 diverging, Y2 points: the design ends there/)
  })
})
