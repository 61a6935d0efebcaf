/** What the beginning promises: a design that is offered is sound, and a refusal names its reason and a sound choice. */
import { expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { evidenceOfDesign } from '../../src/proof/index.js'
import { CLAUSE_FACTS } from '../../src/standard/index.js'
import { type Given, QUESTIONS, SHAPES, settle, startDesign, TRAIN_KINDS } from '../../src/start/index.js'
import { runs } from '../runs.js'

/** A small generator of its own, so that the same combinations come back. */
function seeded(seed: number): () => number {
  let state = seed
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0
    return state / 2 ** 32
  }
}

/** Judged by another call than the one that made it, so that nothing is taken on trust. */
function mustBeSound(text: string): void {
  const loaded = loadDesign(text, 'halfbit.yaml')
  const { statements, complete, fault, notes } = evidenceOfDesign(loaded, { file: 'halfbit.yaml' })
  expect(fault).toBeUndefined()
  expect(complete).toBe(true)
  expect(notes).toEqual([])
  expect(statements.filter((s) => s.verdict === 'broken' || s.verdict === 'undecided')).toEqual([])
  // Every part is filled in: nothing of it is left out of the calculation.
  const shown = new Set(statements.filter((s) => s.verdict === 'met').map((s) => s.clause))
  for (const clause of ['one-half', 'short-trip', 'voltage-drop', 'driver-heat', 'fuse', 'refresh'] as const)
    expect(shown, clause).toContain(clause)
  for (const s of statements) expect(Object.keys(CLAUSE_FACTS)).toContain(s.clause)
  for (const part of ['controller', 'signal', 'power', 'track', 'rollingStock', 'fleet', 'traffic'])
    expect(Object.keys(loaded.design)).toContain(part)
}

it.each(SHAPES.map((s) => s.id))(
  'makes a sound %s with every default, with one district and with two',
  (shape) => {
    for (const districts of ['1', '2']) {
      const result = startDesign({ shape, districts })
      if (!('started' in result)) throw new Error(result.refused.because.sentence)
      mustBeSound(result.started.text)
      // The answers it gives back make the same design.
      const again = startDesign(result.started.answers)
      expect('started' in again && again.started.text).toBe(result.started.text)
    }
  },
)

it('makes a sound design of any combination, or refuses it with the reason and a choice that is sound', {
  timeout: 3600_000,
}, () => {
  const random = seeded(20_26)
  let sound = 0
  let refused = 0
  for (let i = 0; i < runs(40); i++) {
    const given: Partial<Record<keyof Given, string>> = {}
    for (const q of QUESTIONS) {
      if (q.kind !== 'choice' || random() < 0.65) continue
      const choices = q.choices!(settle(given).answers)
      given[q.id] = choices[Math.floor(random() * choices.length)]!.value
    }
    if (random() < 0.3) given.voltage = `${12 + Math.floor(random() * 8)} V`
    if (random() < 0.3) given.rating = `${1 + Math.floor(random() * 5)} A`
    if (random() < 0.3) {
      const kind = TRAIN_KINDS[Math.floor(random() * TRAIN_KINDS.length)]!.id
      given.trains = `${1 + Math.floor(random() * 3)} ${kind}, 1 shunter`.replace(
        /^(\d) shunter, 1 shunter$/,
        '$1 shunter',
      )
    }
    const name = JSON.stringify(given)
    const result = startDesign(given)
    if ('started' in result) {
      mustBeSound(result.started.text)
      sound++
      continue
    }
    refused++
    const { because, nearest } = result.refused
    expect(because.sentence, name).not.toBe('')
    expect(nearest, name).toBeDefined()
    const mended = startDesign({ ...given, ...nearest!.changes })
    if (!('started' in mended)) throw new Error(`${name}: ${JSON.stringify(nearest)} is not sound`)
    mustBeSound(mended.started.text)
  }
  // Neither is the rule that everything is refused, nor that everything passes.
  expect(sound).toBeGreaterThan(0)
  expect(refused).toBeGreaterThan(0)
})

it('refuses a driver that is too weak for the trains, and names one that is not', () => {
  const result = startDesign({ driver: 'TB6612FNG', rating: '3 A', trains: '2 express, 1 goods' })
  if (!('refused' in result)) throw new Error('TB6612FNG carries 1.2 A')
  expect(result.refused.clauses).toContain('driver-current')
  expect(result.refused.nearest).toBeDefined()
})

it.each([
  [{ scale: 'HO' }, 'scale'],
  [{ length: '10 V' }, 'length'],
  [{ length: '300 mm' }, 'length'],
  [{ trains: '3 dragons' }, 'trains'],
  [{ trains: '' }, 'trains'],
  [{ districts: '9' }, 'districts'],
  [{ name: 'a\nb' }, 'name'],
] as [Given, string][])('says which answer of %j is none', (given, question) => {
  expect(() => startDesign(given)).toThrow(expect.objectContaining({ name: 'AnswerError', question }))
})

it('keeps marks of the file format in a name as what they are', () => {
  const result = startDesign({ name: '# "x": {y} \\ $z' })
  if (!('started' in result)) throw new Error(result.refused.because.sentence)
  expect(loadDesign(result.started.text, 'x').design.name).toBe('# "x": {y} \\ $z')
})
