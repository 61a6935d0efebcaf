import { expect, it } from 'vitest'
import { campaign, type SeedResult } from './campaign.js'

it('calls no legal signal broken and no planted fault met, at any rate, phase and digit', () => {
  const wrong: SeedResult[] = []
  const rows = campaign(200, 1, (result) => wrong.push(result))
  expect(wrong).toEqual([])
  expect(rows.reduce((sum, r) => sum + r.seeds, 0)).toBe(200)
  // Most legal signals are decided.
  const legal = rows.filter((r) => r.fault === 'none')
  const undecided = legal.reduce((sum, r) => sum + r.undecided, 0)
  expect(undecided).toBeLessThan(legal.reduce((sum, r) => sum + r.seeds, 0) * 0.8)
})
