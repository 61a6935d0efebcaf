/** Expectations side by side: told apart or not, and mixed over the forms of a fault. */
import { type Forecast, narrowed, type Weighed } from './likelihood.js'

/** Two expectations nearer than so many spreads are not told apart. */
const APART = 2
/** Two chances of words nearer than this are not told apart. */
const CHANCE_APART = 0.5

export interface FormState {
  /** Of its hypothesis. */
  share: number
  weighed: Weighed
}

export function areApart(a: readonly Forecast[], b: readonly Forecast[]): boolean {
  return a.some((x) => b.every((y) => formsApart(x, y))) && b.some((x) => a.every((y) => formsApart(x, y)))
}

/** Whether two expectations differ enough for a reading to tell anything. */
export function differs(a: Forecast, b: Forecast): boolean {
  if ('chances' in a || 'chances' in b) return formsDistance(a, b) > 0.02
  return formsDistance(a, b) > 0.15 || Math.abs(a.sd - b.sd) > 0.15 * Math.min(a.sd, b.sd)
}

/** In spreads of the wider one; for words the total variation. */
function formsDistance(a: Forecast, b: Forecast): number {
  if ('chances' in a || 'chances' in b) {
    if (!('chances' in a && 'chances' in b)) return 1
    const words = Object.keys(a.chances)
    return words.reduce((s, w) => s + Math.abs(a.chances[w]! - (b.chances[w] ?? 0)), 0) / 2
  }
  return Math.abs(a.mean - b.mean) / Math.max(a.sd, b.sd)
}

function formsApart(a: Forecast, b: Forecast): boolean {
  return formsDistance(a, b) > ('chances' in a ? CHANCE_APART : APART)
}

export function mixedWords(column: readonly Forecast[], forms: readonly FormState[]): Record<string, number> {
  const mixed: Record<string, number> = {}
  column.forEach((forecast, f) => {
    if (!('chances' in forecast)) return
    for (const [word, p] of Object.entries(forecast.chances))
      mixed[word] = (mixed[word] ?? 0) + forms[f]!.share * p
  })
  return mixed
}

/** One normal distribution of the same mean and spread as all forms together. */
export function mixedFigure(
  column: readonly Forecast[],
  forms: readonly FormState[],
): { mean: number; sd: number } {
  let mean = 0
  let square = 0
  column.forEach((forecast, f) => {
    if ('chances' in forecast) return
    const { share, weighed } = forms[f]!
    const own = narrowed(forecast, weighed.factors)
    mean += share * own.mean
    square += share * (own.mean ** 2 + own.sd ** 2)
  })
  return { mean, sd: Math.sqrt(Math.max(1e-18, square - mean * mean)) }
}
