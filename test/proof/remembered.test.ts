/** Results that are remembered from one edit to the next are those that would be calculated again, to the bit. */
import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { loadDesign, setInDesign } from '../../src/design/index.js'
import { powerReport } from '../../src/power/index.js'
import { type CalculationMemory, evidenceOfDesign, powerInput, railroadOf } from '../../src/proof/index.js'
import { InputError, withoutMemory } from '../../src/units/index.js'
import { runs } from '../runs.js'
import { random } from '../track/random.js'

type Edit = [path: (string | number)[], value: (x: number) => string]

const EXHIBITION: Edit[] = [
  [['power', 'districts', 'yard', 'trip', 'current'], (x) => `${(1.5 + x).toFixed(2)} A`],
  [['power', 'districts', 'branch', 'trip', 'after'], (x) => `${(1 + 9 * x).toFixed(1)} ms`],
  [['power', 'districts', 'main', 'trip', 'samples'], (x) => `${Math.ceil(30 * x)}`],
  [['power', 'districts', 'main', 'sense', 'filter'], (x) => `${Math.round(500 * x)} us`],
  [['power', 'supplies', 'yard', 'voltage'], (x) => `${(14 + 2 * x).toFixed(1)} V`],
  [
    ['power', 'supplies', 'main', 'limit'],
    (x) => ['constant', 'foldback', 'hiccup', 'none'][Math.floor(4 * x)]!,
  ],
  [['power', 'drivers', 'branch', 'part'], (x) => (x < 0.5 ? 'DRV8874' : 'L298')],
  [['power', 'drivers', 'branch', 'supply'], (x) => (x < 0.5 ? 'branch' : 'yard')],
  [['power', 'ambient'], (x) => `${Math.round(20 + 20 * x)} C`],
  [['track', 'limits', 'contact'], (x) => `${Math.round(20 + 60 * x)} mOhm`],
  [['track', 'bus', 'yard', 'length'], (x) => `${(6 + 2 * x).toFixed(1)} m`],
  [['track', 'bus', 'front', 'wire'], (x) => (x < 0.5 ? '2.5 mm2' : '4 mm2')],
  [['track', 'bus', 'branch', 'terminator', 'resistance'], (x) => `${Math.round(33 + 100 * x)} Ohm`],
  [['track', 'sections', 'halt', 'length'], (x) => `${(1 + x).toFixed(2)} m`],
  [['track', 'sections', 'yard1', 'count'], (x) => `${2 + Math.floor(3 * x)}`],
  [['track', 'sections', 'branch', 'gaps'], (x) => (x < 0.5 ? 'from' : 'both')],
  [['track', 'temperature'], (x) => `${Math.round(15 + 20 * x)} C`],
  [['rollingStock', 'railcar', 'running'], (x) => `${(0.2 + x).toFixed(2)} A`],
  [
    ['rollingStock', 'shunter', 'section'],
    (x) => ['yard1.1', 'yard2.1', 'halt', 'south.2'][Math.floor(4 * x)]!,
  ],
  [['rollingStock', 'pick-up', 'load'], (x) => ['current', 'power', 'resistor'][Math.floor(3 * x)]!],
  [['standard', 'edition'], (x) => (x < 0.5 ? '2020' : '2006')],
  [['scale'], (x) => (x < 0.5 ? 'H0' : 'N')],
  [['controller', 'clock', 'source'], (x) => (x < 0.5 ? 'resonator' : 'crystal')],
]

/** All that follows from a text, as text with every digit; or why nothing does. */
function everything(text: string, memory?: CalculationMemory): string {
  try {
    const loaded = loadDesign(text)
    const { evidence, ...power } = powerReport(powerInput(loaded)!.input)
    const { statements, notes, cautions } = evidenceOfDesign(
      loaded,
      { file: 'design' },
      { pace: 'soon', ...(memory ? { memory } : {}) },
    )
    return allDigits([statements, notes, cautions, evidence, power, railroadOf(loaded)?.report])
  } catch (error) {
    if (error instanceof InputError) return error.describe()
    if (error instanceof RangeError || error instanceof TypeError) throw error
    return String(error)
  }
}

function allDigits(value: unknown): string {
  return JSON.stringify(value, (_key, x: unknown) =>
    typeof x === 'number' && (!Number.isFinite(x) || Object.is(x, -0)) ? `-0 or ${x}` : x,
  )
}

it.each([['exhibition', EXHIBITION]] as const)('after any edits of the %s example', (name, edits) => {
  const file = new URL(`../../examples/${name}/halfbit.yaml`, import.meta.url)
  let text = readFileSync(file, 'utf8')
  const memory: CalculationMemory = new Map()
  const chance = random(20)
  const before: string[] = []
  for (let i = 0; i < runs(15); i++) {
    // Now and then back to what was before, as undo does.
    if (chance() < 0.2 && before.length > 0) text = before[Math.floor(before.length * chance())]!
    else {
      const [path, value] = edits[Math.floor(edits.length * chance())]!
      text = setInDesign(text, path, value(chance()))
    }
    before.push(text)
    const found = everything(text, memory)
    const plain = withoutMemory(() => everything(text))
    if (found !== plain) {
      let at = 0
      while (found[at] === plain[at]) at++
      const near = (s: string) => s.slice(Math.max(0, at - 200), at + 80)
      expect(near(found), `after edit ${i}`).toBe(near(plain))
    }
  }
})
