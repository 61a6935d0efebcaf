/// <reference lib="dom" />
/** Each proposed change in the real browser: one click applies it, comments stay, the proof is made again, undo restores. */
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { type Bench, launch, missing, openPage, openStage, serveExample } from './browser.js'

const LONG = 240_000
const WAIT = { timeout: 100_000 }
const comments = (text: string) => text.match(/#.*/g) ?? []

describe.skipIf(missing)('proposed changes', () => {
  const faults: string[] = []
  let browser: Browser
  let bench: Bench
  let page: Page
  const open = async (example: string) => {
    await bench?.end()
    bench = await serveExample(example)
    page = await openPage(browser, bench.workbench.url, faults)
  }

  beforeAll(async () => {
    browser = await launch()
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
    expect(faults).toEqual([])
  })

  it.each([
    ['Driver', 'flawed'],
    ['Track', 'shelf'],
  ])(
    'each at %s of %s is applied by a click or says why not, and undone by another',
    async (stage, example) => {
      await open(example)
      const whole = bench.text()
      await openStage(page, stage)
      const items = page.locator('.changes li')
      await items.first().waitFor(WAIT)
      const all = await items.count()
      const proof = () =>
        page
          .locator('nav.line')
          .getByRole('link', { name: /^Proof/ })
          .innerText()
      let applied = 0
      for (let i = 0; i < all; i++) {
        await items.nth(i).waitFor(WAIT)
        const says = await items.nth(i).getByRole('button').innerText()
        await items.nth(i).getByRole('button').click()
        const refused = items.nth(i).getByText(/Not applied: /)
        const news = page.getByText(/^Applied: /)
        await refused.or(news).first().waitFor(WAIT)
        if (await refused.isVisible()) {
          expect(bench.text(), says).toBe(whole)
          continue
        }
        applied++
        await expect.poll(() => bench.text(), WAIT).not.toBe(whole)
        const text = bench.text()
        loadDesign(text)
        for (const comment of comments(whole)) expect(text).toContain(comment)
        // The proof is of the new text: nothing on the page is out of date.
        await page
          .locator('nav.line a.stale')
          .first()
          .waitFor({ state: 'detached', ...WAIT })
        expect(await proof()).toMatch(/\d/)
        await page.getByRole('button', { name: /^Undo/ }).click()
        await expect.poll(() => bench.text(), WAIT).toBe(whole)
        await expect.poll(() => items.count(), WAIT).toBe(all)
      }
      expect(applied).toBeGreaterThan(0)
    },
    LONG,
  )

  it(
    'cannot be applied while the text has problems, as that would lose what is written',
    async () => {
      const whole = bench.text()
      await openStage(page, 'Track')
      await page.locator('.changes li').first().waitFor(WAIT)
      await page.getByRole('button', { name: 'Text', exact: true }).click()
      await page
        .getByRole('textbox', { name: /^Text of/ })
        .fill(whole.replace(/^scale:.*/m, 'scale: nonsense'))
      await page.locator('.changes li button:disabled').first().waitFor(WAIT)
      expect(await page.locator('.changes li button:enabled').count()).toBe(0)
      await page.getByRole('button', { name: /^Undo/ }).click()
      await page.locator('.changes li button:enabled').first().waitFor(WAIT)
    },
    LONG,
  )
})
