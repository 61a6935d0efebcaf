// The workbench in Debian's Chromium, drawn in software, every figure with its spread: when the first picture of the
// example is there and when all its evidence is; from an edit to its figures on screen; how smoothly the map of 2,000
// sections and a waveform of 100 million edges (a file of 1.2 GB) pan and zoom, against the same page's own frames while
// nothing is drawn; memory; what the first load takes. At the end all of it as one table, beside what is wanted.
//
//   node benchmark/web.mjs              about six minutes on a quiet machine
//   node benchmark/web.mjs --quick      small sizes and few rounds: shows that it works, measures nothing
//   node benchmark/web.mjs --edges 10e6 a shorter waveform
//   node benchmark/web.mjs --read 30e6  reads a capture of so many edges, too: how much memory it takes, and how soon a
//                                       stretch of it can be looked at edge by edge
//   node benchmark/web.mjs --only edits,map  of loads, edits, map and waveform
//
// Build first.
import { once } from 'node:events'
import {
  cpSync,
  createWriteStream,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  writeFileSync,
} from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { parseArgs } from 'node:util'
import { gzipSync } from 'node:zlib'
import { chromium } from 'playwright-core'
import { serveWorkbench } from '../dist/cli/serve/server.js'
import { SignalEncoder } from '../dist/signal/index.js'
import { firstLoad } from '../scripts/first-load.mjs'
import { ring } from './ring.mjs'

const { values: asked } = parseArgs({
  options: {
    quick: { type: 'boolean', default: false },
    edges: { type: 'string' },
    read: { type: 'string', default: '0' },
    only: { type: 'string', default: 'loads,edits,map,waveform' },
  },
})
const isAsked = (part) => asked.only.split(',').includes(part)
const EDGES = Number(asked.edges ?? (asked.quick ? 200e3 : 100e6))
const LONG_EDGES = Number(asked.read)
const FRAMES = asked.quick ? 40 : 300
const MAP = '[aria-label="Map of the railroad"]'
const MAP_FRAMES = asked.quick ? 20 : 120
const LOADS = asked.quick ? 2 : 5
const SECTIONS = asked.quick ? 60 : 2000
/** Of each number, and how many of the first are not counted: they still compile. */
const [EDITED, WARM] = asked.quick ? [4, 1] : [20, 4]
const ASSETS = fileURLToPath(new URL('../dist/web', import.meta.url))

/** What the table at the end says. */
const rows = []
function say(what, now, wanted = '') {
  rows.push([what, now, wanted])
  console.log(`${what.padEnd(34)} ${now}${wanted === '' ? '' : ` (wanted: ${wanted})`}`)
}
/** One number of each part of a design: what is in the text, and what takes its place the nth time. */
const EDITS = {
  exhibition: [
    ['half of a one bit', 'oneHalf: 58 us', (i) => `oneHalf: ${(58 + i / 25).toFixed(2)} us`],
    ['trip current', 'current: 3.5 A', (i) => `current: ${3.4 - i / 200} A`],
    ['place of a feeder', 'at: 4 m', (i) => `at: ${(4.05 + i / 20).toFixed(2)} m`],
  ],
  'two-tracks': [['trip current', 'current: 2 A', (i) => `current: ${1.99 - i / 100} A`]],
  shelf: [
    ['trip current', 'current: 1.5 A', (i) => `current: ${1.4 - i / 100} A`],
    ['length of a section', 'length: 400 mm', (i) => `length: ${401 + i} mm`],
  ],
  automation: [['half of a one bit', 'oneHalf: 58 us', (i) => `oneHalf: ${(58 + i / 25).toFixed(2)} us`]],
  flawed: [['place of a feeder', 'at: 4 m', (i) => `at: ${(4.05 + i / 20).toFixed(2)} m`]],
}
const folder = mkdtempSync(join(tmpdir(), 'halfbit-bench-'))
cpSync(fileURLToPath(new URL('../examples/exhibition', import.meta.url)), folder, { recursive: true })
const workbench = await serveWorkbench(join(folder, 'halfbit.yaml'), ASSETS)
const browser = await chromium.launch({
  executablePath: '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run'],
})
const quantile = (list, q) =>
  [...list].sort((a, b) => a - b)[Math.min(list.length - 1, Math.floor(q * list.length))]

