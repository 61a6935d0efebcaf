/** What keeps the rooms readable: small files, no circles, and no face that reads what a sentence says. */
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { dirname, join, relative, resolve, sep } from 'node:path'
import { describe, expect, it } from 'vitest'

const root = new URL('../../', import.meta.url).pathname
const src = join(root, 'src')
const FACES = ['cli', 'web']

/** From this many lines on a file says why it is one, in a comment that begins `Size:`. */
const LARGE_LINES = 400

const files = readdirSync(src, { recursive: true, encoding: 'utf8' }).filter((file) => /\.tsx?$/.test(file))
const texts = new Map(files.map((file) => [file, readFileSync(join(src, file), 'utf8')]))
const sources = files.filter((file) => !file.includes('.test.'))
const roomOf = (file: string) => file.split(sep)[0]!

/** Not yet split, and without a reason. None may be added. */
const STILL_LARGE = [
  'capture/analog/tracker.ts',
  'capture/csv-rows.ts',
  'capture/csv.ts',
  'capture/vcd.ts',
  'cli/track-text.ts',
  'controller/simulate/core/core.ts',
  'controller/simulate/machine.ts',
  'controller/simulate/peripherals/timer.ts',
  'controller/simulate/peripherals/timer4.ts',
  'controller/simulate/peripherals/usart.ts',
  'controller/timers/wide-modes.ts',
  'packet/anatomy.ts',
  'packet/decode.ts',
  'packet/kinds.data.ts',
  'packet/sequence.ts',
  'power/parts.data.ts',
  'proof/proof.test.ts',
  'signal/evidence.ts',
  'signal/findings.data.ts',
  'signal/packet-tally.ts',
  'signal/reader.ts',
  'signal/stretches.test.ts',
  'standard/clauses.data.ts',
  'traffic/case.ts',
  'traffic/design.ts',
  'traffic/plan.ts',
  'traffic/station-run.ts',
]

/** Files of one room that import each other in a circle. None may be added. */
const STILL_IN_CIRCLES: string[] = []

/** Strings of domain rooms that still name an option or a screen, by file. None may be added. */
const STILL_NAMING_A_FACE: string[] = [
  'capture/csv.ts',
  'capture/design.ts',
  'capture/import.ts',
  'capture/raw.ts',
  'capture/resolution.ts',
  'capture/vcd.ts',
  'controller/design.ts',
  'controller/timers/header.ts',
  'design/reference.ts',
  'packet/kinds.data.ts',
  'traffic/constants.ts',
]

