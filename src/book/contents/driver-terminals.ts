/** Which terminal of a driver is meant by each name of the wiring list, and what its other terminals are joined with. */
import { type BoardPin, type DistrictStage, driverPart } from '../../power/index.js'
import type { BookSources } from './sources.js'

/** How a driver is driven: with an input for each leg, or with one for the polarity. */
function wayOf({ loaded }: BookSources, { driver, output, model }: DistrictStage): 'one' | 'pair' {
  const signal = output === undefined ? undefined : loaded.design.signal.outputs[output]
  if (driver.pins) return driver.pins.some((p) => p.role === 'inverted') ? 'pair' : 'one'
  if (signal?.inverted !== undefined) return 'pair'
  return driverPart(model.name)?.inputs ?? 'one'
}

/** The part's own sense output; a shunt or a Hall sensor is no terminal of it. */
const isOwnSense = ({ district }: DistrictStage, role: BoardPin['role']) =>
  role === 'sense' && district.sense?.kind === 'mirror'

const isNamed = (role: BoardPin['role']) =>
  role === 'direction' || role === 'inverted' || role === 'enable' || role === 'fault'

/** Pins of the design that the part itself does not have, such as a gate before its inputs. */
export function pinsBeside(s: BookSources, stage: DistrictStage): BoardPin[] {
  const part = driverPart(stage.model.name)
  const way = part?.driven?.[wayOf(s, stage)]
  if (!way) return []
  return (stage.driver.pins ?? []).filter(
    ({ role }) => isNamed(role) && way.pins[role as keyof typeof way.pins] === undefined,
  )
}

/** How many inputs carry the signal. */
export const inputsOf = (s: BookSources, stage: DistrictStage): number => (wayOf(s, stage) === 'pair' ? 2 : 1)

/** Drivers of one part that are wired alike are said once. */
export function driverTerminals(s: BookSources): string[] {
  const groups = new Map<string, { stage: DistrictStage; names: Set<string> }>()
  for (const stage of s.stages) {
    const pins = (stage.driver.pins ?? []).map(({ name, role }) => [name, role])
    const key = JSON.stringify([stage.model.name, wayOf(s, stage), stage.district.sense?.kind, pins])
    const group = groups.get(key) ?? { stage, names: new Set() }
    groups.set(key, group)
    group.names.add(stage.driverName)
  }
  return [...groups.values()].flatMap(({ stage, names }) => terminalsOf(s, stage, [...names]))
}

function terminalsOf(s: BookSources, stage: DistrictStage, names: readonly string[]): string[] {
  const { driver, model } = stage
  const part = driverPart(model.name)
  if (!part?.driven) return []
  const who = `${names.length > 1 ? 'drivers' : 'driver'} ${names.join(', ')}`
  const wayName = wayOf(s, stage)
  const way = part.driven[wayName]
  if (!way)
    return [
      `The ${model.name} of ${who} cannot be driven by itself with ${wayName === 'pair' ? 'an input for each leg' : 'one input for the polarity'}, as this design does. What is before its inputs is yours to choose, and the design says nothing of it.`,
    ]
  const pins = (driver.pins ?? []).flatMap((p): [BoardPin, string][] => {
    const terminal =
      isNamed(p.role) || isOwnSense(stage, p.role) ? way.pins[p.role as keyof typeof way.pins] : undefined
    return terminal === undefined ? [] : [[p, terminal]]
  })
  const taken = new Set(pins.map(([, terminal]) => terminal))
  const own = [
    ...pins.map(([p, terminal]) => `${p.name} is ${terminal}`),
    ...(part.power
      ? [
          `+ is ${part.power.plus}`,
          `− is ${part.power.minus}`,
          `out A is ${part.power.outA}`,
          `out B is ${part.power.outB}`,
        ]
      : []),
  ]
  const ties = [...way.ties, ...(part.ties ?? [])].filter((t) => !taken.has(t.terminal))
  return [
    `Of the ${model.name} of ${who}: ${own.join('; ')}.`,
    ...pinsBeside(s, stage).map(
      (p) =>
        `The ${model.name} itself has no terminal for “${p.name}” of ${who}. It belongs to what is between the controller and its inputs, on its board or yours, and must hold both outputs off while its pin is off or open. The design says no more of it.`,
    ),
    `What the other terminals of the ${model.name} of ${who} are joined with, unless its board does so already (from memory; the data sheet in hand decides): ${ties.map((t) => `${t.terminal}: ${t.to}`).join('. ')}. GND in this list is the − of the driver. Logic supply is the one that feeds the controller’s chip, taken at its board; wires for it come on top of the wiring list.`,
  ]
}
