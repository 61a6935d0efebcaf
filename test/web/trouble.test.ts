/// <reference lib="dom" />
/** The workbench when things are not as they should be: no sound design, no token, no server, odd files. */
import { renameSync, writeFileSync } from 'node:fs'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { type Bench, launch, missing, openPage, openStage, serveExample } from './browser.js'

const LONG = 120_000
let browser: Browser
let bench: Bench

async function openWith(text: string): Promise<Page> {
  writeFileSync(bench.design, text)
  const context = await browser.newContext()
  await context.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
  const page = await context.newPage()
  page.setDefaultTimeout(25_000)
  await page.goto(bench.workbench.url)
  return page
}

describe.skipIf(missing)('the workbench in trouble', () => {
  let original = ''
  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('shelf')
    original = bench.text()
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
  })

  it.each([
    ['an empty file', ''],
    ['a file of comments', '# nothing yet\n'],
    ['a design that lacks parts', 'halfbit: 2\nname: Bare\n'],
    ['no YAML', 'halfbit: [1\n  x: :\n'],
  ])(
    '%s says what to do, can be begun anew, and undo brings it back',
    async (_, text) => {
      const page = await openWith(text)
      // Where there is nothing the beginning is open; what is there but wrong is shown first.
      if (/^(#.*\n)?$/.test(text)) await page.locator('.begin-form').waitFor()
      else {
        await page.getByText(/there are no results yet/).waitFor()
        await page.getByRole('button', { name: 'Begin a new design' }).click()
      }
      await page.locator('.begin-steps button', { hasText: 'Check and write' }).click()
      await page.locator('.begin-acts .main:enabled').click({ timeout: 90_000 })
      await page.locator('.matrix tbody tr').first().waitFor()
      await page.getByText('no problems').waitFor()
      await expect.poll(() => bench.text()).toContain('name: "My command station"')
      await page.getByRole('button', { name: /^Undo/ }).click()
      await expect.poll(() => bench.text()).toBe(text)
      await page.context().close()
    },
    LONG,
  )

  it(
    'erasing all of the text says so too',
    async () => {
      const page = await openWith(original)
      await page.locator('.matrix tbody tr').first().waitFor()
      await page.getByRole('button', { name: 'Text', exact: true }).click()
      await page.getByRole('textbox', { name: /^Text of/ }).fill('')
      await page.getByText(/comes from its last valid version/).waitFor()
      await page.keyboard.press('Control+z')
      await page.getByText('no problems').waitFor()
      await page.context().close()
    },
    LONG,
  )

  it(
    'a text with a problem in one part is calculated from the others, the map stays, and it says with what',
    async () => {
      const page = await openWith(original)
      await page.locator('.matrix tbody tr').first().waitFor()
      await openStage(page, 'Track')
      const labels = () =>
        page.locator('g.track').evaluateAll((all) => all.map((g) => g.getAttribute('aria-label')))
      await page.locator('g.track').first().waitFor({ state: 'attached' })
      const before = await labels()
      await page.getByRole('button', { name: 'Text', exact: true }).click()
      const area = page.getByRole('textbox', { name: /^Text of/ })
      // A thinner bus, and values elsewhere that nobody can read.
      const thinner = original.replace('wire: 18 AWG', 'wire: 22 AWG')
      expect(thinner).not.toBe(original)
      await area.fill(
        thinner.replace(/^controller:/m, 'controller: [').replace(/^scale:.*/m, 'scale: nonsense'),
      )
      await page
        .getByText(/calculated from the text as it is now, but .*controller.* as in the last valid/)
        .waitFor()
      // The track is that of now, though the text has problems: its volts are others.
      await expect.poll(labels, { timeout: 15_000 }).not.toEqual(before)
      expect((await labels()).length).toBe(before.length)
      const thin = await labels()
      // The stage of the part with the problem says that it shows what was before.
      await openStage(page, 'Controller')
      await page.getByText(/Controller shows that, not what you have just written/).waitFor()
      await page.locator('nav.line a.stale', { hasText: 'Controller' }).waitFor()
      expect(await page.locator('nav.line a.stale', { hasText: 'Trains' }).count()).toBe(0)
      await openStage(page, 'Proof')
      await page
        .getByText(/OUT OF DATE: the design has .* problems? now/)
        .first()
        .waitFor()
      // With the problem mended the same figures are of the text as it is.
      await area.fill(thinner)
      await page.getByText('no problems').waitFor()
      await openStage(page, 'Track')
      await expect.poll(labels, { timeout: 15_000 }).toEqual(thin)
      await page.context().close()
      writeFileSync(bench.design, original)
    },
    LONG,
  )

  it(
    'a text that never was sound shows what its sound parts give',
    async () => {
      const page = await openWith(original.replace(/^scale:.*/m, 'scale: nonsense'))
      await page.locator('.matrix tbody tr').first().waitFor()
      await page.getByText(/calculated from the text as it is now, but without scale/).waitFor()
      await page.context().close()
      writeFileSync(bench.design, original)
    },
    LONG,
  )

  it(
    'without the token nothing is shown in place of the design',
    async () => {
      writeFileSync(bench.design, original)
      const context = await browser.newContext()
      const page = await context.newPage()
      for (const address of [new URL('/', bench.workbench.url).href, `${bench.workbench.url}x`]) {
        await page.goto('about:blank')
        await page.goto(address)
        await page.getByText(/open that address, including everything after the #/).waitFor()
        expect(await page.locator('nav.line').count()).toBe(0)
      }
      await context.close()
    },
    LONG,
  )

  it(
    'undo in a field that is no part of the design leaves the design alone',
    async () => {
      const faults: string[] = []
      writeFileSync(bench.design, original)
      const page = await openPage(browser, bench.workbench.url, faults)
      await page.getByLabel('name', { exact: true }).fill('Mine')
      await expect.poll(() => bench.text(), { timeout: 15_000 }).toContain('name: Mine')
      await page.getByLabel('Find').pressSequentially('bit')
      await page.keyboard.press('Control+z')
      await expect.poll(() => page.getByLabel('Find').inputValue()).not.toBe('bit')
      expect(await page.getByLabel('name', { exact: true }).inputValue()).toBe('Mine')
      // A file that is not what it is taken for is named, and a long name stays on the screen.
      await page
        .locator('nav.line')
        .getByRole('link', { name: /^Waveform/ })
        .click()
      const input = page.locator('.drop input[type=file]')
      const named = (name: string, text: string | Buffer) =>
        input.setInputFiles({ name, mimeType: 'x/y', buffer: Buffer.from(text) })
      await named('damaged.vcd.gz', Buffer.from([0x1f, 0x8b, 8, 0, 1, 2, 3]))
      await page.locator('.notice.broken').getByText('damaged.vcd.gz').waitFor()
      const halves = Array.from({ length: 400 }, (_, i) => `${(i * 58e-6).toFixed(6)},${i % 2}`)
      await named(`<b>${'n'.repeat(200)}.csv`, `time,main\n${halves.join('\n')}\n`)
      await page.locator('.waveform canvas').waitFor()
      await page.setViewportSize({ width: 390, height: 844 })
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390)
      expect(faults).toEqual([])
      await page.context().close()
    },
    LONG,
  )

  it(
    'a file that is gone and a server that has ended are named, and the text can be taken along',
    async () => {
      const page = await openWith(original)
      await page.locator('.matrix tbody tr').first().waitFor()
      renameSync(bench.design, `${bench.design}.away`)
      const name = page.getByLabel('name', { exact: true })
      await name.fill('While it was away')
      await page.getByText(/not saved: the design file is no longer at its place/).waitFor()
      renameSync(`${bench.design}.away`, bench.design)
      await page.getByRole('button', { name: 'Try again' }).click()
      await expect.poll(() => bench.text()).toContain('While it was away')
      await bench.workbench.close()
      await name.fill('After the end')
      await page.getByText(/has ended; your text exists only on this page/).waitFor()
      const coming = page.waitForEvent('download')
      await page.getByRole('button', { name: 'Download the text' }).click()
      expect((await coming).suggestedFilename()).toBe('halfbit.yaml')
      await page.context().close()
    },
    LONG,
  )
})
