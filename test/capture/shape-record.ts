/** Analog records made from a description, sample by sample; knows nothing of the importer. Invented. */

export interface Shape {
  /** Plateaus, V. */
  high?: number
  low?: number
  /** Slope of the edges, V/us; of the falling ones where they differ. */
  slope?: number
  fallingSlope?: number
  sampleUs?: number
  /** Gaussian noise, V rms. */
  noise?: number
  /** Step of the converter, V. */
  stepVolt?: number
  /** Ringing after each edge: amplitude, V, and time constant, us. */
  ring?: { volt: number; us: number }
  /** One edge in forty: 3 us after it, for 1 us, the signal is at this voltage of its own side. */
  dip?: number
  /** Between these times the voltage is at most this, V. */
  clip?: { fromUs: number; toUs: number; volt: number }
  /** Half of the time by so much lower, V. */
  ripple?: { volt: number; hz: number }
  packets?: number
  seed?: number
}

/** Half-bits of packets to invented locomotives: 16 ones, three bytes with the error byte, end bit; S-9.2:2004 A. */
function halfBits(packets: number): number[] {
  const list: number[] = []
  const bit = (one: boolean) => list.push(...(one ? [58, 58] : [100, 100]))
  for (let n = 0; n < packets; n++) {
    const bytes = [3 + n, 0x3f, (n * 37) & 255]
    for (let i = 0; i < 16; i++) bit(true)
    for (const byte of [...bytes, bytes[0]! ^ bytes[1]! ^ bytes[2]!]) {
      bit(false)
      for (let mask = 128; mask > 0; mask >>= 1) bit((byte & mask) !== 0)
    }
    bit(true)
  }
  return list
}

/** Samples from the middle of the first half-bit on. */
export function shapeRecord(shape: Shape): { sampleUs: number; volts: Float64Array } {
  const { high = 15, low = -15, slope = 10, fallingSlope = slope, sampleUs = 0.25, noise = 0 } = shape
  const { stepVolt = 0, ring, dip, clip, ripple, packets = 8, seed = 1 } = shape
  const halves = halfBits(packets)
  const edges: number[] = [0]
  for (const half of halves) edges.push(edges.at(-1)! + half)
  const gauss = gaussian(seed)
  const count = Math.floor((edges.at(-1)! - 40) / sampleUs)
  const volts = new Float64Array(count)
  let k = 0
  for (let i = 0; i < count; i++) {
    const t = 20 + (i + 0.37) * sampleUs
    while (edges[k + 1]! <= t) k++
    const isHigh = k % 2 === 0
    const since = t - edges[k]!
    const until = edges[k + 1]! - t
    const plateau = isHigh ? high : -low
    const [up, down] = isHigh ? [slope, fallingSlope] : [fallingSlope, slope]
    // Distance from zero on the side of this half-bit.
    let v = Math.min(plateau, up * since, down * until)
    if (ripple && Math.floor(2 * t * 1e-6 * ripple.hz) % 2 === 1) v = Math.min(v, plateau - ripple.volt)
    const settled = since - plateau / up
    if (ring && settled > 0) v += ring.volt * Math.exp(-settled / ring.us) * Math.sin((3 * settled) / ring.us)
    const dipAt = 3 + plateau / up
    if (dip !== undefined && k % 40 === 21 && since > dipAt && since < dipAt + 1) v = dip
    if (clip && t > clip.fromUs && t < clip.toUs) v = Math.min(v, clip.volt)
    const volt = (isHigh ? v : -v) + noise * gauss()
    volts[i] = stepVolt > 0 ? Math.round(volt / stepVolt) * stepVolt : volt
  }
  return { sampleUs, volts }
}

/** Deviates by Box and Muller from a seeded congruential generator. */
function gaussian(seed: number): () => number {
  let state = (seed * 2654435761) >>> 0
  const random = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return (state + 0.5) / 2 ** 32
  }
  return () => Math.sqrt(-2 * Math.log(random())) * Math.cos(2 * Math.PI * random())
}
