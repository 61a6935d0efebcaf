/// <reference lib="dom" />
/** The proof that the real browser exports is the command line's, cell by cell and note by note; a stale one says so. */
import { mkdtempSync, readFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { Proof } from '../../src/proof/index.js'
import { built, halfbit } from '../contract/halfbit.js'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { makeStation, SICK } from '../parity/sick.js'
import { type Bench, launch, missing, openPage, serveExample, serveFolder } from './browser.js'

const LONG = 400_000
const faults: string[] = []
let browser: Browser

const go = (page: Page, stop: string) =>
  page
    .locator('nav.line')
    .getByRole('link', { name: new RegExp(`^${stop}`) })
    .click()

const runStates = (page: Page) =>
  page
    .locator('.run-line:not([data-run=bench])')
    .evaluateAll((all) => all.map((e) => (e as HTMLElement).dataset.state))

/** What a report button of the proof gives. */
async function exported(page: Page, form: string): Promise<string> {
  const coming = page.waitForEvent('download')
  await page.getByRole('button', { name: form, exact: true }).click()
  return readFileSync(await (await coming).path(), 'utf8')
}

/**
 * Waits until the page has run and read by itself all that the design names, and exports the proof.
 * @param inputs files that it must be made from.
 */
async function browserProof(page: Page, inputs: number): Promise<Proof> {
  await go(page, 'Proof')
  await expect
    .poll(() => runStates(page).then((states) => states.join()), { timeout: LONG })
    .toMatch(/^(up to date,?)*$/)
  return settled(page, inputs)
}

/** The proof once everything is calculated, made from so many files. */
async function settled(page: Page, inputs: number): Promise<Proof> {
  let proof: Proof | undefined
  await expect
    .poll(
      async () => {
        proof = JSON.parse(await exported(page, 'JSON'))
        return proof?.stale ?? proof?.about.inputs.length
      },
      { timeout: LONG, interval: 2000 },
    )
    .toBe(inputs)
  return proof!
}

/**
 * What is expected, with the found numbers where they are the same but for their last bits: ECMAScript leaves exp, log and
 * pow to the engine, and two versions of one engine differ there.
 */
function butForLastBits(expected: unknown, found: unknown): unknown {
  if (typeof expected === 'number' && typeof found === 'number')
    return Math.abs(found - expected) <= 1e-12 * Math.abs(expected) ? found : expected
  if (Array.isArray(expected) && Array.isArray(found))
    return expected.map((e, i) => butForLastBits(e, found[i]))
  if (typeof expected === 'object' && expected && typeof found === 'object' && found)
    return Object.fromEntries(
      Object.entries(expected).map(([k, v]) => [k, butForLastBits(v, (found as Record<string, unknown>)[k])]),
    )
  return expected
}

function commandProof(bench: Bench): Proof {
  return JSON.parse(halfbit(['prove', 'halfbit.yaml', '--json'], { cwd: bench.folder }).stdout)
}

describe.skipIf(missing)('one proof in the browser and on the command line', () => {
  beforeAll(async () => {
    built()
    browser = await launch()
  }, LONG)
  afterAll(() => browser?.close())

  const stations: [string, () => Promise<Bench>][] = [
    ['two-tracks', () => serveExample('two-tracks')],
    ['shelf', () => serveExample('shelf')],
    ...(HAVE_COMPILER
      ? SICK.filter((s) => ['deaf', 'silent after 2 s', 'illegal instructions'].includes(s.name)).map(
          (sick): [string, () => Promise<Bench>] => [
            sick.name,
            () => {
              const folder = mkdtempSync(join(tmpdir(), 'halfbit-parity-'))
              makeStation(folder, sick)
              return serveFolder(folder)
            },
          ],
        )
      : []),
  ]
  it.each(stations)(
    '%s',
    async (_, serve) => {
      const bench = await serve()
      const page = await openPage(browser, bench.workbench.url, faults, true)
      try {
        const expected = commandProof(bench)
        const found = await browserProof(page, expected.about.inputs.length)
        expect(found).toEqual(butForLastBits(expected, found))
        expect(faults).toEqual([])
      } finally {
        await page.close()
        await bench.end()
      }
    },
    LONG,
  )

  it(
    'a proof of the design before is marked in every form that it is exported in',
    async () => {
      const bench = await serveExample('shelf')
      const page = await openPage(browser, bench.workbench.url, faults)
      try {
        await go(page, 'Proof')
        await settled(page, 1)
        for (const form of ['HTML', 'Markdown', 'JSON', 'JUnit'])
          expect(/out of date/i.test(await exported(page, form)), form).toBe(false)
        await page.getByRole('button', { name: /^Text/ }).click()
        const area = page.getByRole('textbox', { name: /^Text of/ })
        await area.fill((await area.inputValue()).replace(/scale: .*/, 'scale: nonsense'))
        await page.locator('.problems').getByRole('button').first().waitFor()
        for (const form of ['HTML', 'Markdown', 'JSON', 'JUnit'])
          expect(/design has been changed since/.test(await exported(page, form)), form).toBe(true)
        await page
          .getByText(/OUT OF DATE/)
          .first()
          .waitFor()
      } finally {
        await page.close()
        await bench.end()
      }
    },
    LONG,
  )
})
