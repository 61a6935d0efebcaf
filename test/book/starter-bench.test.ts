// The starter firmware, compiled by the real compiler and run: coupled bench and proof, on every simulated chip.
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { loadFirmware, SIMULATED_CHIPS } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchOf } from '../../src/proof/index.js'
import { halfbitHere } from '../contract/here.js'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { type StationOptions, stationDesign } from './station.js'
import { type Built, built, written } from './write.js'

/** The bench plays half a minute of a station; on a machine that is busy it takes its time, ms. */
const LONG = 300_000

/** Design file beside its built firmware, which it names. */
function station(options: StationOptions): { text: string; path: string; build: Built } {
  const { files, yaml } = written(stationDesign(options))
  const build = built(files)
  const text = `${stationDesign(options)}${yaml('')}`
  const path = join(build.folder, 'halfbit.yaml')
  writeFileSync(path, text)
  return { text, path, build }
}

const cases = [
  ...SIMULATED_CHIPS.flatMap((chip) =>
    (['nmra', 'rcn'] as const).flatMap((profile) =>
      [false, true].map((full) => ({ chip, profile, full, cutout: false })),
    ),
  ),
  { chip: 'atmega328p', profile: 'nmra', full: false, cutout: true } as const,
  { chip: 'atmega2560', profile: 'rcn', full: true, cutout: true } as const,
  { chip: 'atmega32u4', profile: 'nmra', full: true, cutout: true } as const,
].map((options): { id: string; options: StationOptions } => {
  const { chip, profile, full, cutout } = options
  const outputs = full ? 'a service track and two drivers on one bitstream' : 'one output'
  return { id: `${chip}, ${profile}, ${outputs}${cutout ? ', a cut-out' : ''}`, options }
})

const HEALTH = ['stack', 'restart', 'instruction-set', 'interrupts', 'deadline', 'shared-data']
const SHOWN = [
  'one-half',
  'zero-half',
  'preamble',
  'command-latency',
  'refresh',
  'start-up',
  'interruption',
  'reset-guard',
]

interface Statement {
  clause: string
  about?: string
  origin: string
  verdict: string
  because: string
}

describe.skipIf(!HAVE_COMPILER)('starter firmware (compiler avr-gcc)', () => {
  it.each(cases)(
    '$id: the bench finds every built-in scenario met',
    ({ options }) => {
      const { text, build } = station(options)
      const image = loadFirmware(readFileSync(build.elf), build.elf)
      const { standing } = benchOf(loadDesign(text), image, options.chip, build.elf)!
      const said = standing.flatMap((s) => s.run().statements)
      const wrong = said.filter((s) => s.verdict !== 'met')
      expect(wrong.map((s) => s.because)).toEqual([])
      const clauses = said.filter((s) => s.verdict === 'met').map((x) => `${x.clause} ${x.about}`)
      for (const clause of ['short-trip main', 'inrush main', 'start-up main', 'driver-heat main'])
        expect(clauses).toContain(clause)
      if (!options.full) return
      for (const clause of ['short-trip yard', 'ack-detect setting']) expect(clauses).toContain(clause)
    },
    LONG,
  )

  it.each(cases)(
    '$id: nothing in its proof is broken, and what it does is shown',
    async ({ options }) => {
      const { path } = station(options)
      const { stdout } = await halfbitHere(['prove', path, '--json'])
      const { rows } = JSON.parse(stdout) as { rows: { cells: Record<string, { evidence?: Statement[] }> }[] }
      const said = rows.flatMap((r) => Object.values(r.cells).flatMap((c) => c.evidence ?? []))
      const wrong = said.filter((e) => e.verdict === 'broken' || e.verdict === 'undecided')
      expect(wrong.map((e) => `${e.clause} ${e.about}: ${e.because}`)).toEqual([])
      const seen = said.filter((e) => e.origin === 'simulated' && e.verdict === 'met')
      const clauses = new Set(seen.map((e) => e.clause))
      for (const clause of HEALTH) expect(clauses, clause).toContain(clause)
      for (const clause of SHOWN) expect(clauses, clause).toContain(clause)
      if (options.full) expect(clauses).toContain('service-sequence')
      // The edges of the cut-out are the timer's own: RCN-217:2019 2.4, from memory, 26 to 32 us and 454 to 488 us.
      if (options.cutout)
        for (const clause of ['cutout-start', 'cutout-end']) expect(clauses, clause).toContain(clause)
      const tripped = new Set(seen.filter((e) => e.clause === 'short-trip').map((e) => e.about))
      expect([...tripped].sort()).toEqual(options.full ? ['main', 'setting', 'yard'] : ['main'])
    },
    LONG,
  )

  it.each([
    ['asks for the bits of a variable in the wrong order', 'bit = BITS - 1;', 'bit = 0;'],
    [
      'says a value that no decoder has acknowledged',
      'if (!acknowledged) return',
      'if (!acknowledged && was != READ_CHECK) return',
    ],
  ])(
    'that %s is caught',
    (_, sound, fault) => {
      const design = stationDesign({ chip: 'atmega328p', full: true })
      const { files, yaml } = written(design)
      const service = files.get('service.c')!
      expect(service).toContain(sound)
      const { elf } = built(new Map([...files, ['service.c', service.replace(sound, fault)]]))
      const image = loadFirmware(readFileSync(elf), elf)
      const { standing } = benchOf(loadDesign(`${design}${yaml('')}`), image, 'atmega328p', elf)!
      const { outcomes } = standing.find((s) => s.name === 'CV on setting')!.run()
      const broken = outcomes.filter((o) => o.verdict === 'broken').map((o) => o.finding.code)
      expect(broken).toContain('bench/answer-wrong')
    },
    LONG,
  )

  it.each([
    ['the operations tracks', ''],
    ['all but the first district', ' || w == 0'],
  ])(
    'that does not watch %s while it programmes is caught',
    (_, watched) => {
      const design = stationDesign({ chip: 'atmega328p', full: true })
      const { files, yaml } = written(design)
      const power = files.get('power.c')!
      const checks = '  check(w, counts);'
      expect(power).toContain(checks)
      const faulty = new Map(files)
      const busy = 'bool service_is_busy(void);'
      faulty.set(
        'power.c',
        power.replace(
          checks,
          `  ${busy}\n  if (w == SENSE_SERVICE${watched} || !service_is_busy())${checks}`,
        ),
      )
      const { elf } = built(faulty)
      const image = loadFirmware(readFileSync(elf), elf)
      const { standing } = benchOf(loadDesign(`${design}${yaml('')}`), image, 'atmega328p', elf)!
      const { statements } = standing
        .find((s) => s.name === 'short in each district while a CV is written')!
        .run()
      const district = watched === '' ? 'main' : 'yard'
      expect(statements.map((s) => `${s.clause} ${s.about} ${s.verdict}`)).toContain(
        `short-trip ${district} broken`,
      )
    },
    LONG,
  )
})
