import { readdirSync, readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import { InputError } from '../units/index.js'
import { removeFromDesign, setInDesign } from './edit.js'
import { checkDesign, loadDesign } from './load.js'

/** A search with many more runs than usual may take as long as it needs. */
const LONG_MS = 3600_000

const GOOD = `# Our station
halfbit: 2
name: Test station (invented) # a name
scale: H0
controller:
  chip: atmega328p # eight bits
  clock:
    frequency: 16 MHz
    source: resonator
signal:
  outputs:
    main:
      pin: PB1
      timer: 1
      # ones and zeros
      oneHalf: 58 us
      zeroHalf: 100 us
`

describe('the design file', () => {
  it('is read with defaults and in base units', () => {
    const { design, placeOf } = loadDesign(GOOD)
    expect(design.controller.clock.frequency).toBe(16e6)
    expect(design.signal.outputs['main']).toMatchObject({
      pin: 'PB1',
      oneHalf: 58,
      mode: 'operations',
      cutout: false,
    })
    expect(design.standard.profile).toBe('nmra')
    expect(design.signal.accessoryOffset).toBe(4)
    expect(placeOf(['signal', 'outputs', 'main', 'oneHalf'])).toEqual({ line: 16, column: 7 })
    expect(placeOf(['signal', 'outputs', 'main', 'preamble'])).toEqual({ line: 12, column: 5 })
  })

  const examples = new URL('../../examples/', import.meta.url)
  it.each(
    readdirSync(examples, { withFileTypes: true })
      .filter((f) => f.isDirectory())
      .map((f) => f.name),
  )('example %s has no problem', (name) =>
    expect(checkDesign(readFileSync(new URL(`${name}/halfbit.yaml`, examples), 'utf8'))).toEqual([]),
  )

  it.each([
    ['halfbit: 2\nname: [\n', /found no \] for the \[ opened before/],
    ['halfbit: 2\npower: {a: 1\nscale: H0\n', /found no \} for the \{ opened before/],
    ['halfbit: 2\nname: Mill: Lane\n', /a second ": " in this line; put a text that contains one in quotes/],
  ])('says what YAML misses in plain words: %j', (text, says) => {
    expect(() => loadDesign(text, 'x.yaml')).toThrow(says)
  })

  it.each([
    [
      'frequency: 16 MHz',
      'frequency: 16',
      8,
      /controller\.clock\.frequency is "16"; expected a number with a unit .*"16 MHz"/,
    ],
    ['oneHalf: 58 us', 'onehalf: 58 us', 16, /no key "onehalf"; the nearest is "oneHalf"/],
    [
      'source: resonator',
      'source: rezonator',
      9,
      /"rezonator"; expected one of .*; the nearest is "resonator"/,
    ],
    ['pin: PB1', 'pin: 13', 13, /expected a port pin such as PB1/],
    ['timer: 1', 'timer: -1', 14, /whole number from 0 to 31/],
    ['timer: 1', 'timer: 1.5', 14, /whole number/],
    ['timer: 1', 'timer:', 14, /is empty; expected a whole number/],
    ['timer: 1', 'timer: [1]', 14, /is a list; expected a whole number/],
    ['chip: atmega328p', 'chip: {}', 6, /is a mapping; expected one of/],
    ['halfbit: 2', 'halfbit: 3', 2, /version 3 .* reads versions 1 to 2/],
    ['scale: H0', 'scale: H0\nscale: N', 5, /appears twice/],
    ['  chip:', '\tchip:', 6, /tab|indent/i],
    ['name: Test station (invented)', 'nam: x', 2, /lacks "name"/],
    ['    main:', '    main: &m\n      <<: *m', 13, /no key "<<"/],
    ['timer: 1', 'timer: *gone', 14, /alias|anchor/i],
    ['name: Test station (invented)', 'name: "Te\\u0001st"', 3, /without control characters/],
  ])('%j as %j is refused with its line', (before, after, line, says) => {
    const problems = checkDesign(GOOD.replace(before, after))
    expect(problems.map((p) => p.message).join('\n')).toMatch(says)
    expect(
      problems.some((p) => p.line === line),
      JSON.stringify(problems),
    ).toBe(true)
    expect(() => loadDesign(GOOD.replace(before, after), 'x.yaml')).toThrow(InputError)
  })

  it.each([
    ['atmega328p', '', undefined],
    ['atmega328p', '1', /the ATmega328P has no serial port 1; expected "port: 0"/],
    ['atmega32u4', '1', undefined],
    // Left out it is 0, on which this chip hears nothing.
    ['atmega32u4', '', /the ATmega32U4 has no serial port 0; expected "port: 1"/],
    ['atmega2560', '4', /expected one of 0, 1, 2, 3/],
  ])('commands to the serial ports of %s: "%s"', (chip, port, says) => {
    const commands = `firmware: { file: a.elf, commands: { ${port && `port: ${port}, `}speed: 'go {address} {speed}' } }\n`
    const problems = checkDesign(GOOD.replace('atmega328p', chip) + commands)
    if (says === undefined) expect(problems).toEqual([])
    else {
      expect(problems.map((p) => p.message).join()).toMatch(says)
      expect(problems[0]!.line).toBe(GOOD.split('\n').length)
    }
  })

  it('lists every problem in the order of the file', () => {
    const text = GOOD.replace('16 MHz', 'fast').replace('58 us', 'short').replace('scale: H0', 'scale: H1')
    expect(checkDesign(text).map((p) => p.line)).toEqual([4, 8, 16])
    try {
      loadDesign(text, 'station.yaml')
      expect.unreachable()
    } catch (error) {
      expect((error as InputError).describe().split('\n')[1]).toMatch(/^station\.yaml:8:5?\d*:? ?/)
    }
  })

  it.each([
    ['nothing', ''],
    ['only comments', '# nothing\n'],
    ['a list', '- 1\n- 2\n'],
    ['a word', 'halfbit'],
    ['two documents', `${GOOD}---\n${GOOD}`],
    ['a NUL byte', 'halfbit: 2\nname: a\0b\n'],
    ['deep nesting', '['.repeat(100_000)],
    ['an alias that holds itself', 'halfbit: 2\nname: x\nsignal: &a\n  outputs: *a\n'],
  ])('%s is refused', (_, text) => expect(checkDesign(text).length).toBeGreaterThan(0))

  it.each([
    ['brackets', `halfbit: 2\nname: ${'['.repeat(20_000)}${']'.repeat(20_000)}\n`],
    ['mappings in braces', `halfbit: 2\nname: ${'{a: '.repeat(20_000)}1${'}'.repeat(20_000)}\n`],
    [
      'indentation',
      `halfbit: 2\nname:\n${Array.from({ length: 1500 }, (_, i) => `${' '.repeat(i + 1)}a:\n`).join('')}`,
    ],
    ['brackets in version 1', `halfbit: 1\nsignal: ${'['.repeat(3000)}${']'.repeat(3000)}\n`],
    ['keys', '? '.repeat(8000)],
  ])('%s nested too deeply are one problem, in our words', (_, text) => {
    expect(checkDesign(text).map((p) => p.message)).toEqual(['lists or mappings are nested too deeply'])
  })

  // Each of these took minutes or the whole memory in a reader that is not made for them; the suite's time-out decides.
  it.each([
    [
      'aliases that unfold without end',
      [
        'halfbit: 2\nname: x\ncaptures:\n  - &a0 {file: a}',
        ...Array.from({ length: 40 }, (_, i) => `  - &a${i + 1} [${Array(9).fill(`*a${i}`).join(', ')}]`),
      ].join('\n'),
    ],
    ['many keys', Array.from({ length: 20_000 }, (_, i) => `k${i}: 1`).join('\n')],
    ['many documents', '---\n'.repeat(300_000)],
    [
      'many lines that are wrong',
      `halfbit: 2\nname: x\ncaptures:\n${'- {file: 1, bits: x}\n'.repeat(10_000)}`,
    ],
    [
      'many anchors',
      `halfbit: 2\nname: x\nfirmware: {file: &a x}\ncaptures:\n${'- {file: &a x}\n- {file: *a}\n- *a\n'.repeat(4000)}`,
    ],
    ['a line without end', `name: ${'a'.repeat(4_000_000)}`],
  ])('is not taken in by %s', (_, text) => {
    const problems = checkDesign(text)
    expect(problems.length).toBeGreaterThan(0)
    expect(problems.length).toBeLessThanOrEqual(200)
  })

  it('tells limits in units that people use', () => {
    const text = GOOD.replace('16 MHz', '1 kHz').replace('58 us', '5 us')
    expect(checkDesign(text).map((p) => p.message)).toEqual([
      'controller.clock.frequency is "1 kHz"; expected a quantity such as "16 MHz", at least 100 kHz and at most 1 GHz',
      'signal.outputs.main.oneHalf is "5 us"; expected a quantity such as "58 us", at least 10 us and at most 1 ms',
    ])
  })

  it('refuses an edition and an output that are not there', () => {
    const text = `${GOOD}standard: {profile: rcn, edition: 1999}\ncaptures: [{file: a.vcd, output: mian}]\n`
    expect(
      checkDesign(text)
        .map((p) => p.message)
        .join(),
    ).toMatch(/edition "1999".*the nearest is "main"/)
  })

  it(
    'never fails but with problems, whatever the text',
    () => {
      fc.assert(
        fc.property(
          fc.integer({ min: 0, max: GOOD.length }),
          fc.integer({ min: 0, max: 20 }),
          fc.oneof(
            fc.string(),
            fc.string({ unit: 'binary' }),
            fc.constantFrom('&a ', '*a', '? ', '|\n', '{', '[', '- ', '\t', '!!binary ', '1e999', '<<: '),
          ),
          (at, cut, put) => {
            const text = GOOD.slice(0, at) + put + GOOD.slice(at + cut)
            for (const p of checkDesign(text)) {
              expect(p.line).toBeGreaterThan(0)
              expect(p.message).not.toBe('')
            }
          },
        ),
        { numRuns: runs(2000) },
      )
    },
    LONG_MS,
  )
})

describe('editing the text', () => {
  it('replaces a value in place and keeps every comment', () => {
    const next = setInDesign(GOOD, ['signal', 'outputs', 'main', 'oneHalf'], '57 us')
    expect(next).toBe(GOOD.replace('58 us', '57 us'))
    expect(setInDesign(GOOD, ['name'], 'a: b')).toBe(GOOD.replace('Test station (invented)', '"a: b"'))
  })

  it('adds what is new and keeps every comment', () => {
    const next = setInDesign(GOOD, ['signal', 'outputs', 'main', 'preamble'], 16)
    expect(loadDesign(next).design.signal.outputs['main']?.preamble).toBe(16)
    for (const comment of GOOD.match(/#.*/g)!) expect(next).toContain(comment)
  })

  it('removes a key with its lines', () => {
    expect(removeFromDesign(GOOD, ['signal', 'outputs', 'main', 'timer'])).toBe(
      GOOD.replace('      timer: 1\n', ''),
    )
    expect(removeFromDesign(GOOD, ['power'])).toBe(GOOD)
  })

  it('sets any text and reads it back', () => {
    fc.assert(
      fc.property(fc.string({ maxLength: 60 }), (name) => {
        const next = setInDesign(GOOD, ['name'], name)
        for (const comment of GOOD.match(/#.*/g)!) expect(next).toContain(comment)
        if (!/[\u0000-\u001f\u007f]/.test(name)) expect(loadDesign(next).design.name).toBe(name)
      }),
      { numRuns: runs(500) },
    )
  })
})
