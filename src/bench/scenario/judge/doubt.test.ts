import { expect, it } from 'vitest'
import type { Evidence } from '../../../standard/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { Found } from '../result.js'
import { doubted, doubtedStatement } from './doubt.js'

const at = (verdict: Found['verdict'], timeUs?: number): Found => ({
  clause: 'short-trip',
  about: 'main',
  verdict,
  value: { low: 1, high: 1, unit: 'us', max: 2 },
  timeUs,
  finding: SAYS.find('short-without-power', { where: 'here' }),
})
const verdicts = (found: readonly Found[], fromUs: number) =>
  doubted('shortOff', found, fromUs).map((f) => f.verdict)

it('leaves nothing met that currents decide where they are doubtful, and only what was broken before', () => {
  const found = [at('met', 5), at('met'), at('undecided', 5), at('broken', 5), at('broken', 15), at('broken')]
  expect(verdicts(found, 10)).toEqual([
    'not shown',
    'not shown',
    'not shown',
    'broken',
    'not shown',
    'not shown',
  ])
  expect(doubted('shortOff', found, 10)[0]!.finding.code).toBe('bench/doubtful')
  expect(verdicts(found, Number.POSITIVE_INFINITY)).toEqual(found.map((f) => f.verdict))
})

it('leaves the clauses that a program keeps by its clock, but not those of packets on rails with power', () => {
  const statement = (clause: Evidence['clause']): Evidence => ({
    clause,
    origin: 'simulated',
    about: 'main',
    verdict: 'met',
    value: { low: 0, high: 0, unit: 'us' },
    margin: 1,
    because: 'a run',
  })
  expect(doubtedStatement(statement('one-half'), 10).verdict).toBe('met')
  expect(doubtedStatement(statement('interruption'), 10)).toMatchObject({
    verdict: 'not shown',
    finding: { code: 'bench/doubtful' },
  })
  expect(doubtedStatement(statement('refresh'), Number.POSITIVE_INFINITY).verdict).toBe('met')
})
