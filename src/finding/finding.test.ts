import { expect, test } from 'vitest'
import { findingTable } from './finding.js'

const table = findingTable('signal', {
  'late-half': {
    means: 'A half-bit came late.',
    remedy: 'Load the timer earlier.',
    says: ({ byUs }: { byUs: number }) => `a half-bit came ${byUs} us late`,
  },
})

test('a finding carries its code, its parameters and the sentence made of them', () => {
  expect(table.find('late-half', { byUs: 3 })).toEqual({
    code: 'signal/late-half',
    params: { byUs: 3 },
    sentence: 'a half-bit came 3 us late',
  })
})
