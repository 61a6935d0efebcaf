/** What the power stage's calculation takes, from a loaded design: the railroad's loads too, where it is described. */
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import type { DistrictLoad, PowerInput } from '../power/index.js'
import { calculateTrack, DesignFault, districtLoads, sourcesFromPower } from '../track/index.js'

/** @returns `undefined` when the design has no power stage; notes say what of the railroad could not be used. */
export function powerInput(loaded: LoadedDesign): { input: PowerInput; notes: string[] } | undefined {
  const { power, signal, controller } = loaded.design
  if (!power) return undefined
  const notes: string[] = []
  const loads = loadsOfTrack(loaded, notes)
  const input: PowerInput = { power, signal, controller, profile: profileOfDesign(loaded) }
  if (loads) input.loads = loads
  return { input, notes }
}

function loadsOfTrack({ design }: LoadedDesign, notes: string[]): Record<string, DistrictLoad> | undefined {
  const { power, signal, track, rollingStock } = design
  if (!power || !track || !rollingStock) return undefined
  try {
    const sources = sourcesFromPower(power, signal)
    const report = calculateTrack({ track, rollingStock, sources }, { faults: false, ringing: false })
    return Object.fromEntries(districtLoads(track, rollingStock, report))
  } catch (error) {
    // What is wrong with the railroad is for `halfbit track` to say; the power stage does without it.
    if (!(error instanceof DesignFault)) throw error
    notes.push(`the loads of the railroad could not be used: ${error.message}`)
    return undefined
  }
}
