/** What the coupled bench shows: the standing scenarios of a design, as evidence beside that of a run. */
import { BENCH_FINDINGS, type ScenarioResult, type Standing, standingScenarios } from '../bench/index.js'
import type { FirmwareImage, SimulatedChip } from '../controller/index.js'
import type { LoadedDesign } from '../design/index.js'
import { benchSetup, plannedTripUs } from './bench-setup.js'
import { dependsOn } from './depends-on.js'
import type { RunEvidence, SourceFile } from './evidence-set.js'

/** The scenarios that the design gives rise to; `undefined` where it has no power stage. */
export function benchScenarios(
  loaded: LoadedDesign,
  image: FirmwareImage,
  chip: SimulatedChip,
  file: string,
): Standing[] | undefined {
  const setup = benchSetup(loaded, image, chip)
  if ('missing' in setup) return undefined
  return standingScenarios(setup, {
    file,
    plannedUs: (district, amp) => plannedTripUs(loaded, district, amp),
  })
}

export function evidenceOfBench(
  results: readonly ScenarioResult[],
  loaded: LoadedDesign,
  { file, sha256 }: SourceFile,
): RunEvidence {
  return {
    kind: 'run',
    outputs: [],
    dependsOn: dependsOn(loaded.design, 'run'),
    source: `the coupled bench with ${file}`,
    statements: results.flatMap((r) => r.statements),
    notes: [...results.flatMap((r) => noted(r)), BENCH_FINDINGS.find('not-modelled', {})],
    inputs: [],
    ...(sha256 === undefined ? {} : { build: sha256 }),
  }
}

/** Findings that are no clause's. */
function noted({ findings, statements }: ScenarioResult) {
  const said = new Set(statements.map((s) => s.because))
  return findings.filter((f) => !said.has(f.sentence))
}
