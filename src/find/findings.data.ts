/** What the fault finder concludes. */
import { findingTable } from '../finding/index.js'
import { formatShare } from '../units/index.js'

/** More names than these are counted only. */
const MOST_NAMED = 12

const joined = (all: readonly string[]) => {
  const more = all.length - MOST_NAMED
  const list = more > 1 ? [...all.slice(0, MOST_NAMED), `one of ${more} others`] : all
  return list.length > 1 ? `${list.slice(0, -1).join('; ')}; or ${list.at(-1)}` : (list[0] ?? '')
}

const NOT_USED = {
  design: 'it was taken on another version of the design',
  kind: 'the fault finder has no such reading',
  place: 'the design has no such place to read at',
  load: 'it was taken under a load other than the test resistor',
  instrument: 'its instrument is not suitable for this reading',
  range: 'its value is out of range',
} as const

export const FIND_FINDINGS = findingTable('find', {
  found: {
    means:
      'One fault explains the readings, and the allowed readings distinguish it from all others that were weighed.',
    remedy: 'Fix it, and repeat the reading that showed it.',
    says: (p: { fault: string; probability: number }) => `${p.fault} (${formatShare(p.probability)})`,
  },
  class: {
    means:
      'Several faults explain the readings, and no allowed reading separates them beyond the meter’s error.',
    remedy: 'Inspect each of them, or fix them one at a time.',
    says: (p: { faults: readonly string[]; probability: number }) =>
      `one of these (${formatShare(p.probability)} together), which no reading can separate, given the meter’s error: ${joined(p.faults)}`,
  },
  open: {
    means: 'Several faults still explain the readings.',
    remedy: 'Take the next reading.',
    says: (p: { count: number; fault: string; probability: number }) =>
      `${p.count === 0 || (p.count === 1 && p.probability < 0.5) ? 'no explanation stands out yet' : p.count === 1 ? 'one explanation is still likely' : `${p.count} explanations are still likely`}; the likeliest: ${p.fault} (${formatShare(p.probability)})`,
  },
  'open-ended': {
    means: 'Several faults still explain the readings, and no further reading is worth taking.',
    remedy: 'Inspect the places of the likeliest ones, and repeat doubtful readings.',
    says: (p: { faults: readonly string[] }) =>
      `no further reading helps enough; still likely: ${joined(p.faults)}`,
  },
  'nothing-fits': {
    means: 'Too many readings contradict every fault and common pair that was weighed.',
    remedy:
      'Check that the design file describes what is built, and repeat the readings; the fault may be of another kind, or several at once.',
    says: () => 'no fault that this design can have fits these readings',
  },
  'note-not-used': {
    means: 'A bench note was not used.',
    remedy: 'Enter it as a reading if the fault finder has a similar one.',
    says: (p: { reading: string; why: keyof typeof NOT_USED }) =>
      `the note ${p.reading} is not used: ${NOT_USED[p.why]}`,
  },
  doubtful: {
    means: 'None of the leading explanations expects this reading.',
    remedy: 'Take it again; about one reading in fifty is simply wrong.',
    says: (p: { reading: string }) => `no likely fault explains the reading at ${p.reading}; take it again`,
  },
})
