/** The evidence of the coupled bench: runs the built-in scenarios of a design with the firmware that it names. */
import type { ScenarioResult } from '../bench/index.js'
import { isSimulated } from '../controller/index.js'
import { benchOf, evidenceOfBench, type RunEvidence } from '../proof/index.js'
import type { Io } from './command.js'
import { readFirmware } from './firmware-evidence.js'
import type { DesignFile } from './read-design.js'

/** @returns undefined where the design has no firmware, no simulated chip or no power stage. */
export async function benchEvidence(
  loaded: DesignFile,
  { firmware, translate }: { firmware?: string | undefined; translate?: boolean },
  io: Io,
): Promise<RunEvidence | undefined> {
  const { design } = loaded
  const { chip } = design.controller
  const path = firmware ?? (design.firmware && loaded.beside(design.firmware.file))
  if (path === undefined || !isSimulated(chip)) return undefined
  const { image, source } = readFirmware(path, translate)
  const bench = benchOf(loaded, image, chip, source.file)
  if (!bench) return undefined
  const { standing: scenarios } = bench
  const results: ScenarioResult[] = []
  for (const [i, scenario] of scenarios.entries()) {
    io.progress(`${i + 1} of ${scenarios.length}: ${scenario.name}`)
    // Lets Ctrl-C through.
    await new Promise((resolve) => setImmediate(resolve))
    if (io.signal.aborted) break
    results.push(scenario.run())
  }
  io.progress('')
  return evidenceOfBench(results, loaded, source)
}
