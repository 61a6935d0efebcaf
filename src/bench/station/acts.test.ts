import { describe, expect, it } from 'vitest'
import { type BenchAct, checkAct, placeWords } from './acts.js'
import type { BenchSetup } from './setup.js'

const district = (name: string, output: string) => ({
  name,
  output,
  driver: { direction: 'PB1', enable: ['PB0'], brake: [] },
  electrics: { volt: 15, ohm: 0.5, limitAmp: 5 },
  farOhm: 0.1,
  tripBy: 'nobody' as const,
})

const setup = {
  outputs: [{ name: 'main', mode: 'operations', pin: 'PB1' }],
  districts: [district('oval', 'main')],
  decoders: [{ name: 'tank engine', district: 'oval' }],
  sections: ['loop.1', 'loop.2'],
  turnouts: ['T1'],
  supplies: [{ name: 'brick' }],
} as unknown as BenchSetup

describe('an act is refused with one sentence', () => {
  it.each<[BenchAct, RegExp]>([
    [{ act: 'remove', train: 'tank engin' }, /no train "tank engin"; the nearest is "tank engine"/],
    [{ act: 'short', name: 'a', at: { section: 'loop.9' }, ohm: 0.1 }, /no section "loop.9"/],
    [{ act: 'short', name: 'a', at: { district: 'yard', end: 'weakest' }, ohm: 0.1 }, /no district "yard"/],
    [{ act: 'short', name: 'a', at: { section: 'loop.1' }, ohm: -1 }, /at least 0/],
    [{ act: 'short', name: 'a', at: { section: 'loop.1' }, ohm: Number.NaN }, /NaN/],
    [{ act: 'supply', supply: 'wart', volt: 0, forUs: 1e3 }, /no supply "wart"/],
    [{ act: 'hold', why: 'boot', forUs: 1e6, pins: { PD7: 'high' } }, /no pin of a driver "PD7"/],
    [{ act: 'service-track', train: 'tank engine' }, /no service track/],
    [{ act: 'throw', turnout: 'T9', to: 'straight' }, /no turnout "T9"/],
    [{ act: 'command', command: { kind: 'powerOn' } }, /does not say how "powerOn" looks/],
    [{ act: 'say', text: 'go ☃' }, /U\+00FF/],
  ])('%j', (act, message) => {
    expect(() => checkAct(act, setup)).toThrow(message)
  })

  it('and taken where everything it names is there', () => {
    for (const act of [
      { act: 'place', train: 'tank engine', at: { section: 'loop.2', atMm: 100 } },
      { act: 'hold', why: 'hang', forUs: 1e6, pins: { PB0: 'high' } },
      { act: 'reset' },
    ] satisfies BenchAct[])
      expect(() => checkAct(act, setup)).not.toThrow()
  })
})

it('a place has a name for people', () => {
  expect(placeWords({ section: 'south.3', atMm: 120.4 })).toBe('south.3 at 120 mm')
  expect(placeWords({ district: 'yard', end: 'weakest' })).toBe('the weakest place of yard')
  expect(placeWords({ train: 'express' })).toBe('where express is')
})
