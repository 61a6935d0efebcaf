/// <reference lib="dom" />
/** The waveform in the real browser: volts, raw samples, settings, what a bit is, long files, and stopping. */
import { once } from 'node:events'
import { createWriteStream, readdirSync, readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { encodeSignal, HIGH } from '../../src/signal/index.js'
import { type Bench, launch, missing, openPage, serveExample } from './browser.js'

const LONG = 120_000
const SOON = { timeout: 30_000 }
/** Invented: three locomotives, again and again. */
const PACKETS = Array.from({ length: 12 }, (_, i) => [3 + (i % 3), 0x3f, 0x80 + i]).map((b) => [
  ...b,
  b[0]! ^ b[1]! ^ b[2]!,
])
const SIGNAL = encodeSignal(PACKETS)
const US = Array.from({ length: SIGNAL.count }, (_, i) => SIGNAL.ticks[i]! / 1000)
const END = US.at(-1)!

/** Volts of one rail against the other at a time: 15 V, edges of 10 V/us. */
function volt(us: number, edge: { at: number }): number {
  while (edge.at + 1 < US.length && US[edge.at + 1]! <= us) edge.at++
  const side = SIGNAL.levels[edge.at] === HIGH ? 1 : -1
  return side * Math.max(-15, Math.min(15, 10 * (us - US[edge.at]!) - 15))
}

function analogCsv(): Buffer {
  const edge = { at: 0 }
  const rows = ['Time [s],rail A,rail B']
  for (let n = 0; n * 0.5 < END; n++) {
    const v = volt(n * 0.5, edge)
    rows.push(`${(n * 0.5e-6).toFixed(7)},${(v / 2 + 7.5).toFixed(3)},${(7.5 - v / 2).toFixed(3)}`)
  }
  return Buffer.from(`${rows.join('\n')}\n`)
}

/** One bit every microsecond, the first in the lowest bit. */
function rawDump(): Buffer {
  const bytes = Buffer.alloc(Math.ceil(END / 8))
  for (let n = 0, i = 0; n < END; n++) {
    while (i + 1 < US.length && US[i + 1]! <= n) i++
    if (SIGNAL.levels[i] === HIGH) bytes[n >> 3]! |= 1 << (n & 7)
  }
  return bytes
}

/** Eight bits, signed, 0.2 V a count, 50 MHz: more samples than are kept one by one. */
function rawAnalog(): Buffer {
  const edge = { at: 0 }
  const bytes = Buffer.alloc(Math.floor(END * 50))
  for (let n = 0; n < bytes.length; n++) bytes.writeInt8(Math.round(volt(n / 50, edge) * 5), n)
  return bytes
}

/** Changes only, as long as wanted. */
async function longCsv(path: string, edges: number): Promise<void> {
  const file = createWriteStream(path)
  file.write('Time [us],main\n')
  const whole = END + 58
  for (let round = 0, written = 0; written < edges; round++) {
    const lines = US.map((t, i) => `${(round * whole + t).toFixed(0)},${SIGNAL.levels[i] === HIGH ? 1 : 0}\n`)
    written += lines.length
    if (!file.write(lines.join(''))) await once(file, 'drain')
  }
  file.end()
  await once(file, 'close')
}

describe.skipIf(missing)('the waveform', () => {
  const faults: string[] = []
  let browser: Browser
  let bench: Bench
  let page: Page
  let firmware = ''
  const canvas = () => page.locator('.waveform canvas')
  const label = () => canvas().getAttribute('aria-label')
  const says = () => page.locator('.waveform figcaption').innerText()
  const drop = (name: string, buffer: Buffer) =>
    page
      .locator('.consequences .drop input[type=file]')
      .setInputFiles({ name, mimeType: 'application/octet-stream', buffer })

  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('exhibition')
    firmware = readdirSync(join(bench.folder, 'firmware')).find((f) => /\.(elf|hex)$/.test(f))!
    page = await openPage(browser, bench.workbench.url, faults)
    await page.evaluate(() => {
      location.hash = '#/waveform'
    })
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
  })

  it(
    'an analog capture shows its volts; both rails are subtracted without another drop, and remembered',
    async () => {
      await drop('scope.csv', analogCsv())
      await expect.poll(label, SOON).toMatch(/12 packets.* 0 V to 15 V/)
      await page
        .getByText(/one polarity only|was read, the first of 2/)
        .first()
        .waitFor()
      await page.locator('.capture-form summary').click()
      await page.getByLabel('Channel', { exact: true }).selectOption({ label: 'rail A' })
      await page.getByLabel('minus channel').selectOption({ label: 'rail B' })
      await page.getByRole('button', { name: 'Evaluate again' }).click()
      await expect.poll(label, SOON).toMatch(/12 packets.* -15 V to 15 V/)
      await page.getByText('edges at 0 V, high beyond 6 V, low beyond -6 V').waitFor()
      await page.getByLabel('Threshold', { exact: true }).fill('5 V')
      await page.getByLabel('Hysteresis', { exact: true }).fill('2 V')
      await page.getByRole('button', { name: 'Evaluate again' }).click()
      await page.getByText('edges at 5 V, high beyond 7 V, low beyond 3 V').waitFor()
      await page.getByLabel('Threshold', { exact: true }).fill('5 A')
      await page.locator('.field.wrong').getByText('expected').waitFor()
      await page.getByRole('button', { name: 'Evaluate again', disabled: true }).waitFor()
      await page.getByLabel('Threshold', { exact: true }).fill('')
      // Dropped again, it is read as it was the last time.
      await drop('scope.csv', analogCsv())
      await expect.poll(label, SOON).toMatch(/12 packets.* -15 V to 15 V/)
      await page.getByText('edges at 5 V, high beyond 7 V, low beyond 3 V').waitFor()
    },
    LONG,
  )

  it(
    'keys step from bit to bit, say what each is, and cursors measure time and volts',
    async () => {
      await canvas().focus()
      await page.keyboard.press('Home')
      await page.keyboard.press('Shift+ArrowRight')
      const seen: string[] = []
      for (let i = 0; i < 80; i++) {
        await page.keyboard.press('Shift+ArrowRight')
        seen.push(await says())
      }
      const all = seen.join('\n')
      expect(all).toMatch(/1, preamble bit \d+ of 16, at least 14 wanted \(S-9\.2:2004 A\)/)
      expect(all).toMatch(/0, start bit of the first byte/)
      expect(all).toMatch(/bit 7 of the first byte 0\d/)
      expect(all).toMatch(/bit 0 of the error byte/)
      expect(all).toMatch(/1, end bit/)
      expect(all).toMatch(/µs from the nearer limit.* V$/m)
      await page.keyboard.press('a')
      await page.keyboard.press('Shift+ArrowRight')
      await page.keyboard.press('b')
      await expect
        .poll(() => page.locator('.measured').innerText(), SOON)
        .toMatch(/A to B\s+(116|200)[.\d]* µs, [\d.]+ kHz, 2 edges, .* V/)
      // And with the mouse: what is pointed at is said.
      const box = (await canvas().boundingBox())!
      await page.mouse.move(box.x + box.width / 2, box.y + 130)
      await expect.poll(says, SOON).toMatch(/Halves .* µs; allowed are/)
    },
    LONG,
  )

  it(
    'raw samples are asked for their rate, then judged, and the rate is remembered',
    async () => {
      await drop('logic.bin', rawDump())
      const judge = page.getByRole('button', { name: 'Evaluate', exact: true })
      await judge.waitFor()
      await expect.poll(() => judge.isDisabled(), SOON).toBe(true)
      await page.getByText('State the sampling rate first').waitFor()
      await page.getByLabel('Sampling rate', { exact: true }).fill('1 MHz')
      await judge.click()
      await expect.poll(label, SOON).toMatch(/logic\.bin.* 12 packets/)
      await drop('logic.bin', rawDump())
      await page.getByText(/Evaluate again/).waitFor({ state: 'attached' })
      await expect.poll(label, SOON).toMatch(/logic\.bin.* 12 packets/)
    },
    LONG,
  )

  it(
    'a text without times is asked for its rate too',
    async () => {
      const rows = ['main']
      for (let n = 0, i = 0; n < END; n++) {
        while (i + 1 < US.length && US[i + 1]! <= n) i++
        rows.push(SIGNAL.levels[i] === HIGH ? '1' : '0')
      }
      await drop('levels.csv', Buffer.from(`${rows.join('\n')}\n`))
      await page.locator('.capture-form .notice').getByText('state the sampling rate').waitFor()
      await page.getByLabel('Sampling rate', { exact: true }).fill('1 MHz')
      await page.getByRole('button', { name: 'Evaluate', exact: true }).click()
      await expect.poll(label, SOON).toMatch(/levels\.csv.* 12 packets/)
    },
    LONG,
  )

  it(
    'volts beyond what is kept are read from the file again where one looks closely',
    async () => {
      await drop('scope.bin', rawAnalog())
      await page.getByRole('button', { name: 'Evaluate', exact: true }).waitFor()
      await page.getByLabel('Bits per sample').selectOption('8')
      await page.getByLabel('Numbers').selectOption('signed')
      await page.getByLabel('Volts per count').fill('0.2 V')
      await page.getByLabel('Sampling rate', { exact: true }).fill('50 MHz')
      await page.getByRole('button', { name: 'Evaluate', exact: true }).click()
      await expect.poll(label, SOON).toMatch(/scope\.bin.* 12 packets.* -15 V to 15 V/)
      await canvas().focus()
      for (let i = 0; i < 60; i++) await page.keyboard.press('Shift+ArrowRight')
      for (let i = 0; i < 9; i++) await page.keyboard.press('ArrowUp')
      await page.getByText('Reading this stretch of the file again').waitFor({ state: 'detached' })
      await page.keyboard.press('Shift+ArrowRight')
      await page.keyboard.press('Shift+ArrowLeft')
      await expect.poll(says, SOON).toMatch(/Halves .*, -?15 V$/)
      // At an edge four samples kept as one would be a range.
      await page.keyboard.press('a')
      await expect
        .poll(() => page.locator('.measured').innerText(), SOON)
        .toMatch(/^A\s+[\d.]+ ms, -?[\d.e-]+ V$/)
    },
    LONG,
  )

  it(
    'with a finger, one tap sets cursor A and the next cursor B',
    async () => {
      await drop('touched.csv', analogCsv())
      await expect.poll(label, SOON).toMatch(/touched\.csv.* 12 packets/)
      const box = (await canvas().boundingBox())!
      const client = await page.context().newCDPSession(page)
      const tap = async (share: number) => {
        const [x, y] = [box.x + share * box.width, box.y + 120]
        await client.send('Input.dispatchTouchEvent', { type: 'touchStart', touchPoints: [{ x, y }] })
        await client.send('Input.dispatchTouchEvent', { type: 'touchEnd', touchPoints: [] })
      }
      const terms = () => page.locator('.measured dt').allTextContents()
      await tap(0.3)
      await expect.poll(terms, SOON).toEqual(['A'])
      await tap(0.6)
      await expect.poll(terms, SOON).toEqual(['A', 'B', 'A to B'])
      await tap(0.5)
      await expect.poll(terms, SOON).toEqual(['A'])
      await canvas().press('Escape')
    },
    LONG,
  )

  it(
    'a long capture is stopped in the middle, and read again to its end',
    async () => {
      const path = join(bench.folder, 'long.csv')
      await longCsv(path, 4_000_000)
      const input = page.locator('.consequences .drop input[type=file]')
      await input.setInputFiles(path)
      await page.locator('.going progress').waitFor()
      await page.getByRole('button', { name: 'Stop', exact: true }).click()
      await page.getByRole('heading', { name: /long\.csv \(stopped early\)/ }).waitFor()
      const stopped = Number(/(\d+) edges/.exec((await label())!)![1])
      expect(stopped).toBeGreaterThan(1000)
      expect(stopped).toBeLessThan(4_000_000)
      await input.setInputFiles(path)
      await expect.poll(label, SOON).toMatch(/long\.csv\. (39|40)\d{5} edges/)
      await canvas().focus()
      await page.keyboard.press('0')
      await page.keyboard.press('End')
      await page.keyboard.press('Shift+ArrowRight')
      await expect.poll(says, SOON).toMatch(/Halves/)
    },
    LONG,
  )

  it(
    'dropped firmware is watched while it runs, and stopped in the middle',
    async () => {
      await page.evaluate(() => {
        location.hash = '#/controller'
      })
      const drops = page.locator('section[aria-labelledby=firmware] .drop input[type=file]')
      await drops.nth(0).setInputFiles(join(bench.folder, 'firmware', firmware))
      await drops
        .nth(1)
        .setInputFiles({ name: 'own.stimulus', mimeType: 'text/plain', buffer: Buffer.from('# nothing\n') })
      await page.getByText(`${firmware}, with own.stimulus.`).waitFor()
      await page.getByLabel('Simulated time', { exact: true }).fill('60 s')
      await page.getByRole('button', { name: `Run ${firmware}` }).click()
      await page.getByText('While it runs').waitFor()
      await page
        .locator('.jitter figcaption')
        .first()
        .getByText(/jitter .* times real time/)
        .waitFor()
      await page.getByRole('button', { name: 'Stop', exact: true }).click()
      await page.getByText(/simulated \(stopped early\)/).waitFor()
      await page.getByRole('img', { name: /halves of ones from .* jitter .* allowed 55 to 61 µs/ }).waitFor()
      await drops
        .nth(0)
        .setInputFiles({ name: 'no.hex', mimeType: 'text/plain', buffer: Buffer.from(':00\n') })
      await page.getByRole('button', { name: 'Run no.hex' }).click()
      await page.locator('.notice.broken').getByText('no.hex').waitFor()
      await page.evaluate(() => {
        location.hash = '#/waveform'
      })
    },
    LONG,
  )

  it(
    'has no fault that axe finds with a form open, by day and by night, wide and narrow',
    async () => {
      await drop('scope.csv', analogCsv())
      await expect.poll(label, SOON).toMatch(/scope\.csv/)
      await page.evaluate(readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8'))
      await page.locator('.capture-form').evaluate((e) => e.setAttribute('open', ''))
      const found: string[] = []
      for (const [width, colorScheme] of [
        [1440, 'light'],
        [390, 'dark'],
      ] as const) {
        await page.setViewportSize({ width, height: 900 })
        await page.emulateMedia({ colorScheme })
        // Colours pass over to the others.
        await page.waitForTimeout(600)
        const violations = await page.evaluate(async () => {
          const { axe } = globalThis as unknown as {
            axe: { run(o: object): Promise<{ violations: { id: string; nodes: { html: string }[] }[] }> }
          }
          const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice']
          const result = await axe.run({ runOnly: tags })
          return result.violations.map((v) => `${v.id}: ${v.nodes[0]?.html.slice(0, 160)}`)
        })
        found.push(...violations)
        const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
        if (wide > 0) found.push(`at ${width}: ${wide} px wider than the screen`)
      }
      expect(found).toEqual([])
      expect(faults).toEqual([])
    },
    LONG,
  )
})
