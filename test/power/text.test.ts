/**
 * What people read: the sentences of `halfbit power` that matter, for the examples and for stations of other parts than theirs
 * (test/power/odd). The figures of the latter were worked out by hand from the laws in docs/method/power.md.
 */
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import type { Arguments, Io } from '../../src/cli/command.js'
import { command } from '../../src/cli/commands/power.js'
import { InputError } from '../../src/units/index.js'

const examples = new URL('../../examples/', import.meta.url).pathname
const odd = new URL('./odd/', import.meta.url).pathname
const folder = mkdtempSync(join(tmpdir(), 'halfbit-power-text-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

/** Text as on a wide terminal, blanks made one; or the JSON object. */
async function run(file: string, ...on: string[]): Promise<string> {
  let out = ''
  const args: Arguments = {
    positionals: [file],
    text: () => undefined,
    texts: () => [],
    on: (name) => on.includes(name),
  }
  const io: Io = {
    out: (text) => void (out += `${text}\n`),
    note: () => {},
    progress: () => {},
    signal: new AbortController().signal,
    colour: false,
    width: 400,
  }
  await command.run(args, io)
  return out.replace(/[ \t]+/g, ' ').replace(/\n {2,}/g, '\n ')
}
const joined = (text: string) => text.replace(/\n (?=\S)/g, ' ')

describe('the exhibition layout', async () => {
  const text = await run(`${examples}exhibition/halfbit.yaml`)
  it('carries its trains and trips', () => {
    expect(text).toContain(
      'the worst-case load and the trip require a rating of 4 A or more; a fuse at its output carries it from 4 A',
    )
    expect(text).toContain('to trip main with the rest running, it must give 3.95 A; it gives 5 A')
    expect(text).toContain('current sense: 10.7 mA per count, range 11 A, gain ± 11 %')
    expect(text).toContain('trip by sense: 3.5 A (count 326), with all errors between 3.15 A and 3.94 A')
    expect(text).toContain(
      'short at the terminals, at most: 5.94 A, off after 2.31 ms at the latest, lets 0.0816 A²s through',
    )
    expect(text).toContain('power-up: peak 5.94 A, capacitors full after 1.29 s; it does not trip')
    expect(text).toContain('main phase direction PB2 wire PB2 to phase')
    expect(text).not.toContain('BROKEN')
  })
})

describe('the flawed station', async () => {
  const text = await run(`${examples}flawed/halfbit.yaml`)
  it('is told what hurts, with figures and what to change', () => {
    expect(text).toContain('short at the terminals, at least: 2 A, never trips')
    expect(text).toContain(
      'driver survives it not at all (above the 3 A that is the absolute maximum of L298)',
    )
    expect(text).toContain('CONFLICT: sits on PB4, but the signal of output main comes out of PB1')
    expect(text).toMatch(
      /Regulator of the controller, fed with 18\.9 V from the track supply\n 1\.67 W, junction 185 of 125 °C/,
    )
    expect(joined(text)).toContain('set power.supplies.brick.rating to 3.5 A (now 2 A): supply-current')
    expect(joined(text)).not.toMatch(/make the trip blind|blanking to/)
    expect(joined(text)).toContain('the worst load of 3.1 A may trip it (from 2.89 A)')
    expect(text).toContain('one that switches off and retries may never start')
    expect(text).toContain('an overload of a channel may last: 3.88 A not at all')
  })
})

describe('the shelf and the workshop', async () => {
  const shelf = await run(`${examples}shelf/halfbit.yaml`)
  const two = await run(`${examples}two-tracks/halfbit.yaml`)
  it('tell trip, heat and fuse', () => {
    expect(shelf).toContain('trip by sense: 1.5 A (count 140), with all errors between 1.35 A and 1.7 A')
    expect(shelf).toContain('junction 65.9 of 150 °C at 30 °C around it')
    expect(shelf).toContain(
      'a fuse carries its load from 2.5 A; wires and supply decide whether that opens in time',
    )
    expect(two).toContain('trip by breaker: 2 A, with all errors between 1.8 A and 2.2 A')
    expect(two).toContain(
      'driver survives it indefinitely (its junction stays below 150 °C from its running heat (two RC stages))',
    )
    expect(two).toContain('acknowledgement: 30 of 30 samples above 40 mA at 9615 /s')
    expect(two).toContain(
      'misses less than 1 in 1e12, false less than 1 in 1e12 (closed form); 0 of 2000 simulated pulses missed',
    )
  })
})

describe('stations of other parts', () => {
  it('a saturating pair in parallel on a foldback supply', async () => {
    const text = await run(`${odd}larkfield.yaml`, 'compare')
    // 3.3 V / 4096 / (50 mOhm · 20) = 806 uA; (0.1 V + 2.5 V) / 806 uV = count 3227.
    expect(text).toContain('806 uA per count, range 3.2 A, gain ± 2 %, offset ± 5 mA, noise 3.01 mA')
    expect(text).toContain('2.5 A (count 3227), with all errors between 2.43 A and 2.56 A')
    // At the top of the trip's band, 2.56 A: strong channel typical 3.04 V at 1.53 A, weak one at most 3.04 V at 1.02 A.
    expect(text).toContain('yard: 2.56 A as 1.53 A + 1.02 A, 3.04 V lost')
    // 8.62 W · (3 + 4) K/W + 40 °C.
    expect(text).toContain('junction 100 of 150 °C at 40 °C around it')
    // Blind for 20 ms: 3.6² · 20.8 ms, and the 2200 uF of the supply on top.
    expect(text).toContain(
      'short at the terminals, at most: 3.6 A, off after 20.8 ms at the latest, lets 0.451 A²s through',
    )
    expect(text).toContain('the fuse blows after about 926 ms')
    // The capacitor of a decoder takes all that the supply gives.
    expect(text).toContain('power-up: peak 3.6 A, capacitors full after 1.43 s')
    // (14.35 − 3.3) V · 0.12 A · 65 K/W + 40 °C.
    expect(text).toContain('1.33 W, junction 126 of 125 °C')
    expect(joined(text)).toContain(
      'knowing the current of supply brick into a short decides it (its foldback current is not given)',
    )
    expect(text).toContain('yard nmra 2020 S-9.1:2020 8.5 to 22 V none 10.5 V 14.4 V met')
    expect(text).toContain('yard rcn 2013 NEM 670:2013 8 to 22 V 14 V 10.5 V 14.4 V broken: RMS too high')
    expect(text).toContain('nmra 2006 S-9.1:2006 (from memory)')
  })

  it('half bridges with a Hall sensor on a supply that holds its current', async () => {
    const text = await run(`${odd}hall.yaml`)
    expect(text).toContain('74 mA per count, range 37.8 A, gain ± 4 %, offset ± 455 mA, noise 153 mA')
    expect(text).toContain('7.99 A (count 620), with all errors between 6.25 A and 8.83 A')
    // Played apart from this code: 4.89 to 5.39 ms over all moments of the first sample.
    expect(text).toContain(
      'short at the terminals: 11 A, off after 5.39 ms at the latest, lets 0.652 A²s through',
    )
    expect(text).toContain('junction 53.9 of 150 °C at 30 °C around it')
    expect(text).toContain('the supply holds the current at its limit meanwhile, and its voltage falls')
    expect(text).toContain('half-bits change by up to ± 0.65 us, halves differ by up to 1.3 us')
    expect(joined(text)).toContain('this edition allows 18 V RMS at G scale')
  })

  it('a sense output in one leg that is not filtered never trips for certain, and says why', async () => {
    const text = await run(`${odd}mirror.yaml`)
    expect(text).toContain('4.93 mA per count, range 3.33 A, gain ± 9 %')
    expect(text).toContain('short at the terminals, at most: 13 A, not sure to trip')
    expect(joined(text)).toContain('not sure to trip: the current sense sees one polarity only')
    expect(text).toContain(
      'driver survives it not at all (the heat of the continuous current alone takes its junction to 150 °C)',
    )
    expect(joined(text)).toContain('it gives 4 A (its rating, as nothing more is stated)')
    expect(text).toContain('0.353 W, junction 56.2 of 125 °C')
  })

  it('a programming track with noise: the chances of a binomial window by exact enumeration', async () => {
    const text = await run(`${odd}prog.yaml`)
    // 6 of 8 over 20 and 200 samples, hit Q(−1.156) at a gain 3 % too low, wrong Q(1.6445) at 3 %
    // too high: enumerated over all states of the window, apart from this code.
    expect(text).toContain('misses 1 in 3102, false 1 in 18622 (closed form)')
    expect(text).toContain('off after 75 ms at the latest')
  })

  it('hardly anything known: says what is missing', async () => {
    const text = await run(`${odd}nothing.yaml`)
    expect(text).toContain('power-up: peak 170 A')
    expect(text).toContain("it reaches the driver's own current limit: it may switch off, or charge in steps")
    expect(text).toContain('more than the supply is sure to give: how it reacts to that is not known')
    expect(joined(text)).toContain('(its rating, as nothing more is stated)')
    expect(joined(text)).toContain(
      'driver "x": its on-resistance or saturation voltage, so its heat is not shown',
    )
  })

  // Two outputs on one bridge are refused before anything is printed.
  it.each(readdirSync(odd).filter((f) => f !== 'two-signals.yaml'))(
    '%s prints no number that is none',
    async (name) => {
      for (const text of [await run(odd + name, 'compare'), await run(odd + name, 'json', 'compare')])
        expect(text).not.toMatch(/NaN|Infinity|∞|undefined|\b1 (samples|pins|channels|conversions)\b/)
    },
  )
})

describe('combinations that cannot be', () => {
  it.each([
    ['channels: [1, 2]', 'channels: [1, 3]', 60, /has channels 1 to 2; found 3/],
    ['limit: foldback', 'limit: none', 21, /a limit of 3\.6 A, but "limit: none"/],
    ['peak: 3 A', 'peak: 1 A', 30, /continuous \(2\) is above peak \(1\)/],
    ['typical: 2.4 V, most: 3.0 V', 'typical: 1 V, most: 3.0 V', 38, /the voltage falls from 0\.5 A to 1 A/],
    ['fixed: PA9', 'fixed: PZ9', 54, /the controller has no pin PZ9; the nearest is PA9/],
    ['zero: 0.1 V', 'zero: 3.3 V', 71, /beyond the reference of the converter/],
    ['gain: 20', 'gain: 60', 61, /2\.5 A cannot be read: the current sense ends at 1\.07 A/],
  ])('%s → %s', async (from, to, line, message) => {
    const text = readFileSync(`${odd}larkfield.yaml`, 'utf8')
    expect(text).toContain(from)
    const file = join(folder, 'bad.yaml')
    writeFileSync(file, text.replace(from, to))
    const error = await run(file).then(String, (e: Error) => e)
    expect(error).toBeInstanceOf(InputError)
    expect((error as InputError).message).toMatch(message)
    expect((error as InputError).place).toMatchObject({ file, line, column: expect.any(Number) })
  })

  it('a locomotive at rest that leaves no room for its acknowledgement', async () => {
    const file = join(folder, 'room.yaml')
    writeFileSync(
      file,
      readFileSync(`${odd}prog.yaml`, 'utf8').replace('quiescent: 60 mA', 'quiescent: 0.7 A'),
    )
    await expect(run(file)).rejects.toThrow(
      /with an acknowledgement 0\.76 A; the current sense ends at 0\.66 A/,
    )
  })

  it('a sense that may be off by all it reads is said in words', async () => {
    const file = join(folder, 'off.yaml')
    writeFileSync(
      file,
      readFileSync(`${odd}larkfield.yaml`, 'utf8').replace('tolerance: 1 %', 'tolerance: 100 %'),
    )
    const text = await run(file)
    expect(text).toContain(
      'with all errors anywhere above 1.23 A, as its current sense may be off by all it reads',
    )
    expect(text).not.toContain('∞')
  })
})

describe('the RMS ceiling', () => {
  it('is the limit that the evidence names, not the peak of the clause', async () => {
    const { evidence } = JSON.parse(await run(`${odd}hall.yaml`, 'json')) as {
      evidence: { clause: string; about: string; limits?: { max: number }; verdict: string }[]
    }
    const rms = evidence.find((e) => e.about === 'garden, RMS')
    expect(rms).toMatchObject({ clause: 'track-voltage-max', verdict: 'broken', limits: { max: 18 } })
    expect(
      evidence.find((e) => e.about === 'garden' && e.clause === 'track-voltage-max')?.limits,
    ).toBeUndefined()
  })
})
