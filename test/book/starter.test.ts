// What the starter refuses, what it says, and what it keeps; compiled with the real compilers where something is written.
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { halfbitHere } from '../contract/here.js'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { stationDesign } from './station.js'
import { built, written } from './write.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-starter-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const one = stationDesign({ chip: 'atmega328p' })
const cutout = stationDesign({ chip: 'atmega2560', cutout: true })
const full = stationDesign({ chip: 'atmega2560', full: true })

/** The design with a text replaced that must be there. */
function changed(design: string, from: string | RegExp, to: string): string {
  const text = design.replace(from, to)
  expect(text).not.toBe(design)
  return text
}

describe('a design that is not sound for other reasons than its firmware', () => {
  it('is written, with the clauses that are broken, in the command’s notes and in the README', () => {
    const hot = changed(one, 'junctionToAmbient: 20 K/W', 'junctionToAmbient: 300 K/W')
    const { findings, files } = written(hot)
    const says = findings.map((f) => f.sentence).join()
    expect(says).toMatch(/driver-heat \(main\).* broken in this design: do not give its drivers power/)
    expect(files.get('README.md')).toContain(says.slice(0, 60))
    expect(written(one).findings.map((f) => f.code)).not.toContain('unsound')
  })
})

describe('designs for which no sound firmware can be made', () => {
  const traffic = (policy: string) => `${one}traffic: { policies: { mine: ${policy} } }\n`
  it.each<[string, () => string, RegExp]>([
    [
      'a one that is too long',
      () => changed(one, 'preamble: 16', 'oneHalf: 62 us, preamble: 16'),
      /one-half is broken|outside|62/,
    ],
    ['a short preamble', () => changed(one, 'preamble: 16', 'preamble: 10'), /preamble is broken/],
    [
      'a pin that no timer drives',
      () => changed(one, /pin: PB2, timer: 1/, 'pin: PD7'),
      /PD7 itself|no timer/,
    ],
    [
      'no sense',
      () => changed(one, / {6}sense: .*\n/, ''),
      /trips by sense, but the district has no current sense/,
    ],
    ['no sense pin', () => changed(one, /.*role: sense.*\n/, ''), /no pin carries the current of main/],
    [
      'no enable input',
      () => changed(one, /.*role: enable.*\n/, ''),
      /no enable or brake input of its driver/,
    ],
    [
      'a sense pin without an analog input',
      () => changed(one, 'wired: PC0', 'wired: PD5'),
      /PD5 has no analog input/,
    ],
    [
      'a trip beyond the converter',
      () => changed(one, 'current: 2.5 A', 'current: 12 A'),
      /cannot be read: the current sense ends at 11 A/,
    ],
    [
      'an enable input on the serial line',
      () => changed(one, 'wired: PB0', 'wired: PD0'),
      /PD0 is wanted for the serial line and for switching main/,
    ],
    [
      'a sense on the signal',
      () => changed(one, 'wired: PC0', 'wired: PB0'),
      /PB0 is wanted for|no analog input/,
    ],
    [
      'a reference that the chip has not',
      () => changed(one, 'reference: 1.1 V', 'reference: 3.3 V'),
      /3.3 V is no reference of this controller/,
    ],
    [
      'more readings than there can be',
      () => changed(one, 'rate: 9600 /s', 'rate: 50000 /s'),
      /the converter makes at most 19230/,
    ],
    [
      'a filter of the trip',
      () => changed(one, 'samples: 20', 'samples: 20, smoothing: 0.5'),
      /trips on single readings/,
    ],
    [
      'samples out of more',
      () => changed(one, 'samples: 20', 'samples: 20, of: 30'),
      /20 of 30; this firmware trips after readings in a row/,
    ],
    [
      'a cut-out by one pin',
      () => changed(one, 'preamble: 16', 'preamble: 20, cutout: true'),
      /a time that may vary by 6 us only, .*expected "inverted", on another pin of the same timer/,
    ],
    [
      'a cut-out by a timer that turns its pins over at every half-bit',
      () => changed(cutout, 'timer: 1', 'timer: 1, method: toggle'),
      /a cut-out by Timer 1, CTC.*expected a 16-bit timer with method: buffered/,
    ],
    [
      'a cut-out by an 8-bit timer',
      () =>
        changed(cutout, 'pin: PB6, timer: 1', 'pin: PH6, timer: 2').replaceAll(/PB[67]/g, (p) =>
          p === 'PB6' ? 'PH6' : 'PB4',
        ),
      /no timer of the controller drives|expected a 16-bit timer/,
    ],
    [
      'a cut-out for a driver that takes one input of the pair',
      () => changed(cutout, /.*role: inverted.*\n/, ''),
      /this driver has no input with the role "inverted" wired/,
    ],
    [
      'a cut-out with a preamble that it leaves too little of',
      () => changed(cutout, 'preamble: 17', 'preamble: 16'),
      /preamble is broken/,
    ],
    [
      'two operations outputs',
      () => changed(full, 'mode: service', 'mode: operations').replace(/ {6}acknowledgement.*\n/, ''),
      /a second output in operations mode/,
    ],
    [
      'no operations output',
      () => changed(one, 'mode: operations', 'mode: service'),
      /no output (is )?in operations mode/,
    ],
    [
      'a service track without a district',
      () => full.replace(/ {4}setting:\n {6}output[\s\S]*?smoothing: 0.125 }\n/, ''),
      /no district on the output "service"/,
    ],
    [
      'one switch for both tracks',
      () => changed(full, 'wired: PE3', 'wired: PH6'),
      /the service track must go off by itself/,
    ],
    ['an acknowledgement without a threshold', () => changed(full, 'threshold: 40 mA, ', ''), /no threshold/],
    [
      'a smoothing that is no shift',
      () => changed(full, 'smoothing: 0.125', 'smoothing: 0.1'),
      /which are shifts/,
    ],
    ['a queue of commands', () => traffic('{ waiting: queue }'), /keeps the newest of each/],
    ['a table without speed', () => traffic('{ table: [F0-F4] }'), /speed is never refreshed|speed/],
    ['several packets per visit', () => traffic('{ perVisit: 2 }'), /sends one, expected 1/],
    [
      'a baud rate that the clock does not make',
      () =>
        `${one}traffic: { link: { baud: 100000 baud, commandBytes: 8, replyBytes: 3 } }\n`.replace(
          '100000',
          '230400',
        ),
      /baud; expected/,
    ],
  ])('%s', (_, design, says) => {
    expect(() => written(design())).toThrow(says)
  })

  it('are refused with the place in the design', async () => {
    const path = join(folder, 'bad.yaml')
    writeFileSync(path, changed(one, /.*role: enable.*\n/, ''))
    const done = await halfbitHere(['starter', path, join(folder, 'never')])
    expect(done.status).toBe(2)
    expect(done.stderr).toMatch(/bad\.yaml:\d+:\d+: no starter firmware: .*enable/)
    expect(existsSync(join(folder, 'never'))).toBe(false)
  })
})

