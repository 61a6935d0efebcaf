/// <reference lib="dom" />
/** The fault finder in the real browser: by pointer and by keyboard, light and dark, on a desk and on a phone. */
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { type Bench, launch, missing, openPage, serveExample, serveFolder } from './browser.js'

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
      expect(asked).toMatch(/^Next reading: .+, .+/)
      await expect.poll(() => page.locator('.find-mark.next').count()).toBe(1)
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
      const place = /^Next reading: (.+), /.exec(await page.locator('#next-reading').innerText())![1]
      // The picture of the reading before stays until the new one is drawn.
      await page.locator(`.fault-finder figure img[alt*="Wiring around ${place}."]`).waitFor()
    },
    LONG,
  )

  it(
    'takes a dropped capture as readings, and no evidence from it',
    async () => {
      const proof = () => page.locator('nav.line a', { hasText: 'Proof' }).innerText()
      const before = await proof()
      // 40 packets to all decoders with a prescaler of half the clock: ones of 29 us, zeros of 50 us.
      let us = 0
      let level = 0
      const rows = ['time (us),main', '0,0']
      const half = (long: number) => {
        us += long
        level = 1 - level
        rows.push(`${us},${level}`)
      }
      const bit = (isOne: boolean) => {
        half(isOne ? 29 : 50)
        half(isOne ? 29 : 50)
      }
      for (let p = 0; p < 40; p++) {
        for (let i = 0; i < 17; i++) bit(true)
        for (const byte of [0xff, 0x00, 0xff]) {
          bit(false)
          for (let i = 7; i >= 0; i--) bit(((byte >> i) & 1) === 1)
        }
        bit(true)
      }
      await page.locator('details.taken summary').click()
      await page.locator('details.taken input[type=file]').setInputFiles({
        name: 'faulty.csv',
        mimeType: 'text/csv',
        buffer: Buffer.from(`${rows.join('\n')}\n`),
      })
      await page.locator('.readings li', { hasText: /^output main half of a one 29/ }).waitFor()
      await settled()
      expect(await page.locator('.ranking tbody tr').first().innerText()).toMatch(/clock|prescaler/)
      expect(await proof()).toBe(before)
      await page.getByRole('button', { name: 'Start over' }).click()
    },
    LONG,
  )

  it(
    'weighs the bench notes of the design, and says which it does not',
    async () => {
      const folder = mkdtempSync(join(tmpdir(), 'halfbit-notes-'))
      writeFileSync(
        join(folder, 'halfbit.yaml'),
        `${bench.text()}
benchNotes:
  instruments:
    good meter: { kind: rms, accuracy: 0.5 %, digits: 0.02, bandwidth: 100 kHz }
    watch: { kind: stopwatch }
  readings:
    - { reading: track, of: shelf, at: mill, voltage: 9.4 V, with: good meter, by: A, on: 2026-05-02 }
    - { reading: track, of: shelf, at: mill, voltage: 13 V, with: good meter, by: A, on: 2025-01-01 }
    - { reading: trip, of: shelf, time: 2 s, with: watch, by: A, on: 2026-05-02 }
`,
      )
      const noted = await serveFolder(folder)
      const own = await openPage(browser, noted.workbench.url, faults)
      await own.evaluate(() => {
        location.hash = '/find'
      })
      await own.locator('details.taken summary').click({ timeout: 60_000 })
      await own.getByLabel(/Use the design’s bench notes \(3\)/).check()
      const list = own.locator('.readings.noted li')
      await list.filter({ hasText: 'track mill track volts 9.4 V rms meter' }).waitFor()
      expect(await list.allInnerTexts()).toContainEqual(
        expect.stringMatching(/the fault finder has no such reading/),
      )
      await own.getByLabel('Taken since').selectOption('2026-05-02')
      await list.filter({ hasText: '13 V' }).waitFor({ state: 'detached' })
      expect(await list.filter({ hasText: '9.4 V' }).count()).toBe(1)
      await own.context().close()
      await noted.end()
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
