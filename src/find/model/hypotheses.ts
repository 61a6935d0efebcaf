/** Every single fault and common pair of a design, with its prior and what it changes. */
import type { SymptomId } from '../data/symptoms.data.js'
import { type Effects, type FaultAt, NO_EFFECT, together } from '../faults/effects.js'
import { FAULTS, type FaultKindId, PAIRS, type PairEntry, SOUND_WEIGHT } from '../faults/faults.data.js'
import type { Station } from './station.js'

export interface Hypothesis {
  /** `open-feeder at feeder mill/A`; pairs with ` and ` in between; `sound` where nothing is wrong. */
  id: string
  words: string
  kinds: readonly FaultKindId[]
  /** Where to look, as places are written. */
  places: readonly string[]
  /** All of a design add to 1. */
  prior: number
  forms: readonly Effects[]
  /** What people notice of it. */
  causes: readonly SymptomId[]
}

export const SOUND = 'sound'

/** More pairs than these are no help on a large railroad; the likelier ones stay. */
const MOST_PAIRS = 600

export function hypothesesOf(station: Station): Hypothesis[] {
  const list: (Hypothesis & { weight: number })[] = [
    {
      id: SOUND,
      words: 'nothing is wrong with the parts considered here',
      kinds: [],
      places: [],
      prior: 0,
      weight: SOUND_WEIGHT,
      forms: [NO_EFFECT],
      causes: [],
    },
  ]
  const byKind = new Map<FaultKindId, typeof list>()
  for (const [id, entry] of Object.entries(FAULTS) as [FaultKindId, (typeof FAULTS)[FaultKindId]][]) {
    const own = entry.at(station).map(({ place, words, forms, causes = entry.causes }: FaultAt) => ({
      id: `${id} at ${place}`,
      words,
      kinds: [id],
      places: [place],
      prior: 0,
      weight: entry.weight,
      forms: forms.map((f) => ({ ...NO_EFFECT, ...f })),
      causes,
    }))
    const known = new Map<string, number>()
    for (const h of own) {
      // Two at one place, such as both halves of a driver, are told apart by number.
      const n = (known.get(h.id) ?? 0) + 1
      known.set(h.id, n)
      if (n > 1) h.id += ` (${n})`
    }
    byKind.set(id, own)
    list.push(...own)
  }
  const pairs: typeof list = []
  for (const pair of Object.values<PairEntry>(PAIRS)) {
    for (const a of byKind.get(pair.kinds[0])!)
      for (const b of byKind.get(pair.kinds[1])!) {
        if (a === b || !pair.meet(station, a.places[0]!, b.places[0]!)) continue
        const n = Math.min(a.forms.length, b.forms.length) > 1 ? a.forms.length : 0
        // Both to the same degree; more combinations tell nothing more.
        const forms =
          n > 0
            ? a.forms.map((f, i) => together(f, b.forms[i]!))
            : a.forms.flatMap((f) => b.forms.map((g) => together(f, g)))
        pairs.push({
          id: `${a.id} and ${b.id}`,
          words: `${a.words}, and ${b.words}`,
          kinds: [...a.kinds, ...b.kinds],
          places: [...new Set([...a.places, ...b.places])],
          prior: 0,
          weight: pair.share * Math.min(a.weight, b.weight),
          forms,
          causes: [...new Set([...a.causes, ...b.causes])],
        })
      }
  }
  list.push(...pairs.sort((a, b) => b.weight - a.weight).slice(0, MOST_PAIRS))
  const sum = list.reduce((s, h) => s + h.weight, 0)
  return list.map(({ weight, ...h }) => ({ ...h, prior: weight / sum }))
}
