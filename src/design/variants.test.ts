import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { removeFromDesign, setInDesign } from './edit.js'
import { checkDesign, loadDesign } from './load.js'

const BASE = `halfbit: 2
name: Test station (invented)
scale: H0
controller:
  chip: atmega328p # eight bits
  clock: { frequency: 16 MHz, source: crystal }
signal:
  outputs:
    main: { pin: PB1, timer: 1 }
captures:
  - { file: main.vcd, output: main, probe: logic }
`
const with_ = (variants: string) => `${BASE}variants:\n${variants}`

describe('a variant', () => {
  const text = with_(`  fast:
    suits: a larger layout
    controller: { clock: { frequency: 20 MHz } }
  N scale: # smaller trains
    scale: N
    signal:
      outputs:
        main:
          preamble: 20
        service: { pin: PB2, mode: service }
`)

  it('changes what it names, fills in nothing else, and leaves the design as it is', () => {
    const base = loadDesign(text)
    expect(base.variants).toEqual([
      { name: 'fast', suits: 'a larger layout', line: 13 },
      { name: 'N scale', line: 16 },
    ])
    expect(base.variant).toBeUndefined()
    expect(base.design.controller.clock.frequency).toBe(16e6)
    expect(base.design).not.toHaveProperty('variants')
    const fast = loadDesign(text, 'design', 'fast')
    expect(fast.variant).toBe('fast')
    expect(fast.design.controller).toMatchObject({
      chip: 'atmega328p',
      clock: { frequency: 20e6, source: 'crystal' },
    })
    expect(fast.design.scale).toBe('H0')
    const small = loadDesign(text, 'design', 'N scale').design
    expect(small.scale).toBe('N')
    expect(small.signal.outputs['main']).toMatchObject({ pin: 'PB1', timer: 1, preamble: 20 })
    expect(Object.keys(small.signal.outputs)).toEqual(['main', 'service'])
  })

  it('has its lines where it changes something, and those of the design elsewhere', () => {
    const { placeOf } = loadDesign(text, 'design', 'N scale')
    expect(placeOf(['scale']).line).toBe(17)
    expect(placeOf(['signal', 'outputs', 'main', 'preamble']).line).toBe(21)
    expect(placeOf(['signal', 'outputs', 'main', 'timer']).line).toBe(9)
    expect(placeOf(['controller', 'chip']).line).toBe(5)
  })

  it('takes over no capture, which is of another station', () => {
    expect(loadDesign(text).design.captures).toHaveLength(1)
    expect(loadDesign(text, 'design', 'fast').design.captures).toBeUndefined()
    const own = with_('  own:\n    captures: [{ file: own.vcd, output: main }]\n')
    expect(loadDesign(own, 'design', 'own').design.captures).toMatchObject([{ file: 'own.vcd' }])
  })

  it('may be made of anchors and aliases', () => {
    const shared = BASE.replace('clock: {', 'clock: &quick {').concat(
      'variants:\n  a: &a { controller: { clock: *quick }, scale: N }\n  b: { controller: { clock: { frequency: 8 MHz } } }\n',
    )
    expect(loadDesign(shared, 'design', 'a').design.controller.clock.frequency).toBe(16e6)
    expect(loadDesign(shared, 'design', 'b').design.controller.clock).toMatchObject({
      frequency: 8e6,
      source: 'crystal',
    })
  })

  it('does without what it names, and may say it anew', () => {
    const shelf = readFileSync(new URL('../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')
    const more = `${shelf}  bare:
    without: [power.districts.shelf.fuse, power.districts.shelf.trip]
    power: { districts: { shelf: { trip: { by: breaker, current: 2 A, after: 10 ms } } } }
`
    const { fuse, trip } = loadDesign(more, 'design', 'bare').design.power!.districts['shelf']!
    expect(fuse).toBeUndefined()
    expect(trip).toMatchObject({ by: 'breaker', current: 2 })
    expect(trip!.samples).not.toBe(20)
    expect(loadDesign(more).design.power!.districts['shelf']!.fuse).toBe(2.5)
  })

  it.each([
    ['an unknown key', '  a:\n    scael: N\n', 14, /variants\.a has no key "scael"; the nearest is "scale"/],
    [
      'an unknown key far inside',
      '  a:\n    controller:\n      clock: { freqency: 8 MHz }\n',
      15,
      /variants\.a\.controller\.clock has no key "freqency"; the nearest is "frequency"/,
    ],
    ['a wrong value', '  a:\n    scale: H7\n', 14, /variants\.a\.scale is "H7"; expected one of/],
    ['the version of the file', '  a:\n    halfbit: 2\n', 14, /variants\.a has no key "halfbit"/],
    ['a variant in a variant', '  a:\n    variants: {}\n', 14, /variants\.a has no key "variants"/],
    ['nothing', '  a:\n', 13, /variants\.a is empty/],
    [
      'a clock that its chip cannot take',
      '  a:\n    scale: N\n    controller:\n      clock: { frequency: 40 MHz }\n',
      16,
      /^variant "a": the ATmega328P runs at most at 20 MHz; found 40 MHz/,
    ],
    [
      'a part that is not whole',
      '  a:\n    scale: N\n    signal: { outputs: { service: { mode: service } } }\n',
      15,
      /^variant "a": signal\.outputs\.service lacks "pin"/,
    ],
    [
      'a key to do without that is not there',
      '  a:\n    scale: N\n    without: [power.fuse, controller.clok]\n',
      15,
      /variant "a" does without power\.fuse, and the design has none: the design has no key "power"/,
    ],
    [
      'what must be there',
      '  a:\n    without: [controller.clock]\n',
      13,
      /^variant "a".*controller lacks "clock"/,
    ],
    ['the name of the design itself', '  as written:\n    scale: N\n', 13, /expected another name/],
    ['no name', '  "":\n    scale: N\n', 13, /a variant without a name; expected one/],
    ['no change', '  a:\n    scale: H0\n', 13, /variant "a" comes to the same as the design as written/],
    [
      'two that are alike in other words',
      '  a: { controller: { clock: { frequency: 8 MHz } } }\n  b:\n    name: another\n    controller: { clock: { frequency: 8000 kHz } }\n',
      14,
      /variant "b" comes to the same as variant "a" of line 13/,
    ],
    ['a list', '  - scale: N\n', 13, /variants is a list; expected a mapping of names of your own/],
  ])('is refused at its line: %s', (_, variants, line, says) => {
    const problems = checkDesign(with_(variants))
    expect(problems.length).toBeGreaterThan(0)
    expect(problems[0]).toMatchObject({ line })
    expect(problems[0]!.message).toMatch(says)
    expect(() => loadDesign(with_(variants))).toThrow()
  })

  it('is refused at its name where a line of the design does not go with it, which is named', () => {
    const quick = with_('  larger:\n    controller: { chip: atmega2560 }\n').replace('16 MHz', '20 MHz')
    expect(checkDesign(quick)).toMatchObject([
      {
        line: 13,
        column: 3,
        path: ['variants', 'larger', 'controller', 'clock', 'frequency'],
        message:
          'variant "larger" does not go with line 6 of the design: the ATmega2560 runs at most at 16 MHz; found 20 MHz',
      },
    ])
  })

  it('is told by its name, with the nearest', () => {
    expect(() => loadDesign(text, 'x.yaml', 'fats')).toThrow(
      /there is no variant "fats"; the nearest is "fast"; expected one of fast, N scale/,
    )
    expect(() => loadDesign(BASE, 'x.yaml', 'fast')).toThrow(/expected a design with variants/)
    expect(() => loadDesign(text, 'x.yaml', '__proto__')).toThrow(/there is no variant/)
  })

  it('is edited without losing a comment', () => {
    const set = setInDesign(text, ['variants', 'N scale', 'scale'], 'TT')
    expect(set).toBe(text.replace('scale: N\n', 'scale: TT\n'))
    const added = setInDesign(text, ['variants', 'slow', 'controller', 'clock', 'frequency'], '8 MHz')
    expect(added.startsWith(text)).toBe(true)
    expect(loadDesign(added, 'design', 'slow').design.controller.clock.frequency).toBe(8e6)
    const removed = removeFromDesign(text, ['variants', 'fast'])
    expect(removed).toContain('N scale: # smaller trains')
    expect(removed).toContain('chip: atmega328p # eight bits')
    expect(loadDesign(removed).variants.map((v) => v.name)).toEqual(['N scale'])
  })

  it('cannot make a short file a huge tree', () => {
    const bomb = `${BASE}variants:\n  a: &a { about: x }\n${[...'bcdefghij']
      .map((c, i) => `  ${c}: &${c} { about: [${Array(9).fill(`*${'abcdefghij'[i]}`).join(', ')}] }`)
      .join('\n')}\n`
    expect(checkDesign(bomb).length).toBeGreaterThan(0)
    expect(checkDesign(`${BASE}variants: &v\n  a: *v\n`).length).toBeGreaterThan(0)
    expect(checkDesign(`${BASE}variants:\n  a: &a { controller: *a }\n`).length).toBeGreaterThan(0)
  })
})
