/** Bench notes of a design as readings, each with the error of its own instrument. */
import type { LoadedDesign } from '../../design/index.js'
import type { Finding } from '../../finding/index.js'
import { type BenchReading, type Instrument, shownValue } from '../../meter/index.js'
import { designSum, readingInWords } from '../../proof/index.js'
import type { InstrumentId } from '../data/instruments.data.js'
import type { Quantity } from '../data/readings.data.js'
import { FIND_FINDINGS } from '../findings.data.js'
import type { Spot } from '../model/expect.js'
import type { Reading } from '../reading.js'

/** Up to this a track is without load: the rest of a few decoders, A. Assumed, no source. */
const NO_LOAD_AMP = 0.05

const METERS: Readonly<Partial<Record<Instrument['kind'], readonly InstrumentId[]>>> = {
  average: ['average meter'],
  rms: ['rms meter'],
  dc: ['dc meter'],
  oscilloscope: ['oscilloscope'],
  analyser: ['logic analyser'],
}

export interface NotedReadings {
  readings: Reading[]
  /** Of each note that is not used: why. */
  unused: Finding[]
}

/**
 * @param choice `since`: only notes from this day on, as YYYY-MM-DD; `build`: only those of this station, where several
 * were built from the design
 */
export function readingsOfNotes(
  loaded: LoadedDesign,
  spots: readonly Spot[],
  choice: { since?: string | undefined; build?: string | undefined } = {},
): NotedReadings {
  const { benchNotes } = loaded.design
  const made: NotedReadings = { readings: [], unused: [] }
  if (!benchNotes) return made
  const present = designSum(loaded.design)
  const skip = (r: BenchReading, why: 'design' | 'kind' | 'place' | 'load' | 'instrument' | 'range') => {
    made.unused.push(FIND_FINDINGS.find('note-not-used', { reading: readingInWords(r), why }))
  }
  for (const r of benchNotes.readings) {
    if (
      (choice.since !== undefined && r.on < choice.since) ||
      (choice.build !== undefined && r.build !== choice.build)
    )
      continue
    if (r.design !== undefined && !r.design.startsWith(present) && !present.startsWith(r.design)) {
      skip(r, 'design')
      continue
    }
    const what = quantityOf(r)
    if (!what) {
      skip(r, 'kind')
      continue
    }
    if ((r.load ?? 0) > NO_LOAD_AMP) {
      skip(r, 'load')
      continue
    }
    const key = `${what.place}: ${what.quantity}`
    const spot = spots.find((s) => s.key === key)
    if (!spot) {
      skip(r, 'place')
      continue
    }
    const own = benchNotes.instruments[r.with]!
    const instrument = METERS[own.kind]?.find((id) => spot.kind.instruments.includes(id))
    if (!instrument) {
      skip(r, 'instrument')
      continue
    }
    const value = shownValue(r)
    if (Math.abs(value) > spot.kind.span || (value < 0 && !spot.kind.signed)) {
      skip(r, 'range')
      continue
    }
    const error = own.accuracy === undefined ? {} : { error: { share: own.accuracy, fixed: own.digits } }
    made.readings.push({ spot, instrument, value, ...error })
  }
  return made
}

function quantityOf(r: BenchReading): { place: string; quantity: Quantity } | undefined {
  switch (r.reading) {
    case 'supply':
      return { place: `supply ${r.of}`, quantity: 'supply volts' }
    case 'track':
      return r.at === undefined
        ? { place: `district ${r.of}`, quantity: 'output volts' }
        : { place: `track ${r.at}`, quantity: 'track volts' }
    case 'offset':
      return r.at === undefined ? { place: `district ${r.of}`, quantity: 'output DC volts' } : undefined
    case 'half of one':
      return { place: `output ${r.of}`, quantity: 'half of a one' }
    default:
      return undefined
  }
}
