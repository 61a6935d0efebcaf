/** A fault put into a design, and what instruments then show: to try the finder with known answers. */
import type { Random } from '../../corner/index.js'
import { INSTRUMENTS, type InstrumentId, WRONG_READING } from '../data/instruments.data.js'
import { SYMPTOM_SEEN } from '../data/symptoms.data.js'
import type { Finder } from '../finder.js'
import type { Spot } from '../model/expect.js'
import { trackAt } from '../model/reach.js'
import type { Station } from '../model/station.js'
import type { Reading, Symptom } from '../reading.js'
import { TrialRails } from './rails.js'

/** A bench with one fault in it. */
export interface Planted {
  read(spot: Spot, instrument: InstrumentId): Reading
}

/**
 * The fault has one degree, every wire one resistance between its corners, each supply one true voltage. Volts and amperes on
 * rails, feeders and at the station come from a network of their own, not from what the finder expects; levels, counts and
 * what is seen follow the list of faults. Meters are off by anything up to their greatest error, and one reading in fifty
 * is plainly wrong.
 */
export function plant(finder: Finder, hypothesis: number, random: Random): Planted {
  const form = Math.floor(random.uniform() * finder.hypotheses[hypothesis]!.forms.length)
  const supplies = new Map<string, number>()
  const supplyFactor = (name: string) => {
    const tolerance = finder.station.loaded.design.power!.supplies[name]!.tolerance
    const had = supplies.get(name) ?? 1 + tolerance * (2 * random.uniform() - 1)
    supplies.set(name, had)
    return had
  }
  const { station } = finder
  const rails = station.wiring && railsOf(finder, hypothesis, form, supplyFactor, random)
  return {
    read(spot, instrument) {
      const { words, span, signed } = spot.kind
      const isWrong = random.uniform() < WRONG_READING
      const expected = finder.expected(hypothesis, spot)[form]!
      const shown = rails && !isWrong ? onTrial(station, rails, spot) : undefined
      if (typeof shown === 'number')
        return { spot, instrument, value: metered(spot, instrument, shown, random) }
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
      const factor = expected.supply === undefined ? 1 : supplyFactor(expected.supply)
      const truth = (low + random.uniform() * (high - low)) * factor
      return { spot, instrument, value: metered(spot, instrument, truth, random) }
    },
  }
}

/** What an instrument shows of a true value. */
function metered({ kind }: Spot, instrument: InstrumentId, truth: number, random: Random): number {
  const { share, fixed, shows } = INSTRUMENTS[instrument]
  const scaled = truth * shows
  const shown = scaled + (share * Math.abs(scaled) + fixed) * (2 * random.uniform() - 1)
  return Math.min(kind.span, Math.max(kind.signed ? -kind.span : 0, shown))
}

function railsOf(
  { station, hypotheses }: Finder,
  hypothesis: number,
  form: number,
  supplyFactor: (name: string) => number,
  random: Random,
): TrialRails {
  const { kinds, places, forms } = hypotheses[hypothesis]!
  const { waves, supplies } = forms[form]!
  const within = ({ low, high }: { low: number; high: number }) => low + random.uniform() * (high - low)
  const names = station.wiring!.net.districts
  const change = new Map(
    [...supplies].map(([name, s]) => [name, { share: within(s.share), ohm: within(s.ohm) }]),
  )
  const of = (name: string) =>
    change.get(station.districts.get(name)!.stage.supplyName) ?? { share: 1, ohm: 0 }
  const emf = names.map((name) => {
    const { openVolt, stage } = station.districts.get(name)!
    return openVolt * supplyFactor(stage.supplyName) * of(name).share * (waves.get(name)?.ac ?? 1)
  })
  return new TrialRails(
    station,
    { kinds, places },
    emf,
    names.map((name) => of(name).ohm),
    random,
  )
}

/** @returns what a perfect instrument shows; `undefined` for what the rails have no part in. */
function onTrial(station: Station, rails: TrialRails, { place, quantity }: Spot): number | undefined {
  const track = trackAt(station, place)
  const { wiring, districts } = station
  const name = track === undefined ? place.name : station.districtOf(track)
  const district = name === undefined ? undefined : districts.get(name)
  if (district?.index === undefined) return undefined
  const load = { track: track ?? 0, ohm: district.testOhm }
  switch (quantity) {
    case 'track volts':
      return rails.trackVolt(track!)
    case 'track volts under load':
      return rails.trackVolt(track!, load)
    case 'fed volts':
      return rails.fedVolt(district.index, track!)
    case 'drop':
      return rails.along(wiring!.joints[place.index!]!.edge, load).volt
    case 'feeder current':
      return rails.along(wiring!.feeders.get(place.index!)![place.side as 'A' | 'B'], load).amp
    case 'output volts':
      return rails.outputVolt(district.index)
    case 'output volts under load':
      return rails.outputVolt(district.index, district.testOhm)
    default:
      return undefined
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
