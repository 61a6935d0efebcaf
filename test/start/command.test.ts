/** `halfbit new` in its three ways: questions in a terminal, options, JSON. One engine is behind them all. */
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { startDesign } from '../../src/start/index.js'
import { built, halfbit, main } from '../contract/halfbit.js'

beforeAll(built)

const folder = () => mkdtempSync(join(tmpdir(), 'halfbit-new-'))
const ask = (lines: string, ...options: string[]) => {
  const at = folder()
  const ran = spawnSync(process.execPath, [main, 'new', at, '--ask', ...options], {
    input: lines,
    encoding: 'utf8',
    timeout: 120_000,
  })
  const file = join(at, 'halfbit.yaml')
  return { ...ran, text: existsSync(file) ? readFileSync(file, 'utf8') : undefined }
}
const textOf = (given: Parameters<typeof startDesign>[0]) => {
  const result = startDesign(given)
  if (!('started' in result)) throw new Error(result.refused.because.sentence)
  return result.started.text
}

describe('questions', () => {
  it('take every default with Enter', () => {
    const { status, text, stdout } = ask('\n'.repeat(40))
    expect(status).toBe(0)
    expect(text).toBe(textOf({}))
    expect(stdout).toMatch(/Calculated: \d+ met, none broken; \d\d more need/)
  }, 120_000)

  it('take numbers, words, explain with ?, and ask again where an answer does not fit', () => {
    const { status, text, stderr } = ask(
      [
        'n',
        '2',
        '?',
        '1',
        '16 V',
        '16 MHz',
        'crystal',
        ...Array(5).fill(''),
        '3',
        '?',
        '3 m',
        ...Array(20).fill(''),
      ].join('\n'),
    )
    expect(status).toBe(0)
    expect(stderr).toContain('The microcontroller that makes the logic signal.')
    expect(stderr).toContain('clock: "16 V"; expected a frequency such as 16 MHz')
    expect(text).toBe(
      textOf({ scale: 'N', profile: 'rcn', chip: 'atmega328p', shape: 'shelf', length: '3 m' }),
    )
  }, 120_000)

  it('offer the nearest sound choice where the answers make none', () => {
    const options = ['--driver', 'TB6612FNG', '--trains', '2 express, 1 goods']
    const { status, text, stderr } = ask('\n'.repeat(40), ...options)
    expect(stderr).toMatch(/No design works with these answers: .*TB6612FNG/)
    expect(stderr).toMatch(/The nearest: it works with/)
    expect(status).toBe(0)
    expect(text).toBeDefined()
  }, 120_000)

  it('end with one message, and write nothing, where the input ends', () => {
    const { status, text, stderr } = ask('H0\nnmra\n')
    expect(status).toBe(2)
    expect(stderr).toMatch(/the input ended before an answer to: controller/)
    expect(text).toBeUndefined()
  }, 120_000)

  // util-linux gives the command a terminal of its own.
  it.skipIf(!existsSync('/usr/bin/script'))(
    'are asked on a terminal without any option',
    () => {
      const at = folder()
      const command = `${process.execPath} ${main} new ${at}`
      const ran = spawnSync('script', ['-qec', command, '/dev/null'], {
        input: '\r'.repeat(40),
        encoding: 'utf8',
        timeout: 120_000,
      })
      expect(ran.stdout).toContain('1 of 6: Scale and standard')
      expect(readFileSync(join(at, 'halfbit.yaml'), 'utf8')).toBe(textOf({}))
    },
    120_000,
  )
})

describe('options', () => {
  it('make the same design, and JSON with every answer', () => {
    const at = folder()
    const ran = halfbit(['new', at, '--scale', 'N', '--shape', 'shelf', '--driven-by', 'computer', '--json'])
    expect(ran.status).toBe(0)
    const json = JSON.parse(ran.stdout)
    expect(json).toMatchObject({
      halfbit: 1,
      files: ['halfbit.yaml'],
      answers: { scale: 'N', drivenBy: 'computer' },
    })
    expect(json.shown.met).toBeGreaterThan(30)
    const text = readFileSync(join(at, 'halfbit.yaml'), 'utf8')
    expect(text).toBe(textOf({ scale: 'N', shape: 'shelf', drivenBy: 'computer' }))
    expect(halfbit(['check', join(at, 'halfbit.yaml')]).status).toBe(0)
  }, 120_000)

  it('name the option that does not fit', () => {
    const at = folder()
    const ran = halfbit(['new', at, '--scale', 'HO'])
    expect(ran.status).toBe(2)
    expect(ran.stderr).toContain('--scale: scale: "HO" is not one of the choices; the nearest is H0')
    expect(existsSync(join(at, 'halfbit.yaml'))).toBe(false)
  })

  it('refuse a combination with the reason and the nearest sound choice', () => {
    const ran = halfbit(['new', folder(), '--driver', 'TB6612FNG', '--trains', '2 express, 1 goods'])
    expect(ran.status).toBe(2)
    expect(ran.stderr).toMatch(/no design works with these answers: .*; it works with /)
  }, 120_000)
})