describe('what protects nothing', () => {
  const without = changed(one, / {6}trip: .*\n/, '')

  it('is said when it is written, and in the README', () => {
    const { findings, files } = written(without)
    expect(findings.map((f) => f.code)).toEqual(['starter/no-trip'])
    expect(files.get('README.md')).toContain('it does not switch off a short')
    expect(files.get('README.md')).toContain('nothing switches off a short in main')
    const none = written(one.replace(/power:\n[\s\S]*(?=fleet:)/, ''))
    expect(none.findings.map((f) => f.code)).toEqual(['starter/no-power-stage'])
    expect(none.files.get('README.md')).toContain('nothing switches off a short')
  })

  it.skipIf(!HAVE_COMPILER)('is not met in the proof', async () => {
    const { files, yaml } = written(without)
    const { folder: at } = built(files)
    const path = join(at, 'halfbit.yaml')
    writeFileSync(path, `${without}${yaml('')}`)
    const { stdout } = await halfbitHere(['prove', path, '--json'])
    const { rows } = JSON.parse(stdout) as {
      rows: { clause: string; cells: Record<string, { verdict?: string }> }[]
    }
    const trips = rows.filter((r) => r.clause === 'short-trip').flatMap((r) => Object.values(r.cells))
    expect(trips.length).toBeGreaterThan(0)
    for (const { verdict } of trips) expect(verdict ?? 'not shown').not.toBe('met')
  })

  it('says that a breaker trips where one does', () => {
    const { findings, files } = written(
      changed(one, /trip: .*/, 'trip: { current: 2 A, by: breaker, after: 2 ms }'),
    )
    expect(findings.map((f) => f.code)).toEqual(['starter/trip-elsewhere'])
    expect(files.get('power.c')).not.toContain('ADC_vect')
  })
})

