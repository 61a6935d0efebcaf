import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import { evidenceOfDesign } from '../../proof/index.js'
import { worsened } from '../../standard/index.js'
import { powerChanges, trackChange } from './changes.js'
import { railroadAdvice } from './railroad.js'

const text = (name: string) =>
  readFileSync(new URL(`../../../examples/${name}/halfbit.yaml`, import.meta.url), 'utf8')
const judged = (of: string) =>
  evidenceOfDesign(loadDesign(of, 'x'), { file: 'x' }, { pace: 'soon' }).statements

describe('proposed changes', () => {
  it('of the power stage mend something and make nothing worse', { timeout: 120_000 }, () => {
    const before = text('flawed')
    const changes = powerChanges(before)
    expect(changes.length).toBeGreaterThan(0)
    for (const one of changes) {
      expect(one.text).not.toBe(before)
      expect(worsened(judged(before), judged(one.text))).toEqual([])
    }
  })

  it('of the railroad are applied only where nothing becomes worse', { timeout: 120_000 }, () => {
    const before = text('shelf')
    const count = railroadAdvice(before).length
    expect(count).toBeGreaterThan(0)
    let applied = 0
    for (let index = 0; index < count; index++) {
      const result = trackChange(before, index)
      if ('refused' in result) {
        expect(result.refused).not.toBe('')
        continue
      }
      applied++
      expect(worsened(judged(before), judged(result.text))).toEqual([])
    }
    expect(applied).toBeGreaterThan(0)
    expect(trackChange(before, count + 100)).toEqual({ refused: expect.stringContaining('no such') })
  })
})
