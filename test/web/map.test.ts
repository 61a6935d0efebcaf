/// <reference lib="dom" />
/** The map of the railroad in the real browser: every edit by hand and by key, its way back, and what a place rings like. */
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { Browser, Locator, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { type Bench, launch, missing, openPage, serveExample, serveStatic } from './browser.js'

const LONG = 120_000
const faults: string[] = []
let browser: Browser
let bench: Bench
let page: Page
let whole: string

const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true })
const tool = (name: string) => page.getByLabel('Tool', { exact: true }).selectOption({ label: name })
const form = () => page.locator('.map-form')
const field = (name: string) => form().getByLabel(name, { exact: true })
const comments = (text: string) => text.match(/#.*/g) ?? []

async function open(of: Page) {
  await of
    .locator('nav.line')
    .getByRole('link', { name: /^Track/ })
    .click()
  await of.locator('svg.track-map g.track').first().waitFor({ state: 'attached' })
}

/** A straight line has no height, so that it must be clicked by its middle. */
async function clickTrack(label: string) {
  const line = page.locator(`g.track[aria-label^="${label}"] .line`)
  await line.evaluate((l) => l.scrollIntoView({ block: 'center' }))
  const at = await line.evaluate((l) => {
    const p = (l as SVGPathElement).getPointAtLength((l as SVGPathElement).getTotalLength() / 2)
    const { x, y } = new DOMPoint(p.x, p.y).matrixTransform((l as SVGPathElement).getScreenCTM()!)
    return { x, y }
  })
  await page.mouse.click(at.x, at.y)
}

/** Drags from the middle of a mark by some px. */
async function drag(mark: Locator, dx: number, dy: number) {
  await mark.scrollIntoViewIfNeeded()
  const box = (await mark.boundingBox())!
  const [x, y] = [box.x + box.width / 2, box.y + box.height / 2]
  await page.mouse.move(x, y)
  await page.mouse.down()
  await page.mouse.move(x + dx / 2, y + dy / 2, { steps: 3 })
  await page.mouse.move(x + dx, y + dy, { steps: 3 })
  await page.mouse.up()
}

/** What an edit wrote: nothing lost, then one step back gives the file as it was. */
async function writesAndGoesBack(check: (text: string) => void) {
  await expect.poll(() => bench.text(), { timeout: 15_000 }).not.toBe(whole)
  const text = bench.text()
  try {
    for (const comment of comments(whole)) expect(text).toContain(comment)
    check(text)
  } finally {
    await page.getByRole('button', { name: /^Undo/ }).click()
    await expect.poll(() => bench.text(), { timeout: 15_000 }).toBe(whole)
  }
}

describe.skipIf(missing)('the map of the railroad', () => {
  beforeAll(async () => {
    browser = await launch()
    bench = await serveExample('exhibition')
    page = await openPage(browser, bench.workbench.url, faults)
    whole = bench.text()
    await open(page)
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    await bench?.end()
    expect(faults).toEqual([])
  })

  it(
    'draws the voltage along the rails, says it of the track that is pointed at, and a click chooses that',
    async () => {
      const profile = (await page.locator('.map-profile svg').boundingBox())!
      const [x, y] = [profile.x + profile.width * 0.3, profile.y + profile.height / 2]
      await page.mouse.move(x, y)
      await expect
        .poll(() => page.locator('.map-profile p').innerText())
        .toMatch(/: at worst [\d.]+ V, with trains as parked [\d.]+ V, must keep [\d.]+ V/)
      const says = await page.locator('.map-profile p').innerText()
      const [, name, worst] = /(\S+): at worst ([\d.]+ V)/.exec(says)!
      await page.mouse.click(x, y)
      const chosen = page.locator('g.track.chosen')
      await expect.poll(() => chosen.count()).toBe(1)
      // The track that was pointed at, with the figure that the map has of it.
      expect(await chosen.getAttribute('aria-label')).toMatch(
        new RegExp(`^Short ${name!.replaceAll('.', '[.]')}: .*\\b${worst!.replace('.', '[.]')}`),
      )
      await chosen.dispatchEvent('click')
      await expect.poll(() => chosen.count()).toBe(0)
    },
    LONG,
  )

  it(
    'shorts a section by click and by key',
    async () => {
      await clickTrack('Short north.3')
      await page.getByText(/A short on north\.3 .* draws .* off after .* heat a contact/).waitFor()
      await page.locator('g.track[aria-label^="Short north.3"]').focus()
      await page.keyboard.press('ArrowRight')
      await page.keyboard.press('Enter')
      await page.getByText(/A short on north\.4 /).waitFor()
      await page.keyboard.press('Enter')
    },
    LONG,
  )

  it(
    'moves as it is drawn while it is zoomed and dragged, and is then drawn anew at the same place',
    async () => {
      const map = page.locator('svg.track-map[role="group"]')
      const view = () => map.getAttribute('viewBox')
      const whole = await view()
      const halt = page.locator('g.track[aria-label^="Short halt"] .line')
      const middle = () =>
        halt.evaluate((l) => {
          const { left, right, top, bottom } = l.getBoundingClientRect()
          return [(left + right) / 2, (top + bottom) / 2] as const
        })
      // The pointer is told in whole pixels, and its fraction is enlarged, too.
      const near = ([x, y]: readonly [number, number], to: readonly [number, number]) =>
        expect(Math.hypot(x - to[0], y - to[1]), `${x}, ${y} is not ${to}`).toBeLessThan(2.5)
      const at = await middle()
      /** In one task, so that nothing rests in between. */
      const turnWheel = (times: number, by: number) =>
        map.evaluate(
          (svg, [x, y, times, by]) => {
            for (let i = 0; i < times; i++)
              svg.dispatchEvent(
                new WheelEvent('wheel', {
                  bubbles: true,
                  cancelable: true,
                  clientX: x,
                  clientY: y,
                  deltaY: by,
                  ctrlKey: true,
                }),
              )
            const { left, right, top, bottom } = document
              .querySelector('g.track[aria-label^="Short halt"] .line')!
              .getBoundingClientRect()
            return {
              view: svg.getAttribute('viewBox'),
              middle: [(left + right) / 2, (top + bottom) / 2] as const,
            }
          },
          [...at, times, by] as const,
        )
      const moving = await turnWheel(6, -100)
      // What was drawn is only enlarged, and what the pointer is on stays under it.
      expect(moving.view).toBe(whole)
      near(moving.middle, at)
      await expect.poll(view).not.toBe(whole)
      near(await middle(), at)
      expect((await map.getAttribute('style')) ?? '').not.toMatch(/transform: t/)
      // Dragged by its background, it goes with the pointer; let go of, it is drawn for that place.
      const box = (await page.locator('.map-window').boundingBox())!
      const [x, y] = [Math.round(box.x + box.width) - 12, Math.round(box.y + box.height) - 12]
      const zoomed = await view()
      await page.mouse.move(x, y)
      await page.mouse.down()
      await page.mouse.move(x - 60, y - 20, { steps: 3 })
      near(await middle(), [at[0] - 60, at[1] - 20])
      await page.mouse.up()
      await expect.poll(view).not.toBe(zoomed)
      near(await middle(), [at[0] - 60, at[1] - 20])
      // What is clicked while it moves is what is seen there.
      await turnWheel(2, 100)
      const [hx, hy] = await middle()
      await page.mouse.click(hx, hy)
      await page.getByText(/A short on halt .* draws /).waitFor()
      await turnWheel(1, 100)
      await button('Fit the whole map').click()
      await expect.poll(view).toBe(whole)
      near(await middle(), at)
      await page.locator('g.track.chosen').dispatchEvent('click')
    },
    LONG,
  )

  it(
    'adds a section: dragged from a place, then named and fed in the form',
    async () => {
      await tool('Add section')
      const map = page.locator('svg.track-map.drawing')
      await map.scrollIntoViewIfNeeded()
      const box = (await map.boundingBox())!
      await page.mouse.move(box.x + 40, box.y + 30)
      await page.mouse.down()
      await page.mouse.move(box.x + 200, box.y + 30, { steps: 4 })
      await page.mouse.up()
      expect(Number(await field('length, mm').inputValue())).toBeGreaterThan(500)
      await field('name').fill('quarry line')
      await button('Add section').last().click()
      await writesAndGoesBack((text) => {
        expect(text).toMatch(/quarry line:/)
        expect(text.split('\n').length).toBeGreaterThan(whole.split('\n').length)
      })
    },
    LONG,
  )

  it(
    'says the reader’s reason beside the form and leaves the file alone',
    async () => {
      await field('start, x, mm').fill('0')
      await field('start, y, mm').fill('3000')
      await field('end, x, mm').fill('900')
      await field('end, y, mm').fill('3000')
      await field('feeder from').selectOption('')
      await button('Add section').last().click()
      await form()
        .getByText(/Not applied: .*has no feed/)
        .waitFor()
      expect(bench.text()).toBe(whole)
    },
    LONG,
  )

  it(
    'adds a feeder where the map is clicked, to one of a row alone',
    async () => {
      await tool('Feeders')
      await clickTrack('Feed south.3')
      await expect.poll(() => field('section').inputValue()).toBe('south.3')
      await field('tap position along the bus, mm').fill('4000')
      await button('Add feeder').click()
      await writesAndGoesBack((text) => expect(text).toMatch(/first: 3, every: 5|first: 3\n\s+every: 5/))
    },
    LONG,
  )

  it(
    'cuts a joint that is chosen by key',
    async () => {
      await tool('Gaps and joiners')
      await page.getByRole('button', { name: /^Joint south\.2\/3/ }).focus()
      await page.keyboard.press('Enter')
      await field('gap').selectOption('left')
      await field('joiner').selectOption('soldered')
      await button('Set joint').click()
      await writesAndGoesBack((text) => expect(text).toMatch(/south\.2\/3/))
    },
    LONG,
  )

  it(
    'makes a district of sections that are chosen on the map, with gaps where it begins',
    async () => {
      await tool('Set districts')
      await clickTrack('Choose north.1')
      await field('name of the district').fill('hill')
      await field('driver').selectOption('branch')
      await button('Make district').click()
      await page.getByLabel('Map shows').selectOption({ label: 'Districts' })
      await page.locator('g.track[aria-label="Choose north.3: district hill"]').waitFor({ state: 'attached' })
      await writesAndGoesBack((text) => {
        expect(text).toMatch(/gap: both/)
        expect(text).toMatch(/by: breaker/)
      })
    },
    LONG,
  )

  it(
    'moves a train by dragging it and by keys, one step back each',
    async () => {
      await tool('Place trains and loads')
      const train = page.getByRole('button', { name: /^train railcar/ })
      await drag(train, 130, 0)
      await writesAndGoesBack((text) => expect(text).toMatch(/railcar:.*at: \d/))
      await page.getByRole('button', { name: /^train railcar on platform\.2 at 450 mm/ }).focus()
      for (let i = 0; i < 3; i++) await page.keyboard.press('ArrowRight')
      await writesAndGoesBack((text) => expect(text).toMatch(/railcar:.*section: platform\.2, at: 480 mm/))
    },
    LONG,
  )

  it(
    'drags a point of a section',
    async () => {
      await tool('Move vertices')
      await drag(page.getByRole('button', { name: /^Point 2 of halt/ }), 40, 20)
      await writesAndGoesBack((text) =>
        expect(text.split('\n').filter((l, i) => l !== whole.split('\n')[i])).toHaveLength(1),
      )
      await tool('Test a short')
    },
    LONG,
  )

  it(
    'shows the maps with a fault, and what it changes',
    async () => {
      const before = await page
        .locator('g.track')
        .evaluateAll((all) => all.map((g) => g.getAttribute('aria-label')))
      await page.getByLabel('Map shows').selectOption({ label: 'Voltage, trains as parked' })
      await page.getByLabel('Simulated fault').selectOption({ label: 'open feeder: branch.5' })
      await page.getByText('Shown with one fault: the feeder of branch.5 is open.').waitFor()
      const after = await page
        .locator('g.track')
        .evaluateAll((all) => all.map((g) => g.getAttribute('aria-label')))
      expect(after).not.toEqual(before)
      await page.getByLabel('Simulated fault').selectOption('')
      await page.getByText('Shown with one fault').waitFor({ state: 'detached' })
    },
    LONG,
  )

  it(
    'shows what a place rings like, the best parts against it, the same by SPICE, and its netlist',
    async () => {
      await tool('Ringing at a place')
      await clickTrack('Edge at branch.5')
      await button('Show the edge').click()
      await form().getByText("Halfbit's own ladder of the line").waitFor()
      const peak = async () =>
        Number.parseFloat(
          await form()
            .locator('tr', { hasText: /^peak\d/ })
            .locator('td')
            .innerText(),
        )
      const own = await peak()
      expect(own).toBeGreaterThan(10)
      await button('Find the best resistor and capacitor').click()
      await form()
        .getByText(/Ω and .* nF: peak/)
        .waitFor()
      await button('Check by SPICE').click()
      await form().getByText('SPICE (ngspice as WebAssembly)').waitFor({ timeout: 90_000 })
      expect(Math.abs((await peak()) / own - 1)).toBeLessThan(0.05)
      const coming = page.waitForEvent('download')
      await button('Netlist (.cir)').click()
      expect(readFileSync(await (await coming).path(), 'utf8')).toMatch(/\.tran/i)
    },
    LONG,
  )

  it(
    'can be stopped while SPICE runs, and look again',
    async () => {
      await button('Check by SPICE').click()
      await button('Stop').click()
      await button('Show the edge').click()
      await form().getByText("Halfbit's own ladder of the line").waitFor()
    },
    LONG,
  )

  it(
    'has no fault that axe finds with any tool, and is no wider than a phone',
    async () => {
      const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8')
      await page.evaluate(axe)
      const found: string[] = []
      const looks = [
        { width: 1440, height: 900, colorScheme: 'light' },
        { width: 390, height: 844, colorScheme: 'dark' },
      ] as const
      for (const { width, height, colorScheme } of looks) {
        await page.setViewportSize({ width, height })
        await page.emulateMedia({ colorScheme, reducedMotion: 'reduce' })
        for (const name of [
          'Add section',
          'Feeders',
          'Gaps and joiners',
          'Set districts',
          'Place trains and loads',
          'Move vertices',
          'Ringing at a place',
        ]) {
          await tool(name)
          const faults = await page.evaluate(async () => {
            const { axe } = globalThis as unknown as {
              axe: {
                run(o: object): Promise<{
                  violations: { id: string; nodes: { html: string; failureSummary: string }[] }[]
                }>
              }
            }
            const { violations } = await axe.run({
              runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
            })
            return violations.map(
              (v) => `${v.id}: ${v.nodes[0]?.html.slice(0, 200)} ${v.nodes[0]?.failureSummary}`,
            )
          })
          found.push(...faults.map((f) => `${name} ${colorScheme}: ${f}`))
          const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth)
          if (wide > 0) found.push(`${name} at ${width}: ${wide} px wider than the screen`)
        }
      }
      expect(found).toEqual([])
    },
    LONG,
  )
})

describe.skipIf(missing)('the map in the build without a server', () => {
  it(
    'edits and rings without a network',
    async () => {
      const one = await launch()
      const site = await serveStatic()
      try {
        const seen: string[] = []
        const alone = await openPage(one, site.url, seen)
        await open(alone)
        await alone.evaluate(() => navigator.serviceWorker.ready.then(() => undefined))
        await alone.waitForFunction(
          async () =>
            (
              await Promise.all(
                (
                  await caches.keys()
                ).map(async (k) => (await (await caches.open(k)).keys()).map((r) => r.url)),
              )
            )
              .flat()
              .some((u) => u.endsWith('.wasm')),
          undefined,
          { timeout: 60_000 },
        )
        await alone.reload()
        await open(alone)
        site.close()
        await alone.context().setOffline(true)
        await alone.getByLabel('Tool', { exact: true }).selectOption({ label: 'Ringing at a place' })
        await alone.getByRole('button', { name: 'Check by SPICE' }).click()
        await alone.getByText('SPICE (ngspice as WebAssembly)').waitFor({ timeout: 90_000 })
        expect(seen).toEqual([])
      } finally {
        await one.close()
      }
    },
    LONG,
  )
})
