// Simulated firmware with a busy serial port, its edges read and judged, against simavr on the same ELF.
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { buildAt, cpuSeconds, needs, run } from '../measuring.mjs'

const HZ = 16e6
/** Simulated; each takes about two seconds. */
const SECONDS = { interpreted: 20, translated: 60, referee: 10 }
/** The first ones are the compilers', ours included; `first-second` counts what a run begins with. */
const WARM_UP = 4
const EXHIBITION = { folder: 'exhibition', chip: 'atmega328p', pin: 'PB2' }
const TWO_TRACKS = { folder: 'two-tracks', chip: 'atmega2560', pin: 'PB6' }

const figure = (id, work, wanted, station, skipWaiting, translate = false) => ({
  id,
  work: translate ? `${work}, translated` : work,
  unit: '× real time',
  better: 'more',
  referee: { name: '× simavr', as: 'times' },
  wanted: { of: 'referee', atLeast: wanted },
  station,
  skipWaiting,
  translate,
})

export const firmware = {
  name: 'firmware',
  figures: [
    figure('exhibition-skip', 'exhibition firmware, waiting skipped', 5, EXHIBITION, true),
    figure('exhibition-skip-translated', 'exhibition firmware, waiting skipped', 5, EXHIBITION, true, true),
    figure('exhibition-full', 'exhibition firmware, every instruction', 4, EXHIBITION, false),
    figure(
      'exhibition-full-translated',
      'exhibition firmware, every instruction',
      4,
      EXHIBITION,
      false,
      true,
    ),
    figure('two-tracks-skip', 'two-tracks firmware, waiting skipped', 5, TWO_TRACKS, true),
    figure('two-tracks-skip-translated', 'two-tracks firmware, waiting skipped', 5, TWO_TRACKS, true, true),
    figure('two-tracks-full', 'two-tracks firmware, every instruction', 4, TWO_TRACKS, false),
    figure(
      'two-tracks-full-translated',
      'two-tracks firmware, every instruction',
      4,
      TWO_TRACKS,
      false,
      true,
    ),
  ],
  async ours({ station, skipWaiting, translate }, build) {
    const { advance, finish } = await machineOf(station, build, { skipWaiting, translate })
    advance(WARM_UP)
    const simulated = translate ? SECONDS.translated : SECONDS.interpreted
    const seconds = cpuSeconds(() => {
      for (let s = WARM_UP + 1; s <= WARM_UP + simulated; s++) advance(s)
      finish(WARM_UP + simulated)
    })
    return simulated / seconds
  },
  referee({ station }, build, scratch) {
    needs('gcc', 'gcc libsimavr-dev libelf-dev')
    const program = join(scratch, 'simavr-edges')
    const source = new URL('../../test/referee/simavr-edges.c', import.meta.url).pathname
    run('gcc', ['-O2', '-o', program, source, '-lsimavr', '-lelf', '-lm'])
    const elf = buildAt(build).example(`${station.folder}/firmware/station.elf`)
    const { chip, pin } = station
    const args = [
      ...[elf, chip, String(HZ), pin[1], pin[2], String(SECONDS.referee * 1e6)],
      ...['--serial', '0', '1000'],
    ]
    return SECONDS.referee / JSON.parse(run(program, args).stdout).cpuSeconds
  },
}

export const firstSecond = {
  name: 'first-second',
  figures: [EXHIBITION, TWO_TRACKS].map((station) => ({
    id: station.folder,
    work: `first simulated second, ${station.folder}`,
    unit: 'ms',
    better: 'less',
    wanted: { of: 'commit', atLeast: 1, text: 'not slower' },
    station,
  })),
  async ours({ station }, build) {
    const start = await machineParts(station, build)
    return 1000 * cpuSeconds(() => start({ skipWaiting: true }).advance(1))
  },
}

const machineOf = async (station, build, options) => (await machineParts(station, build))(options)

/** Loads the rooms. @returns what makes a machine, so that only this is timed. */
async function machineParts({ folder, chip, pin }, build) {
  const rooms = buildAt(build)
  const { loadFirmware, parseStimulus, SimulatedController } = await rooms.room('controller')
  const { judgeSignal, SignalReader } = await rooms.room('signal')
  const { profileOf } = await rooms.room('standard')
  const elf = rooms.example(`${folder}/firmware/station.elf`)
  const image = readFileSync(elf)
  return (options) => {
    const stimulus = parseStimulus('every 1 ms from 1 ms serial 0 0x41', 'benchmark')
    const machine = new SimulatedController(chip, HZ, loadFirmware(image, elf), { stimulus, ...options })
    const reader = new SignalReader({ tickUs: 1e6 / HZ, resolutionUs: 0 })
    machine.record(reader, pin)
    return {
      advance: (seconds) => machine.runTo(seconds * HZ),
      finish(seconds) {
        const reading = reader.finish(seconds * HZ, 0)
        const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
        judgeSignal(reading, profile, { origin: 'simulated', source: elf })
        if (reading.packets.valid < 1000) throw new Error('packets were lost')
        if (machine.usarts[0].received < 990 * seconds) throw new Error('bytes on the serial port were lost')
      },
    }
  }
}
