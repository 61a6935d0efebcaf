/// <reference lib="dom" />
/** Every stage shows its figure without scrolling, at three sizes; and what is chosen in one stage is found in others. */
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { type Bench, launch, missing, openPage, serveExample } from './browser.js'

const LONG = 180_000

/** The figure of each stage, and the least share of its height that is in view where the figure is long. */
const FIGURES: Record<string, string> = {
  controller: '.windows figure svg',
  driver: '.deck .drawing img',
  track: 'svg.track-map',
  trains: '.trains-figure .figure-room svg',
  packets: '.anatomy .bytes',
  waveform: '.waveform canvas',
  proof: '.proof .matrix',
}

describe.skipIf(missing)('figures', () => {
  const faults: string[] = []
  let browser: Browser
  let bench: Bench
  let page: Page
  const open = async (stage: string) => {
    await page.evaluate((id) => {
      location.hash = `/${id}`
    }, stage)
    await page.locator(`main[data-stage="${stage}"]`).waitFor()
  }

  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('flawed')
    page = await openPage(browser, bench.workbench.url, faults, true)
    await page.locator('main:not([data-busy])').waitFor({ timeout: 60_000 })
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
  })

  it.each([
    [1440, 900],
    [1280, 720],
    [768, 1024],
    [390, 844],
  ])(
    'are in the first view at %s by %s',
    async (width, height) => {
      await page.setViewportSize({ width, height })
      const missed: string[] = []
      for (const [stage, figure] of Object.entries(FIGURES)) {
        // The example without a fleet has no figure of trains.
        if (stage === 'trains') continue
        await open(stage)
        const element = page.locator(figure).first()
        await element.waitFor()
        await page.evaluate(() => scrollTo(0, 0))
        const box = (await element.boundingBox())!
        const seen = Math.min(height, box.y + box.height) - Math.max(0, box.y)
        // Half of the view is the figure's, or all of a figure that needs less.
        if (seen < Math.min(box.height - 1, 0.4 * height))
          missed.push(
            `${stage}: ${Math.round(seen)} px of ${Math.round(box.height)}, from ${Math.round(box.y)}`,
          )
        // Its windows are compared with each other: none may be out of sight at the right.
        if (stage === 'controller' && box.x + box.width > width) missed.push(`${stage}: cut at the right`)
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
        if (wide > 0) missed.push(`${stage}: ${wide} px wider than the view`)
      }
      expect(missed).toEqual([])
    },
    LONG,
  )

  it(
    'every finding of a record is in the list, filtered by kind, and within one key of the next',
    async () => {
      await page.setViewportSize({ width: 1440, height: 900 })
      await open('waveform')
      const list = page.locator('.finding-list')
      const total = Number(/\d+/.exec(await page.locator('#findings-title .quiet').innerText())![0])
      expect(total).toBeGreaterThan(10_000)
      // The last one is reached by going back from the first.
      const step = page.locator('.findings .acts')
      await step.getByRole('button', { name: 'Next' }).click()
      await step.getByText(`1 of ${total}`).waitFor()
      await step.getByRole('button', { name: 'Previous' }).click()
      await step.getByText(`${total} of ${total}`).waitFor()
      await list.locator('button[aria-pressed=true]').waitFor()
      const kinds = page.getByRole('group', { name: 'Kinds of findings' })
      await kinds.getByRole('button', { name: 'hide all' }).click()
      await kinds.getByRole('button', { name: /^error byte/ }).click()
      const some = Number(
        /\d+/.exec(await kinds.getByRole('button', { name: /^error byte/ }).innerText())![0],
      )
      await step.getByRole('button', { name: 'Next' }).click()
      await step.getByText(`1 of ${some}`, { exact: true }).waitFor()
      await expect
        .poll(() => page.locator('.waveform figcaption').innerText())
        .toMatch(/Finding \d+ of \d+\. error-byte/)
      // The clause is chosen with its finding, at its own stage too.
      await open('packets')
      await page.locator('.must tr.chosen', { hasText: 'error byte' }).waitFor()
    },
    LONG,
  )

  it(
    'any stage is reached by its name, and keys without Ctrl can be switched off for good',
    async () => {
      await open('proof')
      // It is open before the next frame: whoever types on loses no letter.
      const isOpen = await page.evaluate(async () => {
        document.body.dispatchEvent(new KeyboardEvent('keydown', { key: 'g', bubbles: true }))
        for (let i = 0; i < 20; i++) await Promise.resolve()
        return document.querySelector('dialog')?.open
      })
      expect(isOpen).toBe(true)
      await page.getByLabel('Stage', { exact: true }).fill('wave')
      await page.keyboard.press('Enter')
      await page.locator('main[data-stage="waveform"]').waitFor()
      await open('proof')
      await page.locator('.keyboard summary').click()
      await page.getByLabel('Keys without Ctrl').uncheck()
      await page.reload()
      await page.locator('main:not([data-busy])').waitFor({ timeout: 60_000 })
      await page.locator('body').press('1')
      await page.locator('body').press('g')
      expect(await page.locator('main').getAttribute('data-stage')).toBe('proof')
      expect(await page.locator('dialog').count()).toBe(0)
      // What ran before is there again, without another run.
      await expect.poll(() => page.locator('.run-line[data-state="up to date"]').count()).toBe(2)
      await page.locator('.keyboard summary').click()
      await page.getByLabel('Keys without Ctrl').check()
    },
    LONG,
  )

  it(
    'a chart says its values where one points, and by key',
    async () => {
      await open('driver')
      const chart = page.locator('.deck .drawing')
      const box = (await chart.locator('img').boundingBox())!
      await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2)
      const values = chart.locator('.chart-values')
      await expect.poll(() => values.innerText()).toMatch(/current [\d.]+ A[\s\S]*trip, latest [\d.]+ [mu]?s/)
      const before = await values.innerText()
      await chart.locator('.wide').focus()
      await page.keyboard.press('ArrowRight')
      await expect.poll(() => values.innerText()).not.toBe(before)
      expect(faults).toEqual([])
    },
    LONG,
  )
})
