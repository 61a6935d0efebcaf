/**
 * Seeded analog records, and what the standard says of each (S-9.1:2020 B, Tables 2 and 3), worked out from its
 * description alone.
 */
import { type AnalogReading, AnalogTracker, judgeAnalog } from '../../src/capture/index.js'
import { profileOf, type Statement } from '../../src/standard/index.js'
import { type Shape, shapeRecord } from './shape-record.js'

const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

export function judgeShape(
  shape: Shape,
  settings: { subtracted?: boolean } = {},
): {
  reading: AnalogReading
  list: Statement[]
  verdicts: Record<string, string>
  says: Record<string, string>
} {
  const { sampleUs, volts } = shapeRecord(shape)
  const tracker = new AnalogTracker(sampleUs, { begin: () => {}, change: () => {} }, settings)
  for (let i = 0; i < volts.length; i++) tracker.add(i, volts[i]!)
  const reading = tracker.finish()
  const list = judgeAnalog(reading, PROFILE, { source: 'test', probe: 'rails' })
  return {
    reading,
    list,
    verdicts: Object.fromEntries(list.map((s) => [s.clause, s.verdict])),
    says: Object.fromEntries(list.map((s) => [s.clause, s.because])),
  }
}

export const SHAPE_CLAUSES = [
  'edge-rate',
  'track-voltage-min',
  'track-voltage-max',
  'crossing-distortion',
] as const

export interface ShapeRow {
  clause: (typeof SHAPE_CLAUSES)[number]
  records: number
  /** Judged as the description says. */
  told: number
  /** Undecided or not shown, where the description says which. */
  undecided: number
  /** Met where it is broken, or broken where it is met. */
  wrong: number
}

/** @param onWrong told the seed and what was judged wrongly. */
export function shapeCampaign(
  seeds: number,
  first: number,
  onWrong: (seed: number, says: string) => void,
): ShapeRow[] {
  const rows = SHAPE_CLAUSES.map((clause) => ({ clause, records: 0, told: 0, undecided: 0, wrong: 0 }))
  for (let seed = first; seed < first + seeds; seed++) {
    const shape = seededShape(seed)
    const { verdicts, says } = judgeShape(shape, { subtracted: true })
    const expected = expectedOf(shape)
    for (const row of rows) {
      const wanted = expected[row.clause]
      row.records++
      if (wanted === undefined) continue
      const found = verdicts[row.clause]
      if (found === wanted) row.told++
      else if (found === 'met' || found === 'broken') {
        row.wrong++
        onWrong(seed, `${row.clause}: ${says[row.clause]} ${JSON.stringify(shape)}`)
      } else row.undecided++
    }
  }
  return rows
}

/** What the description says; `undefined` too near to a limit for a record with noise to tell. */
function expectedOf(
  shape: Required<Pick<Shape, 'high' | 'low' | 'slope' | 'noise' | 'sampleUs'>> & Shape,
): Record<ShapeRow['clause'], 'met' | 'broken' | undefined> {
  const near = 4 * shape.noise + 0.05
  const plateau = Math.min(shape.high, -shape.low)
  const peak = Math.max(shape.high, -shape.low) + (shape.ring ? 0.9 * shape.ring.volt : 0)
  return {
    'edge-rate': side(shape.slope, 2.4, (shape.slope * near) / 8),
    'track-voltage-min': side(plateau, 8.5, 0.15 + shape.noise),
    'track-voltage-max': side(-peak, -22, 0.15 + 1.5 * (shape.ring?.volt ?? 0) + 6 * shape.noise),
    'crossing-distortion': shape.dip === undefined ? 'met' : shape.dip < 2 - near ? 'broken' : undefined,
  }
}

function side(value: number, limit: number, near: number): 'met' | 'broken' | undefined {
  if (Math.abs(value - limit) < near) return undefined
  return value > limit ? 'met' : 'broken'
}

/** Invented: an output at the rails with some fault or none. */
function seededShape(seed: number) {
  let state = (seed * 2654435761) >>> 0
  const random = () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
  for (let i = 0; i < 3; i++) random()
  const between = (low: number, high: number) => low + random() * (high - low)
  const high = random() < 0.3 ? between(6, 8.4) : between(8.6, 23)
  const low = -(random() < 0.5 ? high : random() < 0.3 ? between(6, 8.4) : between(8.6, 23))
  return {
    high,
    low,
    slope: random() < 0.4 ? between(1.6, 3.2) : between(3, 40),
    noise: random() < 0.4 ? 0 : between(0.01, 0.3),
    sampleUs: [0.1, 0.2, 0.25, 0.5][Math.floor(random() * 4)]!,
    ...(random() < 0.2 ? { ring: { volt: between(0.5, 3), us: between(1, 3) } } : {}),
    ...(random() < 0.2 ? { dip: between(-3, 5) } : {}),
    stepVolt: random() < 0.5 ? 0 : 0.05,
    seed,
    packets: 3,
  }
}
