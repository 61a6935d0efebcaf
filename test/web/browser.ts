/// <reference lib="dom" />
/** The real browser and a workbench for it to open. */
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs'
import { createServer } from 'node:http'
import type { AddressInfo } from 'node:net'
import { tmpdir } from 'node:os'
import { extname, join } from 'node:path'
import { type Browser, chromium, type Page } from 'playwright-core'
import { serveWorkbench, type Workbench } from '../../src/cli/serve/server.js'

const root = new URL('../../', import.meta.url).pathname
export const assets = join(root, 'dist/web')
const program = '/usr/bin/chromium'

/** Why these tests cannot run, if so. */
export const missing = !existsSync(program)
  ? 'chromium is not installed (apt-get install chromium)'
  : !existsSync(join(assets, 'index.html'))
    ? 'the pages are not built (npm run build)'
    : undefined
if (missing) console.warn(`SKIPPED, the workbench in the browser: ${missing}`)

export function launch(): Promise<Browser> {
  return chromium.launch({
    executablePath: program,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
  })
}

export interface Bench {
  workbench: Workbench
  folder: string
  /** The design on disk. */
  design: string
  text(): string
  end(): Promise<void>
}

/** An example's copy in a folder of its own, served. */
export function serveExample(name: string): Promise<Bench> {
  const folder = mkdtempSync(join(tmpdir(), 'halfbit-web-'))
  cpSync(join(root, 'examples', name), folder, { recursive: true })
  return serveFolder(folder)
}

/** A folder with a design, served; it is removed at the end. */
export async function serveFolder(folder: string): Promise<Bench> {
  const design = join(folder, 'halfbit.yaml')
  const workbench = await serveWorkbench(design, assets)
  return {
    workbench,
    folder,
    design,
    text: () => readFileSync(design, 'utf8'),
    async end() {
      await workbench.close()
      rmSync(folder, { recursive: true, force: true })
    },
  }
}

const TYPES: Record<string, string> = { '.html': 'text/html', '.js': 'text/javascript', '.css': 'text/css' }

/** The built files alone, as any web host would serve them. */
export async function serveStatic(): Promise<{ url: string; close(): void }> {
  const server = createServer((request, response) => {
    const path = join(assets, new URL(request.url ?? '/', 'http://x').pathname)
    const file = existsSync(path) && statSync(path).isDirectory() ? join(path, 'index.html') : path
    if (!file.startsWith(assets) || !existsSync(file)) {
      response.writeHead(404).end()
      return
    }
    response.writeHead(200, { 'Content-Type': TYPES[extname(file)] ?? 'application/octet-stream' })
    response.end(readFileSync(file))
  })
  await new Promise<void>((done) => server.listen(0, '127.0.0.1', done))
  return {
    url: `http://127.0.0.1:${(server.address() as AddressInfo).port}/`,
    close: () => void server.close(),
  }
}

/** What the page shows is in the file, too. */
export const saved = (page: Page): Promise<void> =>
  page.locator('p.save').getByText('saved', { exact: true }).waitFor({ state: 'attached' })

/** Opens a stage by the signal path, which a narrow screen folds. */
export async function openStage(page: Page, stage: string): Promise<void> {
  const path = page.locator('nav.line')
  const link = path.getByRole('link', { name: new RegExp(`^${stage}`) })
  if (!(await link.isVisible())) await path.locator('.path-open').click()
  await link.click()
}

/**
 * Opens the workbench, past the tour, and waits until it has calculated. Faults of the page fail the test.
 * @param automatic whether it runs what the design names by itself.
 */
export async function openPage(
  browser: Browser,
  url: string,
  faults: string[],
  automatic: boolean | 'with the bench' = false,
): Promise<Page> {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 } })
  await context.addInitScript((on) => {
    localStorage.setItem('halfbit-tour-seen', '1')
    if (!on) localStorage.setItem('halfbit-automatic-runs', 'off')
    if (on !== 'with the bench') localStorage.setItem('halfbit-automatic-bench', 'off')
  }, automatic)
  const page = await context.newPage()
  page.on('pageerror', (error) => faults.push(String(error.stack ?? error)))
  page.on('console', (message) => {
    if (message.type() === 'error' && !/409|Failed to load resource/.test(message.text()))
      faults.push(message.text())
  })
  page.setDefaultTimeout(25_000)
  await page.goto(url)
  await page.locator('.matrix tbody tr').first().waitFor()
  return page
}
