// What the starter firmware does on command beyond the standing scenarios: turnouts, and the reading of a CV by a decoder on
// the bench. Built with the real compiler; sick copies must be found.
import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { AccessoryDecoder } from '../../src/bench/index.js'
import { loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchOf, scenarioFromFile } from '../../src/proof/index.js'
import { halfbitHere } from '../contract/here.js'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { stationDesign } from './station.js'
import { built, written } from './write.js'

/** Seconds of two tracks, on a machine that is busy, ms. */
const LONG = 180_000

const design = stationDesign({ chip: 'atmega328p', full: true })

/** The firmware with a text of one of its files replaced, built; the design beside it. */
function station(file = '', from = '', to = '') {
  const { files, yaml } = written(design)
  if (file !== '') {
    const text = files.get(file)!
    expect(text).toContain(from)
    files.set(file, text.replace(from, to))
  }
  const build = built(files)
  const path = join(build.folder, 'halfbit.yaml')
  const text = `${design}${yaml('')}`
  writeFileSync(path, text)
  return { build, text }
}

interface Listed {
  tUs: number
  hex: string
}

/** What accessory decoders of these numbers did while the commands were sent. */
async function thrown(commands: readonly string[], numbers: readonly number[], ...sick: string[]) {
  const { build } = station(...sick)
  const stimulus = join(build.folder, 'turnouts.stimulus')
  writeFileSync(stimulus, commands.map((c, i) => `at ${400 + 50 * i} ms serial 0 "${c}\\n"\n`).join(''))
  const { stdout } = await halfbitHere([
    'simulate',
    build.elf,
    '--chip',
    'atmega328p',
    '--clock',
    '16 MHz',
    '--pin',
    'PB2',
    '--stimulus',
    stimulus,
    '--for',
    '3 s',
    '--packets',
    '--json',
  ])
  const { packets } = JSON.parse(stdout) as { packets: { list: Listed[] } }
  const list = packets.list.map((p) => ({
    ...p,
    bytes: Uint8Array.from(p.hex.split(' '), (h) => Number.parseInt(h, 16)),
  }))
  // Without a pulse of its own: an output stays on until it is told to go off.
  const decoders = numbers.map((n) => new AccessoryDecoder(`T${n}`, n, 0))
  for (const d of decoders) for (const p of list) d.packet(p.bytes, p.tUs)
  return { decoders, list }
}

describe.skipIf(!HAVE_COMPILER)('turnouts (compiler avr-gcc, accessory decoders of the bench)', () => {
  it(
    'are thrown one after the other, each on for a quarter of a second and off again, whatever the number',
    async () => {
      const numbers = [1, 12, 257, 2040]
      const commands = [
        'turnout 1 straight',
        'turnout 12 diverging',
        'turnout 257 straight',
        'turnout 2040 diverging',
      ]
      const { decoders, list } = await thrown(['drive 3 at 40 forward', ...commands], numbers)
      let before = 0
      for (const d of decoders) {
        expect(
          d.pulses.map((p) => p.output),
          d.name,
        ).toEqual([d.address === 1 || d.address === 257 ? 1 : 0])
        const { fromUs, untilUs } = d.pulses[0]!
        expect(untilUs - fromUs, d.name).toBeGreaterThan(230e3)
        expect(untilUs - fromUs, d.name).toBeLessThan(600e3)
        // Never two coils at once.
        expect(fromUs, d.name).toBeGreaterThan(before)
        before = untilUs
      }
      // S-9.2:2004 note 11: 5 ms between two packets to one address; counted from the end of the one to the start of the other.
      const throws = list.filter((p) => p.bytes.length === 3 && (p.bytes[0]! & 0xc0) === 0x80)
      expect(throws.length).toBe(4 * 6)
      // Trains go on being told meanwhile.
      const during = list.filter(
        (p) => p.bytes[0] === 3 && p.tUs > throws[0]!.tUs && p.tUs < throws.at(-1)!.tUs,
      )
      expect(during.length).toBeGreaterThan(20)
    },
    LONG,
  )

  it.each([
    ['another output', '(t->straight ? 1 : 0)', '(t->straight ? 0 : 1)'],
    ['the upper bits of the board not inverted', '((~(board >> 6) & 7) << 4)', '((board >> 6) << 4)'],
    ['an output that stays on', 'bool on = turnout_sent < TURNOUT_PACKETS;', 'bool on = true;'],
  ])(
    'are not thrown as asked with %s',
    async (_, from, to) => {
      const { decoders } = await thrown(['turnout 257 straight'], [257], 'turns.c', from, to)
      const [d] = decoders as [AccessoryDecoder]
      const sound =
        d.pulses.length === 1 && d.pulses[0]!.output === 1 && Number.isFinite(d.pulses[0]!.untilUs)
      expect(sound).toBe(false)
    },
    LONG,
  )

  it(
    'are refused beyond the numbers that there are',
    async () => {
      const { list } = await thrown(['turnout 0 straight', 'turnout 2041 straight', 'turnout 5 left'], [1])
      expect(list.filter((p) => p.bytes.length === 3 && (p.bytes[0]! & 0xc0) === 0x80)).toEqual([])
    },
    LONG,
  )
})

const READ = (value: number, says: string) => `scenario: 1
name: a CV is read
lasts: 6 s
acts:
  - { at: 100 ms, serviceTrack: tank engine }
  - { at: 400 ms, service: on }
  - { at: 1 s, write: { cv: 3, value: ${value} } }
  - { name: read, at: 1.8 s, send: 'read variable 3\\n' }
expect:
  - { cv: { cv: 3, value: ${value} } }
  - { answer: { text: '${says}\\n', to: read, within: 3 s } }
`

function verdictsOf(text: string, ...sick: string[]): string[] {
  const { build, text: yaml } = station(...sick)
  const image = loadFirmware(readFileSync(build.elf), build.elf)
  const bench = benchOf(loadDesign(yaml), image, 'atmega328p', build.elf)!
  return scenarioFromFile(bench, text, 'read.yaml')
    .run()
    .outcomes.map((o) => `${o.key} ${o.verdict}`)
}

describe.skipIf(!HAVE_COMPILER)('a CV is read (compiler avr-gcc, decoder of the bench)', () => {
  it.each([0, 255, 170, 12])(
    'bit by bit, with the value %d',
    (value) => {
      const verdicts = verdictsOf(READ(value, `variable 3 is ${value}`))
      expect(verdicts.length).toBeGreaterThan(1)
      for (const v of verdicts) expect(v).toMatch(/ met$/)
    },
    LONG,
  )

  it.each([
    ['asks for the bits the other way round', '0xE0 | 0x08 | bit', '0xE0 | 0x08 | (7 - bit)'],
    [
      'takes silence for a one',
      'if (acknowledged) value |= 1 << bit;',
      'if (!acknowledged) value |= 1 << bit;',
    ],
    [
      'asks for another variable',
      'uint16_t field = variable - 1;',
      'uint16_t field = task >= READ_BITS ? variable : variable - 1;',
    ],
  ])(
    'wrongly by firmware that %s',
    (_, from, to) => {
      const verdicts = verdictsOf(READ(12, 'variable 3 is 12'), 'service.c', from, to)
      expect(verdicts.some((v) => v.endsWith(' broken'))).toBe(true)
    },
    LONG,
  )
})
