import { describe, expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import { begun } from '../worker/begin.js'
import { withoutRailroad } from './without-railroad.js'

describe('a begun design without its railroad', () => {
  it('is sound for every shape, and keeps all that is no track', () => {
    for (const given of [{}, { shape: 'yard' }, { profile: 'rcn', shape: 'shelf', districts: '2' }]) {
      const { started } = begun(given)
      const text = withoutRailroad(started!)
      const { track, rollingStock, fleet } = loadDesign(text).design
      expect(track).toBeUndefined()
      const before = loadDesign(started!.text).design
      expect(Object.keys(rollingStock!)).toEqual(Object.keys(before.rollingStock!))
      expect(fleet).toEqual(before.fleet)
      expect(text).not.toMatch(/# The rails/)
      expect(text).toContain('# What runs')
    }
  })
})
