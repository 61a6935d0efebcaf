/** Expected information of a reading about the faults, bits: how much less is unknown after it, on average. */
import { WRONG_READING } from '../data/instruments.data.js'
import { groupDensity, normal, REPEAT_SHARE, rightDensity, wordChance, wordsChance } from './likelihood.js'

export interface Weighted<T> {
  weight: number
  expects: T
}

/** Two expectations closer than this part of their spread count as one. */
const ALIKE = 0.15

/**
 * Figures: mutual information of fault and reading, integrated about each distinct expectation. A wrong reading is taken
 * to tell nothing: where it happens to lie at another expectation it misleads, which is a thousandth of a bit.
 * @param list weights add to 1
 */
export function figureGain(list: readonly Weighted<{ mean: number; sd: number }>[], width: number): number {
  const groups = distinctFigures(list)
  if (groups.length < 2) return 0
  const flat = WRONG_READING / width
  const density = (y: number, { mean, sd }: { mean: number; sd: number }) =>
    (1 - WRONG_READING) * normal(y, mean, sd) + flat
  const mixed = (y: number) => groups.reduce((sum, g) => sum + g.weight * density(y, g.expects), 0)
  let bits = 0
  for (const g of groups) {
    if (g.weight < 1e-7) continue
    let own = 0
    for (const [z, w] of NODES) {
      const y = g.expects.mean + z * g.expects.sd
      own += w * Math.log2(density(y, g.expects) / mixed(y))
    }
    bits += g.weight * (1 - WRONG_READING) * own
  }
  return Math.max(0, bits)
}

/** A trapezoid over ±4 standard deviations; exact enough for mixtures. */
const NODES: readonly (readonly [number, number])[] = (() => {
  const list = Array.from({ length: 17 }, (_, i): [number, number] => {
    const z = (i - 8) / 2
    return [z, normal(z, 0, 1) / 2]
  })
  const sum = list.reduce((s, [, w]) => s + w, 0)
  return list.map(([z, w]): [number, number] => [z, w / sum])
})()

function distinctFigures(
  list: readonly Weighted<{ mean: number; sd: number }>[],
): Weighted<{ mean: number; sd: number }>[] {
  const sorted = list.filter((l) => l.weight > 1e-9).sort((a, b) => a.expects.mean - b.expects.mean)
  const groups: { weight: number; expects: { mean: number; sd: number } }[] = []
  for (const item of sorted) {
    const like = groups.findLast(
      ({ expects: { mean, sd } }) =>
        Math.abs(mean - item.expects.mean) <= ALIKE * Math.min(sd, item.expects.sd) &&
        Math.abs(sd - item.expects.sd) <= ALIKE * Math.min(sd, item.expects.sd),
    )
    if (like) like.weight += item.weight
    else groups.push({ weight: item.weight, expects: item.expects })
  }
  return groups
}

/** Words: exactly. */
export function wordGain(
  list: readonly Weighted<Readonly<Record<string, number>>>[],
  words: readonly string[],
): number {
  return informationOf(
    list,
    words.map((word) => list.map((l) => wordChance(word, l.expects))),
  )
}

/** Where values are so surely right, reading them again is not worth working out. */
const SURELY_RIGHT = 0.998
/** Expectations less likely than this are left out of what reading again is worth. */
const LEAST_WEIGHT = 1e-4

/**
 * Figures read once more: each expectation says how likely the values so far were right, and only what a wrong one hid is
 * still to be had.
 * @param values those read so far
 */
export function figureGainAgain(
  list: readonly Weighted<{ mean: number; sd: number }>[],
  width: number,
  values: readonly number[],
): number {
  const groups = distinctFigures(list).filter((g) => g.weight >= LEAST_WEIGHT)
  if (groups.length < 2) return 0
  const before = groups.map((g) => groupDensity(values, g.expects.mean, g.expects.sd, width))
  const right = groups.map((g) => rightDensity(values, g.expects.mean, g.expects.sd))
  if (groups.reduce((sum, g, i) => sum + (g.weight * right[i]!) / before[i]!, 0) > SURELY_RIGHT) return 0
  const of = (y: number, i: number) => {
    const { mean, sd } = groups[i]!.expects
    return groupDensity([...values, y], mean, sd, width) / before[i]!
  }
  const points = groups
    .flatMap(({ expects: { mean, sd } }) => [
      ...NODES.map(([z]) => mean + z * sd),
      ...values.flatMap((v) => NODES.map(([z]) => v + z * REPEAT_SHARE * sd)),
    ])
    .sort((a, b) => a - b)
  let bits = 0
  let last: { y: number; f: number } | undefined
  for (const y of points) {
    const own = groups.map((_, i) => of(y, i))
    const mixed = own.reduce((sum, p, i) => sum + groups[i]!.weight * p, 0)
    const f = own.reduce((sum, p, i) => (p > 0 ? sum + groups[i]!.weight * p * Math.log2(p / mixed) : sum), 0)
    if (last) bits += ((f + last.f) / 2) * (y - last.y)
    last = { y, f }
  }
  return Math.max(0, bits)
}

/** Words said once more of the same thing: exactly. */
export function wordGainAgain(
  list: readonly Weighted<Readonly<Record<string, number>>>[],
  words: readonly string[],
  said: readonly string[],
): number {
  const before = list.map((l) => wordsChance(said, l.expects))
  return informationOf(
    list,
    words.map((word) => list.map((l, i) => wordsChance([...said, word], l.expects) / before[i]!)),
  )
}

function informationOf(list: readonly Weighted<unknown>[], chances: readonly (readonly number[])[]): number {
  let bits = 0
  for (const p of chances) {
    const all = list.reduce((sum, l, i) => sum + l.weight * p[i]!, 0)
    list.forEach((l, i) => {
      if (l.weight > 0 && p[i]! > 0) bits += l.weight * p[i]! * Math.log2(p[i]! / all)
    })
  }
  return Math.max(0, bits)
}

/** Unknown about a set of faults, bits. */
export function entropy(weights: readonly number[]): number {
  return weights.reduce((sum, p) => (p > 0 ? sum - p * Math.log2(p) : sum), 0)
}
