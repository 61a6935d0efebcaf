import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import { trafficFigures } from './figures.js'

const drawn = (example: string) => {
  const text = readFileSync(new URL(`../../../examples/${example}/halfbit.yaml`, import.meta.url), 'utf8')
  return trafficFigures(loadDesign(text)).figures.map((f) => f.name)
}

it('draws the latency of commands only where there are commands', () => {
  expect(drawn('exhibition')).toContain('latency')
  // Its traffic names no operators.
  expect(drawn('two-tracks')).toEqual([])
})
