import { readFileSync } from 'node:fs'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { isMap, isScalar, isSeq, type Node, parse, parseDocument } from 'yaml'
import { runs } from '../../test/runs.js'
import { removeFromDesign, setInDesign } from './edit.js'
import { loadDesign } from './load.js'

const GOOD = `# Our station
halfbit: 2
name: Test station (invented) # a name
scale: H0   # how large

controller:
  chip: atmega328p # eight bits
  reservedPins: [PD0, PD1] # serial line
  clock: {frequency: 16 MHz, source: resonator}
signal:
  # what it sends
  outputs:
    main:
      pin: PB1
      timer: 1
      # ones and zeros
      oneHalf: 58 us
captures:
- file: a.vcd # first
  channel: [CH1, CH2]
- file: b.csv
# the end
`
const shelf = readFileSync(new URL('../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')
const TEXTS = [GOOD, GOOD.replaceAll('\n', '\r\n'), GOOD.trimEnd(), shelf]

type Path = (string | number)[]

/** Every path of a file: to scalars, lists and mappings. */
const paths = (text: string) => PATHS.get(text)!

function pathsOf(text: string) {
  const found = { all: [] as Path[], scalars: [] as Path[], maps: [[]] as Path[] }
  const walk = (node: unknown, path: Path) => {
    if (path.length > 0) found.all.push(path)
    if (isMap(node)) {
      if (path.length > 0) found.maps.push(path)
      for (const pair of node.items)
        walk(pair.value, [...path, String((pair.key as { value: unknown }).value)])
    } else if (isSeq(node)) node.items.forEach((item, i) => void walk(item, [...path, i]))
    else if (isScalar(node)) found.scalars.push(path)
  }
  walk(parseDocument(text).contents as Node, [])
  return found
}

const PATHS = new Map(TEXTS.map((text) => [text, pathsOf(text)]))

const comments = (text: string) => [...text.matchAll(/(?:^|\s)(#.*?)\r?$/gm)].map((m) => m[1]!)
const dataOf = (text: string): unknown => parse(text)

/** The data after an edit, made without any text. */
function edited(text: string, path: Path, value: unknown): unknown {
  const data = structuredClone(dataOf(text)) as never
  let at: Record<string | number, unknown> = data
  for (const key of path.slice(0, -1)) at = (at[key] ??= {}) as never
  at[path.at(-1)!] = value
  return data
}

const scalar = fc.oneof(
  fc.integer(),
  fc.boolean(),
  fc.string({ maxLength: 30 }),
  fc.constantFrom(
    '58 us',
    'a: b',
    '# no',
    '- x',
    '"q"',
    "it's",
    'null',
    '1e3',
    'yes',
    '',
    ' ',
    'x\ny',
    '{a',
    '&a',
    '*a',
  ),
)
const plain = fc.oneof(
  scalar,
  fc.array(scalar, { maxLength: 3 }),
  fc.dictionary(fc.stringMatching(/^[a-z]{1,6}$/), scalar, { maxKeys: 3 }),
)
const text = fc.constantFrom(...TEXTS)

describe('setting a value', () => {
  it('replaces a scalar on its line and touches no other', () => {
    fc.assert(
      fc.property(text, fc.nat(), scalar, (before, n, value) => {
        const { scalars } = paths(before)
        const path = scalars[n % scalars.length]!
        const after = setInDesign(before, path, value)
        expect(dataOf(after)).toEqual(edited(before, path, value))
        expect(comments(after)).toEqual(expect.arrayContaining(comments(before)))
        const [a, b] = [before.split('\n'), after.split('\n')]
        expect(b.length).toBe(a.length)
        expect(a.filter((line, i) => line !== b[i]).length).toBeLessThanOrEqual(1)
      }),
      { numRuns: runs(100) },
    )
  })

  it('adds a key in one place and touches no line that was there', () => {
    fc.assert(
      fc.property(text, fc.nat(), plain, fc.boolean(), (before, n, value, deep) => {
        const block = paths(before).maps.filter((p) => !isFlow(before, p))
        const path = [...block[n % block.length]!, 'newKey', ...(deep ? ['inside'] : [])]
        const after = setInDesign(before, path, value)
        expect(dataOf(after)).toEqual(edited(before, path, value))
        const [a, b] = [lines(before), lines(after)]
        const first = a.findIndex((line, i) => line !== b[i])
        const at = first < 0 ? a.length : first
        expect([...b.slice(0, at), ...b.slice(at + b.length - a.length)]).toEqual(a)
      }),
      { numRuns: runs(100) },
    )
  })

  it('replaces lists and mappings, and keeps the lines outside of them', () => {
    fc.assert(
      fc.property(text, fc.nat(), plain, (before, n, value) => {
        const { all } = paths(before)
        const path = all[n % all.length]!
        const after = setInDesign(before, path, value)
        expect(dataOf(after)).toEqual(edited(before, path, value))
        expect(lines(after)[0]).toBe(lines(before)[0])
      }),
      { numRuns: runs(100) },
    )
  })

  it('adds inside brackets', () => {
    expect(setInDesign(GOOD, ['controller', 'clock', 'tolerance'], '0.5 %')).toBe(
      GOOD.replace('source: resonator}', 'source: resonator, tolerance: 0.5 %}'),
    )
    expect(setInDesign(GOOD, ['controller', 'reservedPins'], ['PD0'])).toBe(
      GOOD.replace('[PD0, PD1]', '[PD0]'),
    )
  })

  it('adds an item to a list, and fills a key without a value', () => {
    expect(setInDesign(GOOD, ['captures', 2], { file: 'c.vcd' })).toBe(
      GOOD.replace('- file: b.csv\n', '- file: b.csv\n- file: c.vcd\n'),
    )
    const empty = `${GOOD}power: # later\n`
    const next = setInDesign(empty, ['power', 'ambient'], '30 C')
    expect(dataOf(next)).toEqual(edited(GOOD, ['power', 'ambient'], '30 C'))
    expect(next.startsWith(GOOD)).toBe(true)
  })

  it.each([
    [['name', 'x'], 1],
    [[], 1],
  ])('refuses the path %j', (path, value) => {
    expect(() => setInDesign(GOOD, path, value)).toThrow(RangeError)
  })
  it('refuses what is no YAML', () => {
    expect(() => setInDesign('a: [', ['a'], 1)).toThrow(RangeError)
  })
})

describe('removing a key', () => {
  it('takes its lines and no other, and keeps the data beside it', () => {
    fc.assert(
      fc.property(text, fc.nat(), (before, n) => {
        const all = paths(before).all.filter((p) => typeof p.at(-1) === 'string')
        const path = all[n % all.length]!
        const after = removeFromDesign(before, path)
        expect(parseDocument(after).hasIn(path)).toBe(false)
        const expected = structuredClone(dataOf(before)) as never
        let at: Record<string | number, unknown> = expected
        for (const key of path.slice(0, -1)) at = at[key] as never
        delete at[path.at(-1)!]
        expect(dataOf(after)).toEqual(expected)
        expect(lines(after)[0]).toBe(lines(before)[0])
      }),
      { numRuns: runs(100) },
    )
  })
  it('takes an item of a list', () => {
    expect(removeFromDesign(GOOD, ['captures', 1])).toBe(GOOD.replace('- file: b.csv\n', ''))
    expect(removeFromDesign(GOOD, ['captures', 7])).toBe(GOOD)
  })
  it('leaves the comments of what it takes, where that is asked for', () => {
    expect(removeFromDesign(GOOD, ['captures', 0], true)).toBe(
      GOOD.replace('- file: a.vcd # first\n  channel: [CH1, CH2]\n', '# first\n'),
    )
    expect(removeFromDesign(GOOD, ['controller', 'chip'], true)).toBe(
      GOOD.replace('chip: atmega328p # eight bits', '# eight bits'),
    )
  })
  it('leaves a design that still loads', () => {
    const next = removeFromDesign(GOOD, ['captures'])
    expect(loadDesign(next).design.captures).toBeUndefined()
    expect(next).toBe(GOOD.replace(/captures:.*b.csv\n/s, ''))
  })
})

function lines(text: string): string[] {
  return text.replace(/\r?\n$/, '').split(/\r?\n/)
}

function isFlow(text: string, path: Path): boolean {
  const node = path.length > 0 ? parseDocument(text).getIn(path, true) : undefined
  return isMap(node) && (node.flow === true || node.items.length === 0)
}
