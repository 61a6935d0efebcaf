/** What the coupled bench shows: the built-in scenarios of a design, as evidence beside that of a run. */
import {
  BENCH_FINDINGS,
  type BenchSetup,
  type Playable,
  type PlayOptions,
  playable,
  type ScenarioResult,
  standingScenarios,
} from '../bench/index.js'
import type { FirmwareImage, SimulatedChip } from '../controller/index.js'
import { type LoadedDesign, loadScenario } from '../design/index.js'
import { districtModels } from '../power/index.js'
import { InputError } from '../units/index.js'
import { benchPlan } from './bench-plan.js'
import { benchSetup, plannedTripUs } from './bench-setup.js'
import { benchWatch } from './bench-watch.js'
import { dependsOn } from './depends-on.js'
import type { RunEvidence, SourceFile } from './evidence-set.js'
import { attemptJudge, attemptsIn } from './overloads.js'

/** The bench of a design with a firmware. */
export interface Bench {
  setup: BenchSetup
  options: PlayOptions
  /** The scenarios that the design gives rise to. */
  standing: Playable[]
}

/** @returns undefined where the design has no power stage. */
export function benchOf(
  loaded: LoadedDesign,
  image: FirmwareImage,
  chip: SimulatedChip,
  file: string,
): Bench | undefined {
  const setup = benchSetup(loaded, image, chip)
  if ('missing' in setup) return undefined
  const options = playOptions(loaded, file)
  return { setup, options, standing: standingScenarios(setup, options) }
}

/**
 * A scenario file on a bench.
 * @throws DesignError when it is not sound; its run throws InputError with the line of an act that the bench cannot do.
 */
export function scenarioFromFile(bench: Bench, text: string, file: string): Playable {
  const { scenario, placeOf } = loadScenario(text, file, bench.setup)
  return playable(scenario, bench.setup, bench.options, (refused) => {
    throw new InputError(refused.message, { file, ...placeOf(['acts', refused.index]) })
  })
}

/** What a scenario is judged by beside itself. @param file of the firmware. */
export function playOptions(loaded: LoadedDesign, file: string): PlayOptions {
  const { power, signal } = loaded.design
  const models = power ? districtModels(power, signal) : []
  const judge = attemptJudge(loaded)
  return {
    file,
    plannedUs: (district, amp, slower) => plannedTripUs(loaded, district, amp, slower),
    tripsAbove(district) {
      const found = models.find((m) => m.stage.name === district)?.source?.trip
      return found?.reachable ? found.highAmp : undefined
    },
    attempts(district, switched, toUs) {
      const seen = attemptsIn(switched, toUs)
      const held = seen && judge(district, seen)
      return seen && held ? { ...seen, ...held } : undefined
    },
    driverUnder(district, points) {
      const found = models.find((m) => m.stage.name === district)
      if (!found) return undefined
      const { stage, heats, runningC } = found
      const { junctionMaxC, peakAmp, limitAmp } = stage.model
      const hottestC = heats.most.hottestC(points, district, runningC)
      return { hottestC, junctionMaxC, ...(limitAmp === undefined ? { peakAmp } : {}) }
    },
    planned: benchPlan(loaded),
    watch: (run, interruptions) => benchWatch(loaded, run, file, interruptions),
  }
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
