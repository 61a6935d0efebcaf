/** A fault put into a design, and what instruments then show: to try the finder with known answers. */
import type { Random } from '../../corner/index.js'
import { INSTRUMENTS, type InstrumentId, WRONG_READING } from '../data/instruments.data.js'
import { SYMPTOM_SEEN } from '../data/symptoms.data.js'
import type { Finder, Ranked } from '../finder.js'
import { type FigureSpan, type Spot, UNSURE } from '../model/expect.js'
import { trackAt } from '../model/reach.js'
import type { Station } from '../model/station.js'
import type { Reading, Symptom } from '../reading.js'
import { REPEAT_SHARE } from '../reason/likelihood.js'
import { TrialRails } from './rails.js'

/** A bench with one fault in it. */
export interface Planted {
  read(spot: Spot, instrument: InstrumentId): Reading
  /** Readings so far that were plainly wrong. */
  readonly wrong: number
}

/**
 * The fault has one degree, every wire one resistance between its corners, each supply one true voltage. Volts and amperes on
 * rails, feeders and at the station come from a network of their own, not from what the finder expects; levels, counts and
 * what is seen follow the list of faults. Meters are off by anything up to their greatest error, nearly the same when one
 * place is read again, and one reading in fifty is plainly wrong.
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
  const truths = new Map<string, number | string>()
  /** What there is to read, the same however often it is read. */
  const truthOf = (spot: Spot): number | string => {
    const had = truths.get(spot.key)
    if (had !== undefined) return had
    const expected = finder.expected(hypothesis, spot)[form]!
    const made =
      (rails && onTrial(station, rails, spot)) ??
      ('words' in expected ? wordOf(expected.words, random) : figureOf(expected, supplyFactor, random))
    truths.set(spot.key, made)
    return made
  }
  const errors = new Map<string, number>()
  /** Of the greatest error: most is the meter's own, the rest differs from one reading to the next. */
  const errorOf = (key: string): number => {
    const own = errors.get(key) ?? 2 * random.uniform() - 1
    errors.set(key, own)
    return (1 - REPEAT_SHARE) * own + REPEAT_SHARE * (2 * random.uniform() - 1)
  }
  let wrong = 0
  return {
    get wrong() {
      return wrong
    },
    read(spot, instrument) {
      const { words, span, signed } = spot.kind
      if (random.uniform() < WRONG_READING + (words ? UNSURE : 0)) {
        wrong++
        const value = words
          ? words[Math.floor(random.uniform() * words.length)]!
          : span * (signed ? 2 * random.uniform() - 1 : random.uniform())
        return { spot, instrument, value }
      }
      const truth = truthOf(spot)
      const value =
        typeof truth === 'string'
          ? truth
          : metered(spot, instrument, truth, errorOf(`${spot.key} ${instrument}`))
      return { spot, instrument, value }
    },
  }
}

/** What is to be seen, without the chance of misjudging it. */
function wordOf(chances: Readonly<Record<string, number>>, random: Random): string {
  const words = Object.keys(chances)
  let left = random.uniform() * (1 - UNSURE)
  return words.find((word) => (left -= chances[word]! - UNSURE / words.length) < 0) ?? words.at(-1)!
}

function figureOf(
  { span, supply }: FigureSpan,
  supplyFactor: (name: string) => number,
  random: Random,
): number {
  const truth = span.low + random.uniform() * (span.high - span.low)
  return supply === undefined ? truth : truth * supplyFactor(supply)
}

/** What an instrument shows of a true value. @param error of its greatest one, from -1 to 1 */
function metered({ kind }: Spot, instrument: InstrumentId, truth: number, error: number): number {
  const { share, fixed, shows } = INSTRUMENTS[instrument]
  const scaled = truth * shows
  const shown = scaled + (share * Math.abs(scaled) + fixed) * error
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
function onTrial(
  station: Station,
  rails: TrialRails,
  { place, quantity }: Spot,
): number | string | undefined {
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
    case 'polarity':
      return rails.across(place.index!)
    case 'drop': {
      const { edge } = wiring!.joints[place.index!]!
      return rails.along(edge, { ...load, beside: wiring!.loadedAt(edge, track!) }).volt
    }
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
  /** Of the planted fault or one of its class, from 1; those that no allowed reading separates count as one. */
  rank: number
  /** What is ranked first, and with what probability. */
  leader: string
  probability: number
  /** Readings that were plainly wrong. */
  wrong: number
  readings: number
  minutes: number
  outcome: string
}

/** Follow the suggested readings until they end: no reading is suggested more than three times, so they do. */
export function follow(finder: Finder, hypothesis: number, random: Random): Trial {
  const bench = plant(finder, hypothesis, random)
  const readings: Reading[] = []
  const symptoms = noticed(finder, hypothesis, random)
  let minutes = 0
  for (;;) {
    const result = finder.diagnose(readings, symptoms)
    const next = result.next[0]
    if (!next) {
      const known = new Set(finder.classOf(hypothesis))
      const at = result.ranking.findIndex((r) => known.has(finder.hypotheses.indexOf(r.hypothesis)))
      const { hypothesis: leader, probability } = result.ranking[0]!
      return {
        planted: finder.hypotheses[hypothesis]!.id,
        rank: at < 0 ? Number.POSITIVE_INFINITY : 1 + countClasses(finder, result.ranking.slice(0, at)),
        leader: leader.id,
        probability,
        wrong: bench.wrong,
        readings: readings.length,
        minutes,
        outcome: result.outcome,
      }
    }
    minutes += next.minutes
    readings.push(bench.read(next.spot, next.instrument))
  }
}

/** Hypotheses that no allowed reading tells apart count as one. */
function countClasses(finder: Finder, ranking: readonly Ranked[]): number {
  const heads: number[] = []
  for (const { hypothesis } of ranking) {
    const h = finder.hypotheses.indexOf(hypothesis)
    if (!heads.some((head) => finder.isLike(head, h))) heads.push(h)
    if (heads.length > 3) break
  }
  return heads.length
}

/** One of the symptoms that the fault causes, if it is noticed at all. */
function noticed(finder: Finder, hypothesis: number, random: Random): Symptom[] {
  const causes = finder.symptomsOf(hypothesis)
  const pick = causes[Math.floor(random.uniform() * causes.length)]
  return pick && random.uniform() < SYMPTOM_SEEN.caused ? [pick] : []
}