describe('the builder’s own code', () => {
  const first = written(one).files

  it('is kept, and nothing else changes', () => {
    const mine = '    blink();\n'
    const edited = new Map(first)
    const main = first.get('main.c')!
    edited.set('main.c', main.replace(/(\/\* your own: every round \*\/\n)/, `$1${mine}`))
    expect(edited.get('main.c')).not.toBe(main)
    const again = written(one, edited).files
    expect(again.get('main.c')).toBe(edited.get('main.c'))
    expect([...again].filter(([name]) => name !== 'main.c')).toEqual(
      [...first].filter(([name]) => name !== 'main.c'),
    )
    // Under another design too, and from an editor with other line ends.
    const crlf = new Map([...edited].map(([name, text]) => [name, text.replaceAll('\n', '\r\n')]))
    const other = written(changed(one, 'current: 2.5 A', 'current: 2 A'), crlf).files
    expect(other.get('main.c')).toContain(mine)
    expect(other.get('figures.h')).not.toBe(first.get('figures.h'))
  })

  it.each<[string, (main: string) => string, RegExp]>([
    [
      'an end that is missing',
      (t) => t.replace(/.*end of your own: at start.*\n/, ''),
      /"your own: every round" inside of "at start"/,
    ],
    [
      'a begin that is missing',
      (t) => t.replace(/.*\/\* your own: at start.*\n/, ''),
      /"end of your own: at start"/,
    ],
    [
      'a place twice',
      (t) =>
        t.replace(
          '/* end of your own: at start */',
          '/* end of your own: at start */\n  /* your own: at start */\n  /* end of your own: at start */',
        ),
      /a second time/,
    ],
    [
      'a mark that was changed',
      (t) => t.replace('end of your own: every round */', 'end of your own: each round */'),
      /"end of your own: each round"/,
    ],
    [
      'a line outside of a place',
      (t) => t.replace('int main(void) {', 'int main(void) {\n  wait();'),
      /changes outside of the places/,
    ],
    ['a file of somebody else', () => 'int main(void) { return 0; }\n', /was not written by the starter/],
    ['an empty file', () => '', /was not written by the starter/],
  ])('is not overwritten where there is %s', (_, damage, says) => {
    const edited = new Map(first)
    edited.set('main.c', damage(first.get('main.c')!))
    expect(() => written(one, edited)).toThrow(says)
  })

  it('is not lost with a place that is no more', () => {
    const edited = new Map(first)
    edited.set(
      'main.c',
      first
        .get('main.c')!
        .replace('/* your own: after a short */\n', '/* your own: after a short */\n  bell();\n'),
    )
    const without = changed(one, / {6}trip: .*\n/, '')
    expect(() => written(without, edited)).toThrow(
      /code in "after a short", which the new file does not have/,
    )
    expect(written(without, edited, true).files.get('main.c')).not.toContain('bell')
  })

  it('gives changes outside up only when asked to', () => {
    const edited = new Map(first)
    edited.set('turns.c', first.get('turns.c')!.replace('START_RESETS', '3'))
    expect(() => written(one, edited)).toThrow(
      expect.objectContaining({ place: { file: 'firmware/turns.c' } }),
    )
    expect(written(one, edited, true).files).toEqual(first)
  })

  it('leaves all files as they were when one cannot be written anew', async () => {
    const path = join(folder, 'kept.yaml')
    const at = join(folder, 'kept')
    writeFileSync(path, one)
    expect((await halfbitHere(['starter', path, at])).status).toBe(0)
    const texts = () => readdirSync(at).map((name) => [name, readFileSync(join(at, name), 'utf8')])
    writeFileSync(join(at, 'serial.c'), `${readFileSync(join(at, 'serial.c'), 'utf8')}int mine;\n`)
    const before = texts()
    writeFileSync(path, changed(one, 'current: 2.5 A', 'current: 2 A'))
    const done = await halfbitHere(['starter', path, at])
    expect(done.status).toBe(2)
    expect(done.stderr).toContain('serial.c')
    expect(texts()).toEqual(before)
  })
})

