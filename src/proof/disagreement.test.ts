import { expect, it } from 'vitest'
import type { Evidence, Statement } from '../standard/index.js'
import { disagreements } from './disagreement.js'

const statement = (
  origin: Evidence['origin'],
  verdict: Evidence['verdict'],
  low: number,
  high: number,
  clause: Evidence['clause'] = 'short-trip',
  about = 'main',
): Evidence => ({
  clause,
  origin,
  about,
  verdict,
  value: { low, high, unit: 'us' },
  margin: 0,
  because: `${origin} ${verdict}`,
})
const codes = (calculated: Statement[], shown: Statement[]) =>
  disagreements(calculated, shown).map((f) => `${f.code} ${f.params['clause']} ${f.params['about']}`)

it('tells of opposite verdicts on the same thing', () => {
  const calculated = [statement('calculated', 'met', 0, 58, 'one-half')]
  const told = ['proof/origins-disagree one-half main']
  expect(codes(calculated, [statement('simulated', 'broken', 50, 70, 'one-half')])).toEqual(told)
  expect(codes(calculated, [statement('simulated', 'met', 50, 70, 'one-half')])).toEqual([])
  expect(codes(calculated, [statement('simulated', 'undecided', 50, 70, 'one-half')])).toEqual([])
  expect(codes(calculated, [statement('measured', 'broken', 50, 70, 'one-half')])).toEqual([])
  expect(codes(calculated, [statement('simulated', 'broken', 50, 70, 'one-half', 'yard')])).toEqual([])
})

it('tells of a trip that takes longer than its slowest corner by more than 5 % and the grain of the bench', () => {
  const calculated = [statement('calculated', 'met', 1000, 2000)]
  const at = (us: number) => codes(calculated, [statement('simulated', 'met', us, us)])
  const told = ['proof/origins-disagree short-trip main']
  expect(at(1500)).toEqual([])
  expect(at(2109)).toEqual([])
  expect(at(2111)).toEqual(told)
  expect(at(500)).toEqual([])
})
