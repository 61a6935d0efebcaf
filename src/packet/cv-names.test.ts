import { describe, expect, it } from 'vitest'
import { cvName, cvNameAnywhere } from './cv-names.data.js'

// S-9.2.2:2012 (confirmed).
describe('names of CVs', () => {
  it.each([
    [1, 'multi-function', 'short address'],
    [29, 'multi-function', 'configuration'],
    [94, 'multi-function', 'speed table, entry 28'],
    [300, 'multi-function', 'indexed by CV31 and CV32'],
    [50, 'multi-function', undefined],
    [9, 'accessory', 'address, high part'],
    [521, 'accessory', 'address, high part'],
    [65, 'accessory', undefined],
  ] as const)('CV%d of a %s decoder is %s', (cv, decoder, name) => expect(cvName(cv, decoder)).toBe(name))

  it('says both where they differ', () => {
    expect(cvNameAnywhere(29)).toBe('configuration')
    expect(cvNameAnywhere(1)).toBe('short address; accessory: address, low part')
    expect(cvNameAnywhere(513)).toBe('accessory: address, low part')
    expect(cvNameAnywhere(65)).toBe('kick start')
  })
})
