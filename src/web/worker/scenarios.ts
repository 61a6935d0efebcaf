/** Runs the standing scenarios of the coupled bench for the screen, one after another. */
import type { ScenarioResult } from '../../bench/index.js'
import { isSimulated, loadFirmware } from '../../controller/index.js'
import { loadDesign } from '../../design/index.js'
import { benchOf, chipNotSimulated, evidenceOfBench } from '../../proof/index.js'
import { InputError } from '../../units/index.js'
import type { BenchCalls } from './calls.js'
import { breathe, withFile } from './captures.js'
import type { Tools } from './channel.js'
import { sha256Of } from './hash.js'

export async function runScenarios(
  { firmware, name, text }: BenchCalls['scenarios']['takes'],
  { progress, cancelled }: Tools,
): Promise<BenchCalls['scenarios']['gives']> {
  const loaded = loadDesign(text)
  const { chip } = loaded.design.controller
  if (!isSimulated(chip)) throw new InputError(chipNotSimulated(chip).sentence)
  try {
    const bench = benchOf(loaded, loadFirmware(firmware, name), chip, name)
    if (!bench)
      throw new InputError('the design has no "power"; expected its supplies, drivers and districts')
    const { standing: list } = bench
    const results: ScenarioResult[] = []
    for (const [i, scenario] of list.entries()) {
      progress(i / list.length, `${i + 1} of ${list.length}: ${scenario.name}`)
      await breathe()
      if (cancelled()) break
      results.push(scenario.run())
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
