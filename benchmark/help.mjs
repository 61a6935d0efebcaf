// How long `halfbit --help` takes against a bare `node -e 0`: both are started in turns, each in a process of its own.
import { spawnSync } from 'node:child_process'
import { fileURLToPath } from 'node:url'

const main = fileURLToPath(new URL('../dist/run/main.js', import.meta.url))
const ROUNDS = 30

function start(args) {
  const from = process.hrtime.bigint()
  const done = spawnSync(process.execPath, args, { stdio: 'ignore' })
  const ms = Number(process.hrtime.bigint() - from) / 1e6
  if (done.status !== 0) throw new Error(`${args.join(' ')} ended with status ${done.status}; build first`)
  return ms
}

const bare = []
const help = []
for (let i = 0; i < ROUNDS + 2; i++) {
  // The order alternates, so that a busy moment hits both alike; the first two rounds only warm the disk.
  const [a, b] =
    i % 2
      ? [start(['-e', '0']), start([main, '--help'])]
      : [start([main, '--help']), start(['-e', '0'])].reverse()
  if (i < 2) continue
  bare.push(a)
  help.push(b)
}

const median = (list) => [...list].sort((a, b) => a - b)[list.length >> 1]
const least = (list) => Math.min(...list)
console.log(`node -e 0       median ${median(bare).toFixed(1)} ms, least ${least(bare).toFixed(1)} ms`)
console.log(`halfbit --help  median ${median(help).toFixed(1)} ms, least ${least(help).toFixed(1)} ms`)
console.log(
  `ratio           ${(median(help) / median(bare)).toFixed(2)} of the medians, ${(least(help) / least(bare)).toFixed(2)} of the least (wanted: below 2)`,
)
