import { expect, it } from 'vitest'
import { designShape } from '../design/index.js'
import { CLAUSE_IDS } from '../standard/index.js'
import { STOPS } from './stops.js'

it('every clause belongs to one stop', () => {
  const owed = STOPS.flatMap((s) => s.clauses)
  expect([...owed].sort()).toEqual([...CLAUSE_IDS].sort())
})

it('every part of the design can be edited somewhere', () => {
  const edited = new Set(STOPS.flatMap((s) => s.parts))
  const keys = Object.keys(designShape.keys).filter((key) => key !== 'halfbit')
  expect(keys.filter((key) => !edited.has(key))).toEqual([])
  expect([...edited].filter((key) => !keys.includes(key))).toEqual([])
})
