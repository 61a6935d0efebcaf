import { expect, it } from 'vitest'
import { designShape } from '../design/index.js'
import { CLAUSE_IDS } from '../standard/index.js'
import { STAGES } from './stages.js'

it('every clause belongs to one stage', () => {
  const owed = STAGES.flatMap((s) => s.clauses)
  expect([...owed].sort()).toEqual([...CLAUSE_IDS].sort())
})

it('every part of the design can be edited somewhere', () => {
  const edited = new Set(STAGES.flatMap((s) => s.parts))
  const keys = Object.keys(designShape.keys).filter((key) => key !== 'halfbit')
  expect(keys.filter((key) => !edited.has(key))).toEqual([])
  expect([...edited].filter((key) => !keys.includes(key))).toEqual([])
})
