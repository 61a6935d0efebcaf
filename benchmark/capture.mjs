// `halfbit capture` from start to verdict on change-only files, against awk adding up a column of the same CSV.
// Size in MB as argument, 100 by default.
import { spawnSync } from 'node:child_process'
import { closeSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { CsvWriter, VcdWriter } from '../dist/capture/index.js'
import { ENCODER_CLOCK, encodeSignal } from '../dist/signal/index.js'

const size = Number(process.argv[2] ?? 100) * 1e6
const folder = mkdtempSync(join(tmpdir(), 'halfbit-benchmark-'))
const main = new URL('../dist/cli/main.js', import.meta.url).pathname

/** A signal of many locomotives, written until the file is large enough. */
function write(path, Writer) {
  const packets = Array.from({ length: 300 }, (_, i) => {
    const bytes = [3 + (i % 90), 0x3f, (i * 37) & 255]
    return [...bytes, bytes[0] ^ bytes[1] ^ bytes[2]]
  })
  const edges = encodeSignal(packets)
  const count = edges.count - 1
  const length = edges.ticks[count]
  const levels = edges.levels.subarray(0, count)
  const writer = new Writer(ENCODER_CLOCK)
  const file = openSync(path, 'w')
  for (let written = 0, k = 0; written < size; k++) {
    const ticks = Float64Array.from(edges.ticks.subarray(0, count), (t) => t + length * k)
    written += writeSync(file, writer.write({ ticks, levels, count }))
  }
  closeSync(file)
}

function time(command, args) {
  const start = performance.now()
  const done = spawnSync(command, args, { stdio: ['ignore', 'ignore', 'inherit'] })
  if (done.error) throw done.error
  if (done.status !== 0) throw new Error(`${command} ended with ${done.status}`)
  return (performance.now() - start) / 1000
}

const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1]

try {
  const csv = join(folder, 'signal.csv')
  const vcd = join(folder, 'signal.vcd')
  write(csv, CsvWriter)
  write(vcd, VcdWriter)
  const runs = Array.from({ length: 5 }, () => ({
    csv: time(process.execPath, [main, 'capture', csv]),
    vcd: time(process.execPath, [main, 'capture', vcd]),
    awk: time('mawk', ['-F,', '{s+=$1} END{print s}', csv]),
  }))
  const [c, v, a] = ['csv', 'vcd', 'awk'].map((k) => median(runs.map((r) => r[k])))
  console.log(
    `mawk adds up the first column in ${a.toFixed(2)} s (${size / 1e6} MB, median of ${runs.length} runs)`,
  )
  console.log(`halfbit capture, CSV: ${c.toFixed(2)} s, ${(c / a).toFixed(2)} of it`)
  console.log(`halfbit capture, VCD: ${v.toFixed(2)} s, ${(v / a).toFixed(2)} of it`)
} finally {
  rmSync(folder, { recursive: true, force: true })
}
