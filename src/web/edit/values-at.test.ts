import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import { loadDesign } from '../../design/index.js'
import { valuesAt } from './values-at.js'

const text = readFileSync(new URL('../../../examples/exhibition/halfbit.yaml', import.meta.url), 'utf8')
/** The offers at the end of `line`, typed at the end of the text. */
const at = (typed: string, pins?: string[]) => valuesAt(typed, typed.length, pins)
const values = (typed: string, pins?: string[]) => at(typed, pins)?.offers.map((o) => o.value)

describe('values at the caret', () => {
  it('are the choices of a key, those first that begin like what is typed', () => {
    expect(values('controller:\n  chip: ')).toContain('atmega328p')
    expect(values('controller:\n  chip: 2560')).toEqual(['atmega2560'])
    expect(values('scale: ')).toContain('H0')
  })

  it('are units that make a number a value which may stand there', () => {
    const halves = values('signal:\n  outputs:\n    main:\n      oneHalf: 58')
    expect(halves).toContain('58 us')
    expect(halves).not.toContain('58 h')
  })

  it('are gauges for wires, pins for pins, and names that the design gives', () => {
    expect(values('track:\n  bus:\n    west:\n      wire: ')).toContain('14 AWG')
    expect(values('signal:\n  outputs:\n    main:\n      pin: ', ['PB1', 'PB2'])).toEqual(['PB1', 'PB2'])
    const driven = 'power:\n  drivers:\n    left: {}\n    right: {}\n  districts:\n    main:\n      driver: '
    expect(values(driven)).toEqual(['left', 'right'])
  })

  it('are found inside braces too, and the rest of the value is replaced', () => {
    const line = 'controller: { chip: atmega328p, clock: 1 }'
    const found = valuesAt(line, line.indexOf('328'))!
    expect(line.slice(found.from, found.to)).toBe('atmega328p')
    expect(found.offers.length).toBeGreaterThan(1)
  })

  it('are none in a comment, a key, or a text of one’s own', () => {
    expect(at('controller: # chip: ')).toBeUndefined()
    expect(at('controller')).toBeUndefined()
    expect(values('name: ')).toEqual([])
    const list = 'traffic:\n  policies:\n    one:\n      table: [speed, F0-F4]'
    expect(valuesAt(list, list.indexOf('['))).toBeUndefined()
  })

  it('leaves the space in front of a comment', () => {
    const line = 'scale: H0 # of the club'
    const found = valuesAt(line, line.indexOf('#'))!
    expect(line.slice(found.to)).toBe(' # of the club')
    expect(valuesAt('scale: # of the club', 7)).toBeUndefined()
  })

  it('each choice offered anywhere in a whole design leaves it readable, wherever the caret is', () => {
    fc.assert(
      fc.property(fc.nat(text.length), fc.nat(100), (caret, pick) => {
        const found = valuesAt(text, caret)
        if (!found || found.offers.length === 0) return
        const { value } = found.offers[pick % found.offers.length]!
        const next = text.slice(0, found.from) + value + text.slice(found.to)
        expect(next.split('\n').length).toBe(text.split('\n').length)
        try {
          loadDesign(next)
        } catch (error) {
          // Another value may not suit the rest of the design, but it is one that the key takes.
          const said = String(error).replace(/profile \w+ has no edition.*/, '')
          expect(said).not.toMatch(/YAML|expected one of|with a unit/)
        }
      }),
      { numRuns: runs(150), examples: [[text.indexOf('profile: ') + 9, 1]] },
    )
  })
})