/** Median with the range. */
const spread = (list, digits = 0, unit = 'ms') =>
  `${quantile(list, 0.5).toFixed(digits)} ${unit} (${Math.min(...list).toFixed(digits)} to ${Math.max(...list).toFixed(digits)} of ${list.length})`

/** What the page asks for until its first picture is drawn, compressed as web hosts do it, beside the build's own count. */
async function countFirstLoad(page) {
  await page.addInitScript(() => {
    new MutationObserver((_, self) => {
      if (!document.querySelector('.matrix tbody tr')) return
      self.disconnect()
      globalThis.firstPictureAt = Date.now()
    }).observe(document, { childList: true, subtree: true })
  })
  const seen = []
  // Data of the design is not counted, and the stream of its changes never ends.
  page.on('requestfinished', (r) => {
    if (!new URL(r.url()).pathname.startsWith('/api/')) seen.push(r)
  })
  await page.goto(workbench.url)
  await page.waitForFunction(() => globalThis.firstPictureAt)
  const at = await page.evaluate(() => globalThis.firstPictureAt)
  let bytes = 0
  let later = 0
  let count = 0
  for (const r of seen) {
    const packed = gzipSync(await (await r.response()).body()).length
    if (r.timing().startTime > at) later += packed
    else {
      bytes += packed
      count++
    }
  }
  const kB = (n) => `${(n / 1000).toFixed(1)} kB`
  const own = firstLoad(ASSETS).reduce((sum, file) => sum + file.bytes, 0)
  say(
    'first load, gzip',
    `${count} files, ${kB(bytes)}; ${kB(own)} by the build's count; ${kB(later)} asked for right after it`,
    'at most 300 kB',
  )
}

/** Each in a browser profile of its own, so that nothing is kept from the one before. */
async function timeLoads() {
  const first = []
  const all = []
  for (let i = 0; i < LOADS; i++) {
    const context = await browser.newContext({ viewport: { width: 1440, height: 900 } })
    const page = await context.newPage()
    await page.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
    const began = performance.now()
    await page.goto(workbench.url)
    await page.locator('.matrix tbody tr').first().waitFor()
    first.push(performance.now() - began)
    await page.locator('main:not([data-busy])').waitFor({ timeout: 120_000 })
    all.push(performance.now() - began)
    await context.close()
  }
  say('first useful picture', spread(first), 'at most 1000 ms')
  say('every evidence', `${spread(all)}, firmware run and capture read`, 'at most 5000 ms')
}

/** The map of a large railroad under the wheel and the pointer, against the same page at rest. */
async function timeMap() {
  const own = mkdtempSync(join(tmpdir(), 'halfbit-bench-'))
  writeFileSync(join(own, 'halfbit.yaml'), ring(SECTIONS))
  const open = await serveWorkbench(join(own, 'halfbit.yaml'), ASSETS)
  const page = await browser.newPage({ viewport: { width: 1440, height: 900 } })
  await page.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
  const began = performance.now()
  await page.goto(`${open.url}`)
  await page.locator('main').waitFor({ timeout: 120_000 })
  await page.evaluate(() => {
    location.hash = '#/track'
  })
  await page.locator(`${MAP} svg.track-map`).waitFor({ timeout: 300_000 })
  say(
    `map of ${SECTIONS} sections, on screen`,
    `${((performance.now() - began) / 1000).toFixed(1)} s after the address was opened`,
  )
  await page.locator('main:not([data-busy])').waitFor({ timeout: 300_000 })
  let idle = 0
  for (const way of ['idle', 'zoom', 'pan']) {
    const gaps = await page.evaluate(
      async ([kind, count, map]) => {
        const svg = document.querySelector(`${map} svg`)
        const box = svg.getBoundingClientRect()
        const at = {
          bubbles: true,
          cancelable: true,
          clientX: box.x + box.width / 2,
          clientY: box.y + box.height / 2,
        }
        const wheel = (deltaY) => svg.dispatchEvent(new WheelEvent('wheel', { ...at, deltaY, ctrlKey: true }))
        const pointer = (type, x) =>
          svg.dispatchEvent(
            new PointerEvent(type, {
              ...at,
              clientX: x,
              pointerId: 1,
              button: 0,
              buttons: type === 'pointerup' ? 0 : 1,
            }),
          )
        if (kind === 'pan') {
          for (let i = 0; i < 10; i++) wheel(-100)
          pointer('pointerdown', at.clientX)
        }
        const gaps = []
        let last = await new Promise(requestAnimationFrame)
        for (let i = 0; i < count; i++) {
          const share = Math.sin((i / count) * 2 * Math.PI)
          if (kind === 'zoom') wheel(-40 * Math.sign(share))
          if (kind === 'pan') pointer('pointermove', at.clientX + 200 * share)
          const now = await new Promise(requestAnimationFrame)
          gaps.push(now - last)
          last = now
        }
        if (kind === 'pan') pointer('pointerup', at.clientX)
        return gaps
      },
      [way, MAP_FRAMES, MAP],
    )
    const p95 = quantile(gaps, 0.95)
    if (way === 'idle') idle = p95
    say(
      `map of ${SECTIONS} sections, ${way}`,
      `frames p95 ${p95.toFixed(1)} ms, p50 ${quantile(gaps, 0.5).toFixed(1)} ms, longest ${Math.max(...gaps).toFixed(0)} ms`,
      way === 'idle' ? '' : `p95 ${idle.toFixed(1)} ms, as idle`,
    )
  }
  await page.close()
  await open.close()
  rmSync(own, { recursive: true, force: true })
}

