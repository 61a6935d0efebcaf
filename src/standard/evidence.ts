/** Evidence: one statement about one clause. The whole product speaks this type. */
import type { Finding } from '../finding/index.js'
import type { ClauseId, Limits, Origin } from './clause.js'

/** `undecided`: the evidence cannot tell (resolution too coarse, too little seen, corners that differ); it is never `met`. */
export type Verdict = 'met' | 'broken' | 'undecided'

/** What was found: worst low and worst high, in `unit` (the clause's unit). */
export interface Interval {
  low: number
  high: number
  unit: string
}

/** Where it was found; every field that applies is given. */
export interface Place {
  /** Time from the start of the capture or run, us. */
  timeUs?: number
  /** File the evidence came from. */
  file?: string
  line?: number
  column?: number
  /** Channel, pin or output name. */
  channel?: string
  register?: string
  /** Place on the track. */
  section?: string
  address?: string
  /** Bytes of the packet concerned, hexadecimal. */
  packet?: string
}

/** What a room says of a clause: evidence, or why an origin that could show something shows nothing. */
export type Statement = Evidence | NotShown

interface AboutClause {
  clause: ClauseId
  origin: Origin
  /** Which output, district or part of the station it is about, where there are several (`main`, `service`). */
  about?: string
  where?: Place
  /** One sentence: from what, by which formula or run; or why nothing is shown. */
  because: string
  /** The same as a code with parameters. */
  finding?: Finding
}

/** Why a clause is not shown by an origin that could show it; never `met`. */
export interface NotShown extends AboutClause {
  verdict: 'not shown'
}

export interface Evidence extends AboutClause {
  verdict: Verdict
  value: Interval
  /** What it is held against, where that is not the clause's own limit for the sender. */
  limits?: Limits
  /**
   * Share of the way from the limit to the centre of the window: 1 in the centre, 0 at the limit, below 0
   * outside. With one limit only, the distance from it as a share of the limit, at most 1.
   */
  margin: number
  count?: { seen: number; outside: number }
  /** Of all that may happen, what is worst for the clause here and therefore decides it, in words. */
  situation?: string
  /** It rests on parts alone, such as a breaker, where others of its clause rest on what the firmware does. */
  byParts?: true
}

export function isShown(e: Statement): e is Evidence {
  return e.verdict !== 'not shown'
}

/** Evidence that only says why an origin shows nothing. */
export function notShown(
  clause: ClauseId,
  origin: Origin,
  finding: Finding,
  more: { about?: string | undefined; where?: Place } = {},
): NotShown {
  const { about, where } = more
  return {
    clause,
    origin,
    verdict: 'not shown',
    because: finding.sentence,
    finding,
    ...(about === undefined ? {} : { about }),
    ...(where === undefined ? {} : { where }),
  }
}

/**
 * The verdict on a quantity worked out in its unfavourable and its favourable case (lowest supply, warm driver and
 * highest resistances against their opposites): met or broken where both cases are, undecided between.
 */
export function verdictOfCases(unfavourable: boolean, favourable: boolean): Verdict {
  if (unfavourable) return 'met'
  return favourable ? 'undecided' : 'broken'
}

/**
 * Margin of the interval [low, high] inside the window [min, max]; either limit may be absent. Where the window
 * names a nominal value, that is its centre: a zero half of 100 us is in the middle of 95 to 9900 us.
 * @returns 1 in the centre of a window, 0 at a limit, negative outside; NaN never (an empty window throws).
 */
export function marginWithin(
  low: number,
  high: number,
  limits: { min?: number | undefined; nominal?: number | undefined; max?: number | undefined },
): number {
  const { min, max } = limits
  if (min !== undefined && max !== undefined) {
    const centre = limits.nominal ?? (min + max) / 2
    if (!(min < centre && centre < max)) throw new RangeError(`no window ${min}…${centre}…${max}`)
    return Math.min(1, (low - min) / (centre - min), (max - high) / (max - centre))
  }
  if (min !== undefined) return Math.min(1, min === 0 ? Math.sign(low) : (low - min) / Math.abs(min))
  // A count that must be nought is kept wholly or not at all.
  if (max === 0) return high > 0 ? -1 : 1
  if (max !== undefined) return Math.min(1, (max - high) / Math.abs(max))
  return 1
}
