// `halfbit capture` of 100 MB, start to verdict, against `mawk` adding up the first column of the CSV; and the memory of 3 GB.
//
// The signal is invented: the refresh of thirty locomotives, half-bits with the jitter of a clock at 16 MHz, times in
// seconds to the nanosecond. The same edges are written as CSV and as VCD until either has the size asked for.
import { closeSync, existsSync, openSync, writeSync } from 'node:fs'
import { join } from 'node:path'
import { buildAt, Missing, needs, run, wallSeconds } from '../measuring.mjs'

const HUNDRED_MB = 100e6
const THREE_GB = 3e9

const figure = (id, work) => ({
  id,
  work,
  unit: 's',
  better: 'less',
  referee: { name: 'of mawk', as: 'share' },
  wanted: { of: 'referee', atMost: 0.25 },
})

export const capture = {
  name: 'capture',
  rounds: 7,
  figures: [figure('csv', '100 MB CSV to the verdict'), figure('vcd', '100 MB VCD to the verdict')],
  prepare(scratch) {
    writeCsv(join(scratch, 'main.csv'), HUNDRED_MB)
    writeVcd(join(scratch, 'main.vcd'), HUNDRED_MB)
  },
  ours: ({ id }, build, scratch) => secondsToVerdict(build, join(scratch, `main.${id}`)),
  referee(_figure, _build, scratch) {
    needs('mawk', 'mawk')
    return wallSeconds('mawk', ['-F,', '{s+=$1} END{print s}', join(scratch, 'main.csv')])
  },
}

export const memory = {
  name: 'memory',
  large: true,
  rounds: 1,
  figures: [
    {
      id: 'memory',
      work: 'memory of a 3 GB capture',
      unit: 'MB',
      better: 'less',
      wanted: { of: 'now', atMost: 80, text: 'stays at 80' },
    },
  ],
  prepare: (scratch) => writeCsv(join(scratch, 'large.csv'), THREE_GB),
  ours(_figure, build, scratch) {
    if (!existsSync('/usr/bin/time')) throw new Missing('time is not installed (apt-get install time)')
    const args = [
      '-f',
      '%M',
      process.execPath,
      buildAt(build).cli,
      'capture',
      join(scratch, 'large.csv'),
      '--json',
    ]
    return Number(run('/usr/bin/time', args).stderr.trim().split('\n').at(-1)) / 1000
  },
}

function secondsToVerdict(build, file) {
  const start = performance.now()
  const { stdout } = run(process.execPath, [buildAt(build).cli, 'capture', file, '--json'])
  const seconds = (performance.now() - start) / 1000
  const { packets, evidence } = JSON.parse(stdout)
  if (packets.valid < 1000 || packets.valid !== packets.total) throw new Error('packets were lost')
  if (evidence.some((e) => e.verdict === 'broken')) throw new Error('a sound signal was judged broken')
  return seconds
}

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

function write(path, size, head, row) {
  const file = openSync(path, 'w')
  let text = head
  let written = 0
  let ns = 0
  let level = 0
  for (const half of halfBits()) {
    text += row(ns, level)
    ns += half
    level = 1 - level
    if (text.length < 1 << 20) continue
    written += writeSync(file, text)
    text = ''
    if (written >= size) break
  }
  closeSync(file)
}

const seconds = (ns) => {
  const whole = Math.floor(ns / 1e9)
  return `${whole}.${String(ns - whole * 1e9).padStart(9, '0')}`
}

function writeCsv(path, size) {
  write(path, size, 'time [s],main\n', (ns, level) => `${seconds(ns)},${level}\n`)
}

function writeVcd(path, size) {
  const head = '$timescale 1 ns $end\n$var wire 1 ! main $end\n$enddefinitions $end\n'
  write(path, size, head, (ns, level) => `#${ns}\n${level}!\n`)
}
