/// <reference lib="dom" />
/** The build book and the published pages in the real browser: sound to axe, light and dark, without a network, and on paper. */
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { pathToFileURL } from 'node:url'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { makeSite } from '../../src/book/index.js'
import { bookOf, loadedExample } from '../book/made.js'
import { launch, missing } from './browser.js'

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
const PAGES = ['index', 'book', 'guide', 'proof']
/** A4 at 96 pixels an inch, margins of 14 mm; on its side margins of 12 mm (ISO 216). */
const PAPER_PX = { upright: ((210 - 28) / 25.4) * 96, sideways: ((297 - 24) / 25.4) * 96 }

describe.skipIf(missing).each(['shelf', 'exhibition'])('the published pages of %s', (example) => {
  const folder = mkdtempSync(join(tmpdir(), 'halfbit-site-'))
  let browser: Browser
  beforeAll(async () => {
    const made = bookOf(loadedExample(example))
    const designText = readFileSync(
      new URL(`../../examples/${example}/halfbit.yaml`, import.meta.url),
      'utf8',
    )
    const { files } = makeSite({ made, designText, licence: 'CC0 1.0' }, (text) =>
      new TextEncoder().encode(text),
    )
    for (const [name, text] of files) {
      mkdirSync(dirname(join(folder, name)), { recursive: true })
      writeFileSync(join(folder, name), text)
    }
    browser = await launch()
  })
  afterAll(async () => {
    await browser?.close()
    rmSync(folder, { recursive: true })
  })

  async function open(
    name: string,
    options: object,
  ): Promise<{ page: Page; asked: string[]; faults: string[] }> {
    const page = await browser.newPage(options)
    const asked: string[] = []
    const faults: string[] = []
    page.on('request', (r) => asked.push(r.url()))
    page.on('requestfailed', (r) => faults.push(r.url()))
    page.on('pageerror', (error) => faults.push(String(error)))
    await page.goto(pathToFileURL(join(folder, `${name}.html`)).href)
    return { page, asked, faults }
  }

  it.each(PAGES.flatMap((name) => [[name, 'light'] as const, [name, 'dark'] as const]))(
    '%s is sound to axe and asks nothing of a network, %s',
    { timeout: 180_000 },
    async (name, colorScheme) => {
      const { page, asked, faults } = await open(name, {
        colorScheme,
        viewport: { width: 1100, height: 900 },
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
      expect(asked.filter((url) => !url.startsWith('file:') && !url.startsWith('data:'))).toEqual([])
      expect(faults).toEqual([])
      await page.close()
    },
  )

  it.each(PAGES)(
    '%s is not cut on paper and prints on white, though the screen is dark',
    { timeout: 120_000 },
    async (name) => {
      const { page } = await open(name, {
        colorScheme: 'dark',
        viewport: { width: Math.floor(PAPER_PX.upright), height: 1000 },
      })
      await page.emulateMedia({ media: 'print', colorScheme: 'dark' })
      const { cut, tables, ground, ink } = await page.evaluate(({ sideways }) => {
        const wide = document.documentElement.clientWidth
        const cut: string[] = []
        for (const e of document.querySelectorAll('table, svg, img, p, dl, h1, h2, h3')) {
          // Sheets of the diagram lie on their side.
          const room = e.closest('.sheet') ? sideways : wide
          const box = e.getBoundingClientRect()
          if (box.width > room + 1) cut.push(`${e.tagName} ${Math.round(box.width)} of ${Math.round(room)}`)
        }
        const style = getComputedStyle(document.body)
        return {
          cut,
          tables: document.querySelectorAll('table').length,
          ground: style.backgroundColor,
          ink: style.color,
        }
      }, PAPER_PX)
      expect(cut).toEqual([])
      expect(tables).toBeGreaterThan(name === 'guide' ? -1 : 0)
      expect(ground).toBe('rgb(255, 255, 255)')
      expect(ink).toBe('rgb(0, 0, 0)')
      await page.close()
    },
  )
})
