/** A diagnosis as plain data, for every face. */
import type { Finding } from '../finding/index.js'
import { INSTRUMENTS } from './data/instruments.data.js'
import type { Diagnosis, Outcome } from './finder.js'
import { FIND_FINDINGS } from './findings.data.js'
import type { Reading, Symptom } from './reading.js'

export interface FindReport {
  outcome: Outcome
  finding: Finding
  /** Readings to doubt: in words, and their places in the list that was given. */
  notes: Finding[]
  doubtful: number[]
  /** Ids of the likeliest, and of all that no allowed reading tells from it. */
  class: string[]
  readings: { place: string; quantity: string; value: number | string; unit?: string; instrument: string }[]
  symptoms: string[]
  ranking: { id: string; words: string; probability: number; places: string[]; misfits: number[] }[]
  next: {
    place: string
    quantity: string
    /** How and where, one sentence. */
    how: string
    with: string
    instrument: string
    unit?: string
    answers?: string[]
    /** Of the resistor that "the test resistor" means, Ohm. */
    testOhm?: number
    bits: number
    minutes: number
    expects: { id: string; says: string }[]
  }[]
}

/** Explanations from this probability on count as likely. */
const LIKELY = 0.02

/** @param testOhmOf the test resistor of a place, Ohm */
export function reportDiagnosis(
  diagnosis: Diagnosis,
  readings: readonly Reading[],
  symptoms: readonly Symptom[],
  testOhmOf: (place: string) => number | undefined,
): FindReport {
  return {
    outcome: diagnosis.outcome,
    finding: conclusion(diagnosis),
    notes: diagnosis.doubtful.map((i) => FIND_FINDINGS.find('doubtful', { reading: readings[i]!.spot.key })),
    doubtful: [...diagnosis.doubtful],
    class: diagnosis.class.map((h) => h.id),
    readings: readings.map(({ spot, value, instrument }) => ({
      place: spot.place.text,
      quantity: spot.quantity,
      value,
      ...(spot.kind.unit ? { unit: spot.kind.unit } : {}),
      instrument,
    })),
    symptoms: symptoms.map(({ id, place }) => (place ? `${id} at ${place}` : id)),
    ranking: diagnosis.ranking.map(({ hypothesis: { id, words, places }, probability, misfits }) => ({
      id,
      words,
      probability,
      places: [...places],
      misfits: [...misfits],
    })),
    next: diagnosis.next.map(({ spot, instrument, bits, minutes, expects }) => {
      const { words, unit, how } = spot.kind
      const testOhm = how.includes('test resistor') ? testOhmOf(spot.place.text) : undefined
      return {
        place: spot.place.text,
        quantity: spot.quantity,
        how,
        with: INSTRUMENTS[instrument].title,
        instrument,
        ...(unit ? { unit } : {}),
        ...(words ? { answers: [...words] } : {}),
        ...(testOhm === undefined ? {} : { testOhm }),
        bits,
        minutes,
        expects,
      }
    }),
  }
}

function conclusion({ outcome, ranking, class: kin, next }: Diagnosis): Finding {
  const { find } = FIND_FINDINGS
  const first = ranking[0]!
  const likely = ranking.filter((r) => r.probability >= LIKELY)
  const inClass = ranking.filter((r) => kin.includes(r.hypothesis))
  const probability = inClass.reduce((sum, r) => sum + r.probability, 0)
  switch (outcome) {
    case 'nothing fits':
      return find('nothing-fits', {})
    case 'found':
      return find('found', { fault: first.hypothesis.words, probability: first.probability })
    case 'class':
      return find('class', { faults: kin.map((h) => h.words), probability })
    case 'open':
      return next.length > 0
        ? find('open', {
            count: likely.length,
            fault: first.hypothesis.words,
            probability: first.probability,
          })
        : find('open-ended', { faults: likely.map((r) => r.hypothesis.words) })
  }
}
