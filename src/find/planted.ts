/** A fault put into a design, and what instruments then show: to try the finder with known answers. */
import type { Random } from '../corner/index.js'
import { INSTRUMENTS, type InstrumentId, WRONG_READING } from './data/instruments.data.js'
import { SYMPTOM_SEEN } from './data/symptoms.data.js'
import type { Finder } from './finder.js'
import type { Spot } from './model/expect.js'
import type { Reading, Symptom } from './reading.js'

/** A bench with one fault in it. */
export interface Planted {
  read(spot: Spot, instrument: InstrumentId): Reading
}

/**
 * The fault has one degree, the wiring one place between its corners, each supply one true voltage. Meters are off by
 * anything up to their greatest error, and one reading in fifty is plainly wrong.
 */
export function plant(finder: Finder, hypothesis: number, random: Random): Planted {
  const form = Math.floor(random.uniform() * finder.hypotheses[hypothesis]!.forms.length)
  const wiringAt = random.uniform()
  const supplies = new Map<string, number>()
  const supplyFactor = (name: string) => {
    const tolerance = finder.station.loaded.design.power!.supplies[name]!.tolerance
    const had = supplies.get(name) ?? 1 + tolerance * (2 * random.uniform() - 1)
    supplies.set(name, had)
    return had
  }
  return {
    read(spot, instrument) {
      const { words, span, signed } = spot.kind
      const isWrong = random.uniform() < WRONG_READING
      const expected = finder.expected(hypothesis, spot)[form]!
      if (words && 'words' in expected) {
        if (isWrong) return { spot, instrument, value: words[Math.floor(random.uniform() * words.length)]! }
        let left = random.uniform()
        for (const word of words) {
          left -= expected.words[word]!
          if (left < 0) return { spot, instrument, value: word }
        }
        return { spot, instrument, value: words.at(-1)! }
      }
      if (!('span' in expected)) throw new RangeError(`${spot.key} is a figure, not a word`)
      const least = signed ? -span : 0
      if (isWrong) return { spot, instrument, value: least + random.uniform() * (span - least) }
      const { low, high } = expected.span
      const { share, fixed, shows } = INSTRUMENTS[instrument]
      const isWiring = ['track', 'joint', 'feeder'].includes(spot.place.kind)
      const at = isWiring ? wiringAt : random.uniform()
      const factor = expected.supply === undefined ? 1 : supplyFactor(expected.supply)
      const truth = (low + at * (high - low)) * factor * shows
      const shown = truth + (share * Math.abs(truth) + fixed) * (2 * random.uniform() - 1)
      return { spot, instrument, value: Math.min(span, Math.max(least, shown)) }
    },
  }
}

export interface Trial {
  planted: string
  /** Of the planted fault or one of its class, from 1; more than three counts as not found. */
  rank: number
  readings: number
  minutes: number
  outcome: string
}

/** Follow the suggested readings until they end. */
export function follow(finder: Finder, hypothesis: number, random: Random, most = 60): Trial {
  const bench = plant(finder, hypothesis, random)
  const readings: Reading[] = []
  const symptoms = noticed(finder, hypothesis, random)
  let minutes = 0
  for (;;) {
    const result = finder.diagnose(readings, symptoms)
    const next = result.next[0]
    if (!next || readings.length >= most) {
      const known = new Set(finder.classOf(hypothesis))
      const at = result.ranking.findIndex((r) => known.has(finder.hypotheses.indexOf(r.hypothesis)))
      return {
        planted: finder.hypotheses[hypothesis]!.id,
        rank: at < 0 ? Number.POSITIVE_INFINITY : at + 1,
        readings: readings.length,
        minutes,
        outcome: result.outcome,
      }
    }
    minutes += next.minutes
    readings.push(bench.read(next.spot, next.instrument))
  }
}

/** One of the symptoms that the fault causes, if it is noticed at all. */
function noticed(finder: Finder, hypothesis: number, random: Random): Symptom[] {
  const causes = finder.symptomsOf(hypothesis)
  const pick = causes[Math.floor(random.uniform() * causes.length)]
  return pick && random.uniform() < SYMPTOM_SEEN.caused ? [pick] : []
}
