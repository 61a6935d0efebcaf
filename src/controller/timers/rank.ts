/** Which of two ways is better, and why. */
import { verdictOfConcern } from '../chips/index.js'
import type { Behaviour } from './mode.js'
import type { TimerOption } from './option.js'

/** How bad a missed deadline is: nothing lost but one packet, a wrong half, a long pulse, every late interrupt seen. */
const MISS_SEVERITY: Record<Behaviour, number> = {
  list: 0,
  'bit-next': 0,
  'half-next': 1,
  'bit-now': 2,
  'half-now': 3,
  pin: 4,
}

/** Steps of a quarter octave: deadlines closer than that are alike. */
const step = (us: number) => Math.round(Math.log2(Math.max(us, 1e-3)) * 4)

interface Merit {
  /** Why the worse of two comes later, said of the worse. */
  says: string
  /** Greater is better. */
  of: (o: TimerOption) => number
}

/** Ranking criteria, most important first. */
const MERITS: readonly Merit[] = [
  // Steps of 5 %: less is no difference in practice.
  { says: 'less room to the limits', of: (o) => Math.round(o.headroom * 20) },
  { says: 'a shorter deadline', of: (o) => step(o.deadline.lateUs) },
  { says: 'a miss does more harm', of: (o) => -MISS_SEVERITY[o.behaviour] },
  // A pin that the chip needs at start, or that may not be there, comes after one that is simply free.
  { says: 'its pin has a second duty to be checked', of: (o) => -unsettled(o) },
  {
    says: 'it takes a timer that other code commonly relies on',
    of: (o) => (o.reliedOn === undefined ? 0 : -1),
  },
  { says: 'a miss makes a longer pulse', of: (o) => -(o.deadline.pulseUs ?? 0) },
  { says: 'zeros stretch less far', of: (o) => o.longestZeroUs },
  // Programmed loops want small counts, counters fine ticks.
  { says: 'longer loops to program', of: (o) => (o.timer.kind === 'pio' ? Math.min(o.tickUs, 1) : 0) },
  { says: 'coarser ticks', of: (o) => -o.divider },
]

export function byMerit(a: TimerOption, b: TimerOption): number {
  for (const { of } of MERITS) {
    const difference = of(b) - of(a)
    if (difference !== 0) return difference
  }
  return a.id.localeCompare(b.id, 'en', { numeric: true })
}

/** Why `worse` comes after `better`, in a few words; `undefined` when nothing but their names tells them apart. */
export function whyAfter(worse: TimerOption, better: TimerOption): string | undefined {
  return MERITS.find(({ of }) => of(worse) !== of(better))?.says
}

const unsettled = (o: TimerOption) => o.pinConcerns.filter((c) => verdictOfConcern(c) !== 'met').length
