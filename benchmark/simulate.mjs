// Simulated time per second with the serial port busy (1000 bytes/s), edges read and judged, against simavr (C) running
// the same ELF for the same simulated time without writing anything. Each run in a process of its own, in turn; what is
// translated pays for its translation within the run.
import { spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'

const SECONDS = 10
const HZ = 16e6
/** Waiting skipped or every instruction executed; interpreted or translated. */
const WAYS = ['skip', 'skip-translated', 'full', 'full-translated']
const ROUNDS = Number(process.env.ROUNDS ?? 5)
const here = (path) => fileURLToPath(new URL(path, import.meta.url))

const CASES = [
  {
    name: 'exhibition',
    elf: here('../examples/exhibition/firmware/station.elf'),
    chip: 'atmega328p',
    pin: 'PB2',
  },
  {
    name: 'two-tracks',
    elf: here('../examples/two-tracks/firmware/station.elf'),
    chip: 'atmega2560',
    pin: 'PB6',
  },
]

/** One run of ours, in this process. @returns seconds of CPU time. */
async function ours(elf, chip, pin, way) {
  const { loadFirmware, parseStimulus, SimulatedController } = await import('../dist/controller/index.js')
  const { judgeSignal, SignalReader } = await import('../dist/signal/index.js')
  const { profileOf } = await import('../dist/standard/index.js')
  const stimulus = parseStimulus('every 1 ms from 1 ms serial 0 0x41', 'benchmark')
  const machine = new SimulatedController(chip, HZ, loadFirmware(readFileSync(elf), elf), {
    stimulus,
    skipWaiting: way.startsWith('skip'),
    translate: way.endsWith('translated'),
  })
  const reader = new SignalReader({ tickUs: 1e6 / HZ, resolutionUs: 0 })
  machine.record(reader, pin)
  const before = process.cpuUsage()
  for (let s = 1; s <= SECONDS; s++) machine.runTo(s * HZ)
  const reading = reader.finish(SECONDS * HZ, 0)
  judgeSignal(reading, profileOf({ profile: 'nmra', scale: 'H0', cutout: false }), {
    origin: 'simulated',
    source: elf,
  })
  const { user, system } = process.cpuUsage(before)
  if (reading.packets.valid < 1000) throw new Error('packets were lost')
  if (machine.usarts[0].received < 990 * SECONDS) throw new Error('bytes were lost')
  return (user + system) / 1e6
}

const median = (list) => list.sort((a, b) => a - b)[list.length >> 1]
const mhz = (seconds) =>
  `${((SECONDS * HZ) / seconds / 1e6).toFixed(0)} MHz (${(SECONDS / seconds).toFixed(1)} times real time)`

if (process.argv[2] === 'ours') {
  const [, , , elf, chip, pin, way] = process.argv
  console.log(await ours(elf, chip, pin, way))
} else {
  const folder = mkdtempSync(join(tmpdir(), 'halfbit-benchmark-'))
  try {
    const simavr = join(folder, 'simavr-edges')
    const gcc = spawnSync('gcc', [
      '-O2',
      '-o',
      simavr,
      here('../test/referee/simavr-edges.c'),
      '-lsimavr',
      '-lelf',
      '-lm',
    ])
    if (gcc.status !== 0) throw new Error('no referee: apt-get install gcc libsimavr-dev libelf-dev')
    const cases = [...CASES]
    const toggle = join(folder, 'toggle.elf')
    const avr = ['-mmcu=atmega328p', '-Os', '-std=gnu11', '-o', toggle, here('../test/firmware/toggle.c')]
    if (spawnSync('avr-gcc', avr).status === 0)
      cases.unshift({ name: 'toggle', elf: toggle, chip: 'atmega328p', pin: 'PB1' })
    for (const { name, elf, chip, pin } of cases) {
      const runs = { simavr: [] }
      for (const way of WAYS) runs[way] = []
      for (let i = 0; i < ROUNDS; i++) {
        for (const way of WAYS) {
          const done = spawnSync(
            process.execPath,
            [fileURLToPath(import.meta.url), 'ours', elf, chip, pin, way],
            { encoding: 'utf8' },
          )
          if (done.status !== 0) throw new Error(done.stderr)
          runs[way].push(Number(done.stdout))
        }
        const args = [elf, chip, String(HZ), pin[1], pin[2], String(SECONDS * 1e6), '--serial', '0', '1000']
        const done = spawnSync(simavr, args, { encoding: 'utf8' })
        if (done.status !== 0) throw new Error(done.stdout + done.stderr)
        runs.simavr.push(JSON.parse(done.stdout).cpuSeconds)
      }
      const referee = median(runs.simavr)
      console.log(`${name}: simavr ${mhz(referee)}; medians of ${ROUNDS}, CPU time`)
      console.log('  waiting   interpreted                                            translated')
      for (const waiting of ['skip', 'full']) {
        const cells = [waiting, `${waiting}-translated`].map((way) => {
          const seconds = median(runs[way])
          return `${(referee / seconds).toFixed(2)} of simavr, ${mhz(seconds)}`.padEnd(55)
        })
        console.log(
          `  ${(waiting === 'skip' ? 'skipped' : 'executed').padEnd(10)}${cells.join('').trimEnd()}`,
        )
      }
    }
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