/** Packets to 40 addresses, again and again, as a change-only CSV. */
async function writeCapture(path, edges) {
  const encoder = new SignalEncoder()
  for (let a = 1; a <= 40; a++) encoder.packet(Uint8Array.of(a, 0x3f, 0x80 + a, a ^ 0x3f ^ (0x80 + a)))
  const { ticks, count } = encoder.edges
  const lastsUs = encoder.timeUs
  const file = createWriteStream(path)
  file.write('Time [us],main\n')
  let written = 0
  for (let round = 0; written < edges; round++) {
    const lines = []
    for (let i = 0; i < count && written < edges; i++, written++)
      lines.push(`${(round * lastsUs + ticks[i] / 1000).toFixed(0)},${written & 1}\n`)
    if (!file.write(lines.join(''))) await once(file, 'drain')
  }
  file.end()
  await once(file, 'close')
}

/** Highest memory so far of each process that shows pages, MB (Linux tells it). */
async function renderers() {
  const session = await browser.newBrowserCDPSession()
  const { processInfo } = await session.send('SystemInfo.getProcessInfo')
  const peak = (pid) =>
    Number(/VmHWM:\s+(\d+)/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? 0) / 1000
  return new Map(processInfo.filter((p) => p.type === 'renderer').map((p) => [p.id, peak(p.id)]))
}

/** From a changed number to what follows from it on screen; what trains do in an hour of traffic may follow later. */
async function timeEdits(example, edits) {
  const own = mkdtempSync(join(tmpdir(), 'halfbit-bench-'))
  cpSync(fileURLToPath(new URL(`../examples/${example}`, import.meta.url)), own, { recursive: true })
  const open = await serveWorkbench(join(own, 'halfbit.yaml'), ASSETS)
  const page = await browser.newPage({ viewport: { width: 1440, height: 900 } })
  await page.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
  await page.goto(open.url)
  await page.waitForFunction(() => performance.getEntriesByName('all consequences').length > 0, undefined, {
    timeout: 300_000,
  })
  await page.getByRole('button', { name: 'Text', exact: true }).click()
  const area = page.locator('textarea')
  const text = await area.inputValue()
  for (const [what, from, to] of edits) {
    if (!text.includes(from)) throw new Error(`${example} has no ${from}`)
    const took = { first: [], all: [] }
    for (let i = 0; i < EDITED; i++) {
      const found = await area.evaluate(
        async (field, next) => {
          if (field.value === next) throw new Error('an edit that changes nothing')
          performance.clearMeasures()
          const began = performance.now()
          field.value = next
          field.dispatchEvent(new Event('input', { bubbles: true }))
          while (performance.getEntriesByName('all consequences').length === 0) {
            if (performance.now() - began > 120_000)
              throw new Error(`nothing follows from it: ${document.querySelector('.notice')?.textContent}`)
            await new Promise((done) => setTimeout(done, 5))
          }
          const ms = (name) => performance.getEntriesByName(name)[0]?.duration
          return { first: ms('first consequences'), all: ms('all consequences') }
        },
        text.replace(from, to(i)),
      )
      if (i < WARM) continue
      took.first.push(found.first ?? found.all)
      if (found.first !== undefined) took.all.push(found.all)
    }
    const all = took.all.length > 0 ? took.all : took.first
    say(
      `edit, ${example}: ${what}`,
      `first figure p95 ${quantile(took.first, 0.95).toFixed(0)} ms, ${spread(took.first)}; all p95 ${quantile(all, 0.95).toFixed(0)} ms, ${spread(all)}`,
      'first 50 ms, all p95 below 100 ms',
    )
  }
  await page.close()
  await open.close()
  rmSync(own, { recursive: true, force: true })
}

