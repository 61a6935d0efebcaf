/// <reference lib="dom" />
/**
 * A railroad drawn in the real browser, from an empty folder to a proof: by pointer alone, by keyboard alone, and on a
 * phone. The file never holds a text that the reader of design files would not have, and undo gives each step back.
 */
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import type { Browser, Page } from 'playwright-core'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { type Bench, launch, missing, saved, serveFolder } from './browser.js'

const LONG = 240_000
const WAIT = { timeout: 60_000 }

describe.skipIf(missing)('a railroad drawn on an empty map', () => {
  let browser: Browser
  const faults: string[] = []

  beforeAll(async () => {
    browser = await launch()
  }, LONG)
  afterAll(async () => {
    await browser?.close()
    expect(faults).toEqual([])
  })

  /** Begins in an empty folder, and looks at every text that the file has meanwhile. */
  async function fromNothing(
    view: { width: number; height: number; hasTouch?: boolean },
    act: (page: Page, bench: Bench) => Promise<void>,
  ): Promise<string> {
    const folder = mkdtempSync(join(tmpdir(), 'halfbit-empty-'))
    writeFileSync(join(folder, 'halfbit.yaml'), '')
    const bench = await serveFolder(folder)
    const seen = new Set<string>()
    const watch = setInterval(() => seen.add(readFileSync(bench.design, 'utf8')), 30)
    const { hasTouch, ...viewport } = view
    const context = await browser.newContext({ viewport, hasTouch: hasTouch ?? false })
    try {
      await context.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
      const page = await context.newPage()
      page.on('pageerror', (error) => faults.push(String(error.stack ?? error)))
      page.setDefaultTimeout(60_000)
      await page.goto(bench.workbench.url)
      await page.locator('.begin-form').waitFor()
      await act(page, bench)
      await page.locator('main[data-stage="proof"] .matrix tbody tr').first().waitFor()
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

  const parts = (bench: Bench) => {
    const text = bench.text()
    const track = text === '' ? undefined : loadDesign(text).design.track
    return {
      sections: Object.keys(track?.sections ?? {}),
      turnouts: Object.keys(track?.turnouts ?? {}),
      crossings: Object.keys(track?.crossings ?? {}),
      bus: Object.keys(track?.bus ?? {}),
    }
  }
  /** The page has calculated the map that the last edit made, and the file has it. */
  const drawn = async (page: Page, name: string) => {
    await page.locator(`g.track[aria-label*=" ${name}"]`).first().waitFor({ state: 'attached' })
    await saved(page)
  }

  function checkWhole(text: string): void {
    const { track } = loadDesign(text).design
    expect(Object.values(track!.sections).filter((s) => s.arc)).toHaveLength(1)
    expect(Object.keys(track!.turnouts!)).toEqual(['turnout1'])
    expect(Object.keys(track!.crossings!)).toEqual(['crossing1'])
    expect(Object.keys(track!.bus)).toEqual(['main', 'bus1'])
    expect(track!.sections['section1']!.length).toBe(1000)
    expect(track!.sections['section1']!.points).toHaveLength(2)
    // The comments of the begun design are all there.
    expect(text).toContain('# decides the voltage window')
    expect(text).toContain('# What feeds the rails.')
  }

  /** Presses, drags and tools, in the way of a mouse or of a finger. */
  async function handOn(page: Page, hasTouch: boolean) {
    const press = async (name: string | RegExp) => {
      const button = page.getByRole('button', { name, exact: true }).last()
      if (!hasTouch) return button.click()
      await button.and(page.locator(':enabled')).waitFor()
      // Chromium makes no click of a tap that follows a drag sent to it too closely; a person taps again.
      for (let i = 0; i < 3; i++) {
        const isPressed = button.evaluate(
          (b) =>
            new Promise<boolean>((resolve) => {
              b.addEventListener('click', () => resolve(true), { once: true })
              setTimeout(() => resolve(false), 1500)
            }),
        )
        await button.tap()
        if (await isPressed) return
      }
      throw new Error(`no tap presses ${name}`)
    }
    const touch = hasTouch ? await page.context().newCDPSession(page) : undefined
    const map = page.locator('svg.track-map.drawing')
    const tool = (label: string) => page.getByLabel('Tool', { exact: true }).selectOption({ label })
    /** A place of the map in mm, on the screen. */
    const at = async (mm: [number, number]) => {
      await map.evaluate((s) => s.scrollIntoView({ block: 'center' }))
      return map.evaluate((svg, [x, y]) => {
        const { mmX, mmY, perMm } = JSON.parse((svg as SVGElement).dataset['scale']!) as Record<
          string,
          number
        >
        const p = new DOMPoint(mmX! + x! * perMm!, mmY! + y! * perMm!).matrixTransform(
          (svg as SVGSVGElement).getScreenCTM()!,
        )
        return { x: p.x, y: p.y }
      }, mm)
    }
    const drag = async (from: [number, number], to: [number, number]) => {
      const [a, b] = [await at(from), await at(to)]
      if (touch) {
        const finger = (type: 'touchStart' | 'touchMove' | 'touchEnd', share: number) =>
          touch.send('Input.dispatchTouchEvent', {
            type,
            touchPoints:
              type === 'touchEnd' ? [] : [{ x: a.x + (b.x - a.x) * share, y: a.y + (b.y - a.y) * share }],
          })
        await finger('touchStart', 0)
        for (const share of [0.3, 0.6, 1]) await finger('touchMove', share)
        await finger('touchEnd', 1)
        return
      }
      await page.mouse.move(a.x, a.y)
      await page.mouse.down()
      await page.mouse.move((a.x + b.x) / 2, (a.y + b.y) / 2, { steps: 3 })
      await page.mouse.move(b.x, b.y, { steps: 3 })
      await page.mouse.up()
    }
    /** The next stage by the signal path. */
    const toProof = async () => {
      const path = page.locator('nav.line')
      const open = path.locator('.path-open')
      if (await open.isVisible()) await (hasTouch ? open.tap() : open.click())
      const proof = path.getByRole('link', { name: /^Proof/ })
      await (hasTouch ? proof.tap() : proof.click())
    }
    return { press, map, tool, drag, toProof }
  }

  /** Everything by pressing, dragging and choosing. */
  async function drawByPointer(page: Page, bench: Bench, hasTouch: boolean): Promise<void> {
    const { press, map, tool, drag, toProof } = await handOn(page, hasTouch)
    await press('Draw the railroad yourself')
    await map.waitFor()
    await drag([500, 300], [1500, 310])
    await press('Add section')
    await drawn(page, 'section1')
    await tool('Add curve')
    // On from its end, which it meets and whose direction it keeps.
    await drag([1490, 305], [2000, 800])
    await press('Add curve')
    await drawn(page, 'curve1')
    await tool('Add turnout')
    await drag([500, 300], [500, 300])
    await press('Add turnout')
    await drawn(page, 'turnout1.points')
    await tool('Add crossing')
    await drag([900, 900], [900, 900])
    await press('Add crossing')
    await drawn(page, 'crossing1.a')
    await tool('Add bus run')
    await drag([600, 1000], [1600, 1000])
    await drag([1600, 1000], [1600, 600])
    await expect.poll(() => page.getByLabel('length, mm').inputValue(), WAIT).toBe('1400')
    await press('Add bus run')
    await expect.poll(() => parts(bench).bus, WAIT).toEqual(['main', 'bus1'])
    // Undo takes the last step back, redo makes it again.
    await press(/^Undo/)
    await expect.poll(() => parts(bench).bus, WAIT).toEqual(['main'])
    await press(/^Redo/)
    await expect.poll(() => parts(bench).bus, WAIT).toEqual(['main', 'bus1'])
    await toProof()
  }

  /** An oval of two straights and two half circles, a turnout into one of them, and a siding from it. */
  async function drawOval(page: Page, bench: Bench, hasTouch: boolean): Promise<void> {
    const { press, map, tool, drag, toProof } = await handOn(page, hasTouch)
    await press('Draw the railroad yourself')
    await map.waitFor()
    await drag([800, 300], [1800, 300])
    await press('Add section')
    await drawn(page, 'section1')
    await tool('Add curve')
    await drag([1800, 300], [1800, 1000])
    await press('Add curve')
    await drawn(page, 'curve1')
    await tool('Add section')
    await drag([1800, 1000], [800, 1000])
    await press('Add section')
    await drawn(page, 'section2')
    await tool('Add curve')
    await drag([800, 1000], [800, 300])
    await press('Add curve')
    await drawn(page, 'curve2')
    await tool('Add turnout')
    // Into the lower straight, which was drawn from right to left; it diverges inwards, to the left of the map.
    await drag([1300, 1000], [1000, 900])
    await expect
      .poll(() => page.getByLabel('in section', { exact: true }).inputValue(), WAIT)
      .toBe('section2')
    await press('Add turnout')
    await drawn(page, 'turnout1.diverging')
    const whole = parts(bench)
    await press(/^Undo/)
    await expect.poll(() => parts(bench).turnouts, WAIT).toEqual([])
    expect(parts(bench).sections).toEqual(['section1', 'curve1', 'section2', 'curve2'])
    await press(/^Redo/)
    await expect.poll(() => parts(bench), WAIT).toEqual(whole)
    // A siding from its free end.
    await tool('Add section')
    const free = loadDesign(bench.text()).design.track!.turnouts!['turnout1']!.at!
    await drag([free[0]! - 112, free[1]! - 24], [700, 800])
    await press('Add section')
    await drawn(page, 'section3')
    await toProof()
  }

  function checkOval(text: string): void {
    const { track } = loadDesign(text).design
    const { sections, turnouts } = track!
    expect(turnouts!['turnout1']).toMatchObject({ at: [1300, 1013], length: 230 })
    expect(turnouts!['turnout1']!.hand ?? 'right').toBe('right')
    expect(sections['section2']).toMatchObject({ length: 385, to: 'turnout1.points' })
    expect(sections['section2-2']).toMatchObject({ length: 385, from: 'turnout1.straight' })
    expect(sections['section3']!.from).toBe('turnout1.diverging')
    expect(text).toContain('# decides the voltage window')
  }

  it.each([false, true])(
    'puts a turnout into an oval and draws a siding from it, by touch: %s',
    async (hasTouch) => {
      const view = hasTouch ? { width: 390, height: 844, hasTouch } : { width: 1440, height: 900 }
      checkOval(await fromNothing(view, (page, bench) => drawOval(page, bench, hasTouch)))
    },
    LONG,
  )

  it(
    'comes to a proof by pointer alone',
    async () => {
      checkWhole(
        await fromNothing({ width: 1440, height: 900 }, (page, bench) => drawByPointer(page, bench, false)),
      )
    },
    LONG,
  )

  it(
    'comes to a proof by touch on a phone, without sideways scrolling',
    async () => {
      checkWhole(
        await fromNothing({ width: 390, height: 844, hasTouch: true }, async (page, bench) => {
          await drawByPointer(page, bench, true)
          expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390)
        }),
      )
    },
    LONG,
  )

  it.each([1440, 390])(
    'comes to a proof by keyboard alone at %s px',
    async (width) => {
      const text = await fromNothing({ width, height: 844 }, async (page, bench) => {
        const { keyboard } = page
        const isOn = (selector: string) =>
          page.evaluate((s) => document.activeElement?.matches(s) ?? false, selector)
        const focusOn = async (selector: string, backwards = false) => {
          for (let i = 0; i < 150; i++) {
            if (await isOn(selector)) return
            await keyboard.press(backwards ? 'Shift+Tab' : 'Tab')
          }
          throw new Error(`Tab never reaches ${selector}`)
        }
        /** The field with a label; Tab goes round the page. */
        const field = async (label: string) => {
          const id = await page.locator('.map-form').getByLabel(label, { exact: true }).getAttribute('id')
          await focusOn(`[id="${id}"]`)
        }
        const fill = async (label: string, value: string) => {
          await field(label)
          await keyboard.press('Control+a')
          await keyboard.type(value)
        }
        const tool = async (name: string) => {
          await focusOn('#map-tool')
          const shown = () =>
            page.locator('#map-tool').evaluate((s) => (s as HTMLSelectElement).selectedOptions[0]!.label)
          for (let i = 0; i < 12 && (await shown()) !== name; i++) await keyboard.press('ArrowUp')
          for (let i = 0; i < 12 && (await shown()) !== name; i++) await keyboard.press('ArrowDown')
          await page.locator('.map-form h4', { hasText: name.replace('Add ', '') }).waitFor()
        }
        const add = async () => {
          await focusOn('.map-form button[type=submit]')
          await keyboard.press('Enter')
        }
        await page
          .getByRole('button', { name: 'Draw the railroad yourself' })
          .and(page.locator(':enabled'))
          .waitFor()
        await focusOn('.begin-draw')
        await keyboard.press('Enter')
        await page.locator('svg.track-map.drawing').waitFor()
        await fill('end, x, mm', '1000')
        await add()
        await drawn(page, 'section1')
        await tool('Add curve')
        // A free end on the map is chosen by key.
        await focusOn('rect.node[aria-label*="end of section1"]')
        await keyboard.press('Enter')
        await fill('radius, mm', '600')
        await fill('turns by, degrees', '90')
        await add()
        await drawn(page, 'curve1')
        await tool('Add turnout')
        await focusOn('rect.node[aria-label*="start of section1"]')
        await keyboard.press('Enter')
        await add()
        await drawn(page, 'turnout1.points')
        // Into a section, chosen by key; and back.
        await focusOn('g.track', true)
        await keyboard.press('Home')
        for (let i = 0; i < 6 && !(await isOn('g.track[aria-label*=" curve1"]')); i++)
          await keyboard.press('ArrowRight')
        await keyboard.press('Enter')
        await add()
        await drawn(page, 'turnout2.diverging')
        expect(parts(bench).sections).toEqual(['section1', 'curve1', 'curve1-2'])
        await keyboard.press('Control+z')
        await expect.poll(() => parts(bench).sections, WAIT).toEqual(['section1', 'curve1'])
        await tool('Add crossing')
        await fill('start, x, mm', '300')
        await fill('start, y, mm', '700')
        await add()
        await drawn(page, 'crossing1.a')
        await tool('Add bus run')
        await fill('length, mm', '1400')
        await add()
        await expect.poll(() => parts(bench).bus, WAIT).toEqual(['main', 'bus1'])
        await keyboard.press('Control+z')
        await keyboard.press('Control+z')
        await expect.poll(() => parts(bench).bus, WAIT).toEqual(['main'])
        await keyboard.press('Control+Shift+Z')
        await keyboard.press('Control+Shift+Z')
        await expect.poll(() => parts(bench).bus, WAIT).toEqual(['main', 'bus1'])
        await focusOn('main, .map-form button[type=submit]')
        await keyboard.press('g')
        await keyboard.type('proof')
        await keyboard.press('Enter')
      })
      checkWhole(text)
      const { track } = loadDesign(text).design
      expect(track!.sections['curve1']!.length).toBeCloseTo((600 * Math.PI) / 2, 0)
    },
    LONG,
  )
})
