/// <reference lib="dom" />
/** What the design names is run by itself, again after a change, and is still there after a reload. */
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { type Bench, launch, missing, openPage, openStage, serveExample } from './browser.js'

const LONG = 180_000
/** Long enough for a step of a test on a busy machine, and short enough for the step to be named when it fails. */
const SOON = LONG / 4
const faults: string[] = []
let browser: Browser
let bench: Bench
let page: Page

const states = () =>
  page
    .locator('.run-line:not([data-run=bench])')
    .evaluateAll((all) => all.map((e) => (e as HTMLElement).dataset.state))
const settled = () => expect.poll(states, { timeout: LONG }).toEqual(['up to date', 'up to date'])

describe.skipIf(missing)('runs by themselves', () => {
  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('flawed')
    page = await openPage(browser, bench.workbench.url, faults, true)
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
  })

  it(
    'fill in what the design names, and a reload keeps it',
    async () => {
      await settled()
      await page.getByRole('button', { name: /half of a one bit, simulated/ }).waitFor()
      await page.getByRole('button', { name: /half of a one bit, measured/ }).waitFor()
      // Runs that start after the reload would be seen as running or not run at some moment.
      await page.waitForTimeout(1000)
      await page.addInitScript(() => {
        const seen = new Set<string>()
        Object.assign(globalThis, { seenStates: seen })
        new MutationObserver(() => {
          for (const e of document.querySelectorAll<HTMLElement>('.run-line')) seen.add(e.dataset.state!)
        }).observe(document, { subtree: true, childList: true, attributes: true })
      })
      await page.reload()
      await settled()
      const seen = await page.evaluate(() => [
        ...(globalThis as unknown as { seenStates: Set<string> }).seenStates,
      ])
      expect(seen).not.toContain('running')
    },
    LONG,
  )

  it(
    'are out of date once what they depend on has changed, and are run again',
    async () => {
      await page.getByLabel('Run automatically after changes').uncheck()
      await page.getByLabel('edition').fill('2006')
      await expect.poll(states).toEqual(['out of date', 'out of date'])
      await page
        .getByText(/is left out; run it again/)
        .first()
        .waitFor()
      await page.getByLabel('Run automatically after changes').check()
      await settled()
    },
    LONG,
  )

  it(
    'are marked on every stage, with the figures, while the text cannot be read',
    async () => {
      await page.getByRole('button', { name: 'Text', exact: true }).click()
      const area = page.getByRole('textbox', { name: /^Text of/ })
      const text = await area.inputValue()
      await area.fill(text.replace(/^scale: .*/m, 'scale: nonsense'))
      for (const stage of ['Controller', 'Driver', 'Track', 'Packets', 'Waveform', 'Proof']) {
        await openStage(page, stage)
        await page.getByText(/comes from its last valid version/).waitFor()
        await page.locator('a.stage.stale').first().waitFor()
      }
      await openStage(page, 'Driver')
      const coming = page.waitForEvent('download')
      await page
        .getByRole('button', { name: /^SVG of/ })
        .first()
        .click()
      const { readFileSync } = await import('node:fs')
      expect(readFileSync(await (await coming).path(), 'utf8')).toMatch(/OUT OF DATE/)
      await area.fill(text)
      await page.getByText('no problems').waitFor()
    },
    LONG,
  )

  it('raised no fault of its own', () => {
    expect(faults).toEqual([])
  })
})

describe.skipIf(missing)('the bench', () => {
  const faults: string[] = []
  let browser: Browser
  let bench: Bench
  let page: Page
  const state = () => page.locator('.run-line[data-run=bench]').getAttribute('data-state')
  const focused = () => page.evaluate(() => document.activeElement?.textContent ?? '')

  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('two-tracks')
    page = await openPage(browser, bench.workbench.url, faults, 'with the bench')
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
  })

  it(
    'runs by itself after everything else, shows how far it is, and a reload keeps it',
    async () => {
      await openStage(page, 'Bench')
      await expect.poll(state, { timeout: LONG }).toBe('running')
      // The others are there before it starts.
      expect(
        await page
          .locator('.run-line:not([data-run=bench])')
          .evaluateAll((all) => all.map((e) => (e as HTMLElement).dataset.state)),
      ).not.toContain('not run')
      await page.locator('.run-line progress').waitFor()
      await expect.poll(state, { timeout: LONG }).toBe('up to date')
      await page.getByRole('group', { name: 'Scenarios' }).locator('li').first().waitFor()
      await page.waitForTimeout(1000)
      await page.reload()
      await expect.poll(state, { timeout: LONG }).toBe('up to date')
      await page.getByRole('group', { name: 'Scenarios' }).locator('li').first().waitFor()
    },
    LONG,
  )

  it(
    'lends the focus to Stop while it runs, gives it back, and stops even while it loads the firmware',
    async () => {
      await page.route(/\/api\/file/, async (route) => {
        await new Promise((done) => setTimeout(done, 1000))
        await route.continue()
      })
      await page.getByRole('button', { name: 'Run the bench' }).focus()
      await page.keyboard.press('Enter')
      await expect.poll(focused, { timeout: SOON }).toMatch(/^Stop/)
      await page.keyboard.press('Enter')
      await expect.poll(focused, { timeout: SOON }).toBe('Run the bench')
      await expect.poll(state, { timeout: SOON }).toBe('stopped early')
      await page.unroute(/\/api\/file/)
    },
    LONG,
  )

  it(
    'begins again after a change of the design, and keeps nothing of what it was stopped in',
    async () => {
      const page = await openPage(browser, bench.workbench.url, faults, 'with the bench')
      await openStage(page, 'Bench')
      const line = page.locator('.run-line[data-run=bench]')
      const state = () => line.getAttribute('data-state')
      await expect.poll(state, { timeout: SOON }).toBe('running')
      // Between the two runs it may be seen for a moment only.
      await line.evaluate((element) => {
        const seen = [element.dataset.state!]
        Object.assign(globalThis, { seenStates: seen })
        new MutationObserver(() => {
          const now = document.querySelector<HTMLElement>('.run-line[data-run=bench]')?.dataset.state
          if (now !== undefined && now !== seen.at(-1)) seen.push(now)
        }).observe(document, { subtree: true, childList: true, attributes: true })
      })
      const seen = () => page.evaluate(() => (globalThis as unknown as { seenStates: string[] }).seenStates)
      await page.getByLabel('air around the station').fill('31 C')
      await expect.poll(seen, { timeout: SOON }).toEqual(['running', 'not run', 'running'])
      await line.getByRole('button', { name: 'Stop' }).click()
      await expect.poll(state, { timeout: SOON }).toBe('stopped early')
      await page.context().close()
    },
    LONG,
  )

  it('raised no fault of its own', () => expect(faults).toEqual([]))
})
