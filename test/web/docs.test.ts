/// <reference lib="dom" />
/** The documentation in the real browser: from a host and from a disk, searched, narrow, light and dark. */
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import { pathToFileURL } from 'node:url'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { CLAUSE_IDS } from '../../src/standard/index.js'
import { assets, launch, missing, serveExample, serveStatic } from './browser.js'

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')

describe.skipIf(missing)('the documentation', () => {
  let browser: Browser
  let site: { url: string; close(): void }
  beforeAll(async () => {
    browser = await launch()
    site = await serveStatic()
  })
  afterAll(async () => {
    await browser?.close()
    site?.close()
  })

  async function open(url: string, faults: string[], options = {}): Promise<Page> {
    const page = await browser.newPage(options)
    page.on('pageerror', (error) => faults.push(String(error)))
    page.on('console', (message) => {
      if (message.type() === 'error' && !/favicon|404/.test(message.text())) faults.push(message.text())
    })
    await page.goto(url)
    return page
  }

  it.each(['a host', 'a disk'])('finds the page of a clause by searching, from %s', async (from) => {
    const faults: string[] = []
    const base = from === 'a host' ? `${site.url}docs/` : `${pathToFileURL(join(assets, 'docs'))}/`
    const page = await open(`${base}how-to/second-controller.html`, faults)
    await page.getByLabel('Search').fill('coin across')
    await page.locator('#found a').first().waitFor()
    await page.getByLabel('Search').fill('short-trip')
    await page.locator('#found').getByRole('link', { name: 'short-trip: a short trips in time' }).click()
    await page.getByRole('heading', { name: 'Why it matters' }).waitFor()
    await page.getByRole('link', { name: 'power/short-stays' }).click()
    await page.getByRole('heading', { name: 'power/short-stays' }).waitFor()
    await page.getByLabel('Search').fill('zzzz')
    await page.getByText('No page has "zzzz".').waitFor()
    // The policy in the page refuses whatever is not the site's own.
    await page.evaluate(() => {
      const script = document.createElement('script')
      script.textContent = 'window.ran = true'
      document.head.append(script)
    })
    expect(await page.evaluate(() => 'ran' in window)).toBe(false)
    expect(faults.filter((fault) => !/Content Security Policy/.test(fault))).toEqual([])
    await page.close()
  })

  it('fits 390 px', async () => {
    const page = await open(`${site.url}docs/index.html`, [], { viewport: { width: 390, height: 844 } })
    for (const name of ['index', 'tutorial', 'clauses/index', 'commands/prove', 'findings', 'method/track']) {
      await page.goto(`${site.url}docs/${name}.html`)
      expect(await page.evaluate(() => document.documentElement.scrollWidth), name).toBeLessThanOrEqual(390)
    }
    await page.close()
  })

  const PAGES = ['index', 'clauses/short-trip', 'how-to/ci-for-firmware']
  it.each(PAGES.flatMap((name) => [[name, 'light'] as const, [name, 'dark'] as const]))(
    '%s is sound to axe, %s',
    { timeout: 180_000 },
    async (name, colorScheme) => {
      const faults: string[] = []
      const page = await open(`${site.url}docs/${name}.html`, faults, {
        colorScheme,
        bypassCSP: true,
        viewport: { width: 390, height: 844 },
      })
      await page.evaluate(AXE)
      const { violations } = await page.evaluate(() =>
        (
          window as unknown as {
            axe: { run(): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> }
          }
        ).axe.run(),
      )
      expect(violations.map((v) => `${v.id} ${v.nodes[0]?.html}`)).toEqual([])
      expect(faults).toEqual([])
      await page.close()
    },
  )

  it('has a page for every clause, which the workbench leads to', async () => {
    for (const id of CLAUSE_IDS)
      expect(readFileSync(join(assets, `docs/clauses/${id}.html`), 'utf8')).toContain('Why it matters')
    const bench = await serveExample('shelf')
    try {
      const page = await browser.newPage({ viewport: { width: 1440, height: 900 } })
      await page.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
      await page.goto(bench.workbench.url)
      await page.locator('nav.line').waitFor()
      await page.evaluate(() => {
        location.hash = '/driver'
      })
      const link = page.getByRole('link', { name: /^What .* means/ })
      await link.waitFor()
      const [shown] = await Promise.all([page.waitForEvent('popup'), link.click()])
      await shown.getByRole('heading', { name: 'What it means' }).waitFor()
      expect(new URL(shown.url()).pathname).toMatch(/^\/docs\/clauses\/[a-z-]+\.html$/)
      await page.close()
    } finally {
      await bench.end()
    }
  })
})
