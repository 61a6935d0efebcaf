/** The figures of `figures.h` as rows, for those who read them rather than compile them. */
import type { LoadedDesign } from '../../design/index.js'
import { InputError } from '../../units/index.js'
import { figuresH } from './figures.js'
import { type StarterPlan, starterPlan } from './plan.js'

export interface HeaderConstant {
  name: string
  value: string
  says: string
}

/** Each `#define` with a value, and the comment behind it. */
export function definitionsIn(lines: readonly string[]): HeaderConstant[] {
  return lines.flatMap((line) => {
    const found = /^#define ([A-Z]\w*) +(.+?) *(?:\/\* (.*) \*\/)?$/.exec(line)
    return found ? [{ name: found[1]!, value: found[2]!, says: found[3] ?? '' }] : []
  })
}

export interface PlannedStarter {
  plan: StarterPlan
  constants: HeaderConstant[]
}

/** @returns undefined where no starter firmware can be made for the design. */
export function plannedStarter(loaded: LoadedDesign): PlannedStarter | undefined {
  try {
    const plan = starterPlan(loaded, '')
    return { plan, constants: definitionsIn(figuresH(plan).split('\n')) }
  } catch (error) {
    if (error instanceof InputError) return undefined
    throw error
  }
}
