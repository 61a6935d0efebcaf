/** Files of somebody else stay, and what is wrong is said once, with the place that is to be changed. */
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import { root } from './halfbit.js'
import { halfbitHere } from './here.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-lost-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const shelf = join(root, 'examples/shelf/halfbit.yaml')

describe('a page to publish', () => {
  it('is written over an earlier page, and over nothing else', async () => {
    const site = join(folder, 'site')
    mkdirSync(site)
    writeFileSync(join(site, 'index.html'), 'of somebody else')
    const refused = await halfbitHere(['book', shelf, '--site', site])
    expect(refused.status).toBe(2)
    expect(refused.stderr).toContain(
      `${site}/index.html: not written: found a file that is not from an earlier page`,
    )
    expect(readFileSync(join(site, 'index.html'), 'utf8')).toBe('of somebody else')
    expect(existsSync(join(site, 'book.html'))).toBe(false)
    rmSync(join(site, 'index.html'))
    for (let time = 0; time < 2; time++)
      expect((await halfbitHere(['book', shelf, '--site', site])).status).toBe(0)
    writeFileSync(join(site, 'notes.txt'), 'beside it')
    expect((await halfbitHere(['book', shelf, '--site', site])).status).toBe(0)
    expect(readFileSync(join(site, 'notes.txt'), 'utf8')).toBe('beside it')
  })

  it.each([
    [['--out', 'x.html'], /--site writes the book in all its forms; expected no --out/],
    [['--md'], /expected no --md/],
    [['--date', '2026-02-30'], /--date 2026-02-30; expected a date/],
  ])('with %s is refused', async (more, message) => {
    const site = join(folder, 'never')
    const { status, stderr } = await halfbitHere(['book', shelf, '--site', site, ...more])
    expect(status).toBe(2)
    expect(stderr).toMatch(message)
    expect(existsSync(site)).toBe(false)
  })
})

it.each(['2026-13-01', '2026-02-29', '2026-00-10', '26-01-01', 'today'])('no day is %s', async (day) => {
  for (const args of [
    ['prove', shelf, '--date', day],
    ['find', shelf, '--notes', '--since', day],
  ]) {
    const { status, stderr } = await halfbitHere(args)
    expect(status, args.join(' ')).toBe(2)
    expect(stderr).toContain(`${day}; expected a date such as 2026-05-01`)
  }
})

it('a firmware file that is missing is reported with the line that names it, in a variant too', async () => {
  const two = join(folder, 'two-tracks')
  cpSync(join(root, 'examples/two-tracks'), two, { recursive: true })
  rmSync(join(two, 'firmware/station-debug.elf'))
  const file = join(two, 'halfbit.yaml')
  const line = readFileSync(file, 'utf8')
    .split('\n')
    .findIndex((l) => l.includes('station-debug.elf'))
  for (const args of [
    ['prove', file, '--variant', 'debug build'],
    ['matrix', file],
  ]) {
    const { status, stderr } = await halfbitHere(args)
    expect(status).toBe(2)
    expect(stderr).toContain(`${file}:${line + 1}:`)
    expect(stderr).toMatch(/firmware\.file names firmware\/station-debug\.elf, and .*: no such file/)
  }
})

it('the firmware part that the starter writes names its files as the design does', async () => {
  const own = join(folder, 'shelf.yaml')
  writeFileSync(own, readFileSync(shelf))
  expect((await halfbitHere(['starter', own, join(folder, 'firmware')])).status).toBe(0)
  const { firmware } = parse(readFileSync(join(folder, 'firmware/firmware.yaml'), 'utf8'))
  expect(firmware.file).toBe('firmware/station.elf')
  expect(existsSync(join(folder, firmware.stimulus))).toBe(true)
})
