/// <reference lib="dom" />
/** Two sides compared, traffic studied, figures and reports taken along: in the real browser. */
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import { parse } from 'parse5'
import type { Browser, Page } from 'playwright-core'
import { SaxesParser } from 'saxes'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { type Bench, launch, missing, openPage, serveExample } from './browser.js'

const LONG = 180_000
const WAIT = { timeout: 30_000 }
const faults: string[] = []
const examples = new URL('../../examples/', import.meta.url).pathname
let browser: Browser
let bench: Bench
let page: Page

const go = async (stop: string) => {
  await page
    .locator('nav.line')
    .getByRole('link', { name: new RegExp(`^${stop}`) })
    .click()
  await page.getByRole('heading', { level: 2, name: new RegExp(`^${stop}`) }).waitFor()
}
const taken = async (act: () => Promise<void>) => {
  const coming = page.waitForEvent('download')
  await act()
  const download = await coming
  return { name: download.suggestedFilename(), bytes: readFileSync(await download.path()) }
}
const sound = (xml: string) => {
  let text = ''
  const parser = new SaxesParser()
  parser.on('error', (error) => {
    throw error
  })
  parser.on('text', (t) => {
    text += t
  })
  parser.write(xml).close()
  return text
}

describe.skipIf(missing)('comparing, studying, taking along', () => {
  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('exhibition')
    page = await openPage(browser, bench.workbench.url, faults)
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
  })

  it(
    'an untouched design does not differ; a changed scale and an earlier state do, and can be taken along',
    async () => {
      await go('Compare')
      await page.getByText(/^No clause of \d+ differs\.$/).waitFor()
      await page.getByText('No clause differs. Change a number').waitFor()
      await page.getByLabel('scale', { exact: true }).selectOption('N')
      await page.locator('.whole', { hasText: /B against A: .*[1-9]/ }).waitFor()
      expect(await page.locator('.change').first().textContent()).toMatch(/worse|better|margin|other|only/)
      const md = await taken(() => page.getByRole('button', { name: 'Markdown' }).click())
      expect(md.bytes.toString()).toContain('(A) against')
      const json = JSON.parse(
        (await taken(() => page.getByRole('button', { name: 'JSON' }).click())).bytes.toString(),
      )
      expect(json.kind).toBe('comparison')
      expect(json.counts.same).toBeLessThan(json.rows.length)
      const html = await taken(() => page.getByRole('button', { name: 'HTML' }).click())
      const errors: string[] = []
      parse(html.bytes.toString(), { onParseError: (e) => errors.push(e.code), sourceCodeLocationInfo: true })
      expect(errors).toEqual([])
      expect(html.bytes.toString()).toContain('<svg')
      await page.getByLabel('What A is').selectOption({ label: 'now' })
      await page.getByText(/^No clause of \d+ differs\.$/).waitFor()
      // A side that cannot be judged leaves no answer of before standing.
      await page.getByLabel('Choose a file for B').setInputFiles({
        name: 'bad.yaml',
        mimeType: 'text/yaml',
        buffer: Buffer.from('halfbit: 2\n'),
      })
      await page.getByText(/bad\.yaml: the design file lacks/).waitFor()
      expect(await page.getByText(/No clause/).count()).toBe(0)
      await page.getByLabel('What B is').selectOption({ label: 'now' })
      await page.getByText(/^No clause of \d+ differs\.$/).waitFor()
      await page.getByLabel('Only differences').uncheck()
      await expect.poll(() => page.locator('.matrix tbody tr').count()).toBeGreaterThan(8)
      await page.getByLabel('Only differences').check()
      await page.keyboard.press('Control+z')
    },
    LONG,
  )

  it(
    'two firmware builds run and stand side by side with jitter and histogram',
    async () => {
      for (const [name, folder] of [
        ['A', 'exhibition'],
        ['B', 'flawed'],
      ] as const) {
        const side = page.getByRole('group', { name, exact: true })
        await side.getByLabel('Run firmware for').fill('300 ms')
        await side.locator('input[type=file]').setInputFiles(join(examples, folder, 'firmware/station.elf'))
        await page.locator('.going').waitFor({ state: 'detached' })
        await expect
          .poll(() =>
            page
              .getByLabel(`What ${name} is`)
              .evaluate((e) => (e as HTMLSelectElement).selectedOptions[0]?.label),
          )
          .toMatch(/^run \d+: station\.elf$/)
      }
      await page.getByRole('row', { name: /jitter of ones, peak to peak/ }).waitFor()
      await page.getByRole('img', { name: /^Length of the half-bits, A and B/ }).waitFor()
      await page.getByRole('img', { name: /^Windows of the half-bits, A and B/ }).waitFor()
      const json = JSON.parse(
        (await taken(() => page.getByRole('button', { name: 'JSON' }).click())).bytes.toString(),
      )
      const sum = (folder: string) =>
        createHash('sha256')
          .update(readFileSync(join(examples, folder, 'firmware/station.elf')))
          .digest('hex')
      const of = (side: { inputs: { role: string; sha256: string }[] }) =>
        side.inputs.find((i) => i.role === 'firmware')?.sha256
      expect(of(json.a)).toBe(sum('exhibition'))
      expect(of(json.b)).toBe(sum('flawed'))
    },
    LONG,
  )

  it(
    'a dropped design is compared; a broken one says what is wrong with which side',
    async () => {
      const side = page.getByRole('group', { name: 'B', exact: true })
      await page.getByLabel('What A is').selectOption({ label: 'now' })
      await side.locator('input[type=file]').setInputFiles(join(examples, 'two-tracks/halfbit.yaml'))
      await page.locator('.whole', { hasText: /B against A/ }).waitFor()
      await side.locator('input[type=file]').setInputFiles({
        name: 'bad.yaml',
        mimeType: 'text/yaml',
        buffer: Buffer.from('halfbit: 2\nname: 3 m\n'),
      })
      await page.locator('.notice.broken', { hasText: /B, design \d+: bad\.yaml/ }).waitFor()
      await page.getByLabel('What B is').selectOption({ label: 'as opened' })
    },
    LONG,
  )

  it(
    'files that are dropped while another is read are taken: the last one of each side',
    async () => {
      const design = readFileSync(join(examples, 'two-tracks/halfbit.yaml'), 'utf8')
      // One capture that takes a while, and three files behind it, in one go: a quick machine reads it between two calls.
      const drops = [
        ['B', 'long.csv', `Time [s],main\n${'0.1,1\n'.repeat(400_000)}`],
        ['B', 'second.yaml', design],
        ['A', 'other.yaml', design],
        ['B', 'third.yaml', design],
      ]
      await page.evaluate((drops) => {
        for (const [side, name, text] of drops) {
          const group = [...document.querySelectorAll('fieldset')].find(
            (f) => f.querySelector('legend')?.textContent === side,
          )
          const dataTransfer = new DataTransfer()
          dataTransfer.items.add(new File([text!], name!))
          group
            ?.querySelector('.drop')
            ?.dispatchEvent(new DragEvent('drop', { dataTransfer, bubbles: true, cancelable: true }))
        }
      }, drops)
      const chosen = (name: string) => page.getByLabel(`What ${name} is`).locator('option:checked')
      await expect.poll(() => chosen('B').innerText(), WAIT).toMatch(/design \d+: third\.yaml/)
      await expect.poll(() => chosen('A').innerText(), WAIT).toMatch(/design \d+: other\.yaml/)
      expect(await page.getByLabel('What B is').locator('option', { hasText: 'second.yaml' }).count()).toBe(0)
      await page.getByLabel('What A is').selectOption({ label: 'now' })
      await page.getByLabel('What B is').selectOption({ label: 'as opened' })
    },
    LONG,
  )

  it(
    'a figure taken along holds its caption and the colours that were chosen, as SVG and as PNG',
    async () => {
      await go('Controller')
      await page.getByRole('heading', { name: 'Windows of the half-bits' }).waitFor()
      const box = page.locator('.windows figure').first()
      const corner = async (scheme: string) => {
        await box.getByRole('combobox').selectOption(scheme)
        const svg = (await taken(() => box.getByRole('button', { name: /^SVG/ }).click())).bytes.toString()
        expect(sound(svg).replace(/\s+/g, ' ')).toContain('Source:')
        expect(svg).not.toMatch(/var\(|class="/)
        const png = await taken(() => box.getByRole('button', { name: /^PNG/ }).click())
        expect(png.bytes.subarray(1, 4).toString()).toBe('PNG')
        return page.evaluate(async (base64) => {
          const image = new Image()
          image.src = `data:image/png;base64,${base64}`
          await image.decode()
          const canvas = document.createElement('canvas')
          canvas.width = image.width
          canvas.height = image.height
          const context = canvas.getContext('2d')!
          context.drawImage(image, 0, 0)
          const { data } = context.getImageData(0, 0, image.width, image.height)
          const colours = new Set<number>()
          for (let i = 0; i < data.length; i += 4)
            colours.add((data[i]! << 16) | (data[i + 1]! << 8) | data[i + 2]!)
          return { light: (data[4]! + data[5]! + data[6]!) / 3, alpha: data[7]!, colours: colours.size }
        }, png.bytes.toString('base64'))
      }
      const dark = await corner('dark')
      const light = await corner('light')
      expect(dark.alpha).toBe(255)
      expect(dark.light).toBeLessThan(60)
      expect(light.light).toBeGreaterThan(220)
      for (const found of [dark, light]) expect(found.colours).toBeGreaterThan(5)
    },
    LONG,
  )

  it(
    'the waveform in view can be taken along as SVG and as PNG',
    async () => {
      await go('Waveform')
      await page.getByRole('button', { name: /^Read captures/ }).click()
      const box = page.locator('figure.waveform')
      await box.getByRole('combobox').selectOption('dark')
      const take = (form: string) =>
        taken(() => box.getByRole('button', { name: new RegExp(`^${form}`) }).click())
      const svg = (await take('SVG')).bytes.toString()
      expect(sound(svg).replace(/\s+/g, ' ')).toMatch(/Source: Harrow Bend/)
      // The signal itself, in the colours of the night.
      expect(svg.split('#e8a063').length).toBeGreaterThan(20)
      expect(svg).toContain('fill:#142230')
      expect((await take('PNG')).bytes.length).toBeGreaterThan(5000)
      const near = box.getByRole('button', { name: 'Zoom in' })
      await near.click()
      expect((await take('SVG')).bytes.toString()).not.toBe(svg)
    },
    LONG,
  )

  it(
    'the wiring opens on the part that is chosen or clicked, at its own size, on a phone too',
    async () => {
      await go('Book')
      await page.setViewportSize({ width: 390, height: 844 })
      const show = page.locator('.deck-choice select')
      const box = page.locator('.deck .wide')
      const picture = box.locator('img')
      /** Where the middle of what is in view lies, in units of the drawing. */
      const middle = () =>
        picture.evaluate((img) => {
          const frame = img.closest('.wide')!
          const scale = (img as HTMLImageElement).clientWidth / Number(img.getAttribute('width'))
          return {
            scale,
            x: (frame.scrollLeft + frame.clientWidth / 2) / scale,
            y: (frame.scrollTop + frame.clientHeight / 2) / scale,
          }
        })
      await show.waitFor()
      await expect.poll(async () => (await middle()).scale, WAIT).toBeLessThan(0.5)
      await show.selectOption({ label: 'Bus back' })
      await expect.poll(async () => (await middle()).scale, WAIT).toBeCloseTo(1, 2)
      const back = await middle()
      await show.selectOption({ label: 'Bus front' })
      await expect.poll(async () => (await middle()).y, WAIT).toBeLessThan(back.y - 100)
      expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390)
      await show.selectOption({ label: 'the whole diagram' })
      await expect.poll(async () => (await middle()).scale, WAIT).toBeLessThan(0.5)
      const { width, height } = (await picture.boundingBox())!
      await picture.click({ position: { x: 0.75 * width, y: 0.25 * height } })
      await expect.poll(async () => (await middle()).scale, WAIT).toBeCloseTo(1, 2)
      expect(await show.locator('option:checked').textContent()).toBe('part of the diagram')
      await page.setViewportSize({ width: 1440, height: 900 })
    },
    LONG,
  )

  it(
    'the study of the traffic tells how far it is, can be stopped, and shows what was done',
    async () => {
      await go('Trains')
      await page.getByRole('button', { name: 'Compare policies' }).click()
      await page.getByText(/numbers of locomotives: [1-9]\d* of/).waitFor({ timeout: 120_000 })
      await page.getByRole('button', { name: 'Stop', exact: true }).click()
      await page.getByText('It was stopped').waitFor()
      await page.getByRole('table', { name: 'Policies side by side' }).waitFor()
      await page.getByRole('img', { name: /^Latency of 95 of 100 commands/ }).waitFor()
    },
    LONG,
  )

  it(
    'the proof can be taken along in each form, and names its files by their sums',
    async () => {
      await go('Proof')
      // What was measured leads to its place in the capture, marked by the cursor.
      await page.getByRole('button', { name: /preamble, measured/ }).click()
      await page.locator('tr.opened').getByRole('button', { name: 'Show it in the waveform' }).first().click()
      await page
        .getByText(/^A: |^A at |A /)
        .first()
        .waitFor()
      await page.locator('figure.waveform').waitFor()
      await go('Proof')
      const sum = createHash('sha256').update(bench.text()).digest('hex')
      const html = (await taken(() => page.getByRole('button', { name: 'HTML' }).click())).bytes.toString()
      const errors: string[] = []
      parse(html, { onParseError: (e) => errors.push(e.code), sourceCodeLocationInfo: true })
      expect(errors).toEqual([])
      const md = (await taken(() => page.getByRole('button', { name: 'Markdown' }).click())).bytes.toString()
      const junit = (await taken(() => page.getByRole('button', { name: 'JUnit' }).click())).bytes.toString()
      sound(junit)
      for (const text of [html, md, junit]) expect(text).toContain(sum)
      const pdf = await page.pdf()
      expect(pdf.subarray(0, 5).toString()).toBe('%PDF-')
      // Printed are the pages of the HTML report, word for word, and nothing of the screen.
      const printed = page.locator('.printed .page')
      await expect.poll(() => printed.count()).toBe(1)
      expect(await printed.isVisible()).toBe(false)
      await page.emulateMedia({ media: 'print' })
      for (const part of ['.design', '.tools', 'header.top .acts', '.matrix'])
        expect(await page.locator(part).first().isVisible(), part).toBe(false)
      expect(await printed.isVisible()).toBe(true)
      const words = (text: string | null) => text!.replace(/\s+/g, ' ').trim()
      const report = await page.evaluate(
        (source) => new DOMParser().parseFromString(source, 'text/html').body.textContent,
        html.replace(/<style>[\s\S]*?<\/style>/, ''),
      )
      expect(words(await printed.textContent())).toBe(words(report))
      // Its bars and its folded reasons are on the paper, too.
      expect(await printed.locator('td.cell svg').first().isVisible()).toBe(true)
      expect(await printed.locator('td.cell details p').first().isVisible()).toBe(true)
      await page.emulateMedia({ media: 'screen' })
      // So it is at a stage without a report of its own; the book prints itself.
      await go('Driver')
      await expect.poll(async () => words(await printed.textContent()), WAIT).toBe(words(report))
      await go('Book')
      const own = page.locator('.printed')
      await expect.poll(() => own.locator('h2', { hasText: 'Wiring list' }).count(), WAIT).toBe(1)
      await page.emulateMedia({ media: 'print' })
      expect(await own.locator('h2', { hasText: 'Wiring list' }).isVisible()).toBe(true)
      expect(await page.locator('.stage-body').first().isVisible()).toBe(false)
      await page.emulateMedia({ media: 'screen' })
    },
    LONG,
  )

  it(
    'every variant is proved, and the design as written as on screen',
    async () => {
      await go('Proof')
      await page.getByRole('button', { name: 'Prove every variant' }).click()
      const table = page.locator('.variants-table')
      await table.waitFor({ timeout: 120_000 })
      const { variants } = loadDesign(bench.text())
      expect(variants.length).toBeGreaterThan(2)
      const names = await table
        .locator('tbody th')
        .evaluateAll((all) => all.map((th) => th.firstChild!.textContent))
      expect(names).toEqual(['as written', ...variants.map((v) => v.name)])
      const counts = await page.locator('.counts').innerText()
      const met = /(\d+) met/.exec(counts)![1]
      expect(await table.locator('tbody tr').first().locator('td').first().innerText()).toContain(
        `${met} met`,
      )
      const stages = await table.locator('thead th').allInnerTexts()
      expect(stages.slice(2)).toEqual(expect.arrayContaining(['Controller', 'Driver', 'Track', 'Trains']))
      await page.locator('.variants .conclusion').waitFor()
    },
    LONG,
  )

  it(
    'the text offers values and keys, all by key',
    async () => {
      await page.getByRole('button', { name: 'Text', exact: true }).click()
      const area = page.getByRole('textbox', { name: /^Text of/ })
      await area.evaluate((e) => {
        const t = e as HTMLTextAreaElement
        const at = t.value.indexOf('chip: ') + 6
        t.focus()
        t.setSelectionRange(at, at)
      })
      await page.keyboard.press('Shift')
      const group = page.getByRole('group', { name: 'Completions at the cursor' })
      const other = group.getByRole('button', { name: /^atmega2560/ })
      await other.waitFor()
      await page.keyboard.press('Control+Space')
      for (let i = 0; i < 12; i++) {
        if (/^atmega2560/.test((await page.evaluate(() => document.activeElement?.textContent)) ?? '')) break
        await page.keyboard.press('ArrowRight')
      }
      await page.keyboard.press('Enter')
      await expect.poll(() => area.inputValue()).toContain('chip: atmega2560')
      await expect.poll(() => area.evaluate((e) => e === document.activeElement)).toBe(true)
      await page.keyboard.press('Control+Space')
      await page.keyboard.press('Escape')
      await expect.poll(() => area.evaluate((e) => e === document.activeElement)).toBe(true)
      await page.getByRole('button', { name: /^Undo/ }).click()
      await expect.poll(() => area.inputValue()).toContain('chip: atmega328p')
    },
    LONG,
  )

  it(
    'nothing stands in the way of who uses other means than eyes and a mouse, nor of a narrow screen',
    async () => {
      await page.evaluate(readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8'))
      for (const stop of ['Compare', 'Trains', 'Waveform', 'Controller']) {
        await go(stop)
        await page.locator('.whole, #study, .waveform, .windows').first().waitFor()
        const found = await page.evaluate(async () => {
          const { axe } = globalThis as unknown as {
            axe: { run(): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> }
          }
          return (await axe.run()).violations.map((v) => `${v.id}: ${v.nodes[0]?.html}`)
        })
        expect(found, stop).toEqual([])
        await page.setViewportSize({ width: 390, height: 844 })
        // Figures are drawn anew for the width a moment after it changes.
        await expect
          .poll(() => page.evaluate(() => document.documentElement.scrollWidth - innerWidth), {
            message: stop,
          })
          .toBeLessThanOrEqual(0)
        await page.setViewportSize({ width: 1440, height: 900 })
      }
      expect(faults).toEqual([])
    },
    LONG,
  )
})
