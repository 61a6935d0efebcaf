// The workbench in Debian's Chromium, drawn in software: what the first load takes, and how smoothly the waveform of
// 10 million edges pans and zooms, against the same page's own frames while nothing is drawn. Build first.
import { once } from 'node:events'
import { cpSync, createWriteStream, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { gzipSync } from 'node:zlib'
import { chromium } from 'playwright-core'
import { serveWorkbench } from '../dist/cli/serve/server.js'
import { SignalEncoder } from '../dist/signal/index.js'

const EDGES = Number(process.argv[2] ?? 10e6)
const FRAMES = 300
const folder = mkdtempSync(join(tmpdir(), 'halfbit-bench-'))
cpSync(fileURLToPath(new URL('../examples/exhibition', import.meta.url)), folder, { recursive: true })
const workbench = await serveWorkbench(
  join(folder, 'halfbit.yaml'),
  fileURLToPath(new URL('../dist/web', import.meta.url)),
)
const browser = await chromium.launch({
  executablePath: '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run'],
})
const quantile = (list, q) =>
  [...list].sort((a, b) => a - b)[Math.min(list.length - 1, Math.floor(q * list.length))]

/** Packets to 40 addresses, again and again, as a change-only CSV. */
async function writeCapture(path) {
  const encoder = new SignalEncoder()
  for (let a = 1; a <= 40; a++) encoder.packet(Uint8Array.of(a, 0x3f, 0x80 + a, a ^ 0x3f ^ (0x80 + a)))
  const { ticks, count } = encoder.edges
  const lastsUs = encoder.timeUs
  const file = createWriteStream(path)
  file.write('Time [us],main\n')
  let written = 0
  for (let round = 0; written < EDGES; round++) {
    const lines = []
    for (let i = 0; i < count && written < EDGES; i++, written++)
      lines.push(`${(round * lastsUs + ticks[i] / 1000).toFixed(0)},${written & 1}\n`)
    if (!file.write(lines.join(''))) await once(file, 'drain')
  }
  file.end()
  await once(file, 'close')
}

try {
  const page = await browser.newPage({ viewport: { width: 1440, height: 900 } })
  await page.addInitScript(() => localStorage.setItem('halfbit-tour-seen', '1'))
  const bodies = []
  // Data of the design is not counted, and the stream of its changes never ends.
  page.on('response', (r) => {
    if (!new URL(r.url()).pathname.startsWith('/api/')) bodies.push(r.body())
  })
  const began = performance.now()
  await page.goto(workbench.url)
  await page.locator('.matrix tbody tr').first().waitFor()
  const alive = performance.now() - began
  const pages = await Promise.all(bodies)
  const packed = pages.reduce((sum, body) => sum + gzipSync(body).length, 0)
  console.log(
    `first load      ${pages.length} files, ${(packed / 1000).toFixed(1)} kB gzip (wanted: below 300)`,
  )
  console.log(`example alive   ${(alive / 1000).toFixed(2)} s after the address was opened (wanted: below 2)`)

  const capture = join(folder, 'long.csv')
  await writeCapture(capture)
  await page.evaluate(() => (location.hash = '#/waveform'))
  const from = performance.now()
  await page.locator('.drop input[type=file]').setInputFiles(capture)
  await page.locator('.waveform canvas').waitFor({ timeout: 600_000 })
  console.log(
    `capture         ${EDGES} edges read, judged and on screen in ${((performance.now() - from) / 1000).toFixed(1)} s`,
  )

  const frames = (way) =>
    page.evaluate(
      async ([kind, count]) => {
        const canvas = document.querySelector('.waveform canvas')
        const box = canvas.getBoundingClientRect()
        if (kind !== 'idle') canvas.dispatchEvent(new KeyboardEvent('keydown', { key: '0', bubbles: true }))
        const gaps = []
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
          const now = await new Promise(requestAnimationFrame)
          gaps.push(now - last)
          last = now
        }
        return gaps
      },
      [way, FRAMES],
    )
  const idle = quantile(await frames('idle'), 0.95)
  console.log(`frames, idle    p95 ${idle.toFixed(1)} ms (the referee: the same page, nothing drawn)`)
  for (const way of ['zoom', 'pan']) {
    const gaps = await frames(way)
    const p95 = quantile(gaps, 0.95)
    console.log(
      `frames, ${way.padEnd(7)} p95 ${p95.toFixed(1)} ms, median ${quantile(gaps, 0.5).toFixed(1)} ms, ${(p95 / idle).toFixed(2)} of idle (wanted: below 16.7 ms)`,
    )
  }
} finally {
  await browser.close()
  await workbench.close()
  rmSync(folder, { recursive: true, force: true })
}
