/** A failure that a campaign wrote, replayed on the bench in the real browser: the same run to the bit. */
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { isSimulated, loadFirmware } from '../../src/controller/index.js'
import { loadDesign } from '../../src/design/index.js'
import { benchOf, scenarioFromFile } from '../../src/proof/index.js'
import { formatNumber } from '../../src/units/index.js'
import { type Bench, launch, missing, openPage, openStage, serveExample, serveFolder } from './browser.js'

const SCENARIO = `scenario: 1
name: shrunk
lasts: 700 ms
seed: 1480289169
drawn: { supply: 0.004, sense: -0.031, clock: 0.0032 }
acts:
  - { at: 301234.5678 us, drive: { train: express, speed: 60 % } }
  - { at: 525630.2439374849 us, short: { at: { district: main }, resistance: 0.011908306214027109 Ohm, lasts: 100 ms } }
expect:
  - shortOff: { within: 1 ms }
`

const BARE = `halfbit: 2
name: bare
scale: H0
controller:
  chip: atmega328p
  clock: {frequency: 16 MHz, source: resonator}
signal:
  outputs:
    main: {mode: operations, pin: PB2, method: buffered, timer: 1, prescaler: 8, oneHalf: 58 us, zeroHalf: 100 us, preamble: 16}
`

describe.skipIf(missing)('the bench in the browser', () => {
  let browser: Browser
  let bench: Bench
  let page: Page
  const faults: string[] = []

  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('exhibition')
    page = await openPage(browser, bench.workbench.url, faults)
  }, 120_000)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
  })

  it('replays a scenario file to the bit, and its timeline is moved by keys', async () => {
    const loaded = loadDesign(bench.text())
    const { chip } = loaded.design.controller
    if (!isSimulated(chip)) throw new Error('the example has another chip now')
    const image = loadFirmware(readFileSync(join(bench.folder, 'firmware/station.elf')), 'station.elf')
    const here = scenarioFromFile(benchOf(loaded, image, chip, 'station.elf')!, SCENARIO, 'shrunk.yaml').run()
    expect(here.outcomes.map((o) => o.verdict)).toEqual(['broken'])

    await openStage(page, 'Bench')
    await page
      .getByLabel('Play a scenario file')
      .last()
      .setInputFiles({
        name: 'shrunk.yaml',
        mimeType: 'text/yaml',
        buffer: Buffer.from(SCENARIO),
      })
    await page.getByRole('img', { name: /^shrunk: current of main/ }).waitFor({ timeout: 100_000 })
    expect(await page.locator('[data-digest]').getAttribute('data-digest')).toBe(here.digest)
    await page.getByText(here.outcomes[0]!.finding.sentence).first().waitFor()

    const timeline = page.getByRole('group', { name: 'Timeline' })
    await page.getByText('700 ms in view').waitFor()
    await timeline.focus()
    await page.keyboard.press('+')
    await page.getByText('420 ms in view').waitFor()
    await page.keyboard.press('0')
    await page.getByText('700 ms in view').waitFor()
    await page.getByRole('button', { name: 'Around the short' }).click()
    await page.getByText('15 ms in view').waitFor()
    // Above it is the whole run, with the part in view; what is pointed at is said, by keys, too.
    const inView = page.locator('.bench-overview .in-view')
    await expect.poll(async () => Number(await inView.getAttribute('width'))).toBeLessThan(30)
    const values = page.locator('.timeline-values')
    const picture = (await page.locator('.timeline-picture').boundingBox())!
    await page.mouse.move(picture.x + picture.width * 0.6, picture.y + 60)
    await expect
      .poll(() => values.innerText())
      .toMatch(/ ms: main [\d.]+ m?A, [\d.]+ V, (on|off); .*PB0 (high|low)/)
    // Of that time, and what the run had then.
    const said = await values.innerText()
    const saidUs = Number(/^([\d.]+) ms:/.exec(said)![1]) * 1000
    const short = here.timeline.find((e) => e.kind === 'short')!
    expect(saidUs).toBeGreaterThan(short.timeUs - 3000)
    expect(saidUs).toBeLessThan(short.timeUs + 12_000)
    const amp = here.amps.get('main')!.findLast((p) => p.timeUs <= saidUs)!.amp
    expect(said).toContain(`: main ${formatNumber(amp, 3)} A, `)
    const pb0 = here.signals.pins.find((p) => p.name === 'PB0')!.edges.findLast((e) => e.timeUs <= saidUs)!
    expect(said).toContain(`PB0 ${pb0.level === 1 ? 'high' : 'low'}`)
    // The part in view is where the short is.
    const [left, wide] = [Number(await inView.getAttribute('x')), Number(await inView.getAttribute('width'))]
    expect(left).toBeLessThan((1000 * short.timeUs) / here.ranUs)
    expect(left + wide).toBeGreaterThan((1000 * short.timeUs) / here.ranUs)
    await page.mouse.move(0, 0)
    await expect.poll(() => values.innerText()).toMatch(/Point at the timeline/)
    await timeline.focus()
    await page.keyboard.press('Shift+ArrowRight')
    await expect.poll(() => values.innerText()).toMatch(/ ms: main /)

    await page
      .getByLabel('Play a scenario file')
      .last()
      .setInputFiles({
        name: 'bad.yaml',
        mimeType: 'text/yaml',
        buffer: Buffer.from(SCENARIO.replace('express', 'expres')),
      })
    await page
      .getByText(/bad\.yaml:7:.*no train "expres"|no train "expres"/)
      .first()
      .waitFor()
    expect(faults).toEqual([])
  }, 240_000)

  it('cannot run a design without firmware, and leads to where the form asks for it', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'halfbit-bench-'))
    writeFileSync(join(folder, 'halfbit.yaml'), BARE)
    const bare = await serveFolder(folder)
    const own = await openPage(browser, bare.workbench.url, faults)
    try {
      await openStage(own, 'Bench')
      const lacking = own.getByRole('region', { name: 'The bench cannot run yet' })
      await lacking.getByRole('button', { name: 'Open the design' }).click()
      // It is open already: the focus says where to go on.
      await expect
        .poll(() =>
          own.evaluate(
            () => document.activeElement?.closest('section.design') && document.activeElement.textContent,
          ),
        )
        .toBe('Add firmware')
    } finally {
      await own.context().close()
      await bare.end()
    }
  }, 120_000)
})
