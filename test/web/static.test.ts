/// <reference lib="dom" />
/** The same pages without a server of ours, and then without a network. */
import { expect, it } from 'vitest'
import { firstLoad } from '../../scripts/first-load.mjs'
import { assets, launch, missing, openPage, serveStatic } from './browser.js'

it.skipIf(missing)(
  'works alone, keeps the work in the browser, and opens without a network',
  async () => {
    const site = await serveStatic()
    const browser = await launch()
    const faults: string[] = []
    try {
      const page = await openPage(browser, site.url, faults)
      await page.getByLabel('name', { exact: true }).fill('Kept here')
      await page.getByText('kept in this browser').waitFor()
      // What is no text does not become the design.
      await page.locator('header input[type=file]').setInputFiles({
        name: 'picture.png',
        mimeType: 'image/png',
        buffer: Buffer.from([0x89, 0x50, 0x4e, 0x47, 0xff]),
      })
      await page.getByText(/picture\.png was not opened/).waitFor()
      expect(await page.getByLabel('name', { exact: true }).inputValue()).toBe('Kept here')
      await page.evaluate(() => navigator.serviceWorker.ready.then(() => {}))
      // The worker's files are all there once it is active; then the host goes away.
      site.close()
      await page.context().setOffline(true)
      await page.reload()
      await page.locator('.matrix tbody tr').first().waitFor()
      expect(await page.getByLabel('name', { exact: true }).inputValue()).toBe('Kept here')
      await page
        .locator('nav.line')
        .getByRole('link', { name: /^Waveform/ })
        .click()
      await page.getByRole('button', { name: /^Read captures/ }).click()
      await page.locator('.waveform canvas').waitFor()
      // Every example can be opened, also then, and its own files are found.
      await page.locator('.menu summary').click()
      await page.getByLabel('Open an example').selectOption('two-tracks')
      await page.getByText('Harrow Bend workshop (invented)').first().waitFor()
      await page.getByRole('button', { name: /^Read captures\/service/ }).click()
      await page.getByRole('heading', { name: /captured in captures\/service/ }).waitFor()
      await page.keyboard.press('Control+z')
      await page.getByText('Kept here').first().waitFor()
      expect(faults).toEqual([])
    } finally {
      await browser.close()
      site.close()
    }
  },
  120_000,
)

it.skipIf(missing)(
  'asks for nothing before its first picture that the build does not count',
  async () => {
    const site = await serveStatic()
    const browser = await launch()
    try {
      const context = await browser.newContext()
      await context.addInitScript(() => {
        localStorage.setItem('halfbit-automatic-runs', 'off')
        new MutationObserver((_, self) => {
          if (!document.querySelector('.matrix tbody tr')) return
          self.disconnect()
          Object.assign(globalThis, { firstPictureAt: Date.now() })
        }).observe(document, { childList: true, subtree: true })
      })
      const page = await context.newPage()
      const asked: { name: string; at: () => number }[] = []
      page.on('requestfinished', (r) => {
        const path = new URL(r.url()).pathname.slice(1)
        asked.push({
          name: path === '' ? 'index.html' : path.replace('assets/', ''),
          at: () => r.timing().startTime,
        })
      })
      await page.goto(site.url)
      await page.locator('.matrix tbody tr').first().waitFor()
      // The forms come right after it.
      await page.getByLabel('name', { exact: true }).waitFor()
      const at = await page.evaluate(
        () => (globalThis as unknown as { firstPictureAt: number }).firstPictureAt,
      )
      const before = asked.filter((r) => r.at() <= at).map((r) => r.name)
      const counted = firstLoad(assets).map((file) => file.name)
      // The example is data, and so is the question whether a server has a design.
      const program = before.filter((name) => !/^(examples|api)\//.test(name))
      expect(program.filter((name) => !counted.includes(name))).toEqual([])
      expect(counted.filter((name) => !program.includes(name))).toEqual([])
    } finally {
      await browser.close()
      site.close()
    }
  },
  120_000,
)
