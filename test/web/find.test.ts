/// <reference lib="dom" />
/** The fault finder in the real browser: by pointer and by keyboard, light and dark, on a desk and on a phone. */
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { type Bench, launch, missing, openPage, serveExample } from './browser.js'

const LONG = 240_000
const faults: string[] = []
let browser: Browser
let bench: Bench
let page: Page

const settled = () => page.locator('.conclusion:not(:text("Calculating"))').waitFor({ timeout: 60_000 })
const enter = async (place: string, quantity: string, value: string) => {
  const form = page.locator('details.find-form:not(.taken)')
  if (!(await form.evaluate((d) => (d as HTMLDetailsElement).open))) await form.locator('summary').click()
  await form.locator('select').nth(0).selectOption(place)
  await form.locator('select').nth(1).selectOption(quantity)
  const field = form.locator('input[type=text]')
  if ((await field.count()) > 0) {
    await field.fill(value)
    await field.press('Enter')
  } else await form.getByRole('button', { name: value, exact: true }).click()
}

describe.skipIf(missing)('the fault finder', () => {
  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('shelf')
    page = await openPage(browser, bench.workbench.url, faults)
    await page.evaluate(() => {
      location.hash = '/find'
    })
    await page.locator('.find-form.next').waitFor({ timeout: 60_000 })
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
  })

  it(
    'asks for a reading, shows where, and ranks an open wire first',
    async () => {
      const asked = await page.locator('#next-reading').innerText()
      expect(asked).toMatch(/^Next reading: .+ at .+/)
      expect(await page.locator('.find-mark.next').count()).toBe(1)
      await enter('feeder mill/A', 'feeder current', '0')
      await page.locator('.readings li').nth(0).waitFor()
      await enter('track mill', 'track volts', '12.9')
      await page.locator('.readings li').nth(1).waitFor()
      await settled()
      expect(await page.locator('.ranking tbody tr').first().innerText()).toContain(
        'wire A of the feeder of mill is open',
      )
      expect(await page.locator('.find-mark.suspect').count()).toBeGreaterThan(0)
    },
    LONG,
  )

  it(
    'refuses what cannot be, with what was expected, and keeps what was entered over a reload',
    async () => {
      await enter('track mill', 'track volts', '900')
      expect(await page.getByRole('alert').innerText()).toMatch(/from 0 to 30/)
      await page.reload()
      await page.locator('.readings li').nth(1).waitFor({ timeout: 60_000 })
      expect(await page.locator('.readings li').count()).toBe(2)
    },
    LONG,
  )

  it(
    'goes by the keyboard alone: a track on the map, then a reading there',
    async () => {
      await settled()
      const map = page.locator('svg.find-map')
      await map.locator('g.track[tabindex="0"]').focus()
      await page.keyboard.press('ArrowRight')
      await page.keyboard.press('Enter')
      const place = await map.locator('g.track[aria-pressed="true"]').getAttribute('aria-label')
      const form = page.locator('details.find-form:not(.taken)')
      await form.locator('input[type=text]').waitFor()
      expect(`Read at ${await form.locator('select').nth(0).inputValue()}`).toBe(place)
      await form.locator('input[type=text]').focus()
      await page.keyboard.type('12.8')
      await page.keyboard.press('Enter')
      await page.locator('.readings li').nth(2).waitFor()
      await page.locator('.readings button').nth(2).focus()
      await page.keyboard.press('Enter')
      await page.waitForFunction(() => document.querySelectorAll('.readings li').length === 2)
    },
    LONG,
  )

  it(
    'shows the part in the wiring diagram that the next reading concerns',
    async () => {
      await page.getByRole('button', { name: 'Start over' }).click()
      await page.locator('.readings').waitFor({ state: 'detached' })
      await settled()
      const place = (await page.locator('#next-reading').innerText()).split(' at ').at(-1)
      // The picture of the reading before stays until the new one is drawn.
      await page.locator(`.fault-finder figure img[alt*="Wiring around ${place}."]`).waitFor()
    },
    LONG,
  )

  it(
    'has no fault that axe finds, and nothing is wider than a phone',
    async () => {
      const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
      await page.evaluate(axe)
      for (const [width, height] of [
        [1440, 900],
        [390, 844],
      ] as const)
        for (const colorScheme of ['light', 'dark'] as const) {
          await page.setViewportSize({ width, height })
          // Colours that are still changing have no contrast of their own.
          await page.emulateMedia({ colorScheme, reducedMotion: 'reduce' })
          await page.waitForTimeout(500)
          const found = await page.evaluate(async () => {
            const { axe } = globalThis as unknown as {
              axe: { run(): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> }
            }
            return (await axe.run()).violations.map((v) => `${v.id}: ${v.nodes[0]?.html}`)
          })
          expect(found, `${width} ${colorScheme}`).toEqual([])
          expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(width)
        }
      expect(faults).toEqual([])
    },
    LONG,
  )
})