/** The waveform of a long capture, and what a file that is longer still takes. */
async function timeWaveform(page) {
  const capture = join(folder, 'long.csv')
  await writeCapture(capture, EDGES)
  await page.evaluate(() => (location.hash = '#/waveform'))
  const from = performance.now()
  await page.locator('.consequences .drop input[type=file]').setInputFiles(capture)
  // Until then the capture that the design names is there.
  await page.locator('.waveform canvas[aria-label*="long.csv. "]').waitFor({ timeout: 1_200_000 })
  say(
    `waveform of ${EDGES / 1e6} million edges`,
    `read, judged and on screen in ${((performance.now() - from) / 1000).toFixed(1)} s`,
  )
  await page.locator('.going').waitFor({ state: 'detached', timeout: 1_200_000 })
  say(
    'memory',
    `at most ${Math.max(...(await renderers()).values()).toFixed(0)} MB in the page's process`,
    'stated',
  )

  const chrome = await page.context().newCDPSession(page)
  // Time on the processor, so that a busy machine does not count.
  await chrome.send('Performance.enable', { timeDomain: 'threadTicks' })
  /** Time the page's main thread has worked so far, ms: scripts, layout, and the drawing of the canvas. */
  const worked = async () => {
    const { metrics } = await chrome.send('Performance.getMetrics')
    return 1000 * metrics.find((m) => m.name === 'TaskDuration').value
  }
  /** Frames while the waveform moves, or rests: gaps between them, time in drawing calls, work of the thread. */
  const frames = async (way) => {
    const before = await worked()
    const seen = await page.evaluate(
      async ([kind, count]) => {
        const canvas = document.querySelector('.waveform canvas')
        const box = canvas.getBoundingClientRect()
        if (kind !== 'idle') canvas.dispatchEvent(new KeyboardEvent('keydown', { key: '0', bubbles: true }))
        const gaps = []
        const draws = []
        const note = (list) => {
          for (const entry of list) if (entry.name === 'halfbit-draw') draws.push(entry.duration)
        }
        const observer = new PerformanceObserver((list) => note(list.getEntries()))
        observer.observe({ type: 'measure' })
        let last = await new Promise(requestAnimationFrame)
        for (let i = 0; i < count; i++) {
          // In from the whole record to single half-bits and out again; or along it at every width.
          const way = Math.sin((i / count) * 2 * Math.PI)
          const init = {
            bubbles: true,
            cancelable: true,
            clientX: box.x + box.width * 0.37,
            clientY: box.y + 100,
          }
          if (kind === 'zoom')
            canvas.dispatchEvent(new WheelEvent('wheel', { ...init, deltaY: -100 * Math.sign(way) }))
          if (kind === 'pan')
            canvas.dispatchEvent(new WheelEvent('wheel', { ...init, deltaX: 40 * Math.sign(way) }))
          if (kind === 'near') {
            // Among single bits and their words, where most is written.
            if (i < 20)
              canvas.dispatchEvent(new WheelEvent('wheel', { ...init, deltaY: i === 0 ? -9000 : 0 }))
            canvas.dispatchEvent(new WheelEvent('wheel', { ...init, deltaX: 40 * Math.sign(way) }))
          }
          const now = await new Promise(requestAnimationFrame)
          gaps.push(now - last)
          last = now
        }
        note(observer.takeRecords())
        observer.disconnect()
        return { gaps, draws }
      },
      [way, FRAMES],
    )
    return { ...seen, work: ((await worked()) - before) / FRAMES }
  }
  const ms = (value) => `${value.toFixed(value < 1 ? 2 : 1)} ms`
  const rest = await frames('idle')
  const idle = quantile(rest.gaps, 0.95)
  say('waveform, idle', `frames p95 ${ms(idle)}, ${ms(rest.work)} of work in each`)
  for (const way of ['zoom', 'pan', 'near']) {
    const { gaps, draws, work } = await frames(way)
    const p95 = quantile(gaps, 0.95)
    say(
      `waveform, ${way}`,
      `frames p95 ${ms(p95)}, median ${ms(quantile(gaps, 0.5))}; drawing p95 ${ms(quantile(draws, 0.95))}, longest ${ms(Math.max(...draws))}; ${ms(work)} of work in each`,
      `p95 ${ms(idle)}, as idle`,
    )
  }

  if (LONG_EDGES > 0) {
    const long = join(folder, 'longer.csv')
    await writeCapture(long, LONG_EDGES)
    const megabytes = statSync(long).size / 1e6
    // A page of its own, so that the memory is that of this file.
    const fresh = await (await browser.newContext({ viewport: { width: 1440, height: 900 } })).newPage()
    await fresh.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
    await fresh.goto(workbench.url)
    await fresh.locator('.matrix tbody tr').first().waitFor()
    await fresh.evaluate(() => (location.hash = '#/waveform'))
    const before = await renderers()
    const start = performance.now()
    await fresh.locator('.consequences .drop input[type=file]').setInputFiles(long)
    await fresh.locator('.waveform canvas').waitFor({ timeout: 600_000 })
    const took = (performance.now() - start) / 1000
    const peaks = [...(await renderers())].map(([pid, mb]) => mb - (before.get(pid) ?? 0))
    say(
      `capture of ${LONG_EDGES / 1e6} million edges`,
      `${megabytes.toFixed(0)} MB on screen in ${took.toFixed(1)} s (${(megabytes / took).toFixed(0)} MB/s); memory rose by ${Math.max(...peaks).toFixed(0)} MB at its peak`,
    )
    const canvas = fresh.locator('.waveform canvas')
    await canvas.focus()
    await fresh.keyboard.press('0')
    await fresh.evaluate(() => {
      const element = document.querySelector('.waveform canvas')
      const box = element.getBoundingClientRect()
      const init = { bubbles: true, cancelable: true, clientX: box.x + box.width * 0.9, clientY: box.y + 100 }
      for (let i = 0; i < 110; i++) element.dispatchEvent(new WheelEvent('wheel', { ...init, deltaY: -100 }))
    })
    const asked = performance.now()
    await fresh.getByText('Reading this stretch of the file again').waitFor({ timeout: 2000 })
    await fresh.getByText('Reading this stretch of the file again').waitFor({ state: 'detached' })
    const edgewise = performance.now() - asked
    // And what is there is read as bits.
    await fresh.keyboard.press('Shift+ArrowRight')
    await fresh
      .locator('.waveform figcaption')
      .getByText('Halves 58 and 58 us')
      .or(fresh.locator('.waveform figcaption').getByText('Halves 100 and 100 us'))
      .waitFor()
    say('a stretch at its end, edge by edge', `after ${edgewise.toFixed(0)} ms`)
  }
}

try {
  const page = await browser.newPage({ viewport: { width: 1440, height: 900 } })
  await page.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
  if (isAsked('loads')) {
    await countFirstLoad(page)
    await timeLoads()
  } else await page.goto(workbench.url)
  if (isAsked('edits'))
    for (const [example, edits] of Object.entries(EDITS).slice(0, asked.quick ? 1 : undefined))
      await timeEdits(example, edits)
  if (isAsked('map')) await timeMap()
  if (isAsked('waveform')) await timeWaveform(page)
  const wide = Math.max(...rows.map(([what]) => what.length))
  console.log(`\n${'what'.padEnd(wide)} | now | wanted`)
  for (const [what, now, wanted] of rows) console.log(`${what.padEnd(wide)} | ${now} | ${wanted}`)
} finally {
  await browser.close()
  await workbench.close()
  rmSync(folder, { recursive: true, force: true })
}
