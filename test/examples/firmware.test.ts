/** The examples' firmware: rebuilt with the real compiler, byte for byte. */
import { execFileSync, spawnSync } from 'node:child_process'
import { cpSync, existsSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'

const examples = new URL('../../examples/', import.meta.url).pathname
const NAMES = ['exhibition', 'two-tracks', 'flawed', 'automation']
/** Compiler that the committed images were built with. */
const NOTED = '5.4.0'

const there = ['/usr/bin/avr-gcc', '/usr/lib/avr/include/avr/io.h', '/usr/bin/make'].every((f) =>
  existsSync(f),
)
const version = there ? execFileSync('avr-gcc', ['-dumpversion'], { encoding: 'utf8' }).trim() : ''
const folder = mkdtempSync(join(tmpdir(), 'halfbit-examples-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Images that are kept beside the sources. */
function imagesOf(name: string): string[] {
  return readdirSync(join(examples, name, 'firmware')).filter((f) => /\.(hex|elf)$/.test(f))
}

/** Build a copy of an example's firmware from its sources alone. */
function build(name: string): string {
  const copy = join(folder, name)
  rmSync(copy, { recursive: true, force: true })
  cpSync(join(examples, name, 'firmware'), copy, {
    recursive: true,
    filter: (f) => !/\.(o|elf|hex)$/.test(f),
  })
  const made = spawnSync('make', ['-s', ...imagesOf(name)], { cwd: copy, encoding: 'utf8' })
  expect(made.stderr).toBe('')
  expect(made.status).toBe(0)
  return copy
}

describe.skipIf(!there)('firmware of the examples (referee avr-gcc)', () => {
  it.each(NAMES)('%s builds without a warning', (name) => {
    build(name)
  })

  it.skipIf(version !== NOTED).each(NAMES)(
    `%s has the bytes that avr-gcc ${NOTED} gives (here ${version})`,
    (name) => {
      const copy = build(name)
      expect(imagesOf(name).length).toBeGreaterThan(1)
      for (const file of imagesOf(name)) {
        const fresh = readFileSync(join(copy, file))
        const kept = readFileSync(join(examples, name, 'firmware', file))
        expect(fresh.equals(kept), `${file} differs from its sources: run make in ${name}/firmware`).toBe(
          true,
        )
      }
    },
  )

  it.each(NAMES)('%s keeps paths of the machine it was built on out of the image', (name) => {
    const elf = readFileSync(join(examples, name, 'firmware', 'station.elf')).toString('latin1')
    expect(elf).not.toMatch(/\/(home|work|root|tmp|build|usr)\//)
    expect(elf).not.toContain('.debug_')
  })
})

describe('examples', () => {
  it.each(['packet.h', 'sender.h', 'turns.h', 'turns.c', 'line.h', 'line.c'])('share one %s', (file) => {
    const read = (name: string) => readFileSync(join(examples, name, 'firmware', file), 'utf8')
    for (const other of ['two-tracks', 'automation']) expect(read(other)).toBe(read('exhibition'))
  })
})