describe('names of the design', () => {
  it.skipIf(!HAVE_COMPILER)('end no comment and no string', () => {
    const design = changed(one, 'name: Trial station (invented)', 'name: "*/ int evil; /* ü \\\\ \\""')
      .replaceAll(' main:', ' "a */ \\\\ ü \\" %s":')
      .replaceAll('driver: main', 'driver: "a */ \\\\ ü \\" %s"')
      .replaceAll('output: main', 'output: "a */ \\\\ ü \\" %s"')
      .replaceAll('supply: main', 'supply: "a */ \\\\ ü \\" %s"')
    expect(built(written(design).files).flash).toBeGreaterThan(1000)
  })
})

describe.skipIf(!HAVE_COMPILER)('what is built (compiler avr-gcc)', () => {
  it.each([
    ['cycle', '{ order: cycle }'],
    [
      'changes, stops first',
      '{ order: changes, stopsFirst: true, repeats: { speed: 0, functions: 0, turnouts: 0 } }',
    ],
    ['weighted', '{ order: weighted }'],
    ['without a gap', '{ gap: 0 us }'],
    ['a long gap', '{ gap: 40 ms }'],
  ])('without a warning: policy %s', (_, policy) => {
    built(written(`${one}traffic: { policies: { mine: ${policy} } }\n`).files)
  })

  it.each([
    ['all functions', (d: string) => d.replace('functions: 12', 'functions: 68')],
    ['a short address in the long form', (d: string) => d.replace('address: 3,', 'address: 3, form: long,')],
    ['the acknowledgement of some samples', (d: string) => d.replace('samples: 14,', 'samples: 10, of: 14,')],
    ['no acknowledgement in the design', (d: string) => d.replace(/ {6}acknowledgement.*\n/, '')],
    [
      'no power stage',
      (d: string) => d.replace(/ {4}service: .*\n/, '').replace(/power:\n[\s\S]*(?=fleet:)/, ''),
    ],
  ])('without a warning: %s', (_, change) => {
    built(written(changed(full, full, change(full))).files)
  })

  it('is small', () => {
    // Flash and RAM as docs/starter.md tells them, of the compiler named there; another may need a little more.
    const page = readFileSync(new URL('../../docs/starter.md', import.meta.url), 'utf8')
    const told = [...page.matchAll(/^\| ATmega\w+ \| (one|full) \| (\d+) \| (\d+) \|$/gm)]
    expect(told.length).toBe(6)
    for (const [row, kind, flash, ram] of told) {
      const chip = row!.slice(2).split(' ')[0]!.toLowerCase() as 'atmega328p'
      const build = built(written(stationDesign({ chip, full: kind === 'full' })).files)
      expect(build.flash, row).toBeLessThanOrEqual(Number(flash) * 1.05)
      expect(build.ram, row).toBeLessThanOrEqual(Number(ram) * 1.05)
    }
  })
})

const HAVE_CC = spawnSync('cc', ['--version']).status === 0

describe('a chip that is calculated only', () => {
  const design = changed(one, 'chip: atmega328p', 'chip: rp2040')
    .replace('frequency: 16 MHz', 'frequency: 125 MHz')
    .replace('pin: PB2, timer: 1,', 'pin: GPIO15,')
    .replace('  checkedPins: [PF0, PF1, PF4] # the debug interface is off\n', '')
    .replace('wired: PB2', 'wired: GPIO15')
    .replace('wired: PB0', 'wired: GPIO14')
    .replace('wired: PC0', 'wired: GPIO26')
    .replace('reference: 1.1 V', 'reference: 3.3 V, bits: 12')

  it('gets the parts without registers, and is told what is not shown', () => {
    const { files, complete, findings } = written(design)
    expect(complete).toBe(false)
    expect(findings.map((f) => f.code)).toContain('starter/portable-only')
    expect(files.get('README.md')).toContain(
      '**Not shown:** the signal, the serial line and current monitoring',
    )
    expect(files.get('board.h')).toContain('NOTHING SWITCHES OFF A SHORT')
    for (const name of ['main.c', 'signal.h', 'power.c', 'serial.c', 'firmware.yaml'])
      expect(files.has(name)).toBe(false)
  })

  it.skipIf(!HAVE_CC)('compiles them with the compiler at hand', () => {
    const { folder: at } = built(written(design).files)
    expect(existsSync(join(at, 'libstation.a'))).toBe(true)
  })
})
