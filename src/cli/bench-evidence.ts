/** The evidence of the coupled bench: runs the built-in scenarios of a design with the firmware that it names. */
import { isSimulated } from '../controller/index.js'
import { benchOf, evidenceOfBench, type RunEvidence } from '../proof/index.js'
import { benchData } from './bench-player.js'
import type { Io } from './command.js'
import { readFirmware } from './firmware-evidence.js'
import { playScenarios } from './play-scenarios.js'
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
  const { image, source, bytes } = readFirmware(path, translate)
  const bench = benchOf(loaded, image, chip, source.file)
  if (!bench) return undefined
  const chosen = bench.standing.map((playable, standing) => ({ playable, task: { standing } }))
  const data = benchData(loaded, { bytes, source }, translate)
  return evidenceOfBench(await playScenarios(chosen, bench, data, io), loaded, source)
}
