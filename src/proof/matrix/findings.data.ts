/** What the table of proofs says of each variant. */
import { findingTable } from '../../finding/index.js'

const many = (n: number, one: string) => `${n} ${one}${n === 1 ? '' : 's'}`
const forWhom = (suits: string | undefined) => (suits === undefined ? '' : ` (suits: ${suits})`)
const least = (margin: string, at: string) => `the smallest margin shown is ${margin} (${at})`
const some = (names: readonly string[]) =>
  names.length > 3 ? `${names.slice(0, 3).join(', ')} and ${names.length - 3} more` : names.join(', ')

interface Of {
  variant: string
  suits?: string | undefined
}
interface Least {
  margin: string
  at: string
}

export const MATRIX_FINDINGS = findingTable('matrix', {
  recommended: {
    means: 'Every clause that this variant has to meet is shown and met.',
    says: ({ variant, suits, of, margin, at }: Of & Least & { of: number }) =>
      `${variant}${forWhom(suits)}: recommended; all ${many(of, 'clause')} are met, ${least(margin, at)}`,
  },
  'recommended-as-far-as-shown': {
    means: 'Nothing that is shown is broken or undecided for this variant, but not everything is shown.',
    remedy: 'Run its firmware and take captures of it; each report says what would show the rest.',
    says: ({
      variant,
      suits,
      missing,
      of,
      behaviour,
      margin,
      at,
    }: Of & Least & { missing: number; of: number; behaviour: boolean }) =>
      `${variant}${forWhom(suits)}: recommended only as far as shown; ${least(margin, at)}, but ${missing} of ${many(of, 'clause')} ${missing === 1 ? 'is' : 'are'} not shown${behaviour ? ', among them what its firmware does' : ''}`,
  },
  'variant-undecided': {
    means: 'A clause of this variant is met at one corner and broken at another.',
    remedy: 'Narrow the figure that decides it, or measure; then look again.',
    says: ({ variant, suits, clauses }: Of & { clauses: readonly string[] }) =>
      `${variant}${forWhom(suits)}: not recommended yet; undecided: ${some(clauses)}`,
  },
  'variant-broken': {
    means: 'A clause of this variant is broken.',
    remedy: 'Change what breaks it, or do not build this variant.',
    says: ({ variant, suits, clauses }: Of & { clauses: readonly string[] }) =>
      `${variant}${forWhom(suits)}: not recommended; it breaks ${some(clauses)}`,
  },
  'variant-requirement': {
    means: 'Something that was required to be shown of this variant is not shown.',
    remedy: 'Show it, or require less.',
    says: ({ variant, suits, clauses }: Of & { clauses: readonly string[] }) =>
      `${variant}${forWhom(suits)}: not recommended; required but not shown: ${some(clauses)}`,
  },
  'variant-nothing-shown': {
    means: 'No clause of this variant is shown, so there is nothing to recommend it by.',
    remedy: 'Describe more of the station, or run its firmware.',
    says: ({ variant, suits }: Of) => `${variant}${forWhom(suits)}: not recommended; nothing of it is shown`,
  },
  'first-choice': {
    means:
      'The variant with the fewest clauses that are not shown; if several tie, the one whose smallest margin is largest.',
    says: ({ variant, others, missing }: { variant: string; others: number; missing: number }) =>
      `First choice of the ${others} with nothing broken: ${variant}${missing > 0 ? `; ${missing} of its clauses ${missing === 1 ? 'is' : 'are'} not shown` : ''}`,
  },
  'no-choice': {
    means: 'For every variant, something is broken or undecided, or nothing is shown.',
    remedy: 'See what breaks where.',
    says: () => 'No variant can be recommended',
  },
})
