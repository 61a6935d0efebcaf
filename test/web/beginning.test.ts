/// <reference lib="dom" />
/**
 * From an empty folder to a proof in the real browser: by pointer alone, by keyboard alone, and on a phone. The file never
 * holds a text that the reader of design files would not have.
 */
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { type Bench, launch, missing, saved, serveFolder } from './browser.js'

const LONG = 240_000
const WAIT = { timeout: 90_000 }

describe.skipIf(missing)('the beginning of a design', () => {
  let browser: Browser
  const faults: string[] = []

  beforeAll(async () => {
    browser = await launch()
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    expect(faults).toEqual([])
  })

  /** Runs in an empty folder, and looks at every text that the file has meanwhile. */
  async function fromNothing(
    view: { width: number; height: number; hasTouch?: boolean },
    act: (page: Page, bench: Bench) => Promise<void>,
  ): Promise<string> {
    const folder = mkdtempSync(join(tmpdir(), 'halfbit-empty-'))
    writeFileSync(join(folder, 'halfbit.yaml'), '')
    const bench = await serveFolder(folder)
    const seen = new Set<string>()
    const watch = setInterval(() => seen.add(readFileSync(bench.design, 'utf8')), 50)
    const { hasTouch, ...viewport } = view
    const context = await browser.newContext({ viewport, hasTouch: hasTouch ?? false })
    try {
      await context.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
      const page = await context.newPage()
      page.on('pageerror', (error) => faults.push(String(error)))
      page.setDefaultTimeout(60_000)
      await page.goto(bench.workbench.url)
      await page.locator('.begin-form').waitFor()
      await act(page, bench)
      await page.locator('.matrix tbody tr').first().waitFor()
      await expect.poll(() => bench.text(), WAIT).not.toBe('')
      await saved(page)
      const text = bench.text()
      seen.add(text)
      for (const one of seen) if (one !== '') expect(() => loadDesign(one)).not.toThrow()
      expect(await page.locator('body').textContent()).not.toContain('has a problem')
      return text
    } finally {
      clearInterval(watch)
      await context.close()
      await bench.end()
    }
  }

  const settled = (page: Page) => page.locator('.begin-count .met').waitFor()
  const metCount = async (page: Page) => Number(await page.locator('.begin-count .met b').textContent())

  it(
    'comes to a proof by pointer alone, and the proof grows from step to step',
    async () => {
      let before = -1
      const text = await fromNothing({ width: 1440, height: 900 }, async (page) => {
        await page.locator('.begin-cards label', { hasText: 'N, 1:160' }).click()
        await page.locator('.begin-acts .main').click()
        await settled(page)
        await page.locator('.begin-acts .main').click()
        await settled(page)
        const two = await metCount(page)
        expect(two).toBeGreaterThan(before)
        before = two
        await page.locator('.begin-acts .main').click()
        await page.locator('.begin-cards label', { hasText: 'shelf' }).click()
        await settled(page)
        await page.locator('.begin-plan svg').waitFor()
        const four = await metCount(page)
        expect(four).toBeGreaterThan(before)
        await page.locator('.begin-acts .main').click()
        await page.locator('.begin-acts .main').click()
        await settled(page)
        const six = await metCount(page)
        await page.locator('.begin-acts .main:enabled').click()
        await page.locator('.matrix tbody tr').first().waitFor()
        // The proof has no fewer than what the steps counted.
        await expect.poll(() => page.locator('.proof .counts').textContent(), WAIT).toContain(`${six} met`)
      })
      const { design } = loadDesign(text)
      expect(design.scale).toBe('N')
      expect(Object.keys(design.track!.sections)).toContain('stick')
    },
    LONG,
  )

  it(
    'comes to a proof by keyboard alone',
    async () => {
      const text = await fromNothing({ width: 1440, height: 900 }, async (page) => {
        const focusOn = async (selector: string) => {
          for (let i = 0; i < 80; i++) {
            if (await page.evaluate((s) => document.activeElement?.matches(s) ?? false, selector)) return
            await page.keyboard.press('Tab')
          }
          throw new Error(`Tab never reaches ${selector}`)
        }
        await focusOn('input[name="scale"]')
        // From H0 to TT.
        await page.keyboard.press('ArrowLeft')
        for (let i = 1; i < 6; i++) {
          // Each answer is worked out first: until then nobody can move on.
          await page.locator('.begin-acts .main:enabled').waitFor()
          await focusOn('.begin-acts .main')
          await page.keyboard.press('Enter')
          await page.waitForFunction(
            (n) => document.querySelector('.title p')?.textContent?.includes(`Step ${n} `),
            i + 1,
          )
          // Who moves on hears where: the focus is on the step's name.
          await page.waitForFunction(() => document.activeElement?.id === 'begin-title')
        }
        await page.locator('.begin-acts .main:enabled').waitFor()
        await focusOn('.begin-acts .main')
        await page.keyboard.press('Enter')
        await page.waitForFunction(() => document.activeElement?.id === 'stage-title')
        // A bench note: the stage by its name, the note by its fields.
        await page.keyboard.press('g')
        await page.keyboard.type('book')
        await page.keyboard.press('Enter')
        await page.locator('main[data-stage="book"]').waitFor()
        await page.waitForFunction(() => document.activeElement?.id === 'stage-title')
        const tabTo = async (words: string) => {
          const name = () =>
            page.evaluate(() => {
              const e = document.activeElement as HTMLInputElement | null
              return (
                e?.getAttribute('aria-label') ??
                e?.labels?.[0]?.textContent ??
                e?.textContent ??
                ''
              ).trim()
            })
          for (let i = 0; i < 60; i++) {
            if ((await name()) === words) return
            await page.keyboard.press('Tab')
          }
          throw new Error(`Tab never reaches ${words}`)
        }
        await tabTo('Add bench notes')
        await page.keyboard.press('Enter')
        await tabTo('readings')
        await page.keyboard.press('Enter')
        await tabTo('who read it')
        await page.keyboard.type('A. Builder')
        await tabTo('Add reading')
        await page.keyboard.press('Enter')
        await page.getByText('Not added: enter the voltage that was read').waitFor()
        // Back past the three fields behind it.
        for (let i = 0; i < 4; i++) await page.keyboard.press('Shift+Tab')
        await tabTo('voltage')
        await page.keyboard.type('14.6 V')
        await tabTo('Add reading')
        await page.keyboard.press('Enter')
        await page.getByText('Reading 1 added.').waitFor()
        await page.keyboard.press('Escape')
        await page.keyboard.press('g')
        await page.keyboard.type('proof')
        await page.keyboard.press('Enter')
      })
      const { design } = loadDesign(text)
      expect(design.scale).toBe('TT')
      expect(design.benchNotes!.readings).toMatchObject([
        { reading: 'track', of: 'main', voltage: 14.6, by: 'A. Builder' },
      ])
    },
    LONG,
  )

  it(
    'comes to a proof on a phone, without sideways scrolling',
    async () => {
      await fromNothing({ width: 390, height: 844, hasTouch: true }, async (page) => {
        for (let i = 0; i < 5; i++) {
          await settled(page)
          expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390)
          // The row of steps, and one of cards, show what is chosen.
          for (const one of await page.locator('.begin-steps li.now, .begin-cards label.chosen').all()) {
            const { x, width } = (await one.boundingBox())!
            expect(x).toBeGreaterThanOrEqual(0)
            expect(x + width).toBeLessThanOrEqual(390)
          }
          await page.locator('.begin-acts .main').tap()
        }
        await page.locator('.begin-acts .main:enabled').tap()
      })
    },
    LONG,
  )

  it(
    'refuses what cannot be sound with its reason, and one button takes what can',
    async () => {
      await fromNothing({ width: 1440, height: 900 }, async (page) => {
        await page.locator('.begin-steps button').nth(2).click()
        await page.locator('.begin-cards label', { hasText: 'A4953' }).click()
        await page.getByRole('alert').getByRole('button').waitFor()
        expect(await page.getByRole('alert').textContent()).toMatch(
          /No design works with these answers: .*delays/,
        )
        await page.locator('.begin-steps button').nth(5).click()
        expect(await page.locator('.begin-acts .main').isDisabled()).toBe(true)
        await page.getByRole('alert').getByRole('button').click()
        await page.locator('.begin-acts .main:enabled').click()
      })
    },
    LONG,
  )

  it(
    'has nothing that the accessibility rules forbid, in light and dark, wide and narrow',
    async () => {
      const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
      for (const [width, colorScheme] of [
        [1440, 'light'],
        [390, 'dark'],
      ] as const) {
        const folder = mkdtempSync(join(tmpdir(), 'halfbit-empty-'))
        writeFileSync(join(folder, 'halfbit.yaml'), '')
        const bench = await serveFolder(folder)
        const context = await browser.newContext({
          viewport: { width, height: 844 },
          colorScheme,
          bypassCSP: true,
        })
        try {
          await context.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
          const page = await context.newPage()
          await page.goto(bench.workbench.url)
          await page.locator('.begin-form').waitFor()
          await page.evaluate(axe)
          for (const at of [0, 2, 3, 4]) {
            await page.locator('.begin-steps button').nth(at).click()
            await page.locator('.begin-count .met').waitFor(WAIT)
            const found = await page.evaluate(async () => {
              const { violations } = await (
                globalThis as unknown as {
                  axe: { run(): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> }
                }
              ).axe.run()
              return violations.map((v) => `${v.id}: ${v.nodes[0]!.html.slice(0, 160)}`)
            })
            expect(found).toEqual([])
          }
        } finally {
          await context.close()
          await bench.end()
        }
      }
    },
    LONG,
  )
})
