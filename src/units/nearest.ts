/**
 * The candidate that a person most likely meant: smallest edit distance (Levenshtein 1966), at most a third of
 * the word's length plus one; `undefined` when none is near.
 */
export function nearest(word: string, candidates: Iterable<string>): string | undefined {
  let best: string | undefined
  let bestDistance = Math.floor(Math.min(word.length, 64) / 3) + 2
  for (const candidate of candidates) {
    if (Math.abs(candidate.length - word.length) >= bestDistance) continue
    const d = distance(word.toLowerCase(), candidate.toLowerCase())
    if (d < bestDistance) {
      bestDistance = d
      best = candidate
    }
  }
  return best
}

function distance(a: string, b: string): number {
  let row = Array.from({ length: b.length + 1 }, (_, i) => i)
  for (let i = 1; i <= a.length; i++) {
    const next = [i]
    for (let j = 1; j <= b.length; j++) {
      const change = row[j - 1]! + (a[i - 1] === b[j - 1] ? 0 : 1)
      next.push(Math.min(change, row[j]! + 1, next[j - 1]! + 1))
    }
    row = next
  }
  return row[b.length]!
}
