// Edges per second through the reader with every judgement on, against a bare loop over the same arrays.
import { ENCODER_CLOCK, encodeSignal, judgeSignal, SignalReader } from '../dist/signal/index.js'
import { profileOf } from '../dist/standard/index.js'

const packets = Array.from({ length: 2000 }, (_, i) => {
  const bytes = [3 + (i % 90), 0x3f, (i * 37) & 255]
  return [...bytes, bytes[0] ^ bytes[1] ^ bytes[2]]
})
const edges = encodeSignal(packets)
const count = edges.count - 1
const length = edges.ticks[count]
const rounds = 12
const blocks = Array.from({ length: rounds }, (_, k) => {
  const ticks = Float64Array.from(edges.ticks.subarray(0, count), (t) => t + length * k)
  return { ticks, levels: edges.levels.slice(0, count), count }
})
const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

function read() {
  const start = performance.now()
  const reader = new SignalReader(ENCODER_CLOCK)
  for (const block of blocks) reader.push(block)
  const reading = reader.finish(length * rounds)
  const evidence = judgeSignal(reading, profile, { origin: 'simulated', source: 'benchmark' })
  const ms = performance.now() - start
  if (reading.packets.valid !== packets.length * rounds) throw new Error('packets were lost')
  if (evidence.some((e) => e.verdict !== 'met')) throw new Error('not met')
  return (count * rounds) / ms / 1000
}

function bare() {
  const start = performance.now()
  let sum = 0
  for (const { ticks, levels } of blocks) {
    for (let i = 1; i < count; i++) if (levels[i] !== levels[i - 1]) sum += ticks[i] - ticks[i - 1]
  }
  const ms = performance.now() - start
  if (!(sum > 0)) throw new Error('no edges')
  return (count * rounds) / ms / 1000
}

const runs = Array.from({ length: 7 }, () => ({ reader: read(), bare: bare() }))
const median = (list) => list.sort((a, b) => a - b)[list.length >> 1]
const reader = median(runs.map((r) => r.reader))
const referee = median(runs.map((r) => r.bare))
const times = (referee / reader).toFixed(1)
console.log(
  `reader, every judgement on: ${reader.toFixed(1)} million edges/s (${count * rounds} edges, median of ${runs.length} runs)`,
)
console.log(
  `bare loop:                  ${referee.toFixed(1)} million edges/s; the reader takes ${times} times as long`,
)
