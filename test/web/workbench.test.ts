/// <reference lib="dom" />
/** The workbench in the real browser: each stage's main act, both sides changing, and who uses neither mouse nor eyes. */
import { readFileSync, writeFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { type Bench, launch, missing, openPage, openStage, serveExample } from './browser.js'

const LONG = 120_000
const faults: string[] = []
let browser: Browser
let bench: Bench
let page: Page

const go = (stage: string) => openStage(page, stage)
const button = (name: string | RegExp) => page.getByRole('button', { name })
const says = (text: string | RegExp) => page.getByText(text).first().waitFor()

describe.skipIf(missing)('the workbench', () => {
  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('exhibition')
    page = await openPage(browser, bench.workbench.url, faults)
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
  })

  it('keeps the token out of the address', () => {
    expect(page.url()).not.toContain('token')
  })

  it(
    'a number changed in the form goes to the file with its comments, and all that follows changes',
    async () => {
      await go('Controller')
      const before = bench.text()
      await page.locator('summary', { hasText: 'outputs' }).click()
      await page.locator('.group .group .group > summary', { hasText: 'main' }).click()
      const field = page.getByLabel('half of a one bit', { exact: true })
      await field.fill('63 us')
      await page.locator('a.stage', { hasText: 'Controller' }).getByText('broken').waitFor()
      await says('saved')
      await expect.poll(() => bench.text()).toBe(before.replace('oneHalf: 58 us', 'oneHalf: 63 us'))
      await page.keyboard.press('Control+z')
      await page.locator('a.stage', { hasText: 'Controller' }).getByText('met').waitFor()
      await expect.poll(() => bench.text()).toBe(before)
      await expect.poll(() => field.inputValue()).toBe('58 us')
    },
    LONG,
  )

  it(
    'what is wrong is said at the field, in the list and at the line, until it is repaired',
    async () => {
      const field = page.getByLabel('half of a one bit', { exact: true })
      await field.fill('58 uz')
      await page.locator('.field.wrong').getByText('expected a number with a unit').waitFor()
      expect(await field.getAttribute('aria-invalid')).toBe('true')
      await page.locator('.problems').getByRole('button').first().click()
      const area = page.getByRole('textbox', { name: /^Text of/ })
      const selected = await area.evaluate((e) => {
        const t = e as HTMLTextAreaElement
        return t.value.slice(0, t.selectionStart).split('\n').length
      })
      expect(await page.locator('.gutter .marked').innerText()).toBe(`✗${selected}`)
      await area.fill((await area.inputValue()).replace('58 uz', '58 us'))
      await says('no problems')
      await button('Form').click()
    },
    LONG,
  )

  it(
    'completions are those of the text as it is, for a key that comes right after a letter, too',
    async () => {
      await button(/^Text$/).click()
      const area = page.getByRole('textbox', { name: /^Text of/ })
      const before = await area.inputValue()
      const chosen = () =>
        page.evaluate(() => {
          const at = document.activeElement
          return at?.closest('.offers') ? (at.firstChild?.textContent ?? '') : ''
        })
      // In one task: nothing rests between the letter and the key.
      await area.evaluate((element) => {
        const field = element as HTMLTextAreaElement
        field.focus()
        const at = field.value.indexOf('chip: ') + 'chip: '.length
        const end = field.value.indexOf('\n', at)
        field.setRangeText('atmega', at, end, 'end')
        field.dispatchEvent(new Event('input', { bubbles: true }))
        field.dispatchEvent(
          new KeyboardEvent('keydown', { key: ' ', ctrlKey: true, bubbles: true, cancelable: true }),
        )
      })
      expect(await chosen()).toMatch(/^atmega/)
      const name = await chosen()
      await page.keyboard.press('Enter')
      await expect.poll(() => area.inputValue()).toContain(`chip: ${name}\n`)
      await area.fill(before)
      await says('no problems')
      await button('Form').click()
    },
    LONG,
  )

  it(
    'a change on disk shows; where both changed, both texts can be had',
    async () => {
      await says(/^saved$/)
      writeFileSync(bench.design, bench.text().replace('scale: H0', 'scale: N'))
      await says(/changed by another program/)
      await go('Proof')
      await says(/scale N\./)
      const name = page.getByLabel('name', { exact: true })
      // Whichever is quicker, the page does not save before the other program does.
      let written = () => {}
      const other = new Promise<void>((done) => {
        written = done
      })
      await page.route(/\/api\//, async (route) => {
        if (route.request().method() === 'PUT') await other
        await route.continue()
      })
      await name.fill('Mine')
      writeFileSync(bench.design, bench.text().replace('scale: N', 'scale: TT'))
      written()
      await page.getByRole('alert').getByText('Another program changed the file').waitFor()
      await page.unroute(/\/api\//)
      expect(bench.text()).toContain('scale: TT')
      await button('Keep my version').click()
      await expect.poll(() => bench.text()).toContain('name: Mine')
      expect(bench.text()).toContain('scale: N')
      await button(/^Undo/).click()
      await expect.poll(() => bench.text()).toContain('scale: TT')
      expect(bench.text()).toContain('(invented)')
    },
    LONG,
  )

  it(
    'a cell of the proof opens its reason and its line, and the proof can be taken along',
    async () => {
      await page.getByRole('button', { name: /preamble, calculated/ }).click()
      await page.locator('tr.opened').getByText('calculated').first().waitFor()
      const coming = page.waitForEvent('download')
      await button('JSON').click()
      const path = await (await coming).path()
      expect(JSON.parse(readFileSync(path, 'utf8')).kind).toBe('proof')
      await page
        .locator('tr.opened')
        .getByRole('button', { name: /^Show line/ })
        .first()
        .click()
      const line = await page.getByRole('textbox', { name: /^Text of/ }).evaluate((e) => {
        const t = e as HTMLTextAreaElement
        return t.value.slice(t.selectionStart, t.selectionEnd)
      })
      expect(line).toContain('preamble: 16')
      await button('Form').click()
    },
    LONG,
  )

  it(
    'firmware runs, and what it shows joins the proof',
    async () => {
      await go('Controller')
      await page.getByLabel('Simulated time', { exact: true }).fill('200 ms')
      await button(/^Run firmware/).click()
      await says('What the run showed')
      await go('Proof')
      const cell = page.getByRole('button', { name: /met.*half of a one bit, simulated/ })
      await cell.waitFor()
      // What a run showed under other limits says nothing under these.
      await page.getByLabel('edition').fill('2006')
      await cell.waitFor({ state: 'detached' })
      await says(/is left out; run it again/)
      await page.keyboard.press('Control+z')
      await cell.waitFor()
    },
    LONG,
  )

  it(
    'a dropped capture is judged, drawn and joins the proof; a spoiled one says what was expected',
    async () => {
      await go('Waveform')
      const input = page.locator('.drop input[type=file]')
      await input.setInputFiles(join(bench.folder, 'captures/main.vcd.gz'))
      const canvas = page.locator('.waveform canvas')
      await canvas.waitFor()
      await expect
        .poll(() => canvas.getAttribute('aria-label'), { timeout: 25_000 })
        .toMatch(/20196 edges, 204 packets/)
      await canvas.focus()
      const before = await page.locator('.waveform .bar').innerText()
      await page.keyboard.press('ArrowUp')
      await expect.poll(() => page.locator('.waveform .bar').innerText()).not.toBe(before)
      await go('Proof')
      await page.getByRole('button', { name: /half of a one bit, measured/ }).waitFor()
      await go('Waveform')
      await input.setInputFiles({ name: 'no.csv', mimeType: 'text/csv', buffer: Buffer.from('a,b\nx,y\n') })
      await page.locator('.notice.broken').getByText('no.csv').waitFor()
    },
    LONG,
  )

  it(
    'a packet is made and read',
    async () => {
      await go('Packets')
      await page.getByLabel('address', { exact: true }).fill('47')
      await says('locomotive 47: forward step 12 of 28')
      await page.locator('.byte').nth(1).getByLabel('direction').selectOption('reverse')
      await says('locomotive 47: reverse step 12 of 28')
      // A bit that is turned in the figure: bit 0 of the address; the error byte follows.
      await page
        .locator('.byte')
        .first()
        .getByRole('button', { name: /^1\s*, bit 0, field A/ })
        .click()
      await says('locomotive 46: reverse step 12 of 28')
      expect(await page.getByLabel('Bytes, hexadecimal').inputValue()).toBe('2E 57 79')
      await button('Read bytes').click()
      await page.getByLabel('Bytes, hexadecimal').fill('FF 00 FF')
      await says(/idle/i)
    },
    LONG,
  )

  it.each([
    ['Driver', 'District main: trip time'],
    ['Track', 'What a short draws'],
    ['Trains', 'From arrival to the first packet heard'],
  ])(
    '%s shows its drawings',
    async (stop, title) => {
      await go(stop)
      const image = page.locator(`img[alt^="${title}"]`)
      if (stop === 'Track') await page.getByText('Drawings to export').click()
      const choice = page.locator('.deck-choice select')
      // Drawings come one after the other; those of the stage before may still be there.
      await choice.locator('option', { hasText: title }).first().waitFor({ state: 'attached' })
      const names = await choice.locator('option').allInnerTexts()
      await choice.selectOption(names.find((name) => name.startsWith(title))!)
      await image.waitFor()
      await expect
        .poll(() => image.evaluate((i) => (i as HTMLImageElement).naturalWidth))
        .toBeGreaterThan(300)
    },
    LONG,
  )

  it(
    'the bench runs its scenarios, and what they show joins the proof',
    async () => {
      await go('Bench')
      await button('Run the bench').click()
      await page.getByRole('img', { name: /^short in main: current of main/ }).waitFor({ timeout: 60_000 })
      await button('Around the short').click()
      await says(/a short at the weakest place of main is off after/)
      await go('Proof')
      await page
        .getByRole('button', { name: /: a short trips in time, simulated$/ })
        .first()
        .click()
      await page
        .locator('tr.opened')
        .getByText(/is off after/)
        .first()
        .waitFor()
    },
    LONG,
  )

  it(
    'a section of the map is shorted, and a point of it dragged into the file',
    async () => {
      await go('Track')
      await page.getByRole('button', { name: /^Short south\.3/ }).focus()
      await page.keyboard.press('Enter')
      await page.getByText(/A short on south\.3 .* draws .* off after/).waitFor()
      await page.getByLabel('Tool', { exact: true }).selectOption({ label: 'Move vertices' })
      const before = bench.text()
      const handle = page.getByRole('button', { name: /^Point 2 of halt/ })
      const box = (await handle.boundingBox())!
      await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2)
      await page.mouse.down()
      await page.mouse.move(box.x + 60, box.y + 20, { steps: 4 })
      await page.mouse.up()
      await expect.poll(() => bench.text()).not.toBe(before)
      const changed = bench
        .text()
        .split('\n')
        .filter((line, i) => line !== before.split('\n')[i])
      expect(changed).toHaveLength(1)
      expect(changed[0]).toMatch(/points: \[\[4130, 850\], \[\d+, \d+\]\]/)
      // What the map says of it covers nothing that someone points at.
      await page.getByRole('button', { name: /^Point 2 of halt/ }).focus()
      await page.keyboard.press('ArrowRight')
      const news = page.locator('p.news')
      const over = (await news.boundingBox())!
      await page.mouse.move(over.x + over.width / 2, over.y + over.height / 2)
      await news.waitFor({ state: 'detached' })
      expect(await page.locator('p.unseen[role="status"]').textContent()).toContain('Point 2 of halt')
      await page.getByLabel('Tool', { exact: true }).selectOption({ label: 'Test a short' })
    },
    LONG,
  )

  it(
    'has no fault that axe finds, at any stage, by day and by night, wide and narrow',
    async () => {
      const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
      await page.evaluate(axe)
      const found: string[] = []
      const all = ['Proof', 'Controller', 'Driver', 'Track', 'Trains', 'Packets', 'Waveform', 'Bench']
      const looks = [
        { width: 1440, height: 900, colorScheme: 'light', stops: ['Proof', 'Controller', 'Waveform'] },
        { width: 768, height: 1024, colorScheme: 'light', stops: ['Proof'] },
        { width: 390, height: 844, colorScheme: 'dark', stops: all },
      ] as const
      for (const { width, height, colorScheme, stops } of looks) {
        await page.setViewportSize({ width, height })
        await page.emulateMedia({ colorScheme })
        for (const stop of stops) {
          await go(stop)
          await page.locator('.consequences h3, .matrix, .packet, .run').first().waitFor()
          const faults = await page.evaluate(async () => {
            const { violations } = await (
              globalThis as unknown as {
                axe: { run(o: object): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> }
              }
            ).axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice'] })
            return violations.map((v) => `${v.id}: ${v.nodes[0]?.html.slice(0, 160)}`)
          })
          found.push(...faults.map((f) => `${stop} ${colorScheme}: ${f}`))
          const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
          if (wide > 0) found.push(`${stop} at ${width}: ${wide} px wider than the screen`)
        }
      }
      expect(found).toEqual([])
    },
    LONG,
  )

  it('raised no fault of its own', () => {
    expect(faults).toEqual([])
  })
})
