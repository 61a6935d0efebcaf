/**
 * The commands that the documentation shows are run, and what they print is compared with what it shows. `…` stands for
 * lines left out; a `diff` block is a change that the reader makes in the file it names.
 */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { built, halfbit, root } from './halfbit.js'

beforeAll(built)

const folders: string[] = []
afterAll(() => {
  for (const folder of folders) rmSync(folder, { recursive: true, force: true })
})

interface Block {
  kind: string
  file: string
  lines: string[]
}

const pages = [
  'README.md',
  'docs/tutorial.md',
  ...readdirSync(join(root, 'docs/how-to')).map((f) => `docs/how-to/${f}`),
]
const read = (page: string) => readFileSync(join(root, page), 'utf8')

function blocksOf(markdown: string): Block[] {
  return [...markdown.matchAll(/^```(console|diff)(?: (\S+))?\n([\s\S]*?)^```$/gm)].map(
    ([, kind, file, body]) => ({
      kind: kind!,
      file: file ?? '',
      lines: body!.replace(/\n$/, '').split('\n'),
    }),
  )
}

/** Words of a command line, as a shell splits them. */
function words(line: string): string[] {
  return [...line.matchAll(/"([^"]*)"|'([^']*)'|(\S+)/g)].map((m) => m[1] ?? m[2] ?? m[3]!)
}

/** Each line that is shown must come in this order; without `…` between them nothing may come between. */
function expectShown(shown: readonly string[], printed: string, command: string): void {
  const lines = printed
    .replace(/\n$/, '')
    .split('\n')
    .map((line) => line.trimEnd())
  let at = 0
  let gap = false
  for (const line of shown) {
    if (line === '…') {
      gap = true
      continue
    }
    const wanted = line.trimEnd()
    const found = gap ? lines.indexOf(wanted, at) : lines[at] === wanted ? at : -1
    expect(
      found,
      `${command}\nshows: ${wanted}\nprints from there: ${lines.slice(at, at + 3).join('\n')}`,
    ).not.toBe(-1)
    at = found + 1
    gap = false
  }
  if (!gap && shown.length > 0) expect(lines.slice(at).join('\n'), `${command} prints more`).toBe('')
}

describe.each(pages)('%s', (page) => {
  it('shows what its commands print', { timeout: 240_000 }, ({ skip }) => {
    const folder = mkdtempSync(join(tmpdir(), 'halfbit-docs-'))
    folders.push(folder)
    const blocks = blocksOf(read(page))
    expect(blocks.length).toBeGreaterThan(0)
    let status: number | null = 0
    for (const block of blocks) {
      if (block.kind === 'diff') {
        change(join(folder, block.file), block.lines)
        continue
      }
      const starts = block.lines.flatMap((line, i) => (line.startsWith('$ ') ? [i] : []))
      expect(starts[0]).toBe(0)
      for (const [i, start] of starts.entries()) {
        const command = block.lines[start]!.slice(2)
        const shown = block.lines.slice(start + 1, starts[i + 1])
        const [program, ...args] = words(command)
        if (command === 'echo $?') {
          expectShown(shown, String(status), command)
          continue
        }
        if (program === 'make' && !HAVE_COMPILER) skip('no compiler for the chip')
        expect(['halfbit', 'make']).toContain(program)
        const ran =
          program === 'make'
            ? spawnSync('make', args, { cwd: folder, encoding: 'utf8' })
            : halfbit(args, { cwd: folder })
        status = ran.status
        expect(ran.stderr, command).not.toMatch(/internal fault/)
        expect(status, `${command}\n${ran.stderr}`).toBeLessThan(2)
        expectShown(shown, ran.stdout === '' ? ran.stderr : ran.stdout, command)
      }
    }
  })
})

/** Replace the lines marked with a minus by those marked with a plus; indentation and comments behind them stay. */
function change(path: string, lines: readonly string[]): void {
  const old = lines.filter((l) => l.startsWith('-')).map((l) => l.slice(1))
  const fresh = lines.filter((l) => l.startsWith('+')).map((l) => l.slice(1))
  const text = readFileSync(path, 'utf8')
  expect(text).toContain(old.join('\n'))
  writeFileSync(path, text.replace(old.join('\n'), fresh.join('\n')))
}
