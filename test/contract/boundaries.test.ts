/** The order of the rooms, and what domain rooms must not touch. */
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { dirname, join, relative, resolve, sep } from 'node:path'
import { describe, expect, it } from 'vitest'

const root = new URL('../../', import.meta.url).pathname
const src = join(root, 'src')

/** Lowest first: a room imports only from rooms before it. */
const ROOMS = [
  'units',
  'finding',
  'shape',
  'plot',
  'standard',
  'packet',
  'signal',
  'capture',
  'controller',
  'corner',
  'meter',
  'power',
  'track',
  'traffic',
  'bench',
  'design',
  'proof',
  'find',
  'start',
  'book',
]
/** The faces on the rooms; they import from any room but not from each other. */
const FACES = ['cli', 'web']

/** Packages that a room may use. */
const PACKAGES: Record<string, string[]> = { design: ['yaml'] }

interface Import {
  file: string
  room: string
  from: string
  /** Room of a relative import. */
  to?: string
}

function files(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) => {
    const path = join(folder, entry.name)
    return entry.isDirectory() ? files(path) : /\.tsx?$/.test(entry.name) ? [path] : []
  })
}

const sources = files(src).filter((file) => !file.includes('.test.'))
const roomOf = (file: string) => relative(src, file).split(sep)[0]!
const text = new Map(sources.map((file) => [file, code(readFileSync(file, 'utf8'))]))

/** Source without comments. */
function code(source: string): string {
  return source.replace(/\/\*[\s\S]*?\*\//g, '').replace(/(^|[^:'"`\\])\/\/.*$/gm, '$1')
}

const imports: Import[] = sources.flatMap((file) => {
  const found = text.get(file)!.matchAll(/(?:\bfrom |\bimport |\bimport\()'([\w@./:-]+)'/g)
  return [...found].map(([, from]): Import => {
    const base = { file: relative(root, file), room: roomOf(file), from: from! }
    return from!.startsWith('.') ? { ...base, to: roomOf(resolve(dirname(file), from!)) } : base
  })
})

const say = (i: Import) => `${i.file} imports ${i.from}`

describe('rooms', () => {
  it('are all known', () => {
    const folders = readdirSync(src, { withFileTypes: true }).filter((e) => e.isDirectory())
    expect(
      folders.map((f) => f.name).filter((name) => !ROOMS.includes(name) && !FACES.includes(name)),
    ).toEqual([])
    // The test itself would pass on nothing.
    expect(imports.length).toBeGreaterThan(200)
  })

  it('import only from rooms before them', () => {
    const order = (room: string) => (FACES.includes(room) ? ROOMS.length : ROOMS.indexOf(room))
    const wrong = imports.filter((i) => i.to !== undefined && i.to !== i.room && order(i.to) >= order(i.room))
    // The command that serves the workbench may name its files.
    expect(wrong.map(say)).toEqual([])
  })

  it('are entered by their door', () => {
    // The command line may load a single module of a room, to start sooner; the shape of edges is all that an
    // importer needs of the signal room, and is loaded alone for the same reason.
    const alone = ['signal/edges.js']
    const wrong = imports.filter(
      (i) =>
        i.to !== undefined &&
        i.to !== i.room &&
        i.room !== 'cli' &&
        !FACES.includes(i.to) &&
        !i.from.endsWith(`/${i.to}/index.js`) &&
        !alone.some((module) => i.from.endsWith(`/${module}`)),
    )
    expect(wrong.map(say)).toEqual([])
  })

  it('use only the packages they name, and Node only in cli', () => {
    const wrong = imports.filter(
      (i) =>
        i.to === undefined && i.room !== 'cli' && i.room !== 'web' && !PACKAGES[i.room]?.includes(i.from),
    )
    expect(wrong.map(say)).toEqual([])
  })

  it.each(ROOMS.filter((room) => existsSync(join(src, room))))('%s has no clock, chance or I/O', (room) => {
    const forbidden =
      /\b(new Date\b|Date\.|Date\(|Math\.random|performance\.|process\.|fetch\(|XMLHttpRequest|WebSocket|localStorage|setTimeout|setInterval|setImmediate|console\.|require\(|getRandomValues|randomUUID)/
    const wrong = [...text]
      .filter(([file]) => roomOf(file) === room)
      .flatMap(([file, source]) =>
        source.split('\n').flatMap((line, i) => {
          // Words in messages are no calls.
          const bare = line.replace(/'(?:[^'\\]|\\.)*'/g, "''")
          return forbidden.test(bare) ? [`${relative(root, file)}:${i + 1}: ${line.trim()}`] : []
        }),
      )
    expect(wrong).toEqual([])
  })

  it('stand in ARCHITECTURE.md in their order', () => {
    const page = readFileSync(join(root, 'ARCHITECTURE.md'), 'utf8')
    const listed = [...page.matchAll(/^\| `([a-z]+)\/` \|/gm)].map((m) => m[1]!)
    const built = ROOMS.filter((room) =>
      sources.some((f) => roomOf(f) === room && !/^[^/]*\/index\.ts$/.test(relative(src, f))),
    )
    expect(listed.filter((room) => ROOMS.includes(room))).toEqual(ROOMS.filter((r) => listed.includes(r)))
    expect(built.filter((room) => !listed.includes(room))).toEqual([])
  })

  it('each have an export of the package', () => {
    const { exports } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
    const built = ROOMS.filter((room) => sources.some((f) => roomOf(f) === room && !f.endsWith('index.ts')))
    for (const room of built) expect(exports[`./${room}`]).toBe(`./dist/${room}/index.js`)
  })
})
