// Firmware made from the examples' own sources with a fault planted in it, and the built-in scenarios on it.
import { spawnSync } from 'node:child_process'
import { cpSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { expect, vi } from 'vitest'
import type { ScenarioResult } from '../../src/bench/index.js'
import { isSimulated, loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchOf } from '../../src/proof/index.js'
import { workFolder } from '../firmware/compile.js'

/** Each test compiles a firmware and plays half a minute with it: on a machine that is busy that takes its time, ms. */
vi.setConfig({ testTimeout: 600_000 })

const examples = new URL('../../examples/', import.meta.url).pathname

/** Runs scenarios of an example, with its own firmware or another. */
export function run(
  example: string,
  names: readonly string[],
  elf = join(examples, example, 'firmware/station.elf'),
) {
  const loaded = loadDesign(readFileSync(join(examples, example, 'halfbit.yaml'), 'utf8'))
  const { chip } = loaded.design.controller
  if (!isSimulated(chip)) throw new Error('the example has another chip now')
  const bench = benchOf(loaded, loadFirmware(readFileSync(elf), elf), chip, elf)
  if (!bench) throw new Error('the example has no power stage')
  return names.map((name) => bench.standing.find((s) => s.name === name)!.run())
}

/** The example's firmware with texts of its source files replaced: file, text, other text. */
export function planted(example: string, changes: readonly [string, string, string][]): string {
  const folder = workFolder()
  cpSync(join(examples, example, 'firmware'), folder, { recursive: true })
  for (const [source, from, to] of changes) {
    const text = readFileSync(join(folder, source), 'utf8')
    expect(text).toContain(from)
    writeFileSync(join(folder, source), text.replace(from, to))
  }
  const done = spawnSync('make', ['-B', 'station.elf'], { cwd: folder, encoding: 'utf8' })
  if (done.status !== 0) throw new Error(done.stderr)
  return join(folder, 'station.elf')
}

export const verdicts = (results: readonly ScenarioResult[]) =>
  results.flatMap((r) => r.statements.map((s) => `${s.clause} ${s.about} ${s.verdict}`))
export const codes = (results: readonly ScenarioResult[]) =>
  results.flatMap((r) => r.findings.map((f) => f.code))