/** An option, the workbench, or a command. */
const NAMES_A_FACE =
  /(?:^|[\s'`("])--[a-z]|\bworkbench\b|\bhalfbit (?:check|prove|timers|wave|capture|simulate|track|power|traffic|packet|open|new)\b/

/** Custom properties of a style sheet look like options and are none. */
const CSS = /var\(--[^)]*\)|--[\w${}-]+:|\.hb-plot[\s\S]*|:root\{[\s\S]*/g

/** Faces that still read a sentence. None may be added. */
const STILL_READING_PROSE: string[] = []

/** Source without comments. */
function code(source: string): string {
  return source.replace(/\/\*[\s\S]*?\*\//g, '').replace(/(^|[^:'"`\\])\/\/.*$/gm, '$1')
}

describe('files', () => {
  it(`have at most ${LARGE_LINES} lines, or say why not`, () => {
    const wrong: string[] = []
    for (const [file, text] of texts) {
      const lines = text.split('\n').length - 1
      if (lines <= LARGE_LINES || STILL_LARGE.includes(file) || /Size:/.test(text)) continue
      wrong.push(`${file}: ${lines} lines`)
    }
    expect(wrong).toEqual([])
  })

  it('of one room import each other without circles', () => {
    const inCircle = [...circles()].sort()
    expect(inCircle.filter((file) => !STILL_IN_CIRCLES.includes(file))).toEqual([])
  })
})

/** Files that reach themselves by imports that are there when the program runs, within their room. */
function circles(): Set<string> {
  const next = new Map<string, string[]>()
  for (const file of sources) {
    const found = code(texts.get(file)!).matchAll(/^(?:import|export)\s+(?!type\b)[^'";]*?from '(\.[^']+)'/gm)
    next.set(
      file,
      [...found].flatMap(([, from]) => {
        const base = relative(src, resolve(src, dirname(file), from!)).replace(/\.js$/, '')
        const target = [`${base}.ts`, `${base}.tsx`].find((name) => texts.has(name))
        return target !== undefined && roomOf(target) === roomOf(file) ? [target] : []
      }),
    )
  }
  const reached = (from: string): Set<string> => {
    const seen = new Set<string>()
    const open = [...next.get(from)!]
    for (let file = open.pop(); file !== undefined; file = open.pop()) {
      if (seen.has(file)) continue
      seen.add(file)
      open.push(...next.get(file)!)
    }
    return seen
  }
  return new Set(sources.filter((file) => reached(file).has(file)))
}

describe('domain rooms', () => {
  it('name no option, command or screen in what they say', () => {
    const wrong = sources
      .filter((file) => !FACES.includes(roomOf(file)) && !STILL_NAMING_A_FACE.includes(file))
      .flatMap((file) =>
        [...code(texts.get(file)!).matchAll(/'(?:[^'\\\n]|\\.)*'|`(?:[^`\\]|\\.)*`/g)].flatMap(([string]) =>
          NAMES_A_FACE.test(string.replace(CSS, '')) ? [`${file}: ${string.slice(0, 100)}`] : [],
        ),
      )
    expect(wrong).toEqual([])
  })
})

describe('faces', () => {
  it('take data from findings and read no sentence', () => {
    const prose = String.raw`\.(?:because|sentence|remedy|means)\b[!?]*`
    const reads = new RegExp(
      `${prose}\\.(?:match|matchAll|includes|startsWith|endsWith|indexOf|search|split)\\(|\\.(?:test|exec)\\([^()]*${prose}\\)`,
    )
    const wrong = sources
      .filter((file) => FACES.includes(roomOf(file)) && !STILL_READING_PROSE.includes(file))
      .filter((file) => reads.test(code(texts.get(file)!)))
    expect(wrong).toEqual([])
    // The rule itself finds what it forbids.
    expect(reads.test('if (e.because.startsWith("x"))') && reads.test('/a/.exec(row.because)')).toBe(true)
  })
})

describe('CONTRIBUTING.md', () => {
  const page = readFileSync(join(root, 'CONTRIBUTING.md'), 'utf8')
  const paths = [...page.matchAll(/`((?:src|test|docs|scripts|schema|examples|benchmark)\/[\w./*-]*)`/g)].map(
    (m) => m[1]!,
  )

  it.each([...new Set(paths)])('names %s, which is there', (path) => {
    if (!/[A-Z]{3,}|\*/.test(path)) expect(existsSync(join(root, path))).toBe(true)
    // A name in capitals is the reader's own.
    else {
      const [top = ''] = path.split('/')
      const fits = new RegExp(`^${path.replace(/[.]/g, '\\.').replace(/[A-Z]{3,}|\*/g, '[^/]+')}$`)
      const there = readdirSync(join(root, top), { recursive: true, encoding: 'utf8' }).map(
        (f) => `${top}/${f}`,
      )
      expect(there.some((file) => fits.test(file))).toBe(true)
    }
  })

  it('names only scripts that package.json has', () => {
    const { scripts } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
    const named = [...page.matchAll(/`npm (?:run )?(start|test|[a-z]+)\b/g)].map((m) => m[1]!)
    expect(named.length).toBeGreaterThan(4)
    expect(named.filter((name) => !(name in scripts))).toEqual([])
  })
})
