/** Questions in a real terminal: the program ends when somebody has had enough, at once and with the right status. */
import { spawn, spawnSync } from 'node:child_process'
import { mkdtempSync, readdirSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { built, main, root } from './halfbit.js'

/** A terminal for a program (util-linux). */
const HAVE_SCRIPT = spawnSync('script', ['--version']).status === 0

beforeAll(built)
const folder = mkdtempSync(join(tmpdir(), 'halfbit-questions-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** @param keys each is typed once the text before it was shown. */
function typed(args: string, keys: readonly (readonly [shown: RegExp, key: string])[]) {
  // exec: a shell that waits for the program would be ended by Ctrl-C itself, and its status would be the one that is seen.
  const child = spawn('script', ['-qec', `exec ${process.execPath} ${main} ${args}`, '/dev/null'], {
    cwd: root,
    env: { ...process.env, COLUMNS: '80' },
  })
  let text = ''
  let seen = 0
  const left = [...keys]
  child.stdout.on('data', (part) => {
    text += part
    const next = left[0]
    if (!next?.[0].test(text.slice(seen))) return
    seen = text.length
    left.shift()
    child.stdin.write(next[1])
  })
  return new Promise<{ status: number | null; text: string }>((done) =>
    child.on('close', (status) => done({ status, text })),
  )
}

describe.skipIf(!HAVE_SCRIPT)('in a terminal (program script)', () => {
  const find = 'find examples/shelf/halfbit.yaml'
  it.each([
    ['q at the first question', [[/none of these: $/, 'q\n']], 0],
    ['the end of the input', [[/none of these: $/, '\x04']], 0],
    ['Ctrl-C at the first question', [[/none of these: $/, '\x03']], 3],
  ] as const)('halfbit find ends with %s', async (_, keys, status) => {
    expect((await typed(find, keys)).status).toBe(status)
  })

  it('what was said is not lost with Ctrl-C', async () => {
    const { status, text } = await typed(find, [
      [/none of these: $/, '4\n'],
      [/Which track.*: $/, 'mill\n'],
      [/explains\): $/, '12.9 V\n'],
      [/explains\): $/, '\x03'],
    ])
    expect(status).toBe(3)
    expect(text).toContain("--symptom 'stops at one place at track mill'")
    expect(text).toMatch(/--reading '[^']+ 12\.9 V [^']+'/)
  })

  it('halfbit new ends with Ctrl-C, and has written nothing', async () => {
    const { status, text } = await typed(`new ${folder}`, [[/\] $/, '\x03']])
    expect(status).toBe(3)
    expect(text).toContain('the input ended before an answer to')
    expect(readdirSync(folder)).toEqual([])
  })
})
