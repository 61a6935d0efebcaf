/** Campaigns of a design's bench: what may be drawn, by the design's own tolerances, and each task of one. */
import {
  type CampaignPlan,
  type DrawRanges,
  drawScenario,
  notRun,
  play,
  playAll,
  playable,
  type RunRecord,
  recordOf,
  type ScenarioDesign,
  scenarioOfRun,
  shrink,
} from '../bench/index.js'
import { CHIPS, clockTolerance } from '../controller/index.js'
import type { LoadedDesign } from '../design/index.js'
import { allStages, chainOf } from '../power/index.js'
import type { Bench } from './bench-evidence.js'

/** What a design leaves open: the widest of its supplies and its senses, and its clock. */
export function drawRanges({ design }: LoadedDesign, { setup }: Bench): DrawRanges {
  const { power, signal, controller } = design
  const stages = power ? allStages(power, signal) : []
  const chains = stages.flatMap((stage) => chainOf(stage) ?? [])
  return {
    supply: Math.max(0, ...stages.map((s) => s.supply.tolerance)),
    sense: Math.max(0, ...chains.map((c) => c.gainError)),
    clock: clockTolerance(controller.clock, CHIPS[controller.chip]).share,
    contactOhm: setup.contactOhm,
  }
}

export type CampaignTask = { run: number } | { shrink: number; codes: readonly string[] }
export type CampaignAnswer = { record: RunRecord } | { shrunk: ScenarioDesign; tries: number }

/** Plays runs of a campaign on one bench, whichever thread it is in. */
export class CampaignPlayer {
  readonly #bench: Bench
  readonly #ranges: DrawRanges
  readonly #scenarios: readonly ScenarioDesign[]
  readonly #seed: number

  constructor(
    bench: Bench,
    ranges: DrawRanges,
    scenarios: readonly ScenarioDesign[],
    { seed }: Pick<CampaignPlan, 'seed'>,
  ) {
    this.#bench = bench
    this.#ranges = ranges
    this.#scenarios = scenarios
    this.#seed = seed
  }

  /** The scenario of a run, as it is drawn. */
  scenario(run: number): ScenarioDesign {
    return drawScenario(scenarioOfRun(run, this.#scenarios), this.#seed, run, this.#ranges)
  }

  do(task: CampaignTask): CampaignAnswer {
    const { setup, options } = this.#bench
    if ('run' in task) {
      const scenario = this.scenario(task.run)
      // What this bench cannot do shows nothing.
      const refused = ({ message }: Error) => notRun(scenario.name, 'short-trip', undefined, message)
      return { record: recordOf(task.run, playable(scenario, setup, options, refused).run()) }
    }
    const wanted = task.codes.join()
    const failsAlike = (candidate: ScenarioDesign) => {
      const record = recordOf(task.shrink, playAll(play(candidate, setup, options)))
      return record.verdict === 'broken' && record.codes.some((code) => wanted.includes(code))
    }
    const steps = shrink(this.scenario(task.shrink), setup, failsAlike)
    let tries = 0
    for (;;) {
      const step = steps.next()
      if (step.done) return { shrunk: step.value, tries }
      tries = step.value
    }
  }
}
