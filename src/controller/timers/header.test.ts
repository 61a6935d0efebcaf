import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { profileOf } from '../../standard/index.js'
import type { ChipId } from '../chips/index.js'
import { cName, hasHeader, signalHeader } from './header.js'
import type { TimerOption } from './option.js'
import { searchTimers } from './search.js'

const { clauses } = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const CHIPS: [ChipId, number][] = [
  ['atmega328p', 16],
  ['atmega2560', 16],
  ['atmega32u4', 16],
  ['attiny85', 8],
]

/** One option of every mode × timer, alone and with a second pin where there is one. */
function options(chip: ChipId, mhz: number): TimerOption[] {
  const found = new Map<string, TimerOption>()
  for (const inverted of [undefined, 'any']) {
    const { options } = searchTimers({
      controller: { chip, clock: { frequency: mhz * 1e6, source: 'crystal' } },
      track: { oneHalf: 58, zeroHalf: 100, ...(inverted ? { inverted: 'PB3' } : {}) },
      clauses,
    })
    for (const o of options.filter(hasHeader)) {
      const key = `${o.timer.number} ${o.modeId} ${o.inverted ? 'pair' : 'single'} ${o.channel}`
      if (!found.has(key) && o.pin !== o.inverted) found.set(key, o)
    }
  }
  return [...found.values()]
}

const compiler = existsSync('/usr/bin/avr-gcc') && existsSync('/usr/lib/avr/include/avr/io.h')
const folder = mkdtempSync(join(tmpdir(), 'halfbit-header-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

function compile(name: string, source: string, flags: string[]): string {
  const file = join(folder, name)
  writeFileSync(file, source)
  const done = spawnSync(
    'avr-gcc',
    ['-Os', '-Wall', '-Wextra', '-Werror', '-c', ...flags, '-o', join(folder, 'out.o'), file],
    { encoding: 'utf8' },
  )
  return done.status === 0 ? '' : done.stderr
}

describe.skipIf(!compiler)('C header (referee avr-gcc)', () => {
  it.each(CHIPS)('of %s compiles in C and C++ for every mode, without a warning', (chip, mhz) => {
    const list = options(chip, mhz)
    expect(new Set(list.map((o) => o.modeId)).size).toBeGreaterThanOrEqual(4)
    for (const option of list.slice(0, 24)) {
      const text = signalHeader({
        chip,
        clockHz: mhz * 1e6,
        option,
        track: 'main',
        prefix: 'halfbit',
        clauses,
      })
      const load = option.behaviour.startsWith('bit') ? 'bit' : 'half'
      const source = `${text}
#include <avr/interrupt.h>
ISR(HALFBIT_VECTOR) { halfbit_load_${load}(true); }
int main(void) { halfbit_start(); sei(); for (;;) if (PINB & 1) halfbit_stop(); }
`
      const flags = [`-mmcu=${chip}`, `-DF_CPU=${mhz}000000UL`, '-std=gnu11']
      expect(compile('a.c', source, flags), option.id).toBe('')
    }
    const source = signalHeader({
      chip,
      clockHz: mhz * 1e6,
      option: list[0]!,
      track: 'x',
      prefix: 'x',
      clauses,
    })
    const use = `${source}\nint main() { x_start(); x_stop(); }\n`
    expect(compile('b.cpp', use, [`-mmcu=${chip}`, `-DF_CPU=${mhz}000000UL`, '-std=gnu++11'])).toBe('')
    // The wrong clock must not compile.
    expect(
      compile('c.c', use.replace('main()', 'main(void)'), [`-mmcu=${chip}`, '-DF_CPU=12345678UL']),
    ).toContain('for ')
    expect(
      compile('d.c', use.replace('main()', 'main(void)'), ['-mmcu=atmega8', `-DF_CPU=${mhz}000000UL`]),
    ).toContain('pins and registers are those of')
  })
})

describe('C header', () => {
  it('says where its figures are from, the deadline and what breaks', () => {
    const option = options('atmega328p', 16).find((o) => o.modeId === 'ctc-toggle' && o.timer.number === 1)!
    const text = signalHeader({
      chip: 'atmega328p',
      clockHz: 16e6,
      option,
      track: 'main */ int evil;',
      prefix: 'halfbit',
      preamble: 16,
      clauses,
    })
    const flat = text.replace(/\s+\*?\s*/g, ' ')
    expect(flat).toContain('limits 55 to 61 us (S-9.1 2020 Table 1, confirmed)')
    expect(flat).toContain('Missed: one pulse of a whole counter period')
    expect(text).toContain('#define HALFBIT_PREAMBLE 16')
    expect(text.split('*/ int').length).toBe(1)
  })

  it('is refused where it cannot be written', () => {
    const { options: wide } = searchTimers({
      controller: { chip: 'rp2040', clock: { frequency: 125e6, source: 'crystal' } },
      track: { oneHalf: 58, zeroHalf: 100 },
      clauses,
    })
    expect(() =>
      signalHeader({ chip: 'rp2040', clockHz: 125e6, option: wide[0]!, track: 'a', prefix: 'a', clauses }),
    ).toThrow(/no C header for programmable I\/O/)
  })

  it.each([
    ['main', 'main'],
    ['Main line', 'main_line'],
    ['2', 'track_2'],
    ['Größe', 'gr_e'],
    ['', 'track_'],
  ])('%j becomes the C name %s', (text, name) => {
    expect(cName(text)).toBe(name)
  })
})
