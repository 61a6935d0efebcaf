// Packets per second of processor time through the simulated station, against an event queue of objects in a heap.
import { buildAt, warmSeconds } from '../measuring.mjs'
import { eventQueue } from '../referee/event-queue.mjs'

const HOURS = 20
const QUEUE = { load: 0.8, serviceNs: 8e6, packets: 2e6 }
const POLICIES = ['changes first', 'weighted', 'plain cycle']

const figure = (id, work, more) => ({
  id,
  work,
  unit: 'M packets/s',
  better: 'more',
  referee: { name: '× event queue', as: 'times' },
  wanted: { of: 'now', atLeast: 8 },
  ...more,
})

export const traffic = {
  name: 'traffic',
  rounds: 3,
  figures: [
    figure('queue', 'station, commands alone'),
    ...[50, 1000].flatMap((locomotives) =>
      POLICIES.map((policy, i) =>
        figure(`${locomotives}-${i}`, `traffic, ${locomotives} locomotives, ${policy}, ${HOURS} h`, {
          locomotives,
          policy,
        }),
      ),
    ),
  ],
  async ours({ locomotives, policy }, build) {
    const rooms = await buildAt(build).room('traffic')
    if (locomotives === undefined) {
      const expected = (QUEUE.serviceNs * (1 + QUEUE.load / (2 * (1 - QUEUE.load)))) / 1e6
      const seconds = warmSeconds(() => {
        const mean = station(rooms)
        // Pollaczek-Khinchine.
        if (Math.abs(mean / expected - 1) > 0.03)
          throw new Error(`mean time ${mean} ms, expected ${expected} ms`)
      })
      return QUEUE.packets / seconds / 1e6
    }
    const traffic = railroad(rooms.resolveTraffic, locomotives)
    let packets = 0
    const seconds = warmSeconds(() => {
      packets = rooms.runCase(traffic, { policy, lost: 0, forUs: HOURS * 3600e6 }).packets
    })
    return packets / seconds / 1e6
  },
  referee: () => QUEUE.packets / warmSeconds(() => eventQueue(QUEUE)) / 1e6,
}

/** The station with nothing but commands of one length. @returns mean time from arrival to the packet's end, ms. */
function station({ CHANGES, CommandStream, StationRun, TURNOUT }) {
  const turnouts = 64
  const all = Int32Array.from({ length: turnouts }, (_, i) => i)
  const commands = new CommandStream({
    seed: 1,
    sources: [
      {
        kind: TURNOUT,
        perSecond: (QUEUE.load / QUEUE.serviceNs) * 1e9,
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
    packetNs: () => QUEUE.serviceNs,
    nearNs: 0,
    lost: 0,
    lostSeed: 1,
  }
  const run = new StationRun(plan, commands)
  run.run(Number.POSITIVE_INFINITY, QUEUE.packets)
  const times = run.first[TURNOUT].values()
  return times.reduce((a, b) => a + b, 0) / times.length / 1e6
}

/** A railroad of n locomotives; six operators give about four commands a second. */
function railroad(resolveTraffic, n) {
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
      // What it was called before.
      slotMemory: 16,
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
