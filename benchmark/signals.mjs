// Invented signals for the reader, the same for every build: the refresh of ninety locomotives. Nothing of the project is used.

export const PACKETS = 2000
/** Each repeated so often, as a record of a minute and more. */
export const REPEATS = 60

/**
 * `jitterUs`: each half differs by at most so much, evenly; `tickUs`: length of a tick, us; `places`: edges lie on the
 * so manieth part of a tick, not at all on ticks where infinite; `cutouts`: one after each packet.
 */
export const SIGNALS = {
  plain: { tickUs: 1 / 16, jitterUs: 0 },
  jitter: { tickUs: 0.01, jitterUs: 1.4 },
  nanoseconds: { tickUs: 0.001, jitterUs: 1.4 },
  fractions: { tickUs: 1, jitterUs: 0.5, places: 16 },
  crossings: { tickUs: 1, jitterUs: 0.5, places: Number.POSITIVE_INFINITY },
  cutouts: { tickUs: 1 / 16, jitterUs: 0.2, cutouts: true },
}

/** Numerical Recipes' generator. */
function generator(state) {
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
}

/** @returns blocks of edges, and when the last half-bit ends, ticks. */
export function signalBlocks({ tickUs, jitterUs, places = 1, cutouts = false }, repeats = REPEATS) {
  const chance = generator(1)
  const ticks = []
  const levels = []
  let now = 0
  let level = 0
  const round = Number.isFinite(places) ? (tick) => Math.round(tick * places) / places : (tick) => tick
  const edge = (us, to) => {
    ticks.push(round(now / tickUs))
    levels.push(to)
    now += us
  }
  const bit = (isOne) => {
    for (let half = 0; half < 2; half++) {
      level = 1 - level
      edge((isOne ? 58 : 100) + (2 * chance() - 1) * jitterUs, level)
    }
  }
  for (let n = 0; n < PACKETS; n++) {
    const bytes = [3 + (n % 90), 0x3f, (n * 37) & 255]
    bytes.push(bytes[0] ^ bytes[1] ^ bytes[2])
    for (let k = 0; k < (cutouts ? 20 : 16); k++) bit(true)
    for (const byte of bytes) {
      bit(false)
      for (let k = 7; k >= 0; k--) bit(((byte >> k) & 1) === 1)
    }
    bit(true)
    // The rails are equal from 29 us after the end bit on; the next preamble begins with the level that was due.
    if (cutouts) {
      level = 1 - level
      edge(29, level)
      edge(430, 2)
    }
  }
  const count = ticks.length
  const length = Math.ceil(now / tickUs)
  const blocks = Array.from({ length: repeats }, (_, k) => ({
    ticks: Float64Array.from(ticks, (tick) => tick + k * length),
    levels: Uint8Array.from(levels),
    count,
  }))
  return { blocks, count, endTick: repeats * length }
}
