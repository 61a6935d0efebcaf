/*
 * Runs three trains round the oval: each goes on when the block ahead is free and nobody else has been promised it, and stops
 * in its block otherwise. It knows nothing but what the station says over the serial line.
 *
 * `dispatcher()` gives a script for the bench; with a serial port in place of `io` the same code runs the real oval.
 */

const BLOCKS = 6
const CRUISE = 70
const SLOW = 35
/** Block in which every train waits a while, ms. */
const PLATFORM = 1
const PLATFORM_WAIT_MS = 5000
/** A train has come to a stand so long after its stop at the latest, ms. */
const STANDS_AFTER_MS = 2500

export const TRAINS = [
  { name: 'local', address: 11, block: 1 },
  { name: 'goods', address: 1420, block: 3 },
  { name: 'railbus', address: 8, block: 5 },
]

const after = (block) => (block % BLOCKS) + 1

export function dispatcher() {
  /** Block → the train that is in it, or has been promised it. */
  const owner = new Map()
  const taken = new Set()
  const trains = TRAINS.map((t) => ({ ...t, leaving: 0, speed: 0, goesAtMs: 1500, stops: 0 }))
  for (const t of trains) owner.set(t.block, t)

  const drive = (train, speed, io) => {
    if (train.speed === speed) return
    train.speed = speed
    io.say(`go ${train.address} ${speed}\n`)
  }

  /** Promise the next block to a train that is altogether in its own. */
  const goOn = (train, io) => {
    const next = after(train.block)
    if (train.leaving || owner.has(next) || taken.has(next) || io.nowMs < train.goesAtMs) return
    owner.set(next, train)
    train.ahead = next
    drive(train, CRUISE, io)
  }

  return {
    line(text, io) {
      const [, number, state] = /^block (\d) (taken|free|short)$/.exec(text) ?? []
      const block = Number(number)
      if (!block) return
      if (state === 'short') {
        io.say('halt\n')
        for (const t of trains) t.speed = 0
        return
      }
      if (state === 'taken') {
        taken.add(block)
        const train = owner.get(block)
        if (!train || train.ahead !== block) return
        // Its front has come in. How far it may go is decided once its last coach is in too; until then slowly.
        train.leaving = train.block
        train.block = block
        train.ahead = undefined
        drive(train, SLOW, io)
        return
      }
      taken.delete(block)
      const train = owner.get(block)
      if (!train || train.leaving !== block) return
      owner.delete(block)
      train.leaving = 0
      const waits = train.block === PLATFORM
      if (waits) train.goesAtMs = io.nowMs + PLATFORM_WAIT_MS
      goOn(train, io)
      if (train.ahead === undefined) {
        drive(train, 0, io)
        train.stops++
        train.goesAtMs = Math.max(train.goesAtMs, io.nowMs + STANDS_AFTER_MS)
      }
    },
    tick(io) {
      for (const t of trains) if (t.ahead === undefined) goOn(t, io)
    },
  }
}
