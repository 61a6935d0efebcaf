// The starter firmware of each example: built with the real compiler, and held against proof and coupled bench. Sick copies
// of it must be found.
import { readFileSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { parse, parseDocument } from 'yaml'
import { halfbitHere } from '../contract/here.js'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { built, written } from './write.js'

/** A proof with all scenarios of the bench, on a machine that is busy, ms. */
const LONG = 300_000

interface Statement {
  clause: string
  about?: string
  origin: string
  verdict: string
  because: string
}

/** Example with the starter firmware in place of its own, and the firmware changed before it is built. */
async function proved(example: string, change: (files: Map<string, string>) => void = () => {}) {
  const text = readFileSync(new URL(`../../examples/${example}/halfbit.yaml`, import.meta.url), 'utf8')
  const { files, complete } = written(text)
  expect(complete).toBe(true)
  change(files)
  const { folder } = built(files)
  const design = parseDocument(text)
  // Captures show another firmware, and variants bring their own.
  for (const key of ['captures', 'variants']) design.delete(key)
  design.set('firmware', parse(files.get('firmware.yaml')!).firmware)
  const path = join(folder, 'halfbit.yaml')
  writeFileSync(path, design.toString())
  const { stdout } = await halfbitHere(['prove', path, '--bench', '--json'])
  rmSync(folder, { recursive: true })
  const { rows } = JSON.parse(stdout) as { rows: { cells: Record<string, { evidence?: Statement[] }> }[] }
  return rows.flatMap((r) => Object.values(r.cells).flatMap((c) => c.evidence ?? []))
}

const troubled = (said: Statement[]) =>
  said.filter((e) => e.verdict === 'broken' || e.verdict === 'undecided').map((e) => `${e.clause} ${e.about}`)
const shown = (said: Statement[], clause: string) =>
  said
    .filter((e) => e.clause === clause && e.origin === 'simulated' && e.verdict === 'met')
    .map((e) => e.about)

/** Another figure in the header, as a slip of the pen would leave it. */
const figure = (name: string, value: number) => (files: Map<string, string>) => {
  const text = files.get('figures.h')!
  const changed = text.replace(new RegExp(`(#define ${name} +)\\d+`), `$1${value}`)
  expect(changed).not.toBe(text)
  files.set('figures.h', changed)
}

describe.skipIf(!HAVE_COMPILER)('starter firmware of the examples (compiler avr-gcc)', () => {
  it.each([
    // Nobody described which locomotives the shelf has, so no time-out is there to hold the refresh against.
    ['shelf', ['shelf'], ['refresh main']],
    ['two-tracks', ['programming'], []],
    ['exhibition', ['main'], []],
    ['automation', ['block1', 'block2', 'block3', 'block4', 'block5', 'block6'], []],
  ] as const)(
    '%s: nothing is broken on the bench or in the proof, and what it does is shown',
    async (example, trips, undecided) => {
      const said = await proved(example)
      expect(troubled(said)).toEqual(undecided)
      for (const clause of ['one-half', 'zero-half', 'preamble', 'start-up', 'command-latency', 'deadline'])
        expect(shown(said, clause).length, clause).toBeGreaterThan(0)
      for (const district of trips) expect(shown(said, 'short-trip')).toContain(district)
      if (example === 'two-tracks') {
        expect(shown(said, 'ack-detect')).toContain('programming')
        expect(shown(said, 'service-sequence')).toContain('service')
      }
    },
    LONG,
  )

  it.each([
    ['shelf', 'never trips', figure('TRACK_TRIP_HIGH', 1023), 'short-trip shelf'],
    ['shelf', 'sends short preambles', figure('TRACK_PREAMBLE', 9), 'preamble main'],
    ['two-tracks', 'hears no acknowledgement', figure('ACK_SAMPLES', 200), 'ack-detect programming'],
    [
      'two-tracks',
      'trips the service track too late',
      figure('SERVICE_TRIP_READINGS', 4000),
      'short-trip programming',
    ],
  ] as const)(
    '%s: firmware that %s is found',
    async (example, _, change, where) => {
      const said = await proved(example, change)
      const broken = said.filter((e) => e.verdict === 'broken').map((e) => `${e.clause} ${e.about}`)
      expect(broken).toContain(where)
    },
    LONG,
  )
})
