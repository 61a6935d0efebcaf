// Packets per second through the simulated station, against a plain event queue (objects in a binary heap) that
// simulates the same M/D/1 queue; and a thousand locomotives for an hour of railroad time.
import { seededRandom } from '../dist/power/index.js'
import {
  CHANGES,
  CommandStream,
  resolveTraffic,
  runCase,
  StationRun,
  TURNOUT,
} from '../dist/traffic/index.js'

const LOAD = 0.8
const SERVICE_NS = 8e6
const PACKETS = 2e6

/** The station with nothing but commands of one length. @returns mean time from arrival to the packet's end, ms. */
function station() {
  const turnouts = 64
  const all = Int32Array.from({ length: turnouts }, (_, i) => i)
  const commands = new CommandStream({
    seed: 1,
    sources: [
      {
        kind: TURNOUT,
        perSecond: (LOAD / SERVICE_NS) * 1e9,
        via: 'panel',
        targets: all,
        burst: 1,
        spacingNs: 0,
        stop: -1,
        delayNs: 0,
        scanNs: 0,
      },
    ],
    script: [],
    link: { commandNs: 0, replyNs: 0, loopNs: 0 },
    steps: new Int32Array(0),
    functions: new Int32Array(0),
  })
  const plan = {
    locomotives: 0,
    turnouts,
    addressOf: all,
    addresses: turnouts,
    tableStart: new Int32Array(1),
    table: new Int32Array(0),
    values: new Int32Array(turnouts),
    order: CHANGES,
    perVisit: 1,
    merge: false,
    stopsFirst: false,
    capacity: 65536,
    gapNs: 0,
    copies: new Int32Array(4).fill(1),
    weights: new Int32Array(4),
    preambleNs: 0,
    cutoutNs: 0,
    idleNs: 0,
    packetNs: () => SERVICE_NS,
    nearNs: 0,
    lost: 0,
    lostSeed: 1,
  }
  const run = new StationRun(plan, commands)
  run.run(Number.POSITIVE_INFINITY, PACKETS)
  const times = run.first[TURNOUT].values()
  return times.reduce((a, b) => a + b, 0) / times.length / 1e6
}

/** The referee: an event queue as a textbook has it. */
function eventQueue() {
  const random = seededRandom(1).uniform
  const heap = []
  const push = (event) => {
    let i = heap.push(event) - 1
    while (i > 0) {
      const parent = (i - 1) >> 1
      if (heap[parent].at <= event.at) break
      heap[i] = heap[parent]
      i = parent
    }
    heap[i] = event
  }
  const pop = () => {
    const top = heap[0]
    const last = heap.pop()
    if (heap.length > 0) {
      let i = 0
      for (;;) {
        let child = 2 * i + 1
        if (child >= heap.length) break
        if (child + 1 < heap.length && heap[child + 1].at < heap[child].at) child++
        if (heap[child].at >= last.at) break
        heap[i] = heap[child]
        i = child
      }
      heap[i] = last
    }
    return top
  }
  const pause = () => (-Math.log(1 - random()) / LOAD) * SERVICE_NS
  const waiting = []
  let head = 0
  let busy = false
  let done = 0
  let sum = 0
  const begin = (at) => {
    busy = true
    push({ kind: 'end', at: at + SERVICE_NS, command: waiting[head++] })
  }
  push({ kind: 'arrival', at: pause() })
  while (done < PACKETS) {
    const event = pop()
    if (event.kind === 'arrival') {
      waiting.push({ at: event.at })
      push({ kind: 'arrival', at: event.at + pause() })
      if (!busy) begin(event.at)
    } else {
      sum += event.at - event.command.at
      done++
      busy = false
      if (head < waiting.length) begin(event.at)
    }
  }
  return sum / done / 1e6
}

/** A railroad of n locomotives; six operators give about four commands a second. */
function railroad(n) {
  const locomotive = {
    address: 1,
    count: n,
    form: 'auto',
    steps: '128',
    functions: 8,
    acceleration: 0,
    deceleration: 0,
    topSpeed: 27778,
    runOut: 0,
    spread: 0,
    parked: false,
  }
  const operator = {
    count: 6,
    via: 'panel',
    knob: 0.2,
    commandsPerTurn: 3,
    commandSpacing: 1e5,
    function: 0.05,
    turnout: 0.05,
    stop: 0,
  }
  return resolveTraffic({
    fleet: { all: locomotive },
    traffic: {
      memoryEach: 16,
      turnouts: 100,
      operators: { operator },
      lost: 0.05,
      limit: 25e4,
      sure: 0.99,
      seed: 1,
    },
    timing: { oneHalfUs: 58, zeroHalfUs: 100, preamble: 16, cutoutUs: 0 },
    scale: 'H0',
    accessoryOffset: 4,
  })
}

/** Seconds of processor time that work takes: other programs on the machine do not count. */
function cpuSeconds(work) {
  const before = process.cpuUsage()
  work()
  const { user, system } = process.cpuUsage(before)
  return (user + system) / 1e6
}

const median = (list) => list.sort((a, b) => a - b)[list.length >> 1]
const runs = Array.from({ length: 5 }, () => {
  let ours
  let referee
  const oursS = cpuSeconds(() => (ours = station()))
  const refereeS = cpuSeconds(() => (referee = eventQueue()))
  return { ours, referee, oursS, refereeS }
})
const ours = PACKETS / median(runs.map((r) => r.oursS))
const referee = PACKETS / median(runs.map((r) => r.refereeS))
const theory = (SERVICE_NS * (1 + LOAD / (2 * (1 - LOAD)))) / 1e6
console.log('Millions of packets per second of processor time:')
console.log(
  `  ${(ours / 1e6).toFixed(1)}  station, every packet a command of an M/D/1 queue, all samples kept`,
)
console.log(
  `  ${(referee / 1e6).toFixed(1)}  event queue of objects in a heap, the same queue, the mean only: the station does ${(ours / referee).toFixed(1)} times as many`,
)
console.log(
  `  mean time in the system ${runs[0].ours.toFixed(2)} ms and ${runs[0].referee.toFixed(2)} ms; Pollaczek-Khinchine says ${theory.toFixed(2)} ms`,
)
for (const [n, hours] of [
  [50, 20],
  [1000, 1],
]) {
  const traffic = railroad(n)
  for (const policy of Object.keys(traffic.policies)) {
    let result
    const seconds = cpuSeconds(() => (result = runCase(traffic, { policy, lost: 0, forUs: hours * 3600e6 })))
    const rate = (result.packets / seconds / 1e6).toFixed(1)
    console.log(
      `  ${rate}  ${n} locomotives, ${policy}, with all statistics: ${hours} h of railroad time in ${seconds.toFixed(2)} s, ${(rate / (referee / 1e6)).toFixed(1)} times the event queue`,
    )
  }
}
