/** A file that is read part by part gives what the whole gives: values, places, and every problem. */
import { readdirSync, readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { runs } from '../../test/runs.js'
import { random } from '../../test/track/random.js'
import { withoutMemory } from '../units/index.js'
import { readByParts } from './by-parts.js'
import { loadDesign } from './load.js'
import type { Path } from './problem.js'

const folder = new URL('../../examples/', import.meta.url)
const examples = readdirSync(folder, { withFileTypes: true })
  .filter((f) => f.isDirectory())
  .map((f) => [f.name, readFileSync(new URL(`${f.name}/halfbit.yaml`, folder), 'utf8')] as const)

function pathsOf(value: unknown, path: Path = []): Path[] {
  if (typeof value !== 'object' || value === null) return [path]
  const keys = Array.isArray(value) ? value.keys() : Object.keys(value)
  return [
    path,
    ...[...keys].flatMap((key) => pathsOf((value as Record<string, unknown>)[key], [...path, key])),
  ]
}

function read(text: string): unknown {
  try {
    const { design, version, variants, placeOf } = loadDesign(text)
    const places = pathsOf(design).map((path) => [path.join('.'), placeOf(path), placeOf([...path, 'none'])])
    return { design, version, variants, places }
  } catch (error) {
    return String(error)
  }
}

const EDITS: ((text: string, chance: () => number) => string)[] = [
  // A letter, a line or a part more, less, or elsewhere.
  (t, chance) => {
    const at = Math.floor(chance() * t.length)
    return t.slice(0, at) + t.slice(at + 1)
  },
  (t, chance) => {
    const at = Math.floor(chance() * t.length)
    return t.slice(0, at) + ' \n#&*:-"\'{}[]|>%\t\r?a1,'[Math.floor(chance() * 23)] + t.slice(at)
  },
  (t, chance) => {
    const lines = t.split('\n')
    const [line] = lines.splice(Math.floor(chance() * lines.length), 1)
    if (chance() < 0.5) lines.splice(Math.floor(chance() * lines.length), 0, line!)
    return lines.join('\n')
  },
  (t, chance) => {
    const lines = t.split('\n')
    const extra = [
      '',
      '# a remark',
      '---',
      '...',
      'about: |',
      '  more',
      'about: >-\n  one\n  two\n',
      'name: x',
    ]
    lines.splice(Math.floor(chance() * lines.length), 0, extra[Math.floor(chance() * extra.length)]!)
    return lines.join('\n')
  },
  (t, chance) => t.replace(/\d+/g, (n) => (chance() < 0.02 ? String(Number(n) + 1) : n)),
]

describe('a design file read part by part', () => {
  it.each(examples)('%s: like the whole, whatever is edited', (_, original) => {
    const chance = random(11)
    let [text, sound] = [original, 0]
    for (let i = 0; i < runs(40); i++) {
      const plain = withoutMemory(() => read(text))
      expect(read(text)).toEqual(plain)
      if (typeof plain === 'object') sound++
      // On from what can be read, else from the start.
      const next = EDITS[Math.floor(chance() * EDITS.length)]!(
        typeof plain === 'object' ? text : original,
        chance,
      )
      text = next
    }
    expect(sound).toBeGreaterThan(runs(40) / 8)
  })

  it('takes the usual files apart', () => {
    const taken = examples.filter(([, text]) => readByParts(text) !== undefined).map(([name]) => name)
    expect(taken).toContain('exhibition')
    expect(taken.length).toBeGreaterThan(examples.length / 2)
  })

  it.each([
    ['an alias of another part', 'name: &x Club\nabout: *x\n'],
    ['a list at the left margin', 'require:\n- simulated\n'],
    ['a key twice', 'name: One\nname: Two\n'],
    ['a key in quotes', '"about": quoted\n'],
    ['a merge', '<<: {name: x}\n'],
    ['a text over lines that begin at the margin', 'about: "one\ntwo"\n'],
    ['a text that looks like a key', 'about: |\n  x\nname: |\n  scale: N\n'],
  ])('is not misled by %s', (_, more) => {
    const base = examples.find(([name]) => name === 'shelf')![1].replace(/^(name|require|about):.*\n/gm, '')
    for (const text of [more + base, base + more]) expect(read(text)).toEqual(withoutMemory(() => read(text)))
  })

  it('is not misled by an alias in a variant of what another part has', () => {
    const base = examples.find(([name]) => name === 'exhibition')![1]
    const text = base
      .replace(/^name: (.*)$/m, 'name: &part firmware')
      .replace('without: [firmware]', 'without: [*part]')
    expect(text).toContain('&part')
    expect(text).toContain('[*part]')
    expect(read(text)).toEqual(withoutMemory(() => read(text)))
    expect(read(text)).toBeTypeOf('object')
  })
})
