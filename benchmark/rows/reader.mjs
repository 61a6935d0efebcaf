// Edges per second through the reader, every judgement on.
import { writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { buildAt, needs, run, warmSeconds } from '../measuring.mjs'
import { PACKETS, REPEATS, SIGNALS, signalBlocks } from '../signals.mjs'

const figure = (id, work, wanted) => ({
  id,
  work,
  unit: 'M edges/s',
  better: 'more',
  referee: { name: 'of a loop in C', as: 'share' },
  wanted,
})

const TWICE = { of: 'commit', atLeast: 2, text: '2 × in the median, nowhere slower' }

export const reader = {
  name: 'reader',
  figures: [figure('plain', 'reader, every judgement on', { of: 'commit', atLeast: 3.3 })],
  ours,
  referee,
}

export const readerJitter = {
  name: 'reader-jitter',
  figures: [
    figure('jitter', 'reader, jitter of 1.4 us, ticks of 10 ns', TWICE),
    figure('nanoseconds', 'reader, jitter of 1.4 us, ticks of 1 ns', TWICE),
  ],
  ours,
  referee,
}

export const readerFractional = {
  name: 'reader-fractional',
  figures: [
    figure('fractions', 'reader, edges on sixteenths of a tick', TWICE),
    figure('crossings', 'reader, edges between ticks (analog)', TWICE),
  ],
  ours,
  referee,
}

export const readerCutouts = {
  name: 'reader-cutouts',
  figures: [figure('cutouts', 'reader, a cut-out after each packet', TWICE)],
  ours,
  referee,
}

async function ours({ id }, build) {
  const { judgeSignal, SignalReader } = await buildAt(build).room('signal')
  const { profileOf } = await buildAt(build).room('standard')
  const signal = SIGNALS[id]
  const { blocks, count, endTick } = signalBlocks(signal)
  const cutout = signal.cutouts === true
  const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout })
  const seconds = warmSeconds(() => {
    const reader = new SignalReader({ tickUs: signal.tickUs, resolutionUs: signal.tickUs / 2 }, { cutout })
    for (const block of blocks) reader.push(block)
    const reading = reader.finish(endTick)
    const evidence = judgeSignal(reading, profile, { origin: 'simulated', source: 'benchmark' })
    // The last one ends with the record: not every version takes it for whole.
    if (reading.packets.valid < PACKETS * REPEATS - 1)
      throw new Error(`${reading.packets.valid} packets of ${PACKETS * REPEATS} were read`)
    const broken = evidence.find((e) => e.verdict === 'broken')
    if (broken) throw new Error(`a sound signal was judged broken: ${broken.clause}`)
  })
  return (count * REPEATS) / seconds / 1e6
}

function referee({ id }, _build, scratch) {
  needs('gcc', 'gcc')
  const program = join(scratch, 'intervals')
  run('gcc', ['-O2', '-o', program, new URL('../referee/intervals.c', import.meta.url).pathname])
  const { blocks, count } = signalBlocks(SIGNALS[id])
  const file = join(scratch, 'edges')
  const { ticks, levels } = blocks[0]
  writeFileSync(file, Buffer.concat([Buffer.from(ticks.buffer), Buffer.from(levels.buffer)]))
  const seconds = Number(run(program, [file, String(count), '4000']).stdout.split(' ')[0])
  return count / seconds / 1e6
}
