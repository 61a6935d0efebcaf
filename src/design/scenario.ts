/** The scenario file: text → checked scenario, and back. */
import { type Node, stringify } from 'yaml'
import {
  type BenchSetup,
  checkScenario,
  SCENARIO_VERSION,
  type ScenarioDesign,
  scenarioShape,
} from '../bench/index.js'
import type { Shape } from '../shape/index.js'
import { DIMENSIONS } from '../units/index.js'
import { aliasesOf } from './aliases.js'
import { documentOf, entangled, inOrder, placeIn, top } from './document.js'
import { DesignError, type Path, type Problem } from './problem.js'
import { type Place, Validator } from './validate.js'

export interface LoadedScenario {
  scenario: ScenarioDesign
  file: string
  /** Where a key is in the file; of the nearest part above it that is there. */
  placeOf(path: Path): Place
}

/**
 * @param setup the bench that it is to be played on: its names are looked up there.
 * @throws DesignError listing every problem with line and column.
 */
export function loadScenario(text: string, file: string, setup: BenchSetup): LoadedScenario {
  const read = inspect(text)
  if ('problems' in read) throw new DesignError(file, read.problems)
  const { scenario, placeOf } = read
  const faults = checkScenario(scenario, setup).map((f): Problem => ({ ...f, ...placeOf(f.path) }))
  if (faults.length > 0) throw new DesignError(file, inOrder(faults))
  return { scenario, file, placeOf }
}

function inspect(
  text: string,
): { scenario: ScenarioDesign; placeOf(path: Path): Place } | { problems: Problem[] } {
  const read = documentOf(text, { what: 'scenario', begins: `"scenario: ${SCENARIO_VERSION}"` })
  if ('problems' in read) return read
  const validator = new Validator(read.lines, aliasesOf(read.document), 'the scenario file')
  let scenario: ScenarioDesign
  try {
    scenario = validator.read(read.document.contents as Node, scenarioShape, []) as ScenarioDesign
  } catch (error) {
    if (error instanceof RangeError) return { problems: [entangled()] }
    throw error
  }
  if (validator.problems.length > 0) return { problems: inOrder(validator.problems) }
  return { scenario, placeOf: (path) => (path.length === 0 ? top() : placeIn(validator, path)) }
}

/** A scenario as a file that gives exactly the same scenario when it is read, to the last digit. */
export function scenarioText(scenario: ScenarioDesign): string {
  return stringify(written(scenario, scenarioShape), { lineWidth: 110 })
}

function written(value: unknown, shape: Shape): unknown {
  switch (shape.kind) {
    case 'quantity':
      return quantityText(value as number, shape.dimension)
    case 'list':
      return (value as unknown[]).map((item) => written(item, shape.of))
    case 'record': {
      const entries = Object.entries(value as Record<string, unknown>).filter(([, v]) => v !== undefined)
      const order = Object.keys(shape.keys)
      entries.sort((a, b) => order.indexOf(a[0]) - order.indexOf(b[0]))
      return Object.fromEntries(entries.map(([key, v]) => [key, written(v, shape.keys[key]!)]))
    }
    default:
      return value
  }
}

/** In the largest unit that is short and gives the same number back. */
function quantityText(value: number, dimension: keyof typeof DIMENSIONS): string | number {
  const { base, units } = DIMENSIONS[dimension]
  if (dimension === 'time')
    for (const unit of ['s', 'ms']) {
      const factor = (units as Record<string, number>)[unit]!
      const shown = Number((value / factor).toPrecision(6))
      if (shown * factor === value && (shown >= 1 || value === 0)) return `${shown} ${unit}`
    }
  return base === '' ? value : `${value} ${base}`
}
