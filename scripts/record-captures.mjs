// Records the captures of the examples again, after their firmware has changed. Needs the build, gcc and libsimavr.
//
// Two are made by an independent simulator (test/referee/simavr-edges.c), not by Halfbit's own; the flawed one by Halfbit's
// own, because the other one does not show a compare value that is missed. All are rounded to what a logic analyser
// sees that looks four million times a second. Afterwards name the build of each in its design (captures, build).
import { execFileSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'
import { madeBySentence } from '../dist/capture/index.js'
import { loadFirmware, SimulatedController } from '../dist/controller/index.js'
import { EdgeList } from '../dist/signal/index.js'

const examples = new URL('../examples/', import.meta.url).pathname
const RATE_HZ = 4e6
const folder = mkdtempSync(join(tmpdir(), 'halfbit-record-'))

/** Runs an ELF file on the independent simulator: the level of one pin after each change, in samples. */
function referee({ elf, mcu, hz, pin, us, says }) {
  const program = join(folder, 'simavr-edges')
  const source = new URL('../test/referee/simavr-edges.c', import.meta.url).pathname
  execFileSync('gcc', ['-O2', '-o', program, source, '-lsimavr', '-lelf', '-lm'])
  const vcd = join(folder, 'run.vcd')
  const texts = says.flatMap(([at, text]) => ['--say', String(at), text])
  execFileSync(program, [elf, mcu, String(hz), pin[1], pin[2], String(us), '--vcd', vcd, ...texts])
  const edges = []
  let ps = 0
  for (const line of readFileSync(vcd, 'utf8').split('\n')) {
    if (line[0] === '#') ps = Number(line.slice(1))
    else if (ps > 0 && (line === '0!' || line === '1!'))
      edges.push([Math.ceil((ps * RATE_HZ) / 1e12), Number(line[0])])
  }
  return edges
}

function own({ elf, chip, hz, pin, us }) {
  const machine = new SimulatedController(chip, hz, loadFirmware(readFileSync(elf), elf))
  const list = new EdgeList()
  const recorder = machine.record(list, pin)
  machine.runTo(Math.round((us * hz) / 1e6))
  recorder.flush()
  return Array.from({ length: list.count }, (_, i) => [
    Math.ceil((list.ticks[i] * RATE_HZ) / hz),
    list.levels[i],
  ])
}

/** What an analyser shows that was started later: its own time begins then, with the level that it finds. */
function from(edges, startUs) {
  const start = startUs * (RATE_HZ / 1e6)
  const level = edges.filter(([sample]) => sample <= start).at(-1)?.[1] ?? 0
  const rest = edges.filter(([sample]) => sample > start).map(([sample, after]) => [sample - start, after])
  return { level, edges: rest }
}

/** VCD (IEEE 1364) with the analyser's period as its time step. */
function vcd({ level, edges }, name, comment, us) {
  const lines = [
    `$comment ${comment} $end`,
    '$timescale 10 ns $end',
    '$scope module probe $end',
    `$var wire 1 ! ${name} $end`,
    '$upscope $end',
    '$enddefinitions $end',
    '#0',
    `${level}!`,
  ]
  for (const [sample, after] of edges) lines.push(`#${sample * 25}`, `${after}!`)
  lines.push(`#${us * 100}`)
  return `${lines.join('\n')}\n`
}

/** CSV of the changes only, time in seconds. */
function csv({ level, edges }, name, comment) {
  const rows = edges.map(([sample, after]) => `${(sample / RATE_HZ).toFixed(8)},${after}`)
  return `# ${comment}\nTime [s],${name}\n0.00000000,${level}\n${rows.join('\n')}\n`
}

function write(path, text) {
  mkdirSync(join(examples, path, '..'), { recursive: true })
  writeFileSync(join(examples, path), gzipSync(text, { level: 9 }))
  console.log(`${path}: ${text.length} bytes, packed ${readFileSync(join(examples, path)).length}`)
}

const INDEPENDENT =
  'simulated, not measured: the firmware on an independent simulator, 4 million samples per second'

function sumOf(name) {
  return createHash('sha256')
    .update(readFileSync(join(examples, name, 'firmware/station.elf')))
    .digest('hex')
}

try {
  for (const name of ['exhibition', 'two-tracks', 'flawed']) console.log(`${name}: build ${sumOf(name)}`)
  const evening = [
    [400e3, 'go 3 60'],
    [420e3, 'key 3 0 on'],
    [500e3, 'go 1247 -35'],
    [600e3, 'key 1247 9 on'],
    [700e3, 'go 47 20'],
    [1000e3, 'go 47 0'],
  ]
  write(
    'exhibition/captures/main.vcd.gz',
    vcd(
      from(
        referee({
          elf: join(examples, 'exhibition/firmware/station.elf'),
          mcu: 'atmega328p',
          hz: 16e6,
          pin: 'PB2',
          us: 1500e3,
          says: evening,
        }),
        10e3,
      ),
      'PB2',
      INDEPENDENT,
      1490e3,
    ),
  )
  const session = [
    [100e3, 'service on'],
    [400e3, 'write 29 6'],
    [700e3, 'verify 29 6'],
  ]
  write(
    'two-tracks/captures/service.csv.gz',
    csv(
      from(
        referee({
          elf: join(examples, 'two-tracks/firmware/station.elf'),
          mcu: 'atmega2560',
          hz: 16e6,
          pin: 'PE4',
          us: 1100e3,
          says: session,
        }),
        150e3,
      ),
      'PE4',
      INDEPENDENT,
    ),
  )
  write(
    'flawed/captures/main.csv.gz',
    csv(
      from(
        own({
          elf: join(examples, 'flawed/firmware/station.elf'),
          chip: 'atmega328p',
          hz: 17734475,
          pin: 'PB1',
          us: 1500e3,
        }),
        10e3,
      ),
      'PB1',
      `${madeBySentence({ command: 'simulate', firmware: { name: 'station.elf', sha256: sumOf('flawed') } })}, at 4 million samples per second`,
    ),
  )
} finally {
  rmSync(folder, { recursive: true, force: true })
}
