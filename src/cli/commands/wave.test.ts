import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-wave-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
/** The built command: memory needs a process of its own. */
const built = new URL('../../../dist/cli/main.js', import.meta.url).pathname

const MB = 1 << 20
/** Less than the signals below take, and enough for the program on a busy machine, where garbage is collected late. */
const LITTLE = 36

function wave(args: string[], heapMegabytes = 512) {
  return spawnSync(process.execPath, [`--max-old-space-size=${heapMegabytes}`, built, 'wave', ...args], {
    encoding: 'utf8',
    maxBuffer: 1 << 30,
  })
}

describe('halfbit wave', () => {
  it('writes a signal of any length in the memory of a short one', () => {
    const out = join(folder, 'long.vcd')
    const { status, stderr } = wave(['idle', '--repeat', '40000', '--out', out], LITTLE)
    expect(stderr).toMatch(/40000 packets/)
    expect(status).toBe(0)
    expect(statSync(out).size).toBeGreaterThan(LITTLE * MB)
    // 42 bits of an idle packet, two edges each, and the two ones behind the last packet.
    const changes = readFileSync(out, 'utf8').match(/^[01]!$/gm)!.length
    expect(changes).toBe(40_000 * 2 * (16 + 28) + 2 * 2 + 1)
  })

  it('streams to a pipe what it writes to a file', () => {
    const out = join(folder, 'same.csv')
    wave(['37 74 43', 'idle', '--repeat', '16000', '--out', out])
    const { status, stderr, stdout } = wave(['37 74 43', 'idle', '--repeat', '16000', '--as', 'csv'], LITTLE)
    expect({ status, stderr }).toEqual({ status: 0, stderr: '' })
    expect(stdout.length).toBeGreaterThan(LITTLE * MB)
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
