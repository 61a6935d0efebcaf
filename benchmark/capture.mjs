// `halfbit capture`, start to verdict, against `mawk` adding up the first column of the same CSV file.
//
//   node benchmark/capture.mjs [MB] [rounds]      100 MB and 5 rounds when absent
//   node benchmark/capture.mjs 3000 1             also tells the memory of a file larger than that
//
// The signal is invented: the refresh of thirty locomotives, half-bits with the jitter of a clock at 16 MHz, times
// in seconds to the nanosecond. The same edges are written as CSV and as VCD until either has the size asked for.
import { spawnSync } from 'node:child_process'
import { closeSync, mkdtempSync, openSync, rmSync, statSync, writeSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const megabytes = Number(process.argv[2] ?? 100)
const rounds = Number(process.argv[3] ?? 5)
const main = fileURLToPath(new URL('../dist/cli/main.js', import.meta.url))
const folder = mkdtempSync(join(tmpdir(), 'halfbit-benchmark-'))

/** Half-bits of endless refresh, ns; whole cycles of 62.5 ns rounded to the nanosecond as a sampler sees them. */
function* halfBits() {
  let state = 1
  const random = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
  const half = (isOne) => Math.round((isOne ? 928 : 1600) * 62.5 + Math.floor(random() * 3) * 62.5)
  for (let n = 0; ; n++) {
    const address = 3 + (n % 30)
    const bytes = [address, 0x3f, (n * 7) & 255]
    bytes.push(bytes[0] ^ bytes[1] ^ bytes[2])
    const bits = [...'1'.repeat(16), ...bytes.flatMap((b) => ['0', ...b.toString(2).padStart(8, '0')]), '1']
    for (const bit of bits) {
      yield half(bit === '1')
      yield half(bit === '1')
    }
  }
}

function write(path, head, row) {
  const file = openSync(path, 'w')
  let text = head
  let size = 0
  let ns = 0
  let level = 0
  for (const half of halfBits()) {
    text += row(ns, level)
    ns += half
    level = 1 - level
    if (text.length < 1 << 20) continue
    size += writeSync(file, text)
    text = ''
    if (size >= megabytes * 1e6) break
  }
  closeSync(file)
  return path
}

const seconds = (ns) => {
  const whole = Math.floor(ns / 1e9)
  return `${whole}.${String(ns - whole * 1e9).padStart(9, '0')}`
}
const csv = write(join(folder, 'main.csv'), 'time [s],main\n', (ns, level) => `${seconds(ns)},${level}\n`)
const vcd = write(
  join(folder, 'main.vcd'),
  '$timescale 1 ns $end\n$var wire 1 ! main $end\n$enddefinitions $end\n',
  (ns, level) => `#${ns}\n${level}!\n`,
)

function timed(command, args, allowed) {
  const start = performance.now()
  const done = spawnSync(command, args, { encoding: 'utf8' })
  const ms = performance.now() - start
  if (done.error) throw done.error
  if (!allowed.includes(done.status)) throw new Error(`${command} ended with ${done.status}: ${done.stderr}`)
  return { ms, out: done.stdout, err: done.stderr }
}

const verdict = (file) => {
  const { ms, out } = timed(process.execPath, [main, 'capture', file, '--json'], [0])
  const { packets, evidence } = JSON.parse(out)
  if (packets.valid < 1000 || packets.valid !== packets.total) throw new Error('packets were lost')
  if (evidence.some((e) => e.verdict === 'broken')) throw new Error('a sound signal was judged broken')
  return ms
}
const referee = () => timed('mawk', ['-F,', '{s+=$1} END{print s}', csv], [0]).ms

try {
  const size = (file) => `${(statSync(file).size / 1e6).toFixed(0)} MB`
  const runs = []
  // The first run fills the cache of files.
  verdict(csv)
  verdict(vcd)
  for (let i = 0; i < rounds; i++) runs.push({ mawk: referee(), csv: verdict(csv), vcd: verdict(vcd) })
  const median = (key) => runs.map((r) => r[key]).sort((a, b) => a - b)[rounds >> 1]
  const base = median('mawk')
  console.log(
    `referee, mawk adds up a column of CSV, ${size(csv)}: ${base.toFixed(0)} ms (median of ${rounds})`,
  )
  for (const [key, file] of [
    ['csv', csv],
    ['vcd', vcd],
  ]) {
    const ms = median(key)
    const ratios = runs.map((r) => (r[key] / r.mawk).toFixed(2)).join(', ')
    console.log(
      `halfbit capture, ${key.toUpperCase()}, ${size(file)}: ${ms.toFixed(0)} ms, ${(ms / base).toFixed(2)} of the referee (${ratios})`,
    )
  }
  const memory = spawnSync('/usr/bin/time', ['-f', '%M', process.execPath, main, 'capture', csv, '--json'], {
    encoding: 'utf8',
  })
  if (!memory.error) {
    const kilobytes = Number(memory.stderr.trim().split('\n').at(-1))
    console.log(`memory for the CSV at most: ${(kilobytes / 1000).toFixed(0)} MB`)
  }
} finally {
  rmSync(folder, { recursive: true, force: true })
}
