/** Runs the built-in scenarios of the coupled bench for the screen, one after another. */
import type { Playing, ScenarioResult } from '../../bench/index.js'
import { isSimulated, loadFirmware } from '../../controller/index.js'
import { type LoadedDesign, loadDesign } from '../../design/index.js'
import {
  type Bench,
  benchOf,
  chipNotSimulated,
  evidenceOfBench,
  scenarioFromFile,
} from '../../proof/index.js'
import { InputError } from '../../units/index.js'
import type { BenchCalls } from './calls.js'
import { breathe, withFile } from './captures.js'
import type { Tools } from './channel.js'
import { sha256Of } from './hash.js'

export async function runScenarios(
  { firmware, name, text }: BenchCalls['scenarios']['takes'],
  { progress, cancelled }: Tools,
): Promise<BenchCalls['scenarios']['gives']> {
  const { loaded, bench } = benchFor(text, firmware, name)
  try {
    const { standing: list } = bench
    const results: ScenarioResult[] = []
    for (const [i, scenario] of list.entries()) {
      const result = await played(scenario.steps(), cancelled, (share) =>
        progress((i + share) / list.length, `${i + 1} of ${list.length}: ${scenario.name}`),
      )
      if (!result) break
      results.push(result)
    }
    const source = { file: name, sha256: await sha256Of(firmware) }
    return {
      results,
      evidence: evidenceOfBench(results, loaded, source),
      interrupted: results.length < list.length,
    }
  } catch (error) {
    throw withFile(error, name)
  }
}

/** A scenario file, such as one that a campaign wrote: the same run here as on the command line. */
export async function playScenario(
  { firmware, name, text, scenario, file }: BenchCalls['scenario']['takes'],
  { progress, cancelled }: Tools,
): Promise<BenchCalls['scenario']['gives']> {
  const { bench } = benchFor(text, firmware, name)
  const playable = scenarioFromFile(bench, scenario, file)
  const result = await played(playable.steps(), cancelled, (share) => progress(share, playable.name))
  return result ? { result } : {}
}

function benchFor(text: string, firmware: Uint8Array, name: string): { loaded: LoadedDesign; bench: Bench } {
  const loaded = loadDesign(text)
  const { chip } = loaded.design.controller
  if (!isSimulated(chip)) throw new InputError(chipNotSimulated(chip).sentence)
  let bench: Bench | undefined
  try {
    bench = benchOf(loaded, loadFirmware(firmware, name), chip, name)
  } catch (error) {
    throw withFile(error, name)
  }
  if (!bench) throw new InputError('the design has no "power"; expected its supplies, drivers and districts')
  return { loaded, bench }
}

/** @returns undefined when it was cancelled. */
async function played(
  steps: Playing,
  cancelled: () => boolean,
  progress: (share: number) => void,
): Promise<ScenarioResult | undefined> {
  for (;;) {
    await breathe()
    if (cancelled()) return undefined
    const step = steps.next()
    if (step.done) return step.value
    progress(step.value)
  }
}
