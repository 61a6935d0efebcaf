import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-wave-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
/** The built command: memory needs a process of its own. */
const built = new URL('../../../dist/cli/main.js', import.meta.url).pathname

function wave(args: string[], heapMegabytes = 512) {
  return spawnSync(process.execPath, [`--max-old-space-size=${heapMegabytes}`, built, 'wave', ...args], {
    encoding: 'utf8',
    maxBuffer: 1 << 30,
  })
}

describe('halfbit wave', () => {
  it('writes a signal of any length in the memory of a short one', () => {
    const out = join(folder, 'long.vcd')
    const { status, stderr } = wave(['idle', '--repeat', '20000', '--out', out], 24)
    expect(stderr).toMatch(/20000 packets/)
    expect(status).toBe(0)
    // 42 bits of an idle packet, two edges each, and the two ones behind the last packet.
    const changes = readFileSync(out, 'utf8').match(/^[01]!$/gm)!.length
    expect(changes).toBe(20_000 * 2 * (16 + 28) + 2 * 2 + 1)
  })

  it('streams to a pipe what it writes to a file', () => {
    const out = join(folder, 'same.csv')
    wave(['37 74 43', 'idle', '--repeat', '3000', '--out', out])
    const { stdout } = wave(['37 74 43', 'idle', '--repeat', '3000', '--as', 'csv'], 24)
    expect(stdout.length).toBe(statSync(out).size)
    expect(stdout).toBe(readFileSync(out, 'utf8'))
    expect(stdout.split('\n', 1)[0]).toBe('# made by halfbit wave')
  })

  it('refuses a JSON object that would hold a signal too long for one', () => {
    const { status, stderr } = wave(['idle', '--repeat', '100000', '--json'])
    expect(status).toBe(2)
    expect(stderr).toMatch(/100000 packets in one JSON object; expected --out, or at most 20000/)
  })
})
