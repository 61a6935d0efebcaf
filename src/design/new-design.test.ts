import { expect, it } from 'vitest'
import { loadDesign } from './load.js'
import { designText, FIRST_DESIGN } from './new-design.js'

it('gives a sound design without notes of anything wrong', () => {
  const { design } = loadDesign(designText(FIRST_DESIGN), 'new design')
  expect(design.controller.chip).toBe('atmega328p')
  expect(Object.keys(design.signal.outputs)).toEqual(['main'])
})
