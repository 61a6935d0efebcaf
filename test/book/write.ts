/** Writes a starter firmware into a folder and builds it with the real compiler. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { type Starter, starter } from '../../src/book/index.js'
import { loadDesign } from '../../src/design/index.js'

/** The files for a design text, in an empty folder. */
export function written(
  design: string,
  existing: ReadonlyMap<string, string> = new Map(),
  discard = false,
): Starter {
  return starter({
    loaded: loadDesign(design, 'halfbit.yaml'),
    file: 'halfbit.yaml',
    existing: (name) => existing.get(name),
    pathOf: (name) => `firmware/${name}`,
    discard,
  })
}

export interface Built {
  folder: string
  elf: string
  /** Bytes of flash and of RAM, the stack not counted. */
  flash: number
  ram: number
}

/** @throws Error with the compiler's messages, of which a warning is one. */
export function built(files: ReadonlyMap<string, string>, target: readonly string[] = []): Built {
  const folder = mkdtempSync(join(tmpdir(), 'halfbit-starter-'))
  process.on('exit', () => rmSync(folder, { recursive: true, force: true }))
  for (const [name, text] of files) writeFileSync(join(folder, name), text)
  const done = spawnSync('make', ['-s', ...target], { cwd: folder, encoding: 'utf8' })
  if (done.status !== 0 || done.stderr !== '') throw new Error(done.stderr)
  const [text = 0, data = 0, bss = 0] = (/^ *(\d+)\s+(\d+)\s+(\d+)/m.exec(done.stdout) ?? [])
    .slice(1)
    .map(Number)
  return { folder, elf: join(folder, 'station.elf'), flash: text + data, ram: data + bss }
}
