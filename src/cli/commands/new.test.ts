import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { CHIPS, type ChipId, pinConcerns, timerEvidence } from '../../controller/index.js'
import { loadDesign, profileOfDesign } from '../../design/index.js'
import { SCALES } from '../../standard/index.js'
import { startDesign } from '../../start/index.js'
import type { Arguments, Io } from '../command.js'
import { exampleNames, writeNewFolder } from '../new-design.js'
import { command as check } from './check.js'
import { command } from './new.js'
import { command as timers } from './timers.js'

const root = mkdtempSync(join(tmpdir(), 'halfbit-new-'))
afterAll(() => rmSync(root, { recursive: true, force: true }))

const quiet: Io = {
  out: () => {},
  note: () => {},
  progress: () => {},
  signal: new AbortController().signal,
  colour: false,
  width: 80,
}

function args(folder: string, options: Record<string, string> = {}): Arguments {
  return {
    positionals: [folder],
    text: (name) => options[name],
    texts: () => [],
    on: () => false,
  }
}

describe('halfbit new', () => {
  const everyChip = Object.keys(CHIPS) as ChipId[]
  const everyScale = Object.keys(SCALES)

  it.each(everyChip.flatMap((chip) => everyScale.map((scale) => [chip, scale] as const)))(
    'writes a design for %s in scale %s that is valid, and that its timers can make on a pin nothing else needs',
    async (chip, scale) => {
      const folder = join(root, `${chip}-${scale}`)
      await command.run(args(folder, { chip, scale }), quiet)
      const loaded = loadDesign(readFileSync(join(folder, 'halfbit.yaml'), 'utf8'))
      const { controller, signal } = loaded.design
      expect(controller).toMatchObject({ chip })
      expect(controller.clock.frequency).toBeLessThanOrEqual(CHIPS[chip].maxHz)
      const concerns = pinConcerns(chip, signal.outputs['main']!.pin, {
        as: 'output',
        clock: controller.clock.source,
      })
      expect(concerns.filter((c) => c.care !== 'note')).toEqual([])
      const evidence = timerEvidence(loaded.design, (cutout) => profileOfDesign(loaded, cutout))
      expect(evidence.map((e) => [e.clause, e.verdict])).toEqual(
        ['one-half', 'one-difference', 'zero-half', 'zero-total', 'preamble', 'pin-conflict'].map(
          (clause) => [clause, 'met'],
        ),
      )
    },
  )

  it.each(everyChip)(
    'ends `check` and `timers` well on the new design of %s, under both profiles',
    async (chip) => {
      for (const profile of ['nmra', 'rcn']) {
        const folder = join(root, `${chip}-${profile}`)
        await command.run(args(folder, { chip, profile }), quiet)
        for (const other of [check, timers])
          expect(await other.run(args(join(folder, 'halfbit.yaml')), quiet)).toBe(0)
      }
    },
  )

  // Usual clocks of boards with these controllers: common practice, no source.
  it.each([
    ['rp2040', 125e6],
    ['esp32', 240e6],
    ['atmega328p', 16e6],
  ])('gives %s a clock of its own', async (chip, hz) => {
    const folder = join(root, `clock-${chip}`)
    await command.run(args(folder, { chip }), quiet)
    const { design } = loadDesign(readFileSync(join(folder, 'halfbit.yaml'), 'utf8'))
    expect(design.controller.clock.frequency).toBe(hz)
  })

  it('writes without options what the workbench begins a design with', async () => {
    await command.run(args(join(root, 'plain')), quiet)
    const begun = startDesign({})
    expect(readFileSync(join(root, 'plain', 'halfbit.yaml'), 'utf8')).toBe(
      'started' in begun && begun.started.text,
    )
  })

  it.each(['a: b # c', '"quoted"', "it's", 'Umlaut Ä \u{1f682}', '- list', '{', ''])(
    'keeps the name %j',
    async (name) => {
      const folder = mkdtempSync(join(root, 'name-'))
      await command.run(args(folder, { name }), quiet)
      expect(loadDesign(readFileSync(join(folder, 'halfbit.yaml'), 'utf8')).design.name).toBe(name)
    },
  )

  it('copies every example whole', async () => {
    expect(exampleNames()).toEqual(expect.arrayContaining(['exhibition', 'flawed', 'two-tracks']))
    for (const example of exampleNames()) {
      const folder = join(root, `of-${example}`)
      await command.run(args(folder, { example }), quiet)
      const { design } = loadDesign(readFileSync(join(folder, 'halfbit.yaml'), 'utf8'))
      // Not every example has firmware.
      if (design.firmware) expect(existsSync(join(folder, design.firmware.file))).toBe(true)
    }
  })

  it.each<Record<string, string>>([
    { chip: 'atmega328' },
    { scale: 'H0 # x' },
    { clock: '99 GHz' },
    { pin: 'B:1' },
    { pin: 'PC6' },
    { chip: 'esp32', pin: 'GPIO0' },
    { chip: 'esp32', pin: 'GPIO6' },
    { chip: 'atmega328p', source: 'rc' },
    { profile: 'other' },
    { example: 'exibition' },
    { example: 'exhibition', chip: 'rp2040' },
  ])('refuses %j and writes nothing', async (options) => {
    const folder = join(root, 'refused')
    await expect(command.run(args(folder, options), quiet)).rejects.toThrow()
    expect(existsSync(folder)).toBe(false)
  })

  it('replaces nothing, and leaves nothing behind when it cannot write all', async () => {
    const folder = join(root, 'there')
    mkdirSync(folder)
    writeFileSync(join(folder, 'README.md'), 'mine')
    await expect(command.run(args(folder, { example: 'exhibition' }), quiet)).rejects.toThrow(
      /exists already/,
    )
    expect(readdirSync(folder)).toEqual(['README.md'])
    expect(readFileSync(join(folder, 'README.md'), 'utf8')).toBe('mine')
    // A file cannot also be a folder: the second one fails after the first was written.
    const impossible = new Map([
      ['a.txt', 'a'],
      ['b', 'b'],
      ['b/c', 'c'],
    ])
    expect(() => writeNewFolder(folder, impossible)).toThrow()
    expect(readdirSync(folder)).toEqual(['README.md'])
    expect(() => writeNewFolder(join(root, 'deep/er'), impossible)).toThrow()
    expect(existsSync(join(root, 'deep'))).toBe(false)
  })
})
