import { expect, it } from 'vitest'
import type { Evidence } from '../standard/index.js'
import { evidenceLines } from './evidence-text.js'

const evidence = (verdict: Evidence['verdict']): Evidence => ({
  clause: 'short-trip',
  origin: 'calculated',
  verdict,
  value: { low: 1, high: 2, unit: 'us' },
  margin: -0.5,
  about: 'left',
  where: { file: 'club.yaml', line: 12 },
  because: 'a short of many words that has to go on in a line of its own, as it does not fit into the first',
})

it('names the line of the design only where a clause is not met', () => {
  const head = (verdict: Evidence['verdict']) => evidenceLines([evidence(verdict)], 80)[0]
  expect(head('broken')).toBe('BROKEN    short-trip, left: margin -0.5  club.yaml:12')
  expect(head('undecided')).toBe('undecided short-trip, left: margin -0.5  club.yaml:12')
  expect(head('met')).toBe('met       short-trip, left: margin -0.5')
})

it('keeps the reason inside the width, under its head', () => {
  const [, ...reason] = evidenceLines([evidence('met')], 60)
  expect(reason.length).toBeGreaterThan(1)
  for (const line of reason) {
    expect(line.length).toBeLessThanOrEqual(60)
    expect(line.slice(0, 10)).toBe(' '.repeat(10))
  }
})
