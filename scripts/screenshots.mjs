/**
 * Pictures of the real program, taken in the real browser and written as PNG. Build first.
 *
 *   node scripts/screenshots.mjs --out FOLDER [SHOT…]
 *
 * A SHOT is EXAMPLE/STAGE/WIDTHxHEIGHT/SCHEME, such as exhibition/track/1440x900/dark. Each part may be several with
 * commas, or * for all; parts left out are *. Without any, every stage of the exhibition is taken at every size in both
 * schemes. A file is called EXAMPLE-STAGE-WIDTHxHEIGHT-SCHEME.png.
 *
 * For other scripts: `takeScreenshots([{ example, stage, size: [1440, 900], scheme: 'light' }], folder)`.
 */
import { cpSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { chromium } from 'playwright-core'
import { serveWorkbench } from '../dist/cli/serve/server.js'

const root = fileURLToPath(new URL('..', import.meta.url))
const SIZES = [
  [1440, 900],
  [1280, 720],
  [768, 1024],
  [390, 844],
]
const SCHEMES = ['light', 'dark']
const MINUTES = 60_000

/**
 * @param shots of them those of one example are taken in one visit, with everything run that the example names.
 * @param before does something on the page ahead of each picture, such as choosing a place.
 * @returns the paths of the files.
 */
export async function takeScreenshots(shots, folder, { before, full = false } = {}) {
  mkdirSync(folder, { recursive: true })
  const browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--hide-scrollbars'],
  })
  const written = []
  try {
    for (const example of new Set(shots.map((shot) => shot.example))) {
      const own = mkdtempSync(join(tmpdir(), 'halfbit-screenshots-'))
      cpSync(join(root, 'examples', example), own, { recursive: true })
      const workbench = await serveWorkbench(join(own, 'halfbit.yaml'), join(root, 'dist/web'))
      try {
        const page = await browser.newPage({
          reducedMotion: 'reduce',
          viewport: { width: 1440, height: 900 },
        })
        page.on('pageerror', (error) => console.error(`${example}: ${error.message}`))
        await page.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
        await page.goto(workbench.url)
        await settled(page)
        for (const { stage, size, scheme } of shots.filter((shot) => shot.example === example)) {
          await page.setViewportSize({ width: size[0], height: size[1] })
          await page.emulateMedia({ colorScheme: scheme })
          await page.evaluate((id) => {
            location.hash = `/${id}`
          }, stage)
          await page.locator(`main[data-stage="${stage}"]`).waitFor()
          await settled(page)
          await before?.(page, { example, stage, size, scheme })
          // Focus follows a link to the title; no picture shows a ring that nobody asked for.
          await page.evaluate(() => document.activeElement?.blur())
          const path = join(folder, `${example}-${stage}-${size.join('x')}-${scheme}.png`)
          await page.screenshot({ path, fullPage: full })
          written.push(path)
        }
        await page.close()
      } finally {
        await workbench.close()
        rmSync(own, { recursive: true, force: true })
      }
    }
  } finally {
    await browser.close()
  }
  return written
}

/** Everything is calculated, run and read, and two frames have been drawn since. */
async function settled(page) {
  await page.locator('main:not([data-busy])').waitFor({ timeout: 10 * MINUTES })
  // The bench runs by itself after everything else, where the firmware runs at all.
  await page.waitForFunction(
    () => {
      const state = (of) => document.querySelector(`.run-line[data-run=${of}]`)?.dataset.state
      return state('run') !== 'up to date' || !['running', 'not run'].includes(state('bench'))
    },
    undefined,
    { timeout: 10 * MINUTES },
  )
  await page.waitForFunction(
    () =>
      !/(Loading|Calculating|Comparing|Drawing|Writing the book) …/.test(
        document.querySelector('main')?.textContent ?? '',
      ),
    undefined,
    { timeout: 2 * MINUTES },
  )
  await page.evaluate(
    () =>
      new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 150)))),
  )
}

/** All stages, in the order of the signal path. */
export function stageIds() {
  const source = readFileSync(join(root, 'src/web/stages.ts'), 'utf8')
  return [...source.matchAll(/^ {4}id: '([a-z-]+)'/gm)].map(([, id]) => id)
}

async function main(args) {
  const at = args.indexOf('--out')
  const folder = at < 0 ? join(tmpdir(), 'halfbit-screenshots') : args[at + 1]
  const full = args.includes('--full')
  const wanted = args.filter((a, i) => !a.startsWith('--') && (at < 0 || i !== at + 1))
  const examples = readdirSync(join(root, 'examples'))
  const stages = stageIds()
  const shots = (wanted.length > 0 ? wanted : ['exhibition']).flatMap((text) => {
    const [example = '*', stage = '*', size = '*', scheme = '*'] = text.split('/')
    const of = (part, all) => (part === '*' ? all : part.split(','))
    return of(example, examples).flatMap((e) =>
      of(scheme, SCHEMES).flatMap((c) =>
        of(
          size,
          SIZES.map((s) => s.join('x')),
        ).flatMap((s) =>
          of(stage, stages).map((id) => ({
            example: e,
            stage: id,
            size: s.split('x').map(Number),
            scheme: c,
          })),
        ),
      ),
    )
  })
  for (const path of await takeScreenshots(shots, folder, { full })) console.log(path)
}

if (process.argv[1] === fileURLToPath(import.meta.url)) await main(process.argv.slice(2))
