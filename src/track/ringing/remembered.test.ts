import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { loadDesign } from '../../design/index.js'
import { modelTrack, sourcesFromPower } from '../index.js'
import { runToEnd } from '../progress.js'
import { ringingSteps } from './report.js'

it('figures are the same with a search for the best end, without one, and taken from an earlier one with it', () => {
  const file = new URL('../../../examples/exhibition/halfbit.yaml', import.meta.url)
  const { design } = loadDesign(readFileSync(file, 'utf8'))
  const sources = sourcesFromPower(design.power!, design.signal)
  const { plan, net } = modelTrack({ track: design.track!, rollingStock: design.rollingStock, sources })
  const ringing = (search: boolean) => runToEnd(ringingSteps(plan, net, 27, search))
  // First without anything to take it from.
  const plain = ringing(false)
  const searched = ringing(true)
  expect(searched.districts.length).toBeGreaterThan(0)
  for (const d of searched.districts) expect(d.best).toBeDefined()
  expect(ringing(false)).toEqual(plain)
  const stripped = searched.districts.map(({ best: _, bestWave: __, ...figures }) => figures)
  expect(stripped).toEqual(plain.districts)
})
