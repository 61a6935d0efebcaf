/// <reference lib="dom" />
/** Every stage of a whole railroad, at four sizes: its figure is in the first view, and axe finds nothing by day or night. */
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { STAGES } from '../../src/web/stages.js'
import { type Bench, launch, missing, openPage, serveExample } from './browser.js'

const LONG = 300_000

/** What is large at each stage. A stage that is not named here fails. */
const FIGURES: Record<string, string> = {
  controller: '.windows figure svg',
  driver: '.deck .drawing img',
  track: 'svg.track-map',
  trains: '.trains-figure .figure-room svg',
  packets: '.anatomy .bytes',
  waveform: '.waveform canvas',
  // Before its first run the bench says what it would show.
  bench: '.consequences .figures',
  proof: '.proof .matrix',
  book: '.deck .drawing img',
  find: 'svg.find-map',
  // An untouched design has nothing to compare, and says what to do.
  compare: '.compare .empty-figure, .compare .matrix',
}

describe.skipIf(missing)('every stage', () => {
  const faults: string[] = []
  let browser: Browser
  let bench: Bench
  let page: Page
  const open = async (stage: string) => {
    await page.evaluate((id) => {
      location.hash = `/${id}`
    }, stage)
    await page.locator(`main[data-stage="${stage}"]`).waitFor()
    await page
      .locator(FIGURES[stage] ?? `no figure is named for ${stage}`)
      .first()
      .waitFor()
    await page.evaluate(() => scrollTo(0, 0))
  }

  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('exhibition')
    page = await openPage(browser, bench.workbench.url, faults, true)
    await page.locator('main:not([data-busy])').waitFor({ timeout: 240_000 })
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
    expect(faults).toEqual([])
  })

  it.each([
    [1440, 900],
    [1280, 720],
    [768, 1024],
    [390, 844],
  ])(
    'has its figure in the first view at %s by %s',
    async (width, height) => {
      await page.setViewportSize({ width, height })
      const missed: string[] = []
      for (const { id } of STAGES) {
        await open(id)
        const box = (await page.locator(FIGURES[id]!).first().boundingBox())!
        const seen = Math.min(height, box.y + box.height) - Math.max(0, box.y)
        // Much of the view is the figure's, or all of a figure that needs less.
        if (seen < Math.min(box.height - 1, 0.35 * height))
          missed.push(`${id}: ${Math.round(seen)} px of ${Math.round(box.height)}, from ${Math.round(box.y)}`)
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
        if (wide > 0) missed.push(`${id}: ${wide} px wider than the view`)
      }
      expect(missed).toEqual([])
    },
    LONG,
  )

  it.each([
    [1440, 900, 'light'],
    [1440, 900, 'dark'],
    [390, 844, 'light'],
    [390, 844, 'dark'],
  ] as const)(
    'has nothing that the accessibility rules forbid at %s by %s, %s',
    async (width, height, colorScheme) => {
      await page.setViewportSize({ width, height })
      await page.emulateMedia({ colorScheme, reducedMotion: 'reduce' })
      await page.evaluate(readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8'))
      const found: string[] = []
      for (const { id } of STAGES) {
        await open(id)
        const said = await page.evaluate(async () => {
          const { violations } = await (
            globalThis as unknown as {
              axe: { run(o: object): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> }
            }
          ).axe.run({
            runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
          })
          return violations.map((v) => `${v.id}: ${v.nodes[0]?.html.slice(0, 160)}`)
        })
        found.push(...said.map((f) => `${id}: ${f}`))
      }
      expect(found).toEqual([])
    },
    LONG,
  )
})
