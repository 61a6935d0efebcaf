/** What the power stage's calculation takes, from a loaded design: the railroad's loads too, where it is described. */
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import type { Finding } from '../finding/index.js'
import { type DistrictLoad, loadOfDesign, type PowerDesign, type PowerInput } from '../power/index.js'
import { DesignConflict, districtLoads, districtTerminators } from '../track/index.js'
import { PROOF_FINDINGS } from './findings.data.js'
import { railroadOf } from './railroad.js'

const { find } = PROOF_FINDINGS

/** @returns `undefined` when the design has no power stage; notes say what of the railroad could not be used. */
export function powerInput(loaded: LoadedDesign): { input: PowerInput; notes: Finding[] } | undefined {
  const { power, signal, controller } = loaded.design
  if (!power) return undefined
  const notes: Finding[] = []
  const input: PowerInput = {
    power,
    signal,
    controller,
    profile: profileOfDesign(loaded),
    ...ofTrack(loaded, power, notes),
  }
  return { input, notes }
}

/**
 * The loads of the railroad with what only the design's own `load` of a district tells. Currents are those of the
 * trains; stay-alive capacitors of the district stand in where no train there has any.
 */
function withOwnLoads(
  power: PowerDesign,
  loads: ReadonlyMap<string, DistrictLoad>,
  notes: Finding[],
): [string, DistrictLoad][] {
  return [...loads].map(([name, load]) => {
    const own = power.districts[name] && loadOfDesign(power.districts[name])
    if (!own) return [name, load]
    const capacitors = !load.stayAlive?.length && !!own.stayAlive?.length
    notes.push(find('load-ignored', { district: name, capacitors }))
    const wires = [load.thinnestWireMm2, own.thinnestWireMm2].filter((mm2) => mm2 !== undefined)
    return [
      name,
      {
        ...load,
        ...(capacitors ? { stayAlive: own.stayAlive! } : {}),
        ...(load.wiringOhm === undefined && own.wiringOhm !== undefined ? { wiringOhm: own.wiringOhm } : {}),
        ...(wires.length > 0 ? { thinnestWireMm2: Math.min(...wires) } : {}),
      },
    ]
  })
}

function ofTrack(
  loaded: LoadedDesign,
  power: PowerDesign,
  notes: Finding[],
): Pick<PowerInput, 'loads' | 'terminators'> {
  const { rollingStock } = loaded.design
  try {
    const model = railroadOf(loaded)?.model
    if (!model) return {}
    const terminators = districtTerminators(model)
    if (!rollingStock) return { terminators }
    return {
      terminators,
      loads: Object.fromEntries(withOwnLoads(power, districtLoads(rollingStock, model), notes)),
    }
  } catch (error) {
    // What is wrong with the railroad is for `halfbit track` to say; the power stage does without it.
    if (!(error instanceof DesignConflict)) throw error
    notes.push(find('railroad-loads-unusable', { why: error.message }))
    return {}
  }
}
